"""Honest edits of how a program is written, and of stops that the operator asks for."""

from __future__ import annotations

import random

from faults.model import HONEST
from faults.places import Lines
from faults.view import View, way
from faults.words import words

LINES = ("metric", "inch", "absolute-centres", "heights", "radius-arcs")


@HONEST.enter("a straight in two blocks", "the control has a place to begin again", cases=LINES)
def straight_in_two(view: View, chance: random.Random) -> Lines:
    rows = [
        row for cut in view.torch_cuts for row in view.moves(cut) if row.kind == "line" and way(row) > 8.0
    ]
    row = chance.choice(rows)
    share = chance.uniform(0.2, 0.8)
    middle = [a + share * (b - a) for a, b in zip(row.start[:2], row.end[:2], strict=True)]
    new = [f"G1 {view.xy(*place)} {view.feed_word(row.feed)}" for place in (middle, row.end[:2])]
    return [*view.lines[: row.line], *new, *view.lines[row.line + 1 :]]


@HONEST.enter("arc as short lines", "the control stumbles over this arc", cases=("metric", "inch", "heights"))
def arc_as_lines(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut, "arc")]
    row = chance.choice(rows)
    feed = view.feed_word(row.feed)
    new = [f"G1 {view.xy(*place)} {feed}" for place in row.points(0.01)]
    # The next block may count on the motion word of the arc.
    after = next((r for cut in view.cuts for r in view.moves(cut) if r.line > row.line), None)
    lines = [*view.lines[: row.line], *new, *view.lines[row.line + 1 :]]
    if (
        after is not None
        and after.kind == "arc"
        and not any(w.letter == "G" for w in words(view.lines[after.line]))
    ):
        k = after.line + len(new) - 1
        lines[k] = ("G2 " if after.clockwise else "G3 ") + lines[k]
    return lines


@HONEST.enter("words in another order", "their order in a block means nothing", cases=("metric", "inch"))
def words_in_another_order(view: View, chance: random.Random) -> Lines:
    made = list(view.lines)
    for cut in view.cuts:
        for row in view.moves(cut):
            found = [f"{word.letter}{word.text}" for word in words(made[row.line])]
            chance.shuffle(found)
            made[row.line] = " ".join(found)
    return made


@HONEST.enter("minus nought", "-0 is 0", cases=("metric", "inch", "absolute-centres", "heights"))
def minus_nought(view: View, chance: random.Random) -> Lines:
    made = list(view.lines)
    for row in view.rows:
        for word in reversed(words(made[row.line])):
            if word.letter in "XYIJ" and word.value == 0.0 and not word.text.startswith("-"):
                text = made[row.line]
                made[row.line] = f"{text[: word.first]}{word.letter}-{word.text}{text[word.last :]}"
    return made


@HONEST.enter(
    "stop under block delete between two cuts",
    "the operator chooses whether to look, the torch out",
    cases=("metric", "inch", "heights", "numbered"),
)
def stop_under_block_delete(view: View, chance: random.Random) -> Lines:
    return view.put(chance.choice(view.torch_cuts[1:]).first, chance.choice(["/M0", "/M1"]))


@HONEST.enter(
    "optional stop between two cuts", "a look at the nozzle", cases=("metric", "heights", "numbered")
)
def optional_stop(view: View, chance: random.Random) -> Lines:
    return view.put(chance.choice(view.torch_cuts[1:]).first, "M1")
