"""A program turned to a crooked plate does on it what it did on the straight one, through every post-processor."""

import json
import math
import random
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from replay import Row, run
from ring_jobs import JOB, planned

from cutplan.base.errors import CutplanError, InputError, OutputError, ProgramError, ProofError
from cutplan.geometry import Pose
from cutplan.planning import align_program, check_program, load_job, plan_job, write_aligned, write_files
from cutplan.planning.job import parse_job
from cutplan.program import find_postprocessor, list_postprocessors, turned_program

POSTS = [post.name for post in list_postprocessors()]


@pytest.fixture(scope="module")
def rings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned(tmp_path_factory.mktemp("rings"), "rs274-metric")


def found_at(turn_deg: float, dx: float, dy: float, length: float = 700.0) -> list[tuple[float, float]]:
    turn = math.radians(turn_deg)
    return [(dx, dy), (dx + length * math.cos(turn), dy + length * math.sin(turn))]


def back(pose: Pose, point: tuple[float, ...]) -> tuple[float, float]:
    """Return a place on the crooked plate in the plate's own coordinates."""
    turn, x, y = math.radians(pose.rotation_deg), point[0] - pose.x, point[1] - pose.y
    return x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)


def middle(arc: Row) -> tuple[float, float]:
    """Return the middle of an arc: the centre of a wide one says little of where it runs."""
    (x, y), centre = arc.start[:2], arc.centre
    first = math.atan2(y - centre[1], x - centre[0])
    last = math.atan2(arc.end[1] - centre[1], arc.end[0] - centre[0])
    sweep = (first - last if arc.clockwise else last - first) % math.tau or math.tau
    at = first + (-0.5 if arc.clockwise else 0.5) * sweep
    radius = math.dist((x, y), centre)
    return centre[0] + radius * math.cos(at), centre[1] + radius * math.sin(at)


def worst_miss(out: Path, aligned: object) -> float:
    """Replay both programs and return how far any lit move ends from its place on the plate, mm."""
    sheet = json.loads((out / "plan.json").read_text())["plates"][0]
    before = run([(out / each["file"]).read_text() for each in sheet["programs"]], sheet["dialect"])
    after = run(list(aligned.sheet.texts), sheet["dialect"])  # type: ignore[attr-defined]
    lit = [[row for row in rows if row.moves and (row.torch or row.marker)] for rows in (before, after)]
    assert len(lit[0]) == len(lit[1]) > 20
    pose, worst = aligned.lie.pose, 0.0  # type: ignore[attr-defined]
    for old, new in zip(*lit, strict=True):
        assert (old.kind, old.clockwise, old.feed) == (new.kind, new.clockwise, new.feed)
        for a, b in ((old.start, new.start), (old.end, new.end)):
            worst = max(worst, math.dist(a[:2], back(pose, b)))
        if old.kind == "arc":
            worst = max(worst, math.dist(middle(old), back(pose, middle(new))))
    return worst


@pytest.mark.parametrize("post", POSTS)
def test_a_turned_program_lands_on_the_plates_own_coordinates(post: str, tmp_path: Path) -> None:
    out, dice = planned(tmp_path, post), random.Random(post)
    for _ in range(3):
        where = found_at(dice.uniform(-2, 2), dice.uniform(0, 30), dice.uniform(0, 30))
        aligned = align_program(out / "A-1.nc" if (out / "A-1.nc").exists() else next(out.glob("A-1*.nc")),
                                out / "plan.json", where, sheet="A-1")  # fmt: skip
        assert worst_miss(out, aligned) < 0.01
        assert aligned.verdict.is_as_planned


def test_the_turned_program_is_proved_again_by_its_own_plan(rings: Path, tmp_path: Path) -> None:
    aligned = align_program(rings / "A-1.nc", rings / "plan.json", found_at(0.8, 12.0, -3.0))
    assert aligned.lie.skew_deg == pytest.approx(0.8)
    files = write_aligned(aligned, tmp_path / "aligned")
    assert files == ["A-1.nc", "A-1.svg", "plan.json"]
    checked = check_program(tmp_path / "aligned" / "A-1.nc", tmp_path / "aligned" / "plan.json", None)
    assert (checked.exit_code, checked.untouched) == (0, True)
    assert "(aligned: the plate lies turned by 0.8000 deg" in (tmp_path / "aligned" / "A-1.nc").read_text()
    # On the straight plate it would be wrong, and the straight program on the crooked one.
    assert check_program(tmp_path / "aligned" / "A-1.nc", rings / "plan.json", "A-1").exit_code == 3
    assert check_program(rings / "A-1.nc", tmp_path / "aligned" / "plan.json", "A-1").exit_code == 3
    with pytest.raises(InputError, match="holds the plan as it was made"):
        write_aligned(aligned, rings)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "A-1.nc").write_text("not ours")
    with pytest.raises(OutputError, match=r"A-1\.nc, which no plan of cutplan wrote"):
        write_aligned(aligned, tmp_path / "full")


def test_a_shift_alone_changes_coordinates_and_nothing_else(rings: Path) -> None:
    text, post = (rings / "A-1.nc").read_text(), find_postprocessor("rs274-metric", ())
    (same,) = turned_program([text], post, Pose(), (0.0, 0.0), ["A-1.nc"])
    before = [(r.kind, r.end[:2]) for r in run(text)]
    assert [(r.kind, r.end[:2]) for r in run(same)] == before
    assert [line for line in same.split("\n") if "X" not in line and "Y" not in line] == [
        line for line in text.split("\n") if not any(letter in line.split("(")[0] for letter in "XYIJ")
    ]


def test_a_clamp_or_the_tables_end_in_the_way_is_refused_with_the_parts(tmp_path: Path) -> None:
    clamped = planned(tmp_path / "clamped", "rs274-metric",
                      plate={"keepouts": [{"box": [300, -80, 400, -26], "height": 60}]})  # fmt: skip
    fine = found_at(0.0, 0.0, 0.0)
    assert align_program(clamped / "A-1.nc", clamped / "plan.json", fine).lie.skew_deg == 0.0
    with pytest.raises(ProofError, match=r"cannot be run on the plate as it lies \(keep-out\).*straighten"):
        align_program(clamped / "A-1.nc", clamped / "plan.json", found_at(0.0, 0.0, -30.0))
    tight = planned(tmp_path / "tight", "rs274-metric", machine={"table": [702, 452]})
    with pytest.raises(ProofError, match=r"\(off-table\).*cannot be cut where they lie: \w+/\d.*--outline"):
        align_program(tight / "A-1.nc", tight / "plan.json", found_at(2.0, 30.0, 0.0))


def test_points_that_do_not_fit_the_plate_are_refused(rings: Path) -> None:
    def refused(found: list[tuple[float, float]], told: str) -> None:
        with pytest.raises(InputError, match=told):
            align_program(rings / "A-1.nc", rings / "plan.json", found)

    refused([(0, 0)], r"1 points were found, the plate is touched at 2; touch \(0, 0\), \(700, 0\)")
    refused([(0, 0), (690, 0)], "off by 10.0 mm")
    refused([(700, 0), (0, 0)], "turned by .*180.0 degrees")
    refused([(0, 0), (0, 0)], "within 0 mm of each other")
    refused([(0, 0), (math.nan, 0)], "is no number")


def test_a_program_of_another_plan_or_of_foreign_words_is_not_turned(rings: Path, tmp_path: Path) -> None:
    text = (rings / "A-1.nc").read_text()
    post = find_postprocessor("rs274-metric", ())
    for words in ("G92 X0 Y0", "G28 X0", "G1 X10 Z3", "G68 X0 Y0 R3", "G10 L2 P1 X3"):
        with pytest.raises(ProgramError, match=r"x\.nc, line \d+.*holds words that cannot be turned"):
            turned_program(
                [text.replace("M30", f"{words}\nM30")], post, Pose(1.0, 2.0, 0.5), (0.0, 0.0), ["x.nc"]
            )
    other = planned(tmp_path, "rs274-metric", plate={"width": 460})
    with pytest.raises(InputError, match="belongs to another plan"):
        align_program(rings / "A-1.nc", other / "plan.json", found_at(0.5, 0.0, 0.0))
    with pytest.raises(CutplanError, match="no such file"):
        align_program(rings / "B-1.nc", rings / "plan.json", found_at(0.5, 0.0, 0.0), sheet="A-1")


def test_torches_side_by_side_follow_a_shift_and_no_turn(tmp_path: Path) -> None:
    job = load_job(Path(__file__).parents[2] / "parts" / "dolly-batch.toml")
    machine = replace(
        job.machine,
        postprocessor="rs274-several-torches",
        torches=2,
        torch_spacing_mm=300.0,
        table=(6000.0, 3000.0),
    )
    entry = JOB["part"][0]  # type: ignore[index]
    data = {**JOB, "part": [{**entry, "quantity": 4}], "cutting": {"process": "plasma"},
            "plate": [{"id": "A", "length": 700, "width": 900, "thickness": 10, "grade": "S355"}],
            "machine": {k: v for k, v in asdict(machine).items() if v is not None}}  # fmt: skip
    write_files(plan_job(parse_job(data, tmp_path / "job.toml")), tmp_path / "out")
    if json.loads((tmp_path / "out" / "plan.json").read_text())["plates"][0]["torches"] < 2:
        pytest.fail("the nest does not use both torches")
    program, plan = tmp_path / "out" / "A-1.nc", tmp_path / "out" / "plan.json"
    assert align_program(program, plan, found_at(0.0, 5.0, 7.0)).verdict.passed
    with pytest.raises(InputError, match="cannot follow a plate turned by"):
        align_program(program, plan, found_at(0.3, 5.0, 7.0))
