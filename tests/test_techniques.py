"""Jobs with techniques, replayed by code that shares nothing with the package.

A part that tabs hold stays in the skeleton by its tabs alone; every other part comes loose whole.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import shapely
from random_jobs import write_random_job
from replay import replay
from replay_ways import faults_of_sheet, outline_points, part_on_plate

from cutplan.planning import load_job, plan_job
from cutplan.record import plan_json


def job_with(folder: Path, seed: int, words: str) -> Path:
    file = write_random_job(folder, seed)
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("[marking]", f"{words}\n[marking]"), encoding="utf-8")
    return file


def pieces_of(text: str, sheet: dict, also: list) -> list:
    """Return what the plate falls into once the jet has run, and what is taken away besides."""
    plate = sheet["plate"]
    metal = shapely.Polygon(outline_points(plate["outline"]), [outline_points(v) for v in plate["voids"]])
    spacing = sheet["torch_spacing_mm"] or 0.0
    cuts = [
        shapely.LineString([(x, y + k * spacing) for x, y in cut]).buffer(0.5 * sheet["kerf_mm"] - 0.005)
        for cut in replay(text)
        for k in range(sheet["torches"])
    ]
    return list(shapely.get_parts(metal.difference(shapely.union_all([*cuts, *also]))))


def alone(part, pieces: list) -> bool:
    """Whether the piece that holds a part is the part, fillets of the round jet aside."""
    (piece,) = [each for each in pieces if each.contains(part.representative_point())]
    return piece.difference(part.buffer(0.1)).area < 6.0


@pytest.mark.parametrize("seed", [3, 11, 24, 30])
def test_parts_with_tabs_hang_by_these_alone(seed: int, tmp_path: Path) -> None:
    words = "[techniques]\ntabs = { count = 2, width_mm = 3.0 }"
    plan = plan_job(load_job(job_with(tmp_path, seed, words)))
    record = json.loads(plan_json(plan))
    hung = 0
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        text = planned.program.text
        assert faults_of_sheet(text, sheet, record) == []
        spacing = sheet["torch_spacing_mm"] or 0.0
        tabs = [
            shapely.Point(tab["at_mm"][0], tab["at_mm"][1] + k * spacing).buffer(
                0.5 * tab["width_mm"] + 0.5 * sheet["kerf_mm"] + 0.1
            )
            for tab in sheet["tabs"]
            for k in range(sheet["torches"])
        ]
        held = {(tab["part"], tab["copy"]) for tab in sheet["tabs"]}
        whole, broken = pieces_of(text, sheet, []), pieces_of(text, sheet, tabs)
        for placement in sheet["placements"]:
            part = part_on_plate(record["parts"][placement["part"]], placement)
            if (placement["part"], placement["copy"]) in held:
                hung += 1
                assert not alone(part, whole), placement
                assert alone(part.difference(shapely.union_all(tabs)), broken), placement
            elif sheet["torches"] == 1:
                assert alone(part, whole), placement
    assert hung


def freed_by(text: str, sheet: dict, record: dict) -> dict[tuple[str, int], int]:
    """Return the number of the cut that frees each part, by a replay; nothing comes upon it afterwards."""
    plate = sheet["plate"]
    left = shapely.Polygon(outline_points(plate["outline"]), [outline_points(v) for v in plate["voids"]])
    parts = {
        (p["part"], p["copy"]): part_on_plate(record["parts"][p["part"]], p) for p in sheet["placements"]
    }
    found: dict[tuple[str, int], int] = {}
    jets = [shapely.LineString(way).buffer(0.5 * sheet["kerf_mm"] - 0.005) for way in replay(text)]
    for n, jet in enumerate(jets):
        for key in found:
            inside = shapely.Polygon(parts[key].exterior).buffer(-0.1)
            assert not jet.intersects(inside), f"cut {n} comes upon {key}, which cut {found[key]} freed"
        left = left.difference(jet)
        pieces = list(shapely.get_parts(left))
        for key, part in parts.items():
            if key not in found and alone(part, pieces):
                found[key] = n
    return found


def frees_planned(sheet: dict) -> dict[tuple[str, int], int]:
    """Return the number of the cut, marks left out, that makes the last of each part's outside."""
    burns = [cut for cut in sheet["cuts"] if cut["kind"] != "mark"]
    return {
        (made["part"], made["copy"]): n
        for n, cut in enumerate(burns)
        if cut["kind"] == "outside"
        for made in cut["contours"]
    }


@pytest.mark.parametrize("seed", [1, 4, 8, 13])
def test_each_part_of_a_chain_comes_free_once_whole_and_by_the_cut_that_the_plan_says(
    seed: int, tmp_path: Path
) -> None:
    words = "[techniques]\nchains = { parts = 6 }"
    plan = plan_job(load_job(job_with(tmp_path, seed, words)))
    record = json.loads(plan_json(plan))
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        assert planned.verdict.is_as_planned
        text = planned.program.text
        assert faults_of_sheet(text, sheet, record) == []
        if sheet["torches"] == 1:
            assert freed_by(text, sheet, record) == frees_planned(sheet)
        for chain in sheet["chains"]:
            made = sheet["cuts"][chain["cut"] - 1]["contours"]
            assert 2 <= len(made) <= 6 and len(chain["links"]) == len(made) - 1
