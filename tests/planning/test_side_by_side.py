"""Torches side by side: each cuts its lane of the plate, and all lanes are proved.

Held against a replay that shares no code with the package, and shapely, a general-purpose
geometry library, for the kerf of every torch.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import shapely
from replay import replay
from shapely.affinity import translate

from cutplan.base.errors import InputError
from cutplan.base.machine import Machine
from cutplan.cutting import cut_time
from cutplan.geometry import place, to_polygon
from cutplan.planning.bookings import book_out
from cutplan.planning.flow import plan_job
from cutplan.planning.job import Job, parse_job
from cutplan.planning.output import write_files
from cutplan.planning.program_check import check_program
from cutplan.record import Plan, read_plan
from cutplan.report import batch_html, plate_svg, setup_sheet_html
from cutplan.sequencing import HeatSource, heat_report, plate_heat
from cutplan.stock import Inventory, Piece

TORCHES, SPACING = 3, 400.0


def job(folder: Path, **machine: object) -> Job:
    common = {"thickness": 20, "grade": "S355"}
    settings = {"torches": TORCHES, "torch_spacing_mm": SPACING, "marker": True,
                "postprocessor": "rs274-metric", "postprocessor_oxyfuel": "rs274-several-torches"}  # fmt: skip
    return parse_job(
        {
            "job": {"name": "clamps"},
            "machine": {**settings, **machine},
            "cutting": {"process": "oxyfuel"},
            "order": {"effort": 0.1},
            "plate": [{"id": "A", "length": 1500, "width": 1250, "quantity": 3, **common}],
            "part": [
                {"name": "ring", "quantity": 11, "shape": {"kind": "ring", "outside": 240, "inside": 120}, **common},
                {"name": "strip", "quantity": 6, "shape": {"kind": "rectangle", "length": 500, "width": 80}, **common},
                {"name": "long", "quantity": 3, "shape": {"kind": "rectangle", "length": 1300, "width": 590}, **common},
            ],
        },
        folder / "job.toml",
    )  # fmt: skip


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan_job(job(tmp_path_factory.mktemp("lanes")))


def test_what_each_torch_needs_as_often_is_cut_in_step_and_the_rest_by_one(plan: Plan) -> None:
    """11 rings for three torches are three each and two alone; what is wider than a lane, too."""
    counts = {
        torches: Counter(
            p.part.name for s in plan.sheets if s.torches == torches for p in s.nested.placements
        )
        for torches in (TORCHES, 1)
    }
    assert counts[TORCHES] == {"ring": 9, "strip": 6}
    assert counts[1] == {"ring": 2, "long": 3}
    assert not plan.unplaced
    copies = sorted(p.copy for s in plan.sheets for p in s.nested.placements if p.part.name == "ring")
    assert copies == list(range(1, 12))


def test_every_torch_cuts_parts_whole_and_bites_into_none(plan: Plan) -> None:
    (sheet,) = (s for s in plan.sheets if s.torches == TORCHES)
    assert f"T{TORCHES}" in sheet.program.text and f"{SPACING:g} mm apart" in sheet.program.text
    cuts = [shapely.LineString(cut) for cut in replay(sheet.program.text)]
    swept = shapely.union_all([cut.buffer(0.5 * sheet.data.kerf, quad_segs=64) for cut in cuts])
    torches = [translate(swept, 0.0, k * SPACING) for k in range(TORCHES)]
    parts = [
        to_polygon(place(p.part.outer, p.pose), [place(h, p.pose) for h in p.part.holes], tolerance=0.001)
        for p in sheet.nested.placements
    ]
    left = shapely.box(0, 0, 1500, 1250) - shapely.union_all(torches)
    pieces = [piece for piece in left.geoms if piece.area > 100.0]
    for part in parts:
        assert max(torch.intersection(part).buffer(-0.02).area for torch in torches) == 0.0
        (piece,) = (p for p in pieces if p.contains(part.representative_point()))
        assert piece.area == pytest.approx(part.area, rel=2e-4)


def test_time_is_that_of_one_torch_and_gas_that_of_all(plan: Plan, tmp_path: Path) -> None:
    (sheet,) = (s for s in plan.sheets if s.torches == TORCHES)
    assert sheet.estimate.torches == TORCHES
    assert sheet.estimate.pierces == TORCHES * sheet.verdict.pierces
    record = json.loads((written(plan, tmp_path) / "plan.json").read_text())["plates"][0]
    assert (record["torches"], record["torch_spacing_mm"]) == (TORCHES, SPACING)


def written(plan: Plan, folder: Path) -> Path:
    write_files(plan, folder / "out")
    return folder / "out"


def test_its_program_is_proved_again_and_leaves_one_remnant_for_all_lanes(plan: Plan, tmp_path: Path) -> None:
    out = written(plan, tmp_path)
    (sheet,) = (s for s in plan.sheets if s.torches == TORCHES)
    checked = check_program(out / f"{sheet.name}.nc", out / "plan.json", None)
    assert checked.verdict.passed and checked.untouched
    with Inventory(tmp_path / "stock.db") as stock:
        stock.add([Piece("A", 1500, 1250, 20, "S355", "mild steel")])
        stock.reserve(read_plan(out / "plan.json").name, ["A"])
        booking = book_out(stock, out / "plan.json", sheet.name, keep=(200, 200))
    parts_mm2 = sum(9 * [np.pi / 4 * (240**2 - 120**2)]) + 6 * 500 * 80
    assert 0.0 < sum(piece.area_mm2 for piece in booking.remnants) < 1500 * 1250 - parts_mm2


def test_the_last_torch_must_stay_on_the_table(tmp_path: Path) -> None:
    """Lanes 400 mm wide reach 1,160 mm across for three torches; this table ends before."""
    plan = plan_job(job(tmp_path, table=[3000, 1100]))
    assert all(sheet.torches == 1 for sheet in plan.sheets)
    told = [f"{about}: {finding.message}" for about, finding in plan.findings]
    assert any("one torch of 3: no plate" in line for line in told)
    assert "plate A: reaches beyond the table's travel: only 1500 × 1100 mm of it are used" in told


def test_a_program_that_takes_the_last_torch_off_the_table_fails(plan: Plan, tmp_path: Path) -> None:
    out = written(plan, tmp_path)
    record = json.loads((out / "plan.json").read_text())
    record["machine"]["table"] = [3000.0, 1100.0]
    (out / "plan.json").write_text(json.dumps(record))
    verdict = check_program(out / "A-1.nc", out / "plan.json", None).verdict
    assert "off-table" in {fault.code for fault in verdict.faults}


def test_lanes_that_are_not_alike_are_refused(plan: Plan, tmp_path: Path) -> None:
    out = written(plan, tmp_path)
    record = json.loads((out / "plan.json").read_text())
    record["plates"][0]["placements"][-1]["y_mm"] += 1.0
    (out / "plan.json").write_text(json.dumps(record))
    with pytest.raises(InputError, match="lanes of sheet A-1 are not alike"):
        check_program(out / "A-1.nc", out / "plan.json", None)


def test_sheets_tell_the_operator_how_the_torches_stand(plan: Plan) -> None:
    (sheet,) = (s for s in plan.sheets if s.torches == TORCHES)
    assert "3 torches burn together. Set them 400 mm apart" in setup_sheet_html(sheet, plan)
    assert plate_svg(sheet).count('<g transform="translate(0 -') == TORCHES - 1
    page = batch_html(plan)
    steps = json.loads(page.split('id="playback">')[1].split("</script>")[0])[0]["steps"]
    assert sorted(part for step in steps for part in step["frees"]) == list(range(15))


def test_a_control_that_lights_one_torch_is_told_of(tmp_path: Path) -> None:
    alone = plan_job(job(tmp_path, postprocessor_oxyfuel="rs274-metric"))
    assert all(sheet.torches == 1 for sheet in alone.sheets)
    assert any("planned for one torch of 3" in finding.message for _, finding in alone.findings)


def plates_of(
    folder: Path, quantity: int, part: tuple[float, float], plate: tuple[float, float], **more: object
) -> Plan:
    """Plan rectangles on one plate for torches side by side."""
    common = {"thickness": 20, "grade": "S355"}
    (length, width), (plate_length, plate_width) = part, plate
    shape = {"kind": "rectangle", "length": length, "width": width}
    data = {
        "job": {"name": "rectangles"},
        "cutting": {"process": "oxyfuel"},
        "plate": [{"id": "A", "length": plate_length, "width": plate_width, **common}],
        "part": [{"name": "p", "quantity": quantity, "shape": shape, **common}],
    }
    return plan_job(parse_job({**data, **more}, folder / "job.toml"))


def torches(count: int, spacing: float) -> dict[str, object]:
    return {"torches": count, "torch_spacing_mm": spacing, "postprocessor_oxyfuel": "rs274-several-torches"}


def test_what_does_not_fit_in_step_is_planned_for_one_torch(tmp_path: Path) -> None:
    """Four lanes of one part each take the only plate, and leave the fifth part without one."""
    plan = plates_of(tmp_path, 5, (600, 200), (1300, 1000), machine=torches(4, 240))
    assert not plan.unplaced
    assert [sheet.torches for sheet in plan.sheets] == [1]
    assert any("in step not all of it fits" in finding.message for _, finding in plan.findings)


def test_the_jobs_own_gap_is_kept_from_lane_to_lane(tmp_path: Path) -> None:
    plan = plates_of(tmp_path, 6, (300, 240), (1500, 1000), machine=torches(3, 310), nesting={"gap": 60})
    (sheet,) = plan.sheets
    assert sheet.torches == 3
    shapes = [to_polygon(place(p.part.outer, p.pose), [], tolerance=0.01) for p in sheet.nested.placements]
    assert min(a.distance(b) for k, a in enumerate(shapes) for b in shapes[:k]) >= 60.0 - 1e-3


def test_the_heat_of_all_torches_counts(plan: Plan) -> None:
    (sheet,) = (s for s in plan.sheets if s.torches == TORCHES)
    heat = plate_heat(sheet.nested.plate, sheet.data, water_table=False)
    steps = sheet.order.steps
    times = [cut_time(step.lead, sheet.data, Machine()) for step in steps]
    source = HeatSource(times, sheet.data, heat)
    alone = heat_report(steps, source).start_rises
    together = heat_report(steps, source, (0.0, 60.0, 120.0)).start_rises
    assert (together >= alone - 1e-9).all() and together.max() > alone.max() + 1.0


@pytest.mark.parametrize("spacing, bands", [(240.0, 2)])
def test_six_flanges_under_three_torches_take_one_plate(spacing: float, bands: int, tmp_path: Path) -> None:
    """Three lanes hold three flanges side by side; the torches go across the plate twice."""
    plan = plates_of(
        tmp_path, 6, (5500.0, 180.0), (6000.0, 1500.0), machine={"table": [7000, 2000], **torches(3, spacing)}
    )
    (sheet,) = plan.sheets
    assert (sheet.torches, sheet.lanes.bands) == (3, bands)
    assert len(sheet.nested.placements) == 6 and not plan.unplaced
    out = written(plan, tmp_path)
    checked = check_program(out / f"{sheet.name}.nc", out / "plan.json", None)
    assert checked.verdict.passed and checked.untouched
    # What the replay of every torch leaves: six parts, each whole and in one piece.
    swept = shapely.union_all(
        [
            shapely.LineString(cut).buffer(0.5 * sheet.data.kerf, quad_segs=64)
            for cut in replay(sheet.program.text)
        ]
    )
    left = shapely.box(0, 0, 6000, 1500) - shapely.union_all(
        [translate(swept, 0.0, k * spacing) for k in range(3)]
    )
    for placement in sheet.nested.placements:
        part = to_polygon(place(placement.part.outer, placement.pose), tolerance=0.001)
        (piece,) = (p for p in left.geoms if p.contains(part.representative_point()))
        assert piece.area == pytest.approx(part.area, rel=2e-4)
