"""What a stopped program and its restart cut together is the plan, through every post-processor."""

import json
import random
from pathlib import Path

import pytest
from restart_replay import runs_of, wrongs
from ring_jobs import planned

from cutplan.base.errors import CutplanError, InputError, OutputError
from cutplan.planning import (
    RestartWishes,
    align_program,
    check_program,
    restart_program,
    write_aligned,
    write_restart,
)
from cutplan.program import list_postprocessors

POSTS = [post.name for post in list_postprocessors()]


class Stoppable:
    """A planned sheet, with its runs as a replay has them."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.sheet = json.loads((out / "plan.json").read_text())["plates"][0]
        self.names = [each["file"] for each in self.sheet["programs"]]
        self.runs = runs_of([(out / name).read_text() for name in self.names], self.sheet["dialect"])

    @property
    def own_offset(self) -> float:
        return self.sheet["dialect"].get("compensation_radius_mm") or 0.0

    def stopped(self, number: int, way: float | None, **wishes: object):
        """Return the restart where the torch stopped a way along a run, counted from 1."""
        at = None if way is None else self.runs[number - 1].at(way)
        return restart_program(
            self.out / self.names[0], self.out / "plan.json", RestartWishes(number, at=at, **wishes)
        )

    def wrongs(self, restarted: object) -> list[str]:
        runs = runs_of([file.text for file in restarted.sheet.program.files], self.sheet["dialect"])
        stop = restarted.sheet.stopped
        if stop.until is None:
            return wrongs(self.runs, runs, stop.cuts, None, 0.0)
        chord = 0.02 if self.sheet["postprocessor"] == "rs274-lines-only" else 0.0
        return wrongs(
            self.runs, runs, stop.cuts - 1, stop.until_mm, restarted.over_run_mm, chord, self.own_offset
        )


@pytest.fixture(scope="module")
def rings(tmp_path_factory: pytest.TempPathFactory) -> Stoppable:
    return Stoppable(planned(tmp_path_factory.mktemp("rings"), "rs274-metric"))


@pytest.mark.parametrize("post", POSTS)
def test_program_and_restart_together_cut_what_was_planned(post: str, tmp_path: Path) -> None:
    plate = Stoppable(planned(tmp_path, post))
    dice = random.Random(post)
    for number in dice.sample(range(2, len(plate.runs) + 1), 1):
        assert plate.wrongs(plate.stopped(number, None)) == []
    for number in dice.sample(range(1, len(plate.runs) + 1), 2):
        way = dice.uniform(0.1, 0.8) * plate.runs[number - 1].length
        assert plate.wrongs(plate.stopped(number, way)) == [], (number, way)


def test_a_restart_is_proved_again_by_its_own_plan_and_knows_what_ran(
    rings: Stoppable, tmp_path: Path
) -> None:
    """A second stop takes up the first restart; all three together are the plan."""
    first = rings.stopped(9, 0.5 * rings.runs[8].length)
    write_restart(first, tmp_path / "first")
    name = first.sheet.program.file_name
    checked = check_program(tmp_path / "first" / name, tmp_path / "first" / "plan.json", None)
    assert checked.verdict.is_as_planned and checked.untouched
    again = runs_of([(tmp_path / "first" / name).read_text()], rings.sheet["dialect"])
    way = 0.6 * again[0].length
    wishes = RestartWishes(1, at=again[0].at(way))
    second = restart_program(tmp_path / "first" / name, tmp_path / "first" / "plan.json", wishes)
    write_restart(second, tmp_path / "second")
    last = second.sheet.program.file_name
    assert check_program(tmp_path / "second" / last, tmp_path / "second" / "plan.json", None).verdict.passed
    done = second.sheet.stopped.until_mm + first.sheet.stopped.until_mm - first.over_run_mm
    runs = runs_of([second.sheet.program.text], rings.sheet["dialect"])
    assert wrongs(rings.runs, runs, 8, done, second.over_run_mm) == []


def test_a_restart_that_begins_elsewhere_or_leaves_out_a_cut_fails_its_proof(
    rings: Stoppable, tmp_path: Path
) -> None:
    restarted = rings.stopped(9, 0.5 * rings.runs[8].length)
    write_restart(restarted, tmp_path)
    file, plan = tmp_path / restarted.sheet.program.file_name, tmp_path / "plan.json"
    text = file.read_text()
    (x, _), lines = restarted.sheet.order.steps[0].lead.pierce, text.split("\n")
    moved = text.replace(f"X{x:.3f}", f"X{x + 6:.3f}".rstrip("0").rstrip("."), 1)
    moved = moved if moved != text else text.replace(f"X{x:g}", f"X{x + 6:g}", 1)
    cut = next(k for k, line in enumerate(lines) if line.startswith("(cut 2 "))
    end = next(k for k, line in enumerate(lines) if line.startswith("(cut 3 "))
    for edited in (moved, "\n".join(lines[:cut] + lines[end:])):
        assert edited != text
        file.write_text(edited)
        assert not check_program(file, plan, None).verdict.passed


def test_what_ran_before_must_be_as_it_was(rings: Stoppable, tmp_path: Path) -> None:
    restarted = rings.stopped(5, None)
    write_restart(restarted, tmp_path)
    ran = tmp_path / rings.names[0]
    ran.write_text(ran.read_text().replace("M3", "M5", 1))
    with pytest.raises(InputError, match="is not as it was then"):
        check_program(tmp_path / restarted.sheet.program.file_name, tmp_path / "plan.json", None)


def test_a_spoilt_part_is_left_out_and_the_rest_may_be_ordered_anew(rings: Stoppable) -> None:
    spoilt = rings.sheet["cuts"][-1]
    name = f"{spoilt['part']}/{spoilt['copy']}"
    restarted = rings.stopped(6, 10.0, skip=(name,), reorder=True)
    made = [made for step in restarted.sheet.order.steps for made in step.cut.makes]
    assert f"{name} (" in restarted.given_up[0]
    assert name not in {f"{each.part}/{each.copy}" for each in made}
    left = {
        cut["n"]
        for cut in rings.sheet["cuts"][5:]
        if (cut["part"], cut["copy"]) != (spoilt["part"], spoilt["copy"])
    }
    assert len(restarted.sheet.order.steps) == len(left)
    assert restarted.sheet.order.steps[0].lead.again_mm > 0.0


def test_a_place_on_no_cut_and_a_stop_behind_all_are_refused(rings: Stoppable, tmp_path: Path) -> None:
    last = len(rings.runs)

    def refused(told: str, number: int, **wishes: object) -> None:
        with pytest.raises(InputError, match=told):
            restart_program(
                rings.out / rings.names[0], rings.out / "plan.json", RestartWishes(number, **wishes)
            )

    refused("there is no cut", last + 1)
    refused("is not on cut 3, .* mm from it at", 3, at=(690.0, 440.0))
    refused("it is on cut 9", 3, at=rings.runs[8].at(30.0))
    refused("nothing is left to cut", last, at=rings.runs[-1].points[-1])
    refused("leaves metal", 4, at=rings.runs[3].at(30.0), over_run_mm=0.1)
    refused("has no part", 4, skip=("nut",))
    with pytest.raises(InputError, match="it is needed there"):
        write_restart(rings.stopped(4, None), rings.out)
    (tmp_path / "plan.json").write_text("{}")
    with pytest.raises(OutputError):
        write_restart(rings.stopped(4, None), tmp_path)


def test_a_place_that_the_torch_passes_twice_is_told(rings: Stoppable) -> None:
    """The over-burn of a hole runs where it began."""
    number = next(cut["n"] for cut in rings.sheet["cuts"] if cut["kind"] == "hole")
    lead_in = rings.sheet["cuts"][number - 1]["lead_in_mm"]
    early = rings.stopped(number, lead_in + 1.5)
    assert len(early.passes_twice_mm) == 2
    assert early.sheet.stopped.until_mm == pytest.approx(lead_in + 1.5, abs=0.01)
    late = rings.stopped(number, lead_in + 1.5, later=True)
    assert late.sheet.stopped.until is None and late.sheet.stopped.cuts == number


def test_a_plate_that_lay_crooked_is_taken_up_as_it_lies(rings: Stoppable, tmp_path: Path) -> None:
    aligned = align_program(rings.out / rings.names[0], rings.out / "plan.json", [(5.0, 4.0), (704.9, 16.2)])
    write_aligned(aligned, tmp_path / "aligned")
    lying = Stoppable(tmp_path / "aligned")
    restarted = lying.stopped(7, 0.4 * lying.runs[6].length)
    assert lying.wrongs(restarted) == []
    write_restart(restarted, tmp_path / "restart")
    with pytest.raises(CutplanError, match="lie as it lay"):
        align_program(
            tmp_path / "restart" / restarted.sheet.program.file_name,
            tmp_path / "restart" / "plan.json",
            [(0.0, 0.0), (700.0, 1.0)],
        )


@pytest.mark.parametrize("technique", ["tabs", "chains", "rest_cut"])
def test_runs_of_every_technique_are_taken_up(technique: str, tmp_path: Path) -> None:
    """A run up to a tab, a chain of outsides, the cut that parts the rest of the plate off."""
    changes = {"techniques": {technique: True}, "cutting": {"process": "plasma"}}
    plate = Stoppable(planned(tmp_path, "rs274-metric", plate={"length": 1600, "quantity": 1}, job=changes))
    cuts = plate.sheet["cuts"]
    if technique == "tabs":
        number = next(cut["n"] for cut in cuts if cut["contours"][0]["span_mm"] is not None)
    elif technique == "chains":
        number = next(cut["n"] for cut in cuts if len(cut["contours"]) > 1)
    else:
        number = next(cut["n"] for cut in cuts if cut["kind"] == "rest")
    for share in (0.2, 0.8):
        restarted = plate.stopped(number, share * plate.runs[number - 1].length)
        assert plate.wrongs(restarted) == []
    assert len(restarted.sheet.order.steps[0].cut.makes) == (0 if technique == "rest_cut" else 1)


def test_torches_side_by_side_are_taken_up_together_and_leave_out_no_part(tmp_path: Path) -> None:
    lanes = {
        "machine": {"torches": 2, "torch_spacing_mm": 300, "table": [6000, 3000]},
        "plate": {"width": 900},
    }
    plate = Stoppable(planned(tmp_path, "rs274-several-torches", **lanes))
    assert plate.sheet["torches"] == 2
    assert plate.wrongs(plate.stopped(4, 0.5 * plate.runs[3].length)) == []
    with pytest.raises(InputError, match="none can leave out a part alone"):
        plate.stopped(4, None, skip=("ring/1",))
