"""Faults of the path and its feeds: numbers, arcs, leads, over-burn, side of the kerf, feeds by place."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

from faults.burning import PLASMA
from faults.model import FAULTS, REPLAY, Mutator
from faults.places import Lines, at_line, drop_line, feed_times, move_lines, way_lines
from faults.view import Cut, View, way
from faults.words import changed, find, number, replaced, with_value, words

SHAPE = "the contour is another"


def _number(change: Callable[[float, random.Random], float], letters: str = "XY") -> Mutator:
    return at_line(
        move_lines, lambda line, chance: changed(line, letters, lambda v: change(v, chance), chance)
    )


FAULTS.add("wrong sign of a place", SHAPE, _number(lambda v, c: -v), REPLAY)
FAULTS.add("wrong sign of a centre", SHAPE, _number(lambda v, c: -v, "IJ"), REPLAY)
FAULTS.add(
    "wrong sign of a radius",
    "the arc runs the long way round",
    _number(lambda v, c: -v, "R"),
    cases=("radius-arcs",),
)
FAULTS.add("place off by millimetres", SHAPE, _number(lambda v, c: v + c.choice([-7, -1, 1, 7])), REPLAY)
FAULTS.add("place off by tenths", SHAPE, _number(lambda v, c: v + c.choice([-0.3, -0.2, 0.2, 0.3])), REPLAY)
FAULTS.add("centre off", SHAPE, _number(lambda v, c: v + c.choice([-3, -0.3, 0.3, 3]), "IJ"), REPLAY)
FAULTS.add(
    "radius off", SHAPE, _number(lambda v, c: v * c.choice([0.8, 1.1, 2]), "R"), REPLAY, ("radius-arcs",)
)
FAULTS.add("point shifted in a place", SHAPE, _number(lambda v, c: v * c.choice([0.1, 10])), REPLAY)
FAULTS.add("one place in inches", SHAPE, _number(lambda v, c: v / 25.4), REPLAY)
FAULTS.add(
    "one word of a move left out", SHAPE, at_line(move_lines, lambda line, c: _without_word(line, c)), REPLAY
)
FAULTS.add("one move left out", SHAPE, drop_line(move_lines), REPLAY)
# Where the second half of a circle takes its word over, both halves turn: the same circle the other way
# round, which a flame may cut.
FAULTS.add("arc the other way round", SHAPE, at_line(move_lines, lambda line, c: _turned(line)), REPLAY)
FAULTS.add("arc made a line", SHAPE, at_line(move_lines, lambda line, c: _straight(line)), REPLAY)
FAULTS.add(
    "line made an arc",
    SHAPE,
    at_line(move_lines, lambda line, c: line.replace("G1", "G2") if "G1 " in line else None),
)
FAULTS.add(
    "travel off",
    "the cut begins elsewhere",
    at_line(way_lines, lambda line, c: changed(line, "XY", lambda v: v + c.choice([-9, -2, 2, 9]), c)),
    REPLAY,
)


def _without_word(line: str, chance: random.Random) -> str | None:
    found = [word for word in words(line) if word.letter in "XYIJRGF"]
    return replaced(line, chance.choice(found), "") if found else None


def _turned(line: str) -> str | None:
    word = find(line, "G")
    if word is None or word.code not in ("G2", "G3"):
        return None
    return replaced(line, word, "G3" if word.code == "G2" else "G2")


def _straight(line: str) -> str | None:
    word = find(line, "G")
    if word is None or word.code not in ("G2", "G3"):
        return None
    for letter in "IJR":
        stray = find(line, letter)
        if stray is not None:
            line = replaced(line, stray, "")
    return replaced(line, word, "G1")


@FAULTS.enter("one move twice", "in steps it leads on, elsewhere the torch stands", REPLAY)
def one_move_twice(view: View, chance: random.Random) -> Lines:
    line = view.lit_lines(chance)
    return None if line is None else view.put(line, view.lines[line])


@FAULTS.enter("two moves exchanged", SHAPE, REPLAY)
def two_moves_exchanged(view: View, chance: random.Random) -> Lines:
    line = view.lit_lines(chance)
    if line is None:
        return None
    return [*view.lines[:line], view.lines[line + 1], view.lines[line], *view.lines[line + 2 :]]


@FAULTS.enter("two lines exchanged", "what comes first is not what was planned", REPLAY)
def two_lines_exchanged(view: View, chance: random.Random) -> Lines:
    line = chance.randrange(view.head, view.end - 1)
    return [*view.lines[:line], view.lines[line + 1], view.lines[line], *view.lines[line + 2 :]]


@FAULTS.enter("one line left out", "what it did is missing", REPLAY)
def one_line_left_out(view: View, chance: random.Random) -> Lines:
    line = view.pick(chance, range(view.head, view.end), lambda text: bool(words(text)))
    return None if line is None else view.without(line, line + 1)


@FAULTS.enter("one line twice", "what it does comes twice", REPLAY)
def one_line_twice(view: View, chance: random.Random) -> Lines:
    line = view.pick(chance, range(view.head, view.end), lambda text: bool(words(text)))
    return None if line is None else view.put(line, view.lines[line])


def moved(view: View, lines: range, dx: float, dy: float, factor: float = 1.0) -> list[str]:
    """Return the lines with some places moved and stretched."""
    unit = 25.4 if any({"G20"} & view.code(k) for k in range(view.head)) else 1.0
    centres = bool(view.dialect.get("absolute_centres"))
    made = list(view.lines)
    for k in lines:
        for letter, step in (
            ("X", dx),
            ("Y", dy),
            ("I", dx if centres else 0),
            ("J", dy if centres else 0),
            ("R", 0),
        ):
            word = find(made[k], letter)
            if word is not None:
                made[k] = with_value(made[k], word, word.value * factor + step / unit)
    return made


@FAULTS.enter("one cut shifted", "the contour lies beside its part")
def one_cut_shifted(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    if any("G91" in view.code(k) for k in range(cut.first, cut.last)):
        return None
    step = chance.choice([-1.0, -0.3, 0.3, 1.0])
    return moved(view, range(cut.first, cut.last), *chance.choice([(step, 0.0), (0.0, step)]))


def _main(view: View) -> range:
    return range(view.head, view.end)


@FAULTS.enter(
    "program shifted",
    "all contours lie beside their parts",
    cases=tuple(name for name in PLASMA if name != "subprograms"),
)
def program_shifted(view: View, chance: random.Random) -> Lines:
    return moved(view, _main(view), chance.choice([-1.0, 0.25, 0.8]), chance.choice([0.0, 0.4]))


@FAULTS.enter("program stretched", "a tenth of a percent is 0.4 mm over the plate")
def program_stretched(view: View, chance: random.Random) -> Lines:
    return moved(view, range(view.head, len(view.lines)), 0.0, 0.0, chance.choice([0.99, 1.002, 1.01]))


@FAULTS.enter("program mirrored", "parts come out the wrong way round")
def program_mirrored(view: View, chance: random.Random) -> Lines:
    made = list(view.lines)
    for k in range(view.head, len(made)):
        for letter in "XI":
            word = find(made[k], letter)
            if word is not None:
                made[k] = with_value(made[k], word, -word.value)
        made[k] = _turned(made[k]) or made[k]
    return made


@FAULTS.enter("over-burn left out", "a hole's cut does not run past its start: a tag stays")
def over_burn_left_out(view: View, chance: random.Random) -> Lines:
    """The cut of a hole ends short of its own start."""
    cuts = [cut for cut in view.torch_cuts if len(view.moves(cut)) > 4]
    if not cuts:
        return None
    cut = chance.choice(cuts)
    moves = view.moves(cut)
    start = moves[0].end[:2]
    back = [row for row in moves[1:] if math.dist(row.end[:2], start) < 0.02]
    if not back:
        return None
    end = back[0]
    return (
        view.without(end.line, cut.off)
        if math.dist(end.start[:2], end.end[:2]) > 1 or end.kind == "arc"
        else None
    )


@FAULTS.enter(
    "over-burn and lead-out left out", "the torch goes out on the contour: a nick stays in the edge"
)
def lead_out_left_out(view: View, chance: random.Random) -> Lines:
    cuts = [cut for cut in view.torch_cuts if len(view.moves(cut)) > 3]
    if not cuts:
        return None
    cut = chance.choice(cuts)
    moves = view.moves(cut)
    start = moves[0].end[:2]
    back = [row for row in moves[1:] if math.dist(row.end[:2], start) < 0.02]
    if not back or back[-1] is moves[-1]:
        return None
    return view.without(back[-1].line + 1, cut.off)


@FAULTS.enter(
    "half of the last move left out", "the contour is not closed, or the lead-out too short", REPLAY
)
def last_move_halved(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    moves = view.moves(cut, "line")
    if not moves or moves[-1] is not view.moves(cut)[-1]:
        return None
    row = moves[-1]
    middle = [(a + b) / 2 for a, b in zip(row.start[:2], row.end[:2], strict=True)]
    return view.swap(row.line, f"G1 {view.xy(*middle)} {view.feed_word(row.feed)}")


@FAULTS.enter("contour the other way round", "the bevelled side of the kerf lies on the part", cases=(
    "metric", "inch", "absolute-centres", "heights", "numbered", "small-memory", "split"))  # fmt: skip
def contour_the_other_way_round(view: View, chance: random.Random) -> Lines:
    """Run the full circles of a cut the other way: their half arcs turn over."""
    for cut in chance.sample(view.torch_cuts, len(view.torch_cuts)):
        arcs = view.moves(cut, "arc")
        if not arcs:
            continue
        radius = max(math.dist(row.start[:2], row.centre) for row in arcs)
        big = [row for row in arcs if abs(math.dist(row.start[:2], row.centre) - radius) < 0.02]
        turn = sum(way(row) for row in big) / radius
        if turn < math.tau - 0.01 or len(big) > 4:
            continue
        half = [
            row for row in big if abs(way(row) - math.pi * radius) < 0.05 * radius or way(row) > 6.2 * radius
        ]
        if len(half) < 2 and not any(way(row) > 6.2 * radius for row in big):
            continue
        made = list(view.lines)
        for row in half[:2]:
            made[row.line] = _turned(made[row.line]) or made[row.line]
        return made
    return None


def _offset(edit: Callable[[str], str | None]) -> Mutator:
    def mutate(view: View, chance: random.Random) -> Lines:
        lines = [k for k in range(view.head, view.end) if {"G41", "G42"} & view.code(k)]
        line = chance.choice(lines)
        text = edit(view.lines[line])
        return None if text is None else view.swap(line, text)

    return mutate


COMPENSATED = ("control-compensation",)
SIDE = "the kerf lies on the part"
FAULTS.add(
    "kerf on the other side",
    SIDE,
    _offset(lambda t: t.translate(str.maketrans("12", "21", "")).replace("D2", "D1")),
    cases=COMPENSATED,
)
FAULTS.add(
    "another offset register",
    "nobody knows what register 2 holds",
    _offset(lambda t: t.replace("D1", "D2")),
    cases=COMPENSATED,
)
FAULTS.add(
    "offset register 0", "the cut is not offset", _offset(lambda t: t.replace("D1", "D0")), cases=COMPENSATED
)
FAULTS.add(
    "offset register left out",
    "the register of the last tool is taken",
    _offset(lambda t: t.replace(" D1", "")),
    cases=COMPENSATED,
)
FAULTS.add("offset left out", SIDE, _offset(lambda t: "G40"), cases=COMPENSATED)
FAULTS.add(
    "offset by a word of the program",
    "the kerf's radius is the operator's",
    _offset(lambda t: t.replace("D1", "D1.085")),
    cases=COMPENSATED,
)


@FAULTS.enter("offset not ended", "the travel and the next cut are offset too", cases=COMPENSATED)
def offset_not_ended(view: View, chance: random.Random) -> Lines:
    lines = [k for k in range(view.head, view.end) if view.code(k) == {"G40"}]
    # Behind the last cut nothing moves before the footer ends the offset.
    line = chance.choice([k for k in lines if k < view.cuts[-1].first] or lines[:1])
    return view.without(line, line + 1)


FAULTS.add(
    "feed half as much again",
    "faster than an operator may trim: the cut is lost",
    at_line(move_lines, feed_times(1.5, 1.25)),
)
FAULTS.add(
    "feed a half",
    "slower than an operator may trim: dross, wide kerf",
    at_line(move_lines, feed_times(0.5, 0.75)),
)
FAULTS.add("feed in inches", "a 25th of the feed", at_line(move_lines, feed_times(1 / 25.4)))
FAULTS.add("feed per second", "a 60th of the feed", at_line(move_lines, feed_times(1 / 60)))
FAULTS.add("feed ten times", "the cut is lost", at_line(move_lines, feed_times(10)))


@FAULTS.enter("every feed a quarter more", "faster than an operator may trim: the cut is lost")
def every_feed_more(view: View, chance: random.Random) -> Lines:
    factor = chance.choice([1.25, 1.4, 0.7])
    made = list(view.lines)
    for k in range(view.head, len(made)):
        word = find(made[k], "F")
        if word is not None:
            made[k] = replaced(made[k], word, f"F{number(word.value * factor)}")
    return made


def _feed_elsewhere(
    fits: Callable[[View, Cut, float], bool], feed: Callable[[View], float], why_feed: float = 0.02
) -> Mutator:
    """Give a move of some feed another one of the data's feeds."""

    def mutate(view: View, chance: random.Random) -> Lines:
        found = []
        for cut in view.torch_cuts:
            for k, row in enumerate(view.moves(cut)):
                if way(row) > 6.0 and fits(view, cut, row.feed) and k > 0:
                    found.append((cut, k))
        if not found:
            return None
        cut, k = chance.choice(found)
        moves = view.moves(cut)
        row = moves[k]
        wanted = feed(view)
        if abs(wanted - row.feed) < 2 * why_feed * row.feed:
            return None
        line = view.lines[row.line]
        word = find(line, "F")
        text = (replaced(line, word, "") if word else line).rstrip() + " " + view.feed_word(wanted)
        made = view.swap(row.line, text)
        if k + 1 < len(moves) and find(view.lines[moves[k + 1].line], "F") is None:
            after = moves[k + 1]
            made[after.line] = f"{made[after.line]} {view.feed_word(after.feed)}"
        return made

    return mutate


def _rules(view: View) -> dict[str, float]:
    return dict(view.data["rules"])


def straight_feed(view: View) -> float:
    """The feed on the straight."""
    return float(view.data["feed_mm_min"])


def corner_feed(view: View) -> float:
    """The feed at corners."""
    return straight_feed(view) * _rules(view)["corner_feed"]


def _hole_feed(view: View) -> float:
    return straight_feed(view) * _rules(view)["small_hole_feed"]


def _is(feed: Callable[[View], float]) -> Callable[[View, Cut, float], bool]:
    return lambda view, cut, found: abs(found - feed(view)) < 0.02 * found


FAULTS.add(
    "corner's feed on the straight",
    "too slow: dross and a wide kerf",
    _feed_elsewhere(_is(straight_feed), corner_feed),
)
FAULTS.add(
    "straight's feed in a small hole",
    "too fast: the hole is a cone",
    _feed_elsewhere(_is(_hole_feed), straight_feed),
)
FAULTS.add(
    "small hole's feed on the straight",
    "too slow: dross and a wide kerf",
    _feed_elsewhere(_is(straight_feed), _hole_feed),
)


@FAULTS.enter("straight's feed at a corner", "the jet lags and the corner is burnt round")
def straight_at_a_corner(view: View, chance: random.Random) -> Lines:
    found = [
        row.line
        for cut in view.torch_cuts
        for row in view.moves(cut)
        if _is(corner_feed)(view, cut, row.feed) and not _is(straight_feed)(view, cut, row.feed)
        and not _is(_hole_feed)(view, cut, row.feed) and find(view.lines[row.line], "F")
    ]  # fmt: skip
    if not found:
        return None
    line = chance.choice(found)
    word = find(view.lines[line], "F")
    assert word is not None
    return view.swap(line, replaced(view.lines[line], word, view.feed_word(straight_feed(view))))


@FAULTS.enter("no slow corners at all", "every corner is burnt round")
def no_slow_corners(view: View, chance: random.Random) -> Lines:
    made = list(view.lines)
    straight = view.feed_word(straight_feed(view))
    for cut in view.torch_cuts:
        for row in view.moves(cut):
            word = find(made[row.line], "F")
            if word is not None and _is(corner_feed)(view, cut, row.feed):
                made[row.line] = replaced(made[row.line], word, straight)
    return made


@FAULTS.enter("feeds of two moves exchanged", "each runs at the other's", REPLAY)
def feeds_exchanged(view: View, chance: random.Random) -> Lines:
    lines = [
        row.line for cut in view.torch_cuts for row in view.moves(cut) if find(view.lines[row.line], "F")
    ]
    if len(lines) < 2:
        return None
    one, other = chance.sample(lines, 2)
    a, b = find(view.lines[one], "F"), find(view.lines[other], "F")
    assert a is not None and b is not None
    if a.value == b.value:
        return None
    made = view.swap(one, replaced(view.lines[one], a, f"F{b.text}"))
    made[other] = replaced(view.lines[other], b, f"F{a.text}")
    return made


@FAULTS.enter("marker's feed in a cut", "the cut is lost")
def marker_feed_in_a_cut(view: View, chance: random.Random) -> Lines:
    row = chance.choice([row for cut in view.torch_cuts for row in view.moves(cut)])
    line = view.lines[row.line]
    word = find(line, "F")
    text = line if word is None else replaced(line, word, "")
    return view.swap(row.line, f"{text.rstrip()} {view.feed_word(5000)}")
