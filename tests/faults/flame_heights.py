"""Faults of heights where oxy-fuel preheats, pierces and comes down at heights of its own."""

from __future__ import annotations

import random
from collections.abc import Callable

from faults.model import FAULTS, Mutator
from faults.places import Lines
from faults.view import Cut, View
from faults.words import find, replaced

HEIGHTS = ("oxyfuel-heights",)


def _lines(view: View, cut: Cut) -> dict[str, int] | None:
    """Return the lines of a cut that give heights, and its dwells, by what they are for."""
    dwells = [k for k in range(cut.first, cut.off) if "G4" in view.code(k)]
    heights = [k for k in range(cut.first, cut.off) if find(view.lines[k], "Z")]
    heats = [k for k in heights if dwells and k < dwells[0]]
    rises = [k for k in heights if dwells and dwells[0] < k < cut.on]
    falls = [k for k in heights if k > cut.on]
    if len(dwells) != 2 or not heats or len(rises) != 1 or not falls:
        return None
    return {
        "preheat": heats[-1], "flames": heats[-1] + 1, "heats": dwells[0], "rise": rises[0], "on": cut.on,
        "pierces": dwells[1], "down": falls[0],
    }  # fmt: skip


def _in_a_cut(edit: Callable[[View, dict[str, int], random.Random], Lines]) -> Mutator:
    """Edit one pierced cut, its lines known by what they are for."""

    def mutate(view: View, chance: random.Random) -> Lines:
        found = [lines for cut in view.torch_cuts if (lines := _lines(view, cut))]
        return edit(view, chance.choice(found), chance) if found else None

    return mutate


def _height(what: str, *shares: float) -> Mutator:
    """Write one height as a share of what it is."""

    def edit(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
        line = lines[what]
        word = find(view.lines[line], "Z")
        assert word is not None
        text = f"Z{word.value * chance.choice(shares):.3f}"
        return view.swap(line, replaced(view.lines[line], word, text))

    return _in_a_cut(edit)


def _without(what: str) -> Mutator:
    return _in_a_cut(lambda view, lines, chance: view.without(lines[what], lines[what] + 1))


def _moved(what: str, behind: str) -> Mutator:
    """Put one line behind another that comes later."""

    def edit(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
        first, last = lines[what], lines[behind]
        rest = view.lines[first + 1 : last + 1]
        return [*view.lines[:first], *rest, view.lines[first], *view.lines[last + 1 :]]

    return _in_a_cut(edit)


def _level(view: View, line: int) -> str:
    """Return a line without its height."""
    word = find(view.lines[line], "Z")
    assert word is not None
    return " ".join(replaced(view.lines[line], word, "").split())


CONES = "the inner cones lie in the steel or far above it: it does not get hot, or its surface melts"
SLAG = "the slag of the pierce hits the tip"
HIGH = "the cut runs at pierce height: wide, bevelled, and lost at the first flaw"
FAULTS.add("preheat too low", CONES, _height("preheat", 0.1, 0.4, 0.6), cases=HEIGHTS)
FAULTS.add("preheat too high", CONES, _height("preheat", 1.5, 2, 3), cases=HEIGHTS)
FAULTS.add("preheat in the plate", "the tip runs into the plate", _height("preheat", -0.5, -2), cases=HEIGHTS)
FAULTS.add("preheat height left out", CONES, _without("preheat"), cases=HEIGHTS)
FAULTS.add("no rise to pierce", SLAG, _without("rise"), cases=HEIGHTS)
FAULTS.add("rise to pierce too low", SLAG, _height("rise", 0.3, 0.6, 0.7), cases=HEIGHTS)
FAULTS.add(
    "rise to pierce too high",
    "the jet spreads before it reaches the plate and does not pierce",
    _height("rise", 1.4, 2),
    cases=HEIGHTS,
)
FAULTS.add("rise before the preheat", CONES, _moved("preheat", "rise"), cases=HEIGHTS)
FAULTS.add("rise behind the cutting oxygen", SLAG, _moved("rise", "on"), cases=HEIGHTS)
FAULTS.add("rise behind the pierce", SLAG, _moved("rise", "pierces"), cases=HEIGHTS)
FAULTS.add("flames up behind the rise", CONES, _moved("flames", "rise"), cases=HEIGHTS)


@_in_a_cut
def _rapid_rise(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
    word = find(view.lines[lines["rise"]], "Z")
    assert word is not None
    return view.swap(lines["rise"], f"G0 Z{word.text}")


FAULTS.add(
    "rapid rise with the flames up",
    "no flame is carried in a rapid: it tears off",
    _rapid_rise,
    cases=HEIGHTS,
)


@_in_a_cut
def _standing(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
    word = find(view.lines[lines["down"]], "Z")
    assert word is not None
    made = view.swap(lines["down"], _level(view, lines["down"]))
    return [*made[: lines["down"]], f"G1 Z{word.text} F1500", *made[lines["down"] :]]


@_in_a_cut
def _never(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
    return view.swap(lines["down"], _level(view, lines["down"]))


@_in_a_cut
def _late(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
    line = lines["down"]
    word = find(view.lines[line], "Z")
    later = next(
        (k for k in range(line + 1, line + 4) if find(view.lines[k], "X") or find(view.lines[k], "Y")), None
    )
    if word is None or later is None:
        return None
    made = view.swap(line, _level(view, line))
    return [*made[:later], f"{made[later]} Z{word.text}", *made[later + 1 :]]


@_in_a_cut
def _half(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
    word, top = find(view.lines[lines["down"]], "Z"), find(view.lines[lines["rise"]], "Z")
    assert word is not None and top is not None
    text = f"Z{word.value + chance.choice([0.4, 0.7]) * (top.value - word.value):.3f}"
    return view.swap(lines["down"], replaced(view.lines[lines["down"]], word, text))


@_in_a_cut
def _in_the_cut(view: View, lines: dict[str, int], chance: random.Random) -> Lines:
    word = find(view.lines[lines["down"]], "Z")
    moves = []
    for k in range(lines["down"] + 1, len(view.lines)):
        if not (find(view.lines[k], "X") or find(view.lines[k], "Y")):
            break
        moves.append(k)
    if word is None or len(moves) < 2:
        return None
    at = chance.choice(moves[:-1])
    made = view.swap(at, f"{view.lines[at]} Z{1.2 * word.value:.3f}")
    return [*made[: at + 1], f"{made[at + 1]} Z{word.text}", *made[at + 2 :]]


FAULTS.add("lowered standing", SLAG, _standing, cases=HEIGHTS)
FAULTS.add("never lowered", HIGH, _never, cases=HEIGHTS)
FAULTS.add("lowered late", HIGH, _late, cases=HEIGHTS)
FAULTS.add("lowered by half", HIGH, _half, cases=HEIGHTS)
FAULTS.add("lowered too far", "the tip drags through the slag", _height("down", 0.2, 0.6), cases=HEIGHTS)
FAULTS.add(
    "up and down in the cut", "the jet's width changes, and the edge with it", _in_the_cut, cases=HEIGHTS
)
