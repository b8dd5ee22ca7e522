"""What a job asks of drawings, bends and order reaches the rooms."""

import csv
from datetime import date
from pathlib import Path

import pytest

from cutplan.base.errors import CutplanError, JobError
from cutplan.drawing.lettering import letter_paths
from cutplan.geometry import bounds, contains, path_distance, place, polyline
from cutplan.planning.flow import nest_job, plan_job
from cutplan.planning.job import Job, parse_job
from cutplan.planning.preparation import groups_of, plates_of
from cutplan.process import Library
from cutplan.report import cut_list_csv, part_labels

PARTS = Path(__file__).parents[2] / "parts"
PLATE = {"id": "PL10", "length": 3000, "width": 1500, "thickness": 10, "grade": "S355"}
BRACKET = {"drawing": "step-bracket.dxf", "quantity": 1, "thickness": 10, "grade": "S355"}


def job(**changes: object) -> Job:
    data = {"job": {"name": "b"}, "plate": [PLATE], "part": [BRACKET], "machine": {"marker": True}, **changes}
    return parse_job(data, PARTS / "job.toml")


def group(job: Job):
    groups, findings = groups_of(job, plates_of(job), Library.load(), lambda stage, share: None)
    return groups[0], findings


def test_bends_are_scribed_as_ticks_unless_the_job_says_otherwise() -> None:
    for style, lines in (("ticks", 4), ("full", 2), ("none", 0)):
        found, _ = group(job(marking={"bends": style}))
        assert len(found.demands[0].part.marks) == lines


def test_a_table_without_a_marker_leaves_marks_out_and_says_so() -> None:
    found, findings = group(job(machine={}, part=[{**BRACKET, "drawing": "serial-plate.dxf"}]))
    assert not found.demands[0].part.marks and not found.demands[0].part.texts
    assert any("no marker" in finding.message for _, finding in findings)


def test_what_the_press_cannot_bend_is_flagged_before_plate_is_cut() -> None:
    _, findings = group(job(press={"capacity_kn": 50, "bed_mm": 200}))
    messages = [finding.message for _, finding in findings]
    assert any("the press has 50 kN" in m for m in messages)
    assert any("the bed 200 mm" in m for m in messages)
    _, quiet = group(job(press={"capacity_kn": 3000, "bed_mm": 4000, "dies_mm": [80]}))
    assert not [finding for _, finding in quiet if finding.kind == "warning"]


def test_rolling_across_the_bends_turns_into_a_direction() -> None:
    found, _ = group(job(part=[{**BRACKET, "rolling_direction": "across bends"}]))
    assert found.demands[0].rolling_direction == pytest.approx(90.0)
    with pytest.raises(JobError, match="no bend line"):
        group(job(part=[{**BRACKET, "drawing": "gusset.dxf", "rolling_direction": "across bends"}]))


def test_oxyfuel_on_stainless_and_plates_that_are_not_there_are_refused() -> None:
    stainless = {"thickness": 10, "grade": "1.4301"}
    with pytest.raises(CutplanError, match="carbon steel only"):
        group(
            job(
                part=[{**BRACKET, **stainless}],
                plate=[{**PLATE, **stainless}],
                cutting={"process": "oxyfuel"},
            )
        )
    with pytest.raises(JobError, match=r"no \[\[plate\]\] of 12 mm"):
        group(job(part=[{**BRACKET, "thickness": 12}]))
    with pytest.raises(CutplanError, match=r"900"):
        group(job(part=[{**BRACKET, "thickness": 900}], plate=[{**PLATE, "thickness": 900}]))


def test_a_grade_said_to_be_two_materials_is_refused() -> None:
    with pytest.raises(JobError, match="mild steel and stainless"):
        group(job(plate=[{**PLATE, "material": "mild steel"}], part=[{**BRACKET, "material": "stainless"}]))


def test_grades_of_one_thickness_are_planned_apart_and_none_is_dropped() -> None:
    second = {**BRACKET, "name": "second", "grade": "S235"}
    asked = job(part=[BRACKET, second], plate=[PLATE, {**PLATE, "id": "PL10B", "grade": "S235"}])
    groups, _ = groups_of(asked, plates_of(asked), Library.load(), lambda stage, share: None)
    assert [[d.part.name for d in g.demands] for g in groups] == [["step-bracket"], ["second"]]
    assert [[p.id for p in g.plates] for g in groups] == [["PL10"], ["PL10B"]]


def test_two_processes_on_one_kind_of_plate_share_its_sheets() -> None:
    washer = {"shape": {"kind": "ring", "outside": 90, "inside": 40}, "thickness": 10, "grade": "S355"}
    parts = [
        {**washer, "name": "by plasma", "quantity": 2, "process": "plasma"},
        {**washer, "name": "by flame", "quantity": 2, "process": "oxyfuel"},
    ]
    plate = {**PLATE, "length": 400, "width": 300}
    nests, _ = nest_job(job(part=parts, plate=[{**plate, "quantity": 2}]))
    assert [(n.plate.id, n.sheet) for nest in nests for n in nest.plates] == [("PL10", 1), ("PL10", 2)]
    nests, _ = nest_job(job(part=parts, plate=[plate]))
    assert [(u.part, u.quantity, u.reason) for u in nests[1].unplaced] == [("by flame", 2, "out of plate")]


def test_names_are_marked_where_asked_and_where_they_fit() -> None:
    tiny = {"name": "a very long name for a washer", "quantity": 1, "thickness": 10, "grade": "S355",
            "shape": {"kind": "ring", "outside": 60, "inside": 30}}  # fmt: skip
    found, _ = group(job(marking={"names": True}, part=[BRACKET, tiny]))
    bracket, washer = (demand.part for demand in found.demands)
    (text,) = bracket.texts
    assert text.text == "step-bracket"
    for stroke in letter_paths(text):
        assert contains(bracket.outer, stroke.points).all()
        assert min(path_distance(stroke, contour) for contour in (bracket.outer, *bracket.holes)) >= 2.5
        assert min(path_distance(stroke, polyline([b.start, b.end])) for b in bracket.bends) >= 2.5
    assert not washer.texts


def test_a_part_that_asks_for_more_than_the_process_gives_is_flagged() -> None:
    _, findings = group(job(part=[{**BRACKET, "tolerance_class": 1}]))
    assert any("tolerance class 1 of ISO 9013" in finding.message for _, finding in findings)
    _, findings = group(job(part=[{**BRACKET, "tolerance_class": 2}]))
    assert not any("ISO 9013" in finding.message for _, finding in findings)


def test_a_grade_that_hardens_is_warmed_before_flame_cutting() -> None:
    thick = {"thickness": 30, "grade": "S690QL"}
    plate, part = {**PLATE, **thick}, {**BRACKET, **thick}
    _, findings = group(job(part=[part], plate=[plate], cutting={"process": "oxyfuel"}))
    assert any("warm the plate to about 150 °C" in finding.message for _, finding in findings)
    _, findings = group(job(part=[part], plate=[plate], cutting={"process": "plasma"}))
    assert not any("warm the plate" in finding.message for _, finding in findings)


def test_the_power_source_and_the_quality_asked_for_choose_the_setting() -> None:
    found, _ = group(job(machine={"max_current_a": 100}))
    assert 0 < found.data.current_a <= 100
    with pytest.raises(CutplanError, match=r"step-bracket.*range 1"):
        group(job(cutting={"quality": 1}))


def test_what_the_source_supplies_is_asked_of_the_machine_and_else_said() -> None:
    _, findings = group(job())
    assert ("machine", "the power source supplies 120 A") in [(a, f.message) for a, f in findings]
    _, findings = group(job(machine={"max_current_a": 400}))
    assert "machine" not in [about for about, _ in findings]


def test_a_process_that_the_machine_has_not_is_neither_chosen_nor_taken() -> None:
    found, _ = group(job(machine={"processes": ["oxyfuel"]}))
    assert found.data.process == "oxyfuel"
    with pytest.raises(
        CutplanError, match=r"asks for plasma, the machine cuts by oxyfuel only; mend processes"
    ):
        group(job(machine={"processes": ["oxyfuel"]}, cutting={"process": "plasma"}))


def test_what_is_due_first_is_placed_first() -> None:
    washer = {
        "shape": {"kind": "ring", "outside": 90, "inside": 40},
        "quantity": 1,
        "thickness": 10,
        "grade": "S355",
    }
    parts = [
        {**washer, "name": "later", "due": "2027-03-01"},
        {**washer, "name": "sooner", "due": "2027-02-01"},
        {**washer, "name": "whenever"},
        {**washer, "name": "urgent", "priority": 1},
    ]
    found, _ = group(job(part=parts))
    ranked = sorted(found.demands, key=lambda demand: -demand.priority)
    assert [demand.part.name for demand in ranked] == ["urgent", "sooner", "later", "whenever"]


def test_what_lies_beyond_the_tables_travel_is_left_alone_and_told_of() -> None:
    washer = {"name": "washer", "shape": {"kind": "ring", "outside": 90, "inside": 40}, "quantity": 9,
              "thickness": 10, "grade": "S355"}  # fmt: skip
    planned = plan_job(job(machine={"table": [500, 300]}, part=[washer]))
    (sheet,) = planned.sheets
    assert len(sheet.nested.placements) == 9
    for placement in sheet.nested.placements:
        x0, y0, x1, y1 = bounds(place(placement.part.outer, placement.pose))
        assert x0 >= 0 and y0 >= 0 and x1 <= 500 and y1 <= 300
    assert ("plate PL10", "reaches beyond the table's travel: only 500 × 300 mm of it are used") in [
        (about, finding.message) for about, finding in planned.findings
    ]


def test_kit_and_due_date_stand_on_labels_and_cut_list() -> None:
    washer = {"shape": {"kind": "ring", "outside": 90, "inside": 40}, "thickness": 10, "grade": "S355"}
    parts = [
        {**washer, "name": "first", "quantity": 1, "kit": "dolly", "due": date(2027, 1, 31)},
        {**washer, "name": "second", "quantity": 1},
    ]
    planned = plan_job(job(part=parts))
    assert {label.part: label.lines[-1] for label in part_labels(planned)} == {
        "first": "kit dolly, due 2027-01-31", "second": "b",
    }  # fmt: skip
    rows = list(csv.DictReader(cut_list_csv(planned).splitlines()))
    assert {row["part"]: (row["kit"], row["due"]) for row in rows} == {
        "first": ("dolly", "2027-01-31"), "second": ("", ""),
    }  # fmt: skip


def test_a_kit_that_comes_off_several_sheets_is_told_of() -> None:
    washer = {"shape": {"kind": "ring", "outside": 90, "inside": 40}, "quantity": 1, "grade": "S355"}
    parts = [
        {**washer, "name": "thin", "thickness": 10, "kit": "dolly"},
        {**washer, "name": "thick", "thickness": 20, "kit": "dolly"},
        {**washer, "name": "other", "thickness": 10, "kit": "trailer"},
        {**washer, "name": "other-large", "thickness": 20},
    ]
    plates = [
        {**PLATE, "length": 400, "width": 300},
        {**PLATE, "id": "PL20", "thickness": 20, "length": 400, "width": 300},
    ]
    planned = plan_job(job(part=parts, plate=plates))
    told = {about: finding.message for about, finding in planned.findings if about.startswith("kit")}
    assert told == {"kit dolly": "comes off PL10-1, PL20-1: hold its parts until the last"}


def test_all_that_is_wrong_with_what_a_job_names_is_told_at_once(tmp_path: Path) -> None:
    data = {
        "job": {"name": "astray"},
        "machine": {"postprocessor": "nowhere"},
        "prices": "no-prices.toml",
        "cutting": {"data": ["no-data"]},
        "plate": [{"id": "R1", "outline": "no-remnant.dxf", "thickness": 10, "grade": "S355"}],
        "part": [{"drawing": "no-part.dxf", "quantity": 1, "thickness": 10, "grade": "S355"}],
    }
    with pytest.raises(CutplanError) as told:
        nest_job(parse_job(data, tmp_path / "job.toml"))
    for name in ("nowhere", "no-prices.toml", "no-data", "no-remnant.dxf", "no-part.dxf"):
        assert name in str(told.value)
