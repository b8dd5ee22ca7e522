"""Faults of modes: inherited from what ran before, wrong ones, changed on the way."""

from __future__ import annotations

import random

from faults.cases import RECIPES
from faults.model import FAULTS
from faults.places import Lines, anywhere, at_head, between, for_header_word, lit, no_header_word
from faults.view import View
from faults.words import codes, find, replaced, words

LEFT = "what ran before decides"
FAULTS.add("units left to the control", f"{LEFT} whether 10 is 10 mm or 254 mm", no_header_word("G21", "G20"))
FAULTS.add("distance mode left to the control", f"{LEFT} whether a place is a step", no_header_word("G90"))
FAULTS.add(
    "plane left to the control",
    f"{LEFT} in which plane arcs lie",
    no_header_word("G17"),
    # Lines are the same in every plane.
    cases=tuple(name for name in RECIPES if name != "lines-only"),
)
FAULTS.add(
    "feed mode left to the control",
    f"{LEFT} whether F is a speed, a time or a share of a turn",
    no_header_word("G94"),
)
FAULTS.add("compensation left to the control", f"{LEFT} whether the control offsets", no_header_word("G40"))
FAULTS.add(
    "work offset left to the control",
    f"{LEFT} where the plate's zero is",
    no_header_word("G54", "G53", "G55", "G56"),
)
FAULTS.add(
    "path mode left to the control",
    f"{LEFT} how far corners are rounded",
    no_header_word("G64", "G61", "G61.1"),
)
FAULTS.add(
    "arc mode left to the control",
    f"{LEFT} what I and J mean",
    no_header_word("G90.1", "G91.1"),
    cases=("absolute-centres",),
)

FAULTS.add("inch for mm", "every place is 25.4 times as far", for_header_word("G21", "G20"))
FAULTS.add("mm for inch", "every place is a 25th as far", for_header_word("G20", "G21"), cases=("inch",))
FAULTS.add("steps for places", "every place is taken as a step", for_header_word("G90", "G91"))
FAULTS.add("plane ZX", "arcs leave the plate", for_header_word("G17", "G18"))
FAULTS.add("plane YZ", "arcs leave the plate", for_header_word("G17", "G19"))
FAULTS.add("feed as a time", "F1800 runs each move in an 1800th of a minute", for_header_word("G94", "G93"))
FAULTS.add("feed by the turn", "a torch does not turn", for_header_word("G94", "G95"))
FAULTS.add("compensation on at the head", "the whole program is offset", for_header_word("G40", "G41 D1"))
FAULTS.add(
    "arc centres as steps",
    "the centres are taken from the wrong place",
    for_header_word("G90.1", "G91.1"),
    cases=("absolute-centres",),
)

FAULTS.add("G91 on the way", "every place from there on is taken as a step", between("G91"))
FAULTS.add("G91 in a cut", "every place from there on is taken as a step", lit("G91"))
FAULTS.add("other units on the way", "every place from there on is wrong", between("G20"), cases=(
    "metric", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "heights", "numbered", "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat", "several-torches"))  # fmt: skip
FAULTS.add("other plane on the way", "arcs leave the plate", between("G18"))
FAULTS.add("inverse time on the way", "F is taken as a time", between("G93"))
FAULTS.add("feed by the turn on the way", "a torch does not turn", anywhere("G95"))
FAULTS.add(
    "compensation on the way",
    "from there on the control offsets by what the operator left in a register",
    between("G41 D1"),
)
FAULTS.add("compensation from another register", "nobody knows what register 7 holds", anywhere("G42 D7"))
FAULTS.add("dynamic compensation", "G41.1 offsets by a word of the program", anywhere("G41.1 D5"))
FAULTS.add("arc centres as places", "I and J of every arc are taken from another point", anywhere("G90.1"), cases=(
    "metric", "inch", "control-compensation", "heights", "numbered", "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat", "several-torches"))  # fmt: skip
FAULTS.add("path rounded by 5 mm", "G64 P5 lets the control cut every corner", anywhere("G64 P5"))
FAULTS.add("stop at every corner", "G61.1 stands at each block's end with the arc on", anywhere("G61.1"))
FAULTS.add("coordinates turned", "G68 turns everything from there on", anywhere("G68 X0 Y0 R10"))
FAULTS.add("coordinates scaled", "G51 scales everything from there on", anywhere("G51 X0 Y0 P1.02"))
FAULTS.add("coordinates mirrored", "G51.1 mirrors everything from there on", anywhere("G51.1 X0"))
FAULTS.add("polar coordinates", "G16 takes X and Y as radius and angle", anywhere("G16"))
FAULTS.add("tool length offset", "G43 lifts the torch by a register", anywhere("G43 H1"))
FAULTS.add("tool length offset by word", "G43.1 lifts the torch", anywhere("G43.1 Z10"))
FAULTS.add("lathe diameter mode", "G7 takes X as a diameter", anywhere("G7"))
FAULTS.add("constant surface speed", "G96 belongs to a spindle", anywhere("G96 D500 S100"))
FAULTS.add("mirror by M word", "M21 mirrors X on some controls", anywhere("M21"))
FAULTS.add("canned cycle", "G81 drills", anywhere("G81 X10 Y10 Z-5 R2 F100"))
FAULTS.add("probing move", "G38.2 moves until something trips", anywhere("G38.2 X10 F100"))
FAULTS.add("spline move", "G5 is no move of the standard", anywhere("G5 I1 J1 P2 Q3 X10 Y10"))
FAULTS.add(
    "feed override taken away", "M49 leaves the operator without his hand on the feed", anywhere("M49")
)


@FAULTS.enter("header behind the first move", "the first move runs in whatever modes are left over")
def header_behind_the_first_move(view: View, chance: random.Random) -> Lines:
    header = next(k for k in range(view.head) if {"G21", "G20"} & view.code(k))
    rapid = next(row for row in view.rows if row.kind == "rapid").line
    text = view.lines[header]
    lines = view.put(rapid + 1, text)
    return [*lines[:header], *lines[header + 1 :]]


@FAULTS.enter("whole header left out", "the program runs in whatever modes are left over")
def whole_header_left_out(view: View, chance: random.Random) -> Lines:
    header = next(k for k in range(view.head) if {"G21", "G20"} & view.code(k))
    return view.without(header, header + 1)


@FAULTS.enter(
    "header under block delete", "with block delete on, the program runs in whatever modes are left over"
)
def header_under_block_delete(view: View, chance: random.Random) -> Lines:
    header = next(k for k in range(view.head) if {"G21", "G20"} & view.code(k))
    return view.swap(header, "/" + view.lines[header])


@FAULTS.enter("first feed left out", "the first cut or mark runs at a feed left over")
def first_feed_left_out(view: View, chance: random.Random) -> Lines:
    line = next(k for k in range(view.head, view.end) if find(view.lines[k], "F"))
    word = find(view.lines[line], "F")
    assert word is not None
    return view.swap(line, replaced(view.lines[line], word, ""))


@FAULTS.enter("feed left over from the marker", "the torch cuts at the marker's feed")
def feed_left_over(view: View, chance: random.Random) -> Lines:
    for cut in view.torch_cuts:
        moves = view.moves(cut)
        if not moves:
            continue
        before = [row for row in view.rows if row.feed and row.line < moves[0].line]
        word = find(view.lines[moves[0].line], "F")
        if word is not None and before and abs(before[-1].feed - moves[0].feed) > 0.3 * moves[0].feed:
            return view.swap(moves[0].line, replaced(view.lines[moves[0].line], word, ""))
    return None


@FAULTS.enter("first motion word left out", "the first move runs in whatever motion is left over")
def first_motion_left_out(view: View, chance: random.Random) -> Lines:
    line = next(row for row in view.rows if row.kind == "rapid").line
    word = find(view.lines[line], "G")
    assert word is not None
    return view.swap(line, replaced(view.lines[line], word, ""))


@FAULTS.enter("first travel in one axis only", "where the torch stands in the other one nobody knows")
def first_travel_in_one_axis(view: View, chance: random.Random) -> Lines:
    line = next(
        k for k in range(view.head, view.end) if find(view.lines[k], "X") and find(view.lines[k], "Y")
    )
    word = find(view.lines[line], chance.choice("XY"))
    assert word is not None
    return view.swap(line, replaced(view.lines[line], word, ""))


@FAULTS.enter("first travel as a step", "where it leads depends on where the torch stands")
def first_travel_as_a_step(view: View, chance: random.Random) -> Lines:
    line = next(
        k for k in range(view.head, view.end) if find(view.lines[k], "X") and find(view.lines[k], "Y")
    )
    return [*view.lines[:line], "G91", view.lines[line], "G90", *view.lines[line + 1 :]]


@FAULTS.enter("modes not put back", "the next program finds arc centres or distances of another kind")
def modes_not_put_back(view: View, chance: random.Random) -> Lines:
    return view.put(view.end, chance.choice(["G91", "G18", "G93"]))


@FAULTS.enter("motion mode G80 in a cut", "the moves behind it have no motion")
def no_motion_mode(view: View, chance: random.Random) -> Lines:
    line = view.lit_lines(chance, 2)
    if line is None or find(view.lines[line + 1], "G") is not None:
        return None
    return view.put(line + 1, "G80") if codes(view.lines[line + 1]) and words(view.lines[line + 1]) else None


FAULTS.add("steps at the head", "G91 first: the way in depends on where the torch stands", at_head("G91"))
