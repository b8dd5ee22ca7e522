"""Parts longer than every plate, from the job to programs, joint list and plan.json, or refused with the rule."""

from __future__ import annotations

import csv
import itertools
import json
import re
from pathlib import Path

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.base.errors import CutplanError
from cutplan.cutting import gaps_for
from cutplan.drawing import Part, PartSplices, Splices, make_part
from cutplan.geometry import bounds, circle, polygon
from cutplan.planning import load_job
from cutplan.planning.entries import PlateEntry
from cutplan.planning.flow import nest_job, plan_job
from cutplan.planning.intake import Intake, Wanted
from cutplan.planning.job import Job
from cutplan.planning.output import write_files
from cutplan.planning.program_check import check_program
from cutplan.planning.scripting import wanted
from cutplan.planning.splicing import split_long_parts
from cutplan.process import Library
from cutplan.record import joints_of, plan_record, read_plan

LIBRARY = Library.load()
DATA = LIBRARY.choose("plasma", "mild steel", 10, max_current_a=200)
EDGE = gaps_for(DATA).edge

BEAM = """
[job]
name = "long"

[machine]
table = [3200, 1600]
marker = true
max_current_a = 200

[cutting]
process = "plasma"

[splices]
zones = [[0, 9000]]
least_piece = 700
clearance = 80
bend_clearance = 120
stagger = 250
gap = 3
preparation = "X 60°, land 2"
fit_up_mm = 90
most = 3

[[plate]]
id = "L"
length = 3000
width = 1500
thickness = 10
grade = "S355"

[[part]]
name = "web"
shape = { kind = "rectangle", length = 4000, width = 300 }
quantity = 1
thickness = 10
grade = "S355"
tabs = true
splice = { beam = "rail", member = "web", offset = 100 }

[[part]]
name = "flange"
shape = { kind = "rectangle", length = 4200, width = 120 }
quantity = 2
thickness = 10
grade = "S355"
due = 2027-02-01
splice = { beam = "rail", member = "flange" }

[[part]]
name = "short"
shape = { kind = "rectangle", length = 400, width = 100 }
quantity = 1
thickness = 10
grade = "S355"
"""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("long")
    (folder / "long.toml").write_text(BEAM, encoding="utf-8")
    plan = plan_job(load_job(folder / "long.toml"))
    write_files(plan, folder / "out")
    return plan, folder / "out"


def test_web_and_flanges_are_split_nested_cut_marked_and_proved(written) -> None:
    plan, _out = written
    placed = sorted(p.part.name for sheet in plan.sheets for p in sheet.nested.placements)
    assert placed == ["flange-1of2"] * 2 + ["flange-2of2"] * 2 + ["short", "web-1of2", "web-2of2"]
    assert all(sheet.verdict.passed for sheet in plan.sheets)
    sizes = {
        p.part.name: bounds(p.part.outer)[2] - bounds(p.part.outer)[0]
        for sheet in plan.sheets
        for p in sheet.nested.placements
    }
    assert sizes["web-1of2"] + sizes["web-2of2"] + 3.0 == pytest.approx(4000.0)
    assert sizes["flange-1of2"] + sizes["flange-2of2"] + 3.0 == pytest.approx(4200.0)
    web, flange = joints_of(plan)[1], joints_of(plan)[0]
    assert (web.name, flange.name, web.quantity, flange.quantity) == ("web J1", "flange J1", 1, 2)
    assert abs(web.beam_at_mm - flange.beam_at_mm) >= 250.0
    assert (web.weld_mm, flange.weld_mm) == (pytest.approx(300.0), pytest.approx(120.0))
    # Pieces hang by tabs as the part was to, come due with it, and are marked for fit-up.
    assert {tab.part for sheet in plan.sheets for tab in sheet.tabs} == {"web-1of2", "web-2of2"}
    assert plan.due == {"flange-1of2": "2027-02-01", "flange-2of2": "2027-02-01"}
    marks = sum(step.cut.kind == "mark" for sheet in plan.sheets for step in sheet.order.steps)
    # Two ticks and the three strokes of J1 at each of the six ends.
    assert marks == 6 * (2 + 3)
    told = [finding.message for about, finding in plan.findings if about == "web"]
    assert any("split at" in words and "web-1of2, web-2of2" in words for words in told)


def test_the_joint_list_and_plan_json_say_the_same(written) -> None:
    plan, out = written
    rows = list(csv.DictReader((out / "joints.csv").read_text(encoding="utf-8").splitlines()))
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert [row["joint"] for row in rows] == ["flange J1", "web J1"]
    for row, joint in zip(rows, record["joints"], strict=True):
        assert float(row["at_mm"]) == pytest.approx(joint["at_mm"], abs=0.05)
        assert [row["piece_before"], row["piece_beyond"]] == joint["pieces"]
        assert float(row["gap_mm"]) == 3.0 and row["preparation"] == "X 60°, land 2"
        assert float(row["length_before_mm"]) + float(row["length_beyond_mm"]) + 3.0 == pytest.approx(
            {"web": 4000.0, "flange": 4200.0}[row["part"]], abs=0.11
        )
        assert float(row["measure_mm"]) == 180.0
    sheets = "".join((out / f"{sheet.name}.html").read_text(encoding="utf-8") for sheet in plan.sheets)
    assert "Pieces that are welded into one part, by joints.html" in sheets and "web-1of2 of web" in sheets
    page = (out / "joints.html").read_text(encoding="utf-8")
    assert "web J1" in page and "X 60°, land 2" in page and page.count("<svg") == 2
    assert plan_record(plan)["parts"]["web-1of2"]["piece"]["split"]["of"] == "web"
    parts = {p.part.name: p.part for s in read_plan(out / "plan.json").sheets for p in s.nested.placements}
    assert parts["web-2of2"].piece is not None and parts["web-2of2"].piece.number == 2
    assert parts["short"].piece is None


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("zones = [[0, 9000]]", "zones = [[100, 300]]"), r"zones = \[\[100.0, 300.0\]\] stands in the way"),
        (("least_piece = 700", "least_piece = 2500"), r"least_piece = 2500 stands in the way"),
        (("stagger = 250", "stagger = 3000"), r"stagger = 3000 to the splices of web"),
        (("clearance = 80", "clearance = 2500"), r"clearance = 2500 from holes"),
        (("fit_up_mm = 90", "fit_up_mm = 900"), r"fit_up_mm must be less than least_piece"),
    ],
)
def test_what_cannot_be_split_is_refused_with_its_rule(change, told: str, tmp_path: Path) -> None:
    assert change[0] in BEAM
    (tmp_path / "long.toml").write_text(BEAM.replace(*change, 1), encoding="utf-8")
    with pytest.raises(CutplanError) as problem:
        nest_job(load_job(tmp_path / "long.toml"))
    assert re.search(told, str(problem.value)), problem.value


def test_without_a_word_of_splices_a_long_part_is_refused_as_before(tmp_path: Path) -> None:
    text = re.sub(r"splice = .*\n", "", BEAM)
    text = text[: text.index("[splices]")] + text[text.index("[[plate]]") :]
    (tmp_path / "long.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CutplanError, match=r"too large.*let it be split \(\[splices\]\)"):
        nest_job(load_job(tmp_path / "long.toml"))
    allowed = text.replace('name = "web"', 'name = "web"\nsplice = true').replace(
        'name = "flange"', 'name = "flange"\nsplice = { least_piece = 600 }'
    )
    (tmp_path / "long.toml").write_text(allowed, encoding="utf-8")
    nests, _ = nest_job(load_job(tmp_path / "long.toml"))
    assert sum(len(sheet.placements) for nest in nests for sheet in nest.plates) == 7


def test_a_part_that_says_no_is_not_split(tmp_path: Path) -> None:
    text = re.sub(r"splice = .*web.*\n", "splice = false\n", BEAM)
    (tmp_path / "long.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CutplanError, match="part 'web' is too large"):
        nest_job(load_job(tmp_path / "long.toml"))


def test_a_machine_without_a_marker_cuts_the_pieces_and_says_what_is_missing(tmp_path: Path) -> None:
    (tmp_path / "long.toml").write_text(BEAM.replace("marker = true", "marker = false"), encoding="utf-8")
    nests, findings = nest_job(load_job(tmp_path / "long.toml"))
    parts = [p.part for nest in nests for sheet in nest.plates for p in sheet.placements]
    assert all(part.marks == () and part.texts == () for part in parts)
    assert any("lines for fit-up are left out" in finding.message for _, finding in findings)


def test_places_that_are_given_hold_and_are_asked_for_where_a_job_is_reopened(tmp_path: Path) -> None:
    part = make_part("p", polygon([(0, 0), (9000, 0), (9000, 200), (0, 200)]), [circle((5000, 100), 40)])
    pieces = split(part, PartSplices(at=(3500.0, 6000.0)), [offered(6000)]).wanted
    assert [piece.part.piece.split.splices_mm for piece in pieces] == [(3500.0, 6000.0)] * 3
    ((_, problem),) = split(part, PartSplices(at=(4950.0,)), [offered(6000)]).problems
    assert "at 4950 mm" in problem.message and "clearance = 100" in problem.message
    ((_, problem),) = split(part, PartSplices(at=(700.0, 6000.0)), [offered(6000)]).problems
    assert "least_piece = 1000" in problem.message
    asked = split(part, PartSplices(), [offered(6000)], reopen=True)
    assert any("at = [...]" in problem.remedy and problem.kind == "question" for _, problem in asked.problems)
    assert not split(part, PartSplices(at=(3500.0,)), [offered(6000)], reopen=True).problems


def split(
    part: Part, rules: PartSplices, plates: list[PlateEntry], quantity: int = 1, reopen: bool = False, **keys
):
    entry = wanted(part, quantity, thickness=10, grade="S355", splice=rules, **keys)
    job = Job("job", (entry,), tuple(plates), splices=Splices(), reopen=reopen)
    from cutplan.planning.preparation import plates_of

    intake = Intake([Wanted(entry, part, quantity, 10.0, "S355")])
    split_long_parts(intake, plates_of(job), job, lambda each: DATA)
    return intake


def offered(length: float, width: float = 2000.0) -> PlateEntry:
    return PlateEntry(id=f"P{length:g}", length=length, width=width, thickness=10, grade="S355", quantity=9)


def test_a_part_that_may_only_lie_across_is_split_for_the_plates_width() -> None:
    part = make_part("p", polygon([(0, 0), (3000, 0), (3000, 200), (0, 200)]))
    # Turned by 90 degrees alone, or rolled along the plate's length but drawn across: 2,000 mm count.
    for keys in ({"rotations": [90]}, {"rolling_direction": "y"}):
        (one, two) = split(part, PartSplices(), [offered(6000)], **keys).wanted
        lengths = [bounds(p.part.outer)[2] - bounds(p.part.outer)[0] for p in (one, two)]
        assert max(lengths) < 2000.0 and sum(lengths) + 2.0 == pytest.approx(3000.0)
    assert len(split(part, PartSplices(), [offered(6000)]).wanted) == 1


def test_a_drawn_web_with_a_bend_across_says_which_way_its_pieces_lie() -> None:
    from cutplan.drawing import BendLine

    part = make_part(
        "p", polygon([(0, 0), (9000, 0), (9000, 200), (0, 200)]), bends=[BendLine((8000, 0), (8000, 200))]
    )
    pieces = split(part, PartSplices(), [offered(6000)], rolling_direction="across bends").wanted
    assert [len(piece.part.bends) for piece in pieces] == [0, 1]
    assert [piece.entry.rolling_direction for piece in pieces] == [0.0, 0.0]


@settings(max_examples=60, deadline=None)
@given(
    length=st.integers(6100, 16000),
    height=st.integers(120, 900),
    taper=st.integers(0, 60),
    holes=st.lists(st.integers(300, 15000), max_size=6),
    least=st.integers(500, 3500),
    clearance=st.integers(0, 400),
    zones=st.lists(st.tuples(st.integers(0, 15000), st.integers(0, 4000)), max_size=3),
    gap=st.sampled_from([0.0, 2.0, 3.2]),
    lengths=st.sampled_from([(6000,), (6000, 4000), (3000,), (8000, 5000)]),
)
def test_every_random_long_part_splits_within_its_rules_or_is_refused_with_the_rule(
    length, height, taper, holes, least, clearance, zones, gap, lengths
) -> None:
    centres = sorted({x for x in holes if 150 < x < length - 150})
    centres = [x for n, x in enumerate(centres) if n == 0 or x - centres[n - 1] > 100]
    part = make_part(
        "long",
        polygon([(0, 0), (length, 0), (length, height), (0, height + taper)]),
        [circle((x, height / 2), 40) for x in centres],
    )
    rules = PartSplices(
        least_piece=least, clearance=clearance, gap=gap, fit_up_mm=50,
        zones=tuple((float(a), float(a + w)) for a, w in zones),
    )  # fmt: skip
    intake = split(part, rules, [offered(each) for each in lengths])
    pieces = [each.part for each in intake.wanted]
    if length <= max(lengths) - 2 * EDGE - 40:
        assert pieces == [part]
        return
    if len(pieces) == 1:
        (problem,) = [finding for _, finding in intake.problems]
        assert problem.topic == "splices" and re.search(
            r"(zones|clearance|least_piece|most) = |zones, clearances and least_piece|outline",
            problem.message,
        )
        if len(set(lengths)) == 1 and length < 2 * max(lengths) - 100:
            # One splice would do by length: no place of a grid keeps the rules.
            assert not [
                x for x in range(0, length, 5) if allowed(x, length, centres, rules, max(lengths) - 60)
            ]
        return
    assert not intake.problems
    boxes = [bounds(piece.outer) for piece in pieces]
    sizes = [box[2] - box[0] for box in boxes]
    assert sum(sizes) + gap * (len(pieces) - 1) == pytest.approx(length, abs=1e-6)
    assert all(least - 1e-6 <= size <= max(lengths) - 2 * EDGE + 1e-6 for size in sizes)
    for one, two in itertools.pairwise(boxes):
        assert two[0] - one[2] == pytest.approx(gap, abs=1e-6)
        middle = 0.5 * (one[2] + two[0])
        assert min((abs(middle - x) for x in centres), default=9e9) >= 40 + clearance - 1e-6
        assert not zones or any(a - 1e-6 <= middle <= a + w + 1e-6 for a, w in zones)


def allowed(x: float, length: float, centres: list[int], rules: PartSplices, longest: float) -> bool:
    sizes = (x - rules.gap / 2, length - x - rules.gap / 2)
    return (
        all(rules.least_piece <= size <= longest for size in sizes)
        and min(x, length - x) >= rules.clearance
        and all(abs(x - c) >= 40 + rules.clearance for c in centres)
        and (not rules.zones or any(a <= x <= b for a, b in rules.zones))
    )


def drawn_web(file: Path, hole: float) -> None:
    drawing = ezdxf.new(units=4)
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (4000, 0), (4000, 300), (0, 300)], close=True)
    space.add_circle((hole, 150), 60)
    drawing.saveas(file)


def test_pieces_are_held_against_the_drawing_of_the_whole(tmp_path: Path) -> None:
    drawn_web(tmp_path / "web.dxf", 3500.0)
    text = BEAM[: BEAM.index('[[part]]\nname = "flange"')].replace(
        'name = "web"\nshape = { kind = "rectangle", length = 4000, width = 300 }', 'drawing = "web.dxf"'
    )
    (tmp_path / "long.toml").write_text(text, encoding="utf-8")
    plan = plan_job(load_job(tmp_path / "long.toml"))
    write_files(plan, tmp_path / "out")
    programs = [tmp_path / "out" / file.file_name for sheet in plan.sheets for file in sheet.program.files]
    for program in programs:
        verdict = check_program(program, tmp_path / "out" / "plan.json", None, tmp_path).verdict
        assert verdict.passed and not verdict.faults
    drawn_web(tmp_path / "web.dxf", 3520.0)
    faults = [
        fault.code
        for program in programs
        for fault in check_program(program, tmp_path / "out" / "plan.json", None, tmp_path).verdict.faults
    ]
    assert "bound" in faults
