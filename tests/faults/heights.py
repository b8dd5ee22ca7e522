"""Faults of heights: Z missing, wrong, slow or out of place, and the height control with it."""

from __future__ import annotations

import random

from faults.model import FAULTS, Mutator
from faults.places import Lines, behind_start, between, lit
from faults.view import Cut, View
from faults.words import find, replaced

WITH_HEIGHTS = ("heights",)
WITHOUT = (
    "metric", "inch", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "numbered",
    "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat", "several-torches",
)  # fmt: skip

FAULTS.add(
    "height moved where the control owns it",
    "program and control pull at one axis",
    between("G0 Z10"),
    cases=WITHOUT,
)
FAULTS.add(
    "height moved at a pierce where the control owns it",
    "program and control pull at one axis",
    behind_start("G1 Z3 F3000"),
    cases=WITHOUT,
)
FAULTS.add(
    "height moved in a cut where the control owns it",
    "program and control pull at one axis",
    lit("G1 Z2"),
    cases=WITHOUT,
)


def _z_lines(view: View, cut: Cut) -> dict[str, int]:
    """The lines of a cut that move Z, by what they are for."""
    found: dict[str, int] = {}
    for line in range(cut.first, cut.last):
        word = find(view.lines[line], "Z")
        if word is None:
            continue
        if line < cut.on:
            found["raise" if word.value > view.data["pierce_height"] + 1 else "lower"] = line
        elif line < cut.off:
            found["cut"] = line
        else:
            found["leave"] = line
    return found


def _is_low(view: View, line: int) -> bool:
    """Whether the torch stands lower before a line than the line raises it."""
    before = [word.value for text in view.lines[:line] if (word := find(text, "Z"))]
    raised = find(view.lines[line], "Z")
    return raised is not None and bool(before) and before[-1] < raised.value


def _with_z(
    what: str, marks: bool, edit: Mutator | None, *values: float, feed: float | None = None
) -> Mutator:
    """Change or drop (without values) the Z line of one kind in one cut."""

    def mutate(view: View, chance: random.Random) -> Lines:
        cuts = [cut for cut in (view.marks if marks else view.torch_cuts) if what in _z_lines(view, cut)]
        cuts = [cut for cut in cuts if cut.first > view.cuts[0].first or what != "raise"]
        if what == "raise" and not values:
            # Behind a mark the torch is up already.
            cuts = [cut for cut in cuts if _is_low(view, _z_lines(view, cut)[what])]
        if not cuts:
            return None
        line = _z_lines(view, chance.choice(cuts))[what]
        text = view.lines[line]
        if feed is not None:
            word = find(text, "F")
            return None if word is None else view.swap(line, replaced(text, word, f"F{feed:g}"))
        if not values:
            return view.without(line, line + 1)
        word = find(text, "Z")
        assert word is not None
        return view.swap(line, replaced(text, word, f"Z{chance.choice(values):g}"))

    return mutate


LOW = "the torch runs into what stands up on the plate"
FAULTS.add("raise left out", LOW, _with_z("raise", False, None), cases=WITH_HEIGHTS)
FAULTS.add("raise left out before a mark", LOW, _with_z("raise", True, None), "by replay", cases=WITH_HEIGHTS)
FAULTS.add("raise too low", LOW, _with_z("raise", False, None, 0.5, 1, 3), cases=WITH_HEIGHTS)
FAULTS.add("raise below the plate", LOW, _with_z("raise", False, None, -30, -1), cases=WITH_HEIGHTS)
FAULTS.add("raise of a mark too low", LOW, _with_z("raise", True, None, 0, 0.5, 1), cases=WITH_HEIGHTS)
FAULTS.add(
    "raise beyond the gantry",
    "the axis runs into its stop",
    _with_z("raise", False, None, 3000),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "pierce height left out",
    "the arc does not reach the plate from travel height",
    _with_z("lower", False, None),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "pierce height wrong",
    "too high: no arc; too low: the melt burns the nozzle",
    _with_z("lower", False, None, 0.5, 1.5, 9, 15),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "pierce below the plate",
    "the nozzle runs into the plate",
    _with_z("lower", False, None, -5, -0.5),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "cutting height left out",
    "the cut runs at pierce height: bevelled and wide",
    _with_z("cut", False, None),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "cutting height wrong",
    "too high: bevelled; too low: the nozzle touches",
    _with_z("cut", False, None, 0.2, 0.8, 4.5, 12),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "cutting height below the plate",
    "the nozzle runs into the plate",
    _with_z("cut", False, None, -2.5),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "slow way down to the cutting height",
    "the torch stands lit while it creeps down",
    _with_z("cut", False, None, feed=20),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "height between cut and travel wrong",
    LOW,
    _with_z("leave", False, None, 0, -5),
    "by replay",
    cases=WITH_HEIGHTS,
)


@FAULTS.enter("no height ever again", "from one cut on the torch stays where it is", cases=WITH_HEIGHTS)
def no_height_ever_again(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[:-1])
    start = cut.off
    return [line for k, line in enumerate(view.lines) if k <= start or find(line, "Z") is None]


@FAULTS.enter("no heights at all", "the torch travels and cuts at a height nobody knows", cases=WITH_HEIGHTS)
def no_heights_at_all(view: View, chance: random.Random) -> Lines:
    return [line for line in view.lines if find(line, "Z") is None]


@FAULTS.enter("first raise left out", "the first travel runs at a height left over", cases=WITH_HEIGHTS)
def first_raise_left_out(view: View, chance: random.Random) -> Lines:
    line = next(k for k, text in enumerate(view.lines) if find(text, "Z"))
    return view.without(line, line + 1)


@FAULTS.enter("raise behind the travel", LOW, cases=WITH_HEIGHTS)
def raise_behind_the_travel(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[1:])
    at = _z_lines(view, cut).get("raise")
    if at is None or (not find(view.lines[at + 1], "X") and not find(view.lines[at + 1], "Y")):
        return None
    return [*view.lines[:at], view.lines[at + 1], view.lines[at], *view.lines[at + 2 :]]


@FAULTS.enter(
    "raise with the travel in one block",
    "the torch climbs on a slope through what stands up",
    cases=WITH_HEIGHTS,
)
def raise_with_the_travel(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[1:])
    at = _z_lines(view, cut).get("raise")
    if at is None:
        return None
    word = find(view.lines[at], "Z")
    assert word is not None
    return [*view.lines[:at], f"{view.lines[at + 1]} Z{word.text}", *view.lines[at + 2 :]]


@FAULTS.enter("lowered before the travel", LOW, cases=WITH_HEIGHTS)
def lowered_before_the_travel(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[1:])
    z = _z_lines(view, cut)
    if "lower" not in z:
        return None
    lower = view.lines[z["lower"]]
    lines = view.without(z["lower"], z["lower"] + 1)
    return [*lines[: z["lower"] - 1], lower, *lines[z["lower"] - 1 :]]


def _height_lines(view: View, code: str) -> list[int]:
    return [k for cut in view.torch_cuts for k in range(cut.on + 1, cut.off) if code in view.code(k)]


@FAULTS.enter("height control not switched on", "the torch does not follow the plate", cases=WITH_HEIGHTS)
def control_not_on(view: View, chance: random.Random) -> Lines:
    lines = _height_lines(view, "M8")
    if not lines:
        return None
    line = chance.choice(lines)
    return view.without(line, line + 1)


@FAULTS.enter("height control never switched on", "the torch does not follow the plate", cases=WITH_HEIGHTS)
def control_never_on(view: View, chance: random.Random) -> Lines:
    return [line for line in view.lines if line != "M8"]


@FAULTS.enter(
    "height control left on in a corner",
    "the slow torch's voltage falls and the torch dives",
    cases=WITH_HEIGHTS,
)
def control_left_on(view: View, chance: random.Random) -> Lines:
    lines = _height_lines(view, "M9")
    if not lines:
        return None
    line = chance.choice(lines)
    return view.without(line, line + 1)


FAULTS.add(
    "height control on at the pierce",
    "the voltage over the pierce sends the torch into the plate",
    behind_start("M8"),
    cases=WITH_HEIGHTS,
)
FAULTS.add(
    "height control on in the travel",
    "without an arc the torch dives for the plate",
    between("M8"),
    cases=WITH_HEIGHTS,
)
