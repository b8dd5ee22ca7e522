"""Faults of marks: missing, extra, elsewhere, of another letter, burnt instead of scribed."""

from __future__ import annotations

import math
import random

from faults.model import FAULTS, REPLAY
from faults.places import (
    Lines,
    at_line,
    behind_start,
    drop_line,
    feed_times,
    move_lines,
    off_line,
    on_line,
    way_lines,
)
from faults.view import Cut, View
from faults.words import changed, find

MARKED = (
    "metric", "inch", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "heights",
    "numbered", "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat",
)  # fmt: skip

FAULTS.add(
    "marker left on",
    "the marker scribes over the parts to the next mark",
    drop_line(off_line, marks=True),
    cases=MARKED,
)
FAULTS.add("marker not put down", "the mark is missing", drop_line(on_line, marks=True), cases=MARKED)
FAULTS.add("marker down in a cut", "the marker burns up beside the torch", behind_start("M7"), cases=MARKED)
FAULTS.add(
    "mark burnt through",
    "M3 in place of the marker cuts the part",
    at_line(on_line, lambda line, _: line.replace("M07", "M03").replace("M7", "M3"), marks=True),
    cases=MARKED,
)
FAULTS.add(
    "cut only scribed",
    "the contour is not cut",
    at_line(on_line, lambda line, _: line.replace("M03", "M07").replace("M3", "M7")),
    cases=MARKED,
)
FAULTS.add(
    "stroke of a mark left out",
    "a letter or a mark is not whole",
    drop_line(move_lines, marks=True),
    REPLAY,
    cases=MARKED,
)
FAULTS.add(
    "stroke of a mark elsewhere",
    "a letter or a mark is another",
    at_line(
        move_lines, lambda line, c: changed(line, "XY", lambda v: v + c.choice([-3, 3, 12]), c), marks=True
    ),
    REPLAY,
    cases=MARKED,
)
FAULTS.add(
    "mark begins elsewhere",
    "a letter or a mark is another",
    at_line(
        way_lines, lambda line, c: changed(line, "XY", lambda v: v + c.choice([-3, 3, 12]), c), marks=True
    ),
    REPLAY,
    cases=MARKED,
)
FAULTS.add(
    "mark at a creeping feed",
    "the scriber digs in or the arc marker burns through",
    at_line(move_lines, feed_times(0.02), marks=True),
    cases=MARKED,
)
FAULTS.add(
    "dwell with the marker down",
    "the marker digs in where it stands",
    at_line(on_line, lambda line, _: line + "\nG4 P3", marks=True),
    cases=MARKED,
)
FAULTS.add(
    "stop with the marker down",
    "the marker digs in where it stands",
    at_line(on_line, lambda line, _: line + "\nM0", marks=True),
    cases=MARKED,
)


@FAULTS.enter("one mark left out", "a part cannot be told, bent or drilled right", cases=MARKED)
def one_mark_left_out(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    cut = chance.choice(view.marks)
    return view.without(cut.first, cut.last)


@FAULTS.enter("all marks left out", "parts cannot be told, bent or drilled right", cases=MARKED)
def all_marks_left_out(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    return view.reordered([cut for cut in view.cuts if not cut.marks])


@FAULTS.enter("one mark shifted", "the brake or the drill is set beside the place", cases=MARKED)
def one_mark_shifted(view: View, chance: random.Random) -> Lines:
    cuts = [cut for cut in view.marks if view.moves(cut) and any(view.moves(cut))]
    if not cuts:
        return None
    cut = chance.choice(cuts)
    unit = 25.4 if any("G20" in view.code(k) for k in range(view.head)) else 1.0
    made = list(view.lines)
    axis = chance.choice("XY")
    step = chance.choice([-1.5, 1.5, 4.0]) / unit
    centre = {"X": "I", "Y": "J"}[axis] if view.dialect.get("absolute_centres") else axis
    # A place left out of a block is the one before: state all of them.
    for row in view.moves(cut):
        if find(made[row.line], axis) is None:
            made[row.line] += f" {axis}{row.end['XY'.index(axis)] / unit:.4f}"
    for line in [k for k in range(cut.first, cut.on) if find(made[k], "X") or find(made[k], "Y")] + [
        row.line for row in view.moves(cut)
    ]:
        if find(made[line], axis) is None:
            made[line] += f" {axis}{cut.pierce['XY'.index(axis)] / unit:.4f}"
        for letter in {axis, centre}:
            word = find(made[line], letter)
            if word is not None:
                made[line] = (
                    made[line][: word.first] + f"{letter}{word.value + step:.4f}" + made[line][word.last :]
                )
    return made


@FAULTS.enter(
    "mark nobody drew", "a stray line on a part: a bend, a name or a hole that is none", cases=MARKED
)
def mark_nobody_drew(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    cut = chance.choice(view.marks)
    x, y = cut.pierce
    new = [
        f"G0 {view.xy(x, y)}", view.word("marker_on"), f"G1 {view.xy(x + chance.choice([-9, 9]), y + 7)} {view.feed_word(3000)}",
        view.word("marker_off"),
    ]  # fmt: skip
    return view.put(cut.first, *new)


@FAULTS.enter("mark across the plate", "the marker scribes over parts and holes", cases=MARKED)
def mark_across(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    new = [
        f"G0 {view.xy(20, 20)}", view.word("marker_on"), f"G1 {view.xy(300, 200)} {view.feed_word(3000)}",
        view.word("marker_off"),
    ]  # fmt: skip
    return view.put(chance.choice(view.cuts).first, *new)


@FAULTS.enter("mark over a hole", "the marker runs into the open hole", cases=MARKED)
def mark_over_a_hole(view: View, chance: random.Random) -> Lines:
    x, y = chance.choice(view.torch_cuts).pierce
    new = [
        f"G0 {view.xy(x - 1, y)}", view.word("marker_on"), f"G1 {view.xy(x + 2, y)} {view.feed_word(3000)}",
        view.word("marker_off"),
    ]  # fmt: skip
    return view.put(view.cuts[-1].last, *new)


@FAULTS.enter("mark on a loose part", "the part tips up under the marker", cases=MARKED)
def mark_on_a_loose_part(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    cut = chance.choice(view.marks)
    order = [each for each in view.cuts if each is not cut]
    return view.reordered([*order, cut]) if "split" not in view.case.name else None


def _size(cut: Cut) -> float:
    points = [p for row in cut.rows if row.moves for p in [row.start[:2], *row.points(0.1)]]
    return max(math.dist(p, q) for p in points for q in points) if points else 0.0


@FAULTS.enter("two letters exchanged", "K7 reads 7K: the part is taken for another", cases=MARKED)
def two_letters_exchanged(view: View, chance: random.Random) -> Lines:
    """Two strokes of different shape near each other change places."""
    marks = [
        cut
        for cut in view.marks
        if 2 < _size(cut) < 16
        and not any("G91" in view.code(k) or "M98" in view.code(k) for k in range(cut.first, cut.last))
    ]
    pairs = [
        (a, b)
        for a in marks
        for b in marks
        if a is not b and 4 < math.dist(a.pierce, b.pierce) < 40 and len(a.rows) != len(b.rows)
    ]
    if not pairs or view.dialect.get("absolute_centres"):
        return None
    a, b = chance.choice(pairs)
    step = [q - p for p, q in zip(a.pierce, b.pierce, strict=True)]
    made = list(view.lines)
    for cut, sign in ((a, 1), (b, -1)):
        made = _shifted(view, made, cut, sign * step[0], sign * step[1])
    return made


def _shifted(view: View, lines: list[str], cut: Cut, dx: float, dy: float) -> list[str]:
    unit = 25.4 if any("G20" in view.code(k) for k in range(view.head)) else 1.0
    made = list(lines)
    targets = [k for k in range(cut.first, cut.on) if find(made[k], "X") or find(made[k], "Y")]
    for line in [*targets, *(row.line for row in view.moves(cut))]:
        row = next((row for row in cut.rows if row.line == line), None)
        end = cut.pierce if row is None else row.end
        for axis, step in (("X", dx), ("Y", dy)):
            value = (end["XY".index(axis)] + step) / unit
            word = find(made[line], axis)
            if word is None:
                made[line] += f" {axis}{value:.4f}"
            else:
                made[line] = made[line][: word.first] + f"{axis}{value:.4f}" + made[line][word.last :]
    return made


@FAULTS.enter("letter turned over", "the stroke is mirrored: b for d, 7 for L", REPLAY, cases=MARKED)
def letter_turned_over(view: View, chance: random.Random) -> Lines:
    marks = [cut for cut in view.marks if len(view.moves(cut, "line")) > 1]
    if not marks:
        return None
    cut = chance.choice(marks)
    unit = 25.4 if any("G20" in view.code(k) for k in range(view.head)) else 1.0
    made = list(view.lines)
    for row in view.moves(cut, "line"):
        made[row.line] = (
            f"G1 {view.xy(2 * cut.pierce[0] - row.end[0], row.end[1])} {view.feed_word(row.feed)}"
        )
    return made if unit else None
