"""Faults of flames, gases, and torches side by side."""

from __future__ import annotations

import random

from faults.model import FAULTS, Mutator
from faults.places import Lines, at_head, behind_start, between, lit
from faults.view import Cut, View
from faults.words import find, replaced

FLAMES = ("oxyfuel-preheat", "oxyfuel-heights")
SIDE = ("several-torches",)


def _flame_line(view: View, cut: Cut, code: str) -> int | None:
    last = cut.last if code != "M8" else cut.on
    first = cut.first if code == "M8" else cut.off
    return next((k for k in range(first, last) if code in view.code(k)), None)


def _on_flame(code: str, edit: Mutator | None = None, *, to: int = 0, text: str | None = None) -> Mutator:
    """Drop the line of a flame word in one cut, move it, or write it otherwise."""

    def mutate(view: View, chance: random.Random) -> Lines:
        cut = chance.choice(view.torch_cuts)
        line = _flame_line(view, cut, code)
        if line is None:
            return None
        if text is not None:
            return view.swap(line, text)
        lines = view.without(line, line + 1)
        return lines if not to else [*lines[: line + to], view.lines[line], *lines[line + to :]]

    return mutate


COLD = "cold steel does not burn: the cut never starts"
UP = "the flames heat parts, hands and hoses on the way"
FAULTS.add("flames not turned up", COLD, _on_flame("M8"), cases=FLAMES)
FAULTS.add("flames not turned down", UP, _on_flame("M9"), cases=FLAMES)
FAULTS.add("flames turned up behind the preheat", COLD, _on_flame("M8", to=1), cases=FLAMES)
FAULTS.add("flames turned up behind the torch word", COLD, _on_flame("M8", to=2), cases=FLAMES)
FAULTS.add(
    "flame word under block delete",
    "with block delete on, the flames stay as they were",
    _on_flame("M8", text="/M8"),
    cases=FLAMES,
)
FAULTS.add(
    "flame off under block delete",
    "with block delete on, the flames stay up",
    _on_flame("M9", text="/M9"),
    cases=FLAMES,
)
FAULTS.add("flame word in a comment", COLD, _on_flame("M8", text="(M8)"), cases=FLAMES)
FAULTS.add("flames up in the travel", UP, between("M8"), cases=FLAMES)
FAULTS.add("flames up at the head", UP, at_head("M8"), cases=FLAMES)
FAULTS.add("flames down in a cut", "the cut goes out", lit("M9"), cases=FLAMES)
FAULTS.add("flames down behind the pierce", "the cut goes out", behind_start("M9"), cases=FLAMES)
FAULTS.add(
    "stop with the flames up",
    "the flames burn on one spot for as long as the stop lasts",
    between("M8", "M0", "M9"),
    cases=FLAMES,
)


@FAULTS.enter("flames up at the end", UP, cases=FLAMES)
def flames_up_at_the_end(view: View, chance: random.Random) -> Lines:
    return view.put(view.end, "M8", "G4 P5")


@FAULTS.enter(
    "oxygen before the preheat", COLD, cases=("oxyfuel-metric", "oxyfuel-preheat", "several-torches")
)
def oxygen_before_the_preheat(view: View, chance: random.Random) -> Lines:
    cuts = [cut for cut in view.torch_cuts if "G4" in view.code(cut.on - 1)]
    if not cuts:
        return None
    on = chance.choice(cuts).on
    return [*view.lines[: on - 1], view.lines[on], view.lines[on - 1], *view.lines[on + 1 :]]


@FAULTS.enter(
    "preheat at another place", COLD, cases=("oxyfuel-metric", "oxyfuel-preheat", "several-torches")
)
def preheat_elsewhere(view: View, chance: random.Random) -> Lines:
    cuts = [cut for cut in view.torch_cuts if "G4" in view.code(cut.on - 1)]
    if not cuts:
        return None
    cut = chance.choice(cuts)
    way = next(k for k in range(cut.first, cut.on) if find(view.lines[k], "X") or find(view.lines[k], "Y"))
    dwell = view.lines[cut.on - 1]
    lines = view.without(cut.on - 1, cut.on)
    return [*lines[:way], dwell, *lines[way:]]


def _torches(edit: str) -> Mutator:
    def mutate(view: View, chance: random.Random) -> Lines:
        line = next(
            k for k in range(view.head) if find(view.lines[k], "T") and not view.lines[k].startswith("(")
        )
        word = find(view.lines[line], "T")
        assert word is not None
        return (
            view.swap(line, replaced(view.lines[line], word, edit)) if edit else view.without(line, line + 1)
        )

    return mutate


LANES = "a lane is not cut, or metal is burnt where no part lies"
FAULTS.add("fewer torches", LANES, _torches("T1"), cases=SIDE)
FAULTS.add("more torches", LANES, _torches("T3"), cases=SIDE)
FAULTS.add("no torches", LANES, _torches("T0"), cases=SIDE)
FAULTS.add("torch count left out", "as many burn as the last program left", _torches(""), cases=SIDE)
FAULTS.add("torch count in a comment", "as many burn as the last program left", _torches("(T2)"), cases=SIDE)
FAULTS.add("torch count with a fraction", "no number of torches", _torches("T1.5"), cases=SIDE)
FAULTS.add("negative torch count", "no number of torches", _torches("T-2"), cases=SIDE)
FAULTS.add("torch count from a parameter", "as many burn as an old value says", _torches("T#1"), cases=SIDE)
FAULTS.add(
    "torch count under block delete",
    "with block delete on, as many burn as the last program left",
    _torches("/T2"),
    cases=SIDE,
)
FAULTS.add("torch count changed on the way", LANES, between("T1"), cases=SIDE)
FAULTS.add("torch count changed in a cut", LANES, lit("T1"), cases=SIDE)
FAULTS.add("torch count behind the first start", LANES, at_head("T1"), cases=SIDE)
FAULTS.add("tool change with the torch count", "M6 waits for a tool", at_head("T2 M6"), cases=SIDE)


@FAULTS.enter("other torch spacing", "the operator sets the torches a wrong way apart", cases=SIDE)
def other_spacing(view: View, chance: random.Random) -> Lines:
    line = next((k for k, text in enumerate(view.lines) if "320 mm apart" in text), None)
    return (
        None
        if line is None
        else view.swap(line, view.lines[line].replace("320", chance.choice(["300", "32", "640"])))
    )


@FAULTS.enter("torch spacing left out", "the torches stand as the last program left them", cases=SIDE)
def no_spacing(view: View, chance: random.Random) -> Lines:
    line = next((k for k, text in enumerate(view.lines) if "mm apart" in text), None)
    return None if line is None else view.without(line, line + 1)
