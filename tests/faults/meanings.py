"""Faults of what is meant: strokes made twice, feeds a little out of place, repeats, a plan that says less."""

from __future__ import annotations

import copy
import json
import math
import random
import re
from itertools import pairwise
from typing import Any

from faults.binding import MEANS, changed_plan, set_in_plan
from faults.cases import RECIPES
from faults.contours import corner_feed, straight_feed
from faults.honest import PLAIN
from faults.model import FAULTS, Edit
from faults.places import Lines, at_line, off_line, on_line
from faults.view import Cut, View, way
from faults.ways import WITH_CLAMP, clamp_box, started_at
from faults.words import find, replaced, words

WRITTEN = ("metric", "inch", "heights", "numbered", "small-memory", "radius-arcs", "lines-only")
SLOWER = "too slow: dross and a wide kerf"


@FAULTS.enter("stroke scribed twice in one run", "the line is scribed double and too deep", cases=WRITTEN)
def scribed_twice(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    cut = chance.choice(view.marks)
    row = view.moves(cut)[-1]
    deleted = "/" if view.lines[cut.off].startswith("/") else ""
    return view.put(cut.off, f"{deleted}G1 {view.xy(*row.start[:2])} {view.feed_word(row.feed)}")


@FAULTS.enter(
    "stroke skipped behind a restart", "its part stays without it, and another is made twice", cases=PLAIN
)
def skipped_behind_a_restart(view: View, chance: random.Random) -> Edit | None:
    cuts = view.cuts
    if len(view.case.plate["cuts"]) != len(cuts):
        return None
    marks = [k for k, cut in enumerate(cuts) if cut.marks]
    if len(marks) < 3:
        return None
    skipped, twice = chance.sample(marks[1:], 2)
    first = chance.randrange(1, min(skipped, twice) + 1)
    order = [cuts[twice] if k == skipped else cut for k, cut in enumerate(cuts) if k >= first]
    text = "\n".join(view.reordered(order))
    return Edit({view.file: text}, options=("--from-cut", str(first + 1)))


@FAULTS.enter("plan's digest of itself taken out", MEANS)
def plan_without_its_digest(view: View, chance: random.Random) -> Edit | None:
    return Edit({"plan.json": json.dumps(view.case.plan | {"digest": ""}, indent=chance.randrange(1, 5))})


def _without_bound(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    plate["bound"] = {}
    return None


def _text(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    names = sorted({placed["part"] for placed in plate["placements"]})
    texts = [text for name in names for text in plan["parts"][name]["texts"]]
    if not texts:
        return False
    chance.choice(texts)["text"] = chance.choice(["K1", "X7", "K77"])
    return None


def _low_clamp(plan: dict[str, Any], plate: dict[str, Any], chance: random.Random) -> bool | None:
    for clamp in plate["plate"]["keepouts"]:
        clamp["height_mm"] = 0.0
    return None


FAULTS.add("plan's list of what it is bound to taken out", MEANS, changed_plan(_without_bound))
FAULTS.add("text of a part in the plan changed", "the part gets another name", changed_plan(_text))
FAULTS.add("clamp in the plan made low", "the torch breaks on a clamp", changed_plan(_low_clamp))
FAULTS.add(
    "foreign words permitted by the plan's dialect",
    "zeros and tools would be changed unseen",
    set_in_plan("dialect", "permits", value=["G10", "G53", "G92", "M6"]),
)
FAULTS.add(
    "modes guaranteed by the plan's dialect",
    "the control need not hold them",
    set_in_plan("dialect", "guarantees", value=["units", "distance", "work offset"]),
)
FAULTS.add(
    "torch in the plan made slim",
    "it meets clamps that it seems to pass",
    set_in_plan("/", "machine", "torch_radius_mm", value=1.0),
)


@FAULTS.enter("travel past a clamp too near", "the torch is wider than its middle", cases=WITH_CLAMP)
def travel_past_a_clamp(view: View, chance: random.Random) -> Lines:
    box = clamp_box(view)
    if box is None:
        return None
    low = ["G0 Z5"] if view.case.name == "heights" else []
    y = box[3] + chance.uniform(2.0, 20.0)
    at = chance.choice(view.cuts[1:]).first
    ways = [f"G0 {view.xy(box[0] - 80, y)}", f"G0 {view.xy(box[0] + 20, y)}"]
    return view.put(at, *low, *ways, *(["G0 Z30"] if low else []))


@FAULTS.enter("program that begins again by itself", "the plate is cut twice")
def begins_again(view: View, chance: random.Random) -> Lines:
    line = view.lines[view.end]
    word = next(word for word in words(line) if word.code in ("M30", "M2"))
    return view.swap(view.end, replaced(line, word, chance.choice(["M99", "M47"])))


def _straights(view: View, longest: float) -> list[tuple[Cut, int]]:
    """Long straight moves at the straight's feed, neither first nor last of their cut."""
    return [
        (cut, k)
        for cut in view.torch_cuts
        for k, row in enumerate(view.moves(cut)[1:-1], start=1)
        if row.kind == "line" and way(row) > longest and abs(row.feed - straight_feed(view)) < 0.01 * row.feed
    ]


@FAULTS.enter("half a straight at the corner's feed", SLOWER)
def half_a_straight(view: View, chance: random.Random) -> Lines:
    found = _straights(view, 12.0)
    if not found or corner_feed(view) > 0.95 * straight_feed(view):
        return None
    cut, k = chance.choice(found)
    row = view.moves(cut)[k]
    share = chance.uniform(0.3, 0.7)
    middle = [a + share * (b - a) for a, b in zip(row.start[:2], row.end[:2], strict=True)]
    slow = f"G1 {view.xy(*middle)} {view.feed_word(corner_feed(view))}"
    rest = f"G1 {view.xy(*row.end[:2])} {view.feed_word(row.feed)}"
    return [*view.lines[: row.line], slow, rest, *view.lines[row.line + 1 :]]


@FAULTS.enter("slow stretch before a corner cut short", "the jet lags and the corner is burnt round")
def slow_stretch_cut_short(view: View, chance: random.Random) -> Lines:
    found = []
    for cut in view.torch_cuts:
        for one, two in pairwise(view.moves(cut)[1:-1]):
            lines = one.kind == two.kind == "line" and two.feed < 0.95 * one.feed and way(two) > 3.0
            if lines and _turn(one, two) < 1e-3 and way(one) > 3.0:
                found.append((one, two))
    if not found:
        return None
    one, two = chance.choice(found)
    place = [a + 0.6 * (b - a) for a, b in zip(two.start[:2], two.end[:2], strict=True)]
    return view.swap(one.line, f"G1 {view.xy(*place)} {view.feed_word(one.feed)}")


def _turn(one: Any, two: Any) -> float:
    angles = [math.atan2(row.end[1] - row.start[1], row.end[0] - row.start[0]) for row in (one, two)]
    return abs(math.remainder(angles[1] - angles[0], 2 * math.pi))


@FAULTS.enter("corner's feed in a lead", "the pierce's mound is passed slowly, and the kerf widens")
def corner_feed_in_a_lead(view: View, chance: random.Random) -> Lines:
    found = []
    for cut in view.torch_cuts:
        moves = view.moves(cut)
        if len(moves) > 2 and abs(moves[0].feed - straight_feed(view)) < 0.01 * moves[0].feed:
            found.append(moves)
    if not found or corner_feed(view) > 0.95 * straight_feed(view):
        return None
    first, second = chance.choice(found)[:2]
    word = find(view.lines[first.line], "F")
    if word is None:
        return None
    made = view.swap(first.line, replaced(view.lines[first.line], word, view.feed_word(corner_feed(view))))
    if find(made[second.line], "F") is None:
        made[second.line] = f"{made[second.line]} {view.feed_word(second.feed)}"
    return made


@FAULTS.enter(
    "depth word in an arc",
    "some controls turn it into a helix",
    cases=("metric", "inch", "absolute-centres", "heights", "small-memory"),
)
def depth_in_an_arc(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut, "arc")]
    line = chance.choice(rows).line
    return view.swap(line, f"{view.lines[line]} K{chance.choice(['0.5', '1', '-2'])}")


def _numbered_slash(line: str, chance: random.Random) -> str | None:
    return None if line.startswith("/") else f"/{chance.randrange(1, 9)} {line}"


FAULTS.add(
    "numbered block delete",
    "the switch of that number passes it over: the torch burns on",
    at_line(off_line, _numbered_slash),
)


def _fraction(line: str, chance: random.Random) -> str | None:
    word = next((word for word in words(line) if word.letter == "M"), None)
    return (
        None
        if word is None
        else replaced(line, word, f"{word.letter}{word.value:g}.{chance.randrange(1, 9)}")
    )


FAULTS.add("torch word with a fraction", "no control lights at it", at_line(on_line, _fraction))


@FAULTS.enter("exact stop in a block", "the torch stands lit at its end")
def exact_stop(view: View, chance: random.Random) -> Lines:
    line = view.lit_lines(chance)
    return None if line is None else view.swap(line, f"{view.lines[line]} G9")


@FAULTS.enter(
    "pierce in the neighbouring torch's kerf", "the arc finds no metal under it", cases=("several-torches",)
)
def pierce_in_the_neighbours_kerf(view: View, chance: random.Random) -> Lines:
    cuts, spacing = view.torch_cuts, float(view.case.plate["torch_spacing_mm"])
    if len(cuts) < 2:
        return None
    k = chance.randrange(1, len(cuts))
    before = [row for cut in cuts[:k] for row in cut.rows if row.moves]
    x, y = chance.choice(before).points(1.0)[0]
    return started_at(view, cuts[k], (x, y + spacing))


@FAULTS.enter(
    "another thing's digest in the head",
    "the program says that it was made for something else",
    cases=tuple(name for name in RECIPES if name not in ("small-memory", "split")),
)
def other_digest_bound(view: View, chance: random.Random) -> Lines:
    lines = [k for k, text in enumerate(view.lines) if text.startswith("(bound")]
    if not lines:
        return None
    line = chance.choice(lines)
    found = chance.choice(list(re.finditer(r"[0-9a-f]{12}", view.lines[line])))
    other = "".join(chance.choice("0123456789abcdef") for _ in range(12))
    return view.swap(line, view.lines[line][: found.start()] + other + view.lines[line][found.end() :])


@FAULTS.enter("mark of another copy in its place", "one part is marked twice, the other not", cases=PLAIN)
def other_mark_in_its_place(view: View, chance: random.Random) -> Lines:
    marks = [k for k, cut in enumerate(view.cuts) if cut.marks]
    if len(marks) < 2:
        return None
    one, other = chance.sample(marks, 2)
    order = copy.copy(view.cuts)
    order[one] = order[other]
    return view.reordered(order)
