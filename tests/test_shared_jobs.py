"""Jobs with shared cuts, replayed by code that shares nothing with the package."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest
from replay_ways import faults_of_sheet
from test_techniques import freed_by, frees_planned

from cutplan.drawing import Part, part_layers, write_dxf
from cutplan.geometry import circle, polygon
from cutplan.planning import load_job, plan_job
from cutplan.record import plan_json


def shared_job(folder: Path, seed: int) -> Path:
    """A job of random rectangles and trapezoids for shared cuts by flame."""
    rng = random.Random(seed)
    lines = [
        "[job]\nname = 'shared'\n[machine]\ntable = [3000, 2000]\nmarker = false",
        "[cutting]\nprocess = 'oxyfuel'\n[nesting]\nseconds = 0.3\n[order]\neffort = 0.2",
        f"[techniques]\nshared_cuts = {{ by = '{rng.choice(['best', 'pairs', 'rows', 'grids'])}', parts = {rng.choice([2, 4, 5])} }}",
        "[[plate]]\nid = 'A'\nlength = 1600\nwidth = 1000\nthickness = 20\ngrade = 'S355'\nquantity = 3",
    ]
    for k in range(3):
        size, high = rng.randint(120, 300), rng.randint(80, 200)
        name = f"part-{k}"
        if rng.random() < 0.5:
            corners = [(0, 0), (size, 0), (size, high), (0, high)]
        else:
            left, right = rng.randint(10, size // 3), rng.randint(0, size // 3)
            corners = [(0, 0), (size, 0), (size - right, high), (left, high)]
        holes = (circle((0.5 * size, 0.5 * high), 18, clockwise=True),) if rng.random() < 0.5 else ()
        part = Part(name, polygon(corners), holes)
        write_dxf(folder / f"{name}.dxf", part_layers([part]))
        lines.append(
            f"[[part]]\ndrawing = '{name}.dxf'\nquantity = {rng.randint(2, 7)}\nthickness = 20\ngrade = 'S355'"
        )
    file = folder / "job.toml"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


@pytest.mark.parametrize("seed", [1, 2, 3, 5])
def test_each_part_of_a_block_comes_free_once_whole_and_in_the_run_round_it(
    seed: int, tmp_path: Path
) -> None:
    plan = plan_job(load_job(shared_job(tmp_path, seed)))
    record = json.loads(plan_json(plan))
    shared = 0
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        assert planned.verdict.is_as_planned
        text = planned.program.text
        assert faults_of_sheet(text, sheet, record) == []
        assert freed_by(text, sheet, record) == frees_planned(sheet)
        shared += len(sheet["shared"])
    assert shared
