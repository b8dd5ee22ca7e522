"""Faults of what belongs together: another plan's program, a plan edited, files missing or exchanged."""

from __future__ import annotations

import copy
import json
import random
import re
from collections.abc import Callable
from typing import Any

from faults.cases import case
from faults.contours import moved
from faults.honest import PLAIN, cuts_of, without_part
from faults.model import FAULTS, Edit, Mutator
from faults.view import View

MEANS = "the proof would hold against something that nobody planned"


def changed_plan(change: Callable[[dict[str, Any], dict[str, Any], random.Random], bool | None]) -> Mutator:
    """Edit plan.json, cleverly or not; the change takes the plan and the sheet's record."""

    def mutate(view: View, chance: random.Random) -> Edit | None:
        plan = copy.deepcopy(view.case.plan)
        plate = next(p for p in plan["plates"] if f"{p['id']}-{p['sheet']}" == view.case.sheet)
        if change(plan, plate, chance) is False:
            return None
        if plan == view.case.plan:
            return None
        return Edit({"plan.json": json.dumps(_restamped(plan, chance), indent=1)})

    return mutate


def _restamped(plan: dict[str, Any], chance: random.Random) -> dict[str, Any]:
    """Return an edited plan whose digest of itself is stale, taken out, or made to fit."""
    from cutplan.record.digests import content_digest

    how = chance.choice(["stale", "out", "fits"])
    if how == "out":
        return plan | {"digest": ""}
    return plan | {"digest": content_digest(plan)} if how == "fits" else plan


def set_in_plan(*path: str, value: Any = None, times: float | None = None) -> Mutator:
    """Edit one value of the sheet's record, or with a leading slash of the plan's."""

    def change(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
        here: Any = plan if path[0] == "/" else plate
        keys = [key for key in path if key != "/"]
        for key in keys[:-1]:
            here = here[key]
        if keys[-1] not in here:
            return False
        here[keys[-1]] = here[keys[-1]] * times if times is not None else value
        return None

    return changed_plan(change)


FAULTS.add(
    "tolerance of the plan loosened",
    "bites and metal left pass that the job does not allow",
    set_in_plan("/", "tolerance_mm", value=2.0),
)
FAULTS.add(
    "tolerance of the plan widened a little",
    "bites and metal left pass that the job does not allow",
    set_in_plan("/", "tolerance_mm", value=0.2),
)
FAULTS.add("thickness in the plan changed", MEANS, set_in_plan("thickness_mm", times=2))
FAULTS.add("grade in the plan changed", MEANS, set_in_plan("grade", value="1.4301"))
FAULTS.add("kerf in the plan changed", MEANS, set_in_plan("cut_data", "kerf", times=1.02))
FAULTS.add("feed in the plan changed", MEANS, set_in_plan("cut_data", "feed_mm_min", times=1.005))
FAULTS.add("pierce dwell in the plan changed", MEANS, set_in_plan("cut_data", "pierce_s", times=1.05))
FAULTS.add(
    "preheating in the plan changed",
    MEANS,
    set_in_plan("cut_data", "preheat_s", value=1.0),
    cases=("metric", "heights"),
)
FAULTS.add("pierce height in the plan changed", MEANS, set_in_plan("cut_data", "pierce_height", times=1.005))
FAULTS.add("process in the plan changed", MEANS, set_in_plan("cut_data", "process", value="waterjet"))
FAULTS.add(
    "pierce clearance in the plan changed",
    MEANS,
    set_in_plan("cut_data", "rules", "pierce_clearance", value=0.0),
)
FAULTS.add(
    "corner feed in the plan changed", MEANS, set_in_plan("cut_data", "rules", "corner_feed", times=0.99)
)
FAULTS.add(
    "feed trim in the plan widened",
    "an operator may trim more than the data allow",
    set_in_plan("cut_data", "feed_trim", value=0.9),
)
FAULTS.add(
    "dwell trim in the plan widened",
    "an operator may trim more than the data allow",
    set_in_plan("cut_data", "dwell_trim", value=50.0),
)
FAULTS.add(
    "height trim in the plan widened",
    "an operator may trim more than the data allow",
    set_in_plan("cut_data", "height_trim", value=9.0),
)
FAULTS.add(
    "table in the plan widened",
    "the gantry runs into its stop",
    set_in_plan("/", "machine", "table", value=[9000.0, 9000.0]),
)
FAULTS.add(
    "marker in the plan denied",
    "missing marks would pass",
    set_in_plan("/", "machine", "marker", value=False),
    cases=("metric", "heights", "numbered"),
)
FAULTS.add(
    "torches in the plan changed",
    "a lane would be taken for cut",
    set_in_plan("torches", value=1),
    cases=("several-torches",),
)
FAULTS.add(
    "torch spacing in the plan changed",
    "the lanes would lie elsewhere",
    set_in_plan("torch_spacing_mm", value=300.0),
    cases=("several-torches",),
)
FAULTS.add(
    "torch word in the plan's dialect changed",
    "the proof reads another language than the control",
    set_in_plan("dialect", "torch_on", value=["M4"]),
)
FAULTS.add(
    "stop ignored by the plan's dialect",
    "the proof reads another language than the control",
    set_in_plan("dialect", "ignored", value=["M0", "M1"]),
)
FAULTS.add(
    "block delete in the plan's dialect",
    "the proof reads another language than the control",
    set_in_plan("dialect", "block_delete", value=True),
    cases=("metric", "inch", "heights"),
)
FAULTS.add(
    "feeds left to the control by the plan's dialect",
    "no feed is proved then",
    set_in_plan("dialect", "feed_by_control", value=True),
)
FAULTS.add(
    "pierce left to the control by the plan's dialect",
    "no dwell is proved then",
    set_in_plan("dialect", "pierce_by_control", value=True),
)
FAULTS.add(
    "dwell unit in the plan's dialect",
    "the proof reads another language than the control",
    set_in_plan("dialect", "dwell_ms", value=True),
)
FAULTS.add(
    "offset in the plan's dialect",
    "the register holds another radius",
    set_in_plan("dialect", "compensation_radius_mm", times=1.01),
    cases=("control-compensation",),
)


def _drawn(plan: dict[str, Any], plate: dict[str, Any]) -> list[dict[str, Any]]:
    """The parts that lie on the sheet; what lies on others is not this one's to prove."""
    return [plan["parts"][name] for name in sorted({placed["part"] for placed in plate["placements"]})]


def _outline(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    vertex = chance.choice(chance.choice(_drawn(plan, plate))["outer"])
    vertex[chance.randrange(2)] += chance.choice([-0.04, 0.04, 0.5])
    return None


def _hole(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    parts = [part for part in _drawn(plan, plate) if part["holes"]]
    if not parts:
        return False
    part = chance.choice(parts)
    del part["holes"][chance.randrange(len(part["holes"]))]
    return None


def _mark(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    parts = [part for part in _drawn(plan, plate) if part["marks"]]
    if not parts:
        return False
    part = chance.choice(parts)
    del part["marks"][chance.randrange(len(part["marks"]))]
    return None


def _placement(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    chance.choice(plate["placements"])[chance.choice(["x_mm", "y_mm"])] += chance.choice([-0.03, 0.03, 3])
    return None


def _drop_placement(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    del plate["placements"][chance.randrange(len(plate["placements"]))]
    return None


def _clamp(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    if not plate["plate"]["keepouts"]:
        return False
    plate["plate"]["keepouts"] = []
    return None


def _plate_outline(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    for vertex in plate["plate"]["outline"]:
        vertex[0] *= 1.1
    return None


def _copies(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    chance.choice(plate["placements"])["copy"] += 70
    return None


def _drop_cut(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    del plate["cuts"][chance.randrange(len(plate["cuts"]))]
    return None


def _cut_length(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    cut = chance.choice(plate["cuts"])
    if "length_mm" not in cut:
        return False
    cut["length_mm"] = round(cut["length_mm"] * 1.2 + 3.0, 3)
    return None


def _cut_pierce(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    cut = chance.choice(plate["cuts"])
    if "pierce_mm" not in cut:
        return False
    cut["pierce_mm"] = [cut["pierce_mm"][0] + 2.0, cut["pierce_mm"][1]]
    return None


TOTALS = "the program would not be held against what was planned"
FAULTS.add("cut of the plan taken out", TOTALS, changed_plan(_drop_cut))
FAULTS.add("length of a cut in the plan changed", TOTALS, changed_plan(_cut_length))
FAULTS.add("pierce of a cut in the plan moved", TOTALS, changed_plan(_cut_pierce))
FAULTS.add("outline of a part in the plan changed", MEANS, changed_plan(_outline))
FAULTS.add("hole of a part in the plan taken out", MEANS, changed_plan(_hole))
FAULTS.add("mark of a part in the plan taken out", MEANS, changed_plan(_mark))
FAULTS.add("placement in the plan moved", MEANS, changed_plan(_placement))
FAULTS.add("placement in the plan taken out", MEANS, changed_plan(_drop_placement))
FAULTS.add("clamp in the plan taken out", "the torch breaks on a clamp", changed_plan(_clamp))
FAULTS.add("plate in the plan made longer", MEANS, changed_plan(_plate_outline))
FAULTS.add(
    "copy in the plan given another number", "labels and marks name another part", changed_plan(_copies)
)

OTHERS = ("metric", "heights", "numbered", "inch", "absolute-centres", "radius-arcs", "lines-only")


@FAULTS.enter("program of another plan", "it cuts another nest, or for another control", cases=OTHERS)
def program_of_anotherchanged_plan(view: View, chance: random.Random) -> Edit | None:
    other = case(chance.choice([name for name in OTHERS if name != view.case.name]))
    return Edit({view.file: other.text})


@FAULTS.enter("plan of another program", "it cuts another nest, or for another control", cases=OTHERS)
def plan_of_another_program(view: View, chance: random.Random) -> Edit | None:
    other = case(
        chance.choice(
            [name for name in OTHERS if name != view.case.name and case(name).programs == view.case.programs]
        )
    )
    return Edit({"plan.json": other.files["plan.json"]})


def _digest_line(view: View, name: str) -> int | None:
    return next((k for k, line in enumerate(view.lines) if re.match(rf"\({name} [0-9a-f]", line)), None)


@FAULTS.enter("another plan's digest in the head", "the program says itself that it belongs to another plan")
def another_plans_digest(view: View, chance: random.Random) -> list[str] | None:
    line = _digest_line(view, "plan digest") or _digest_line(view, "plan")
    if line is None:
        return None
    digits = re.findall(r"[0-9a-f]{16,}", view.lines[line])
    if not digits:
        return None
    return view.swap(
        line,
        view.lines[line].replace(digits[0], "".join(chance.choice("0123456789abcdef") for _ in digits[0])),
    )


SPLIT = ("split",)
WHOLE = "split files are one program"


@FAULTS.enter("a file of a split program missing", WHOLE, cases=SPLIT)
def file_missing(view: View, chance: random.Random) -> Edit | None:
    names = view.case.programs
    gone = chance.choice(names)
    return Edit({gone: ""}, program=next(name for name in names if name != gone))


@FAULTS.enter("files of a split program exchanged", f"{WHOLE}, run in their order", cases=SPLIT)
def files_exchanged(view: View, chance: random.Random) -> Edit | None:
    one, other = chance.sample(view.case.programs, 2)
    files = view.case.files
    return Edit({one: files[other], other: files[one]})


@FAULTS.enter("a file of a split program twice", WHOLE, cases=SPLIT)
def file_twice(view: View, chance: random.Random) -> Edit | None:
    one, other = chance.sample(view.case.programs, 2)
    return Edit({one: view.case.files[other]})


@FAULTS.enter("a file of a split program left empty", WHOLE, cases=SPLIT)
def file_empty(view: View, chance: random.Random) -> Edit | None:
    return Edit({chance.choice(view.case.programs): "G21 G90 G17 G40 G80 G94\nM30\n"})


@FAULTS.enter(
    "modes left behind by the file before", "each file is started by itself, and after any other", cases=SPLIT
)
def file_without_its_modes(view: View, chance: random.Random) -> Edit | None:
    name = chance.choice(view.case.programs[1:])
    lines = view.case.files[name].split("\n")
    at = next(k for k, line in enumerate(lines) if "G21" in line)
    return Edit({name: "\n".join([*lines[:at], *lines[at + 1 :]])}, program=name)


@FAULTS.enter(
    "a file of a split program leaves steps behind", "the next file takes its places from there", cases=SPLIT
)
def file_leaves_steps(view: View, chance: random.Random) -> list[str] | None:
    return view.put(view.end, "G91")


@FAULTS.enter(
    "split program as one text", "two ends in one file: the control stops at the first", cases=SPLIT
)
def files_joined(view: View, chance: random.Random) -> Edit | None:
    names = view.case.programs
    text = "".join(view.case.files[name] for name in names)
    return Edit({names[0]: text})


@FAULTS.enter("no program at all", "an empty file cuts nothing")
def no_program(view: View, chance: random.Random) -> Edit | None:
    return Edit({view.file: chance.choice(["\n", "M30\n", "%\n%\n", "(nothing)\nM30\n"])}, program=view.file)


@FAULTS.enter("a binary in place of the program", "no text")
def a_binary(view: View, chance: random.Random) -> Edit | None:
    return Edit({view.file: bytes(chance.randrange(256) for _ in range(4000))}, program=view.file)


@FAULTS.enter("the drawing in place of the program", "no program")
def a_drawing(view: View, chance: random.Random) -> Edit | None:
    return Edit({view.file: (view.case.folder.parent / "lug.dxf").read_text()}, program=view.file)


@FAULTS.enter(
    "another part left out than is named", "the part named as scrap is cut, another one is not", cases=PLAIN
)
def another_part_left_out(view: View, chance: random.Random) -> Edit | None:
    one, other = chance.sample(view.case.plate["placements"], 2)
    text = without_part(view, one["part"], one["copy"])
    if text is None:
        return None
    return Edit({view.file: text}, options=("--scrap", f"{other['part']}/{other['copy']}"))


@FAULTS.enter("restart behind one cut more than is named", "a contour is not cut", cases=PLAIN)
def restart_too_late(view: View, chance: random.Random) -> Edit | None:
    if len(view.case.plate["cuts"]) != len(view.cuts):
        return None
    k = chance.randrange(1, len(view.cuts) - 1)
    lines = view.without(view.cuts[0].first, view.cuts[k + 1].first)
    return Edit({view.file: "\n".join(lines)}, options=("--from-cut", str(k + 1)))


@FAULTS.enter("restart before the cut that is named", "a contour is cut a second time", cases=PLAIN)
def restart_too_early(view: View, chance: random.Random) -> Edit | None:
    if len(view.case.plate["cuts"]) != len(view.cuts):
        return None
    behind = [k for k in range(1, len(view.cuts)) if not view.cuts[k - 1].marks]
    if not behind:
        return None
    k = chance.choice(behind)
    lines = view.without(view.cuts[0].first, view.cuts[k - 1].first)
    return Edit({view.file: "\n".join(lines)}, options=("--from-cut", str(k + 1)))


@FAULTS.enter(
    "part named as scrap bitten", "a cut runs through what the option gives up and its neighbour", cases=PLAIN
)
def neighbour_of_scrap_bitten(view: View, chance: random.Random) -> Edit | None:
    placed, other = chance.sample(view.case.plate["placements"], 2)
    rest = cuts_of(view, other["part"], other["copy"])
    rest = [k for k in rest if not view.cuts[k].marks]
    text = without_part(view, placed["part"], placed["copy"])
    if text is None or not rest:
        return None
    at = view.cuts[rest[-1]]
    if any("G91" in view.code(k) for k in range(at.first, at.last)):
        return None
    shifted = moved(view, range(at.first, at.last), 0.7, 0.0)
    gone = cuts_of(view, placed["part"], placed["copy"])
    lines = shifted[: view.cuts[0].first]
    for k, cut in enumerate(view.cuts):
        lines = lines + ([] if k in gone else shifted[cut.first : cut.last])
    lines += shifted[view.cuts[-1].last :]
    return Edit({view.file: "\n".join(lines)}, options=("--scrap", f"{placed['part']}/{placed['copy']}"))
