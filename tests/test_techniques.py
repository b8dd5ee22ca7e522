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

from cutplan.control import as_read
from cutplan.planning import load_job, plan_job
from cutplan.planning.leftovers import metal_left
from cutplan.record import plan_json
from cutplan.stock import remnant_shapes


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


@pytest.mark.parametrize("seed", [3, 11, 24, 32, 41])
def test_the_last_cut_parts_the_rest_in_one_piece_and_the_rack_takes_that(seed: int, tmp_path: Path) -> None:
    words = '[techniques]\nrest_cut = { keep_mm = [200, 150], shape = "stepped" }'
    plan = plan_job(load_job(job_with(tmp_path, seed, words)))
    record = json.loads(plan_json(plan))
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        rests = [n for n, cut in enumerate(sheet["cuts"]) if cut["kind"] == "rest"]
        told = [f["message"] for f in record["findings"] if "the rest stays" in f["message"]]
        assert rests in ([], [len(sheet["cuts"]) - 1])
        assert not (rests and told and sheet["torches"] > 1)
        if not rests:
            continue
        text = planned.program.text
        before, whole = pieces_of(without_last_run(text), sheet, []), pieces_of(text, sheet, [])
        parts = [part_on_plate(record["parts"][p["part"]], p) for p in sheet["placements"]]
        assert all(alone(part, before) and alone(part, whole) for part in parts)
        large = [
            piece
            for piece in whole
            if piece.area > 2e4 and not any(piece.contains(part.representative_point()) for part in parts)
        ]
        uncut = [p for p in large if not any(shapely.Polygon(p.exterior).contains(part) for part in parts)]
        # What was one piece with the skeleton before is now apart from it.
        (rest,) = [
            p
            for p in uncut
            if not any(b.equals(p) or b.area < 1.01 * p.area for b in before if b.intersects(p))
        ]
        left = metal_left(
            as_read(text, planned.program.dialect), planned.nested, planned.nested, planned.data, planned.lanes,
            rest_parted=True,
        )  # fmt: skip
        shapes = remnant_shapes(left, (200.0, 150.0))
        assert shapes
        for shape in shapes:
            kept = shapely.affinity.translate(shapely.Polygon(shape.outline.vertices[:, :2]), *shape.corner)
            assert any(piece.buffer(0.02).contains(kept) for piece in uncut)
        assert max(shapely.Polygon(s.outline.vertices[:, :2]).area for s in shapes) > 0.95 * rest.area - 5e3


def without_last_run(text: str) -> str:
    """Return a program whose torch is not lit for its last run."""
    head, _, tail = text.rpartition("\nM3\n")
    return f"{head}\n{tail}"


@pytest.mark.parametrize("seed", [2, 6, 15, 21])
def test_all_techniques_at_once_free_each_part_once_and_part_the_rest_last(seed: int, tmp_path: Path) -> None:
    words = (
        '[techniques]\nchains = true\nslender = "tabs"\ntabs = { parts = "small", small_mm = 140 }\n'
        "rest_cut = { keep_mm = [200, 150] }"
    )
    plan = plan_job(load_job(job_with(tmp_path, seed, words)))
    record = json.loads(plan_json(plan))
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        assert planned.verdict.is_as_planned
        text = planned.program.text
        assert faults_of_sheet(text, sheet, record) == []
        kinds = [cut["kind"] for cut in sheet["cuts"]]
        assert "rest" not in kinds[:-1]
        if sheet["torches"] == 1:
            held = {(tab["part"], tab["copy"]) for tab in sheet["tabs"]}
            wanted = {key: n for key, n in frees_planned(sheet).items() if key not in held}
            assert freed_by(text, sheet, record) == wanted
