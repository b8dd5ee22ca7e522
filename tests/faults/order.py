"""Faults of what is cut when: order, cuts missing, twice or of another."""

from __future__ import annotations

import random

from faults.model import FAULTS, REPLAY
from faults.places import Lines
from faults.view import Cut, View
from faults.words import find


def _whole(view: View) -> bool:
    """Whether every cut's lines state their places by themselves."""
    return "split" not in view.case.name


def _inside(view: View, cut: Cut, other: Cut) -> bool:
    """Whether one cut lies within the box of another."""
    a = [p for row in cut.rows if row.moves for p in row.points(1.0)]
    b = [p for row in other.rows if row.moves for p in row.points(1.0)]
    if not a or not b:
        return False
    return all(
        min(p[k] for p in b) < min(p[k] for p in a) and max(p[k] for p in a) < max(p[k] for p in b)
        for k in (0, 1)
    )


@FAULTS.enter("two cuts exchanged", "what is freed first is cut on afterwards", REPLAY)
def two_cuts_exchanged(view: View, chance: random.Random) -> Lines:
    cuts = list(view.cuts)
    if len(cuts) < 2:
        return None
    one, other = chance.sample(range(len(cuts)), 2)
    cuts[one], cuts[other] = cuts[other], cuts[one]
    return view.reordered(cuts)


@FAULTS.enter("hole behind its outside", "the part is loose when its hole is cut")
def hole_behind_its_outside(view: View, chance: random.Random) -> Lines:
    cuts = view.torch_cuts
    pairs = [(a, b) for k, a in enumerate(cuts) for b in cuts[k + 1 :] if _inside(view, a, b)]
    if not pairs:
        return None
    hole, outside = chance.choice(pairs)
    order = [cut for cut in view.cuts if cut is not hole]
    order.insert(order.index(outside) + 1, hole)
    return view.reordered(order)


@FAULTS.enter("one cut left out", "a contour is not cut")
def one_cut_left_out(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    return view.without(cut.first, cut.last)


@FAULTS.enter("last cuts left out", "the last parts stay in the plate")
def last_cuts_left_out(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[len(view.torch_cuts) // 2 :])
    return view.without(cut.first, view.cuts[-1].last)


@FAULTS.enter("first cuts left out", "nobody asked for a restart")
def first_cuts_left_out(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[: len(view.torch_cuts) // 2] or view.torch_cuts[:1])
    return view.without(view.cuts[0].first, cut.last)


@FAULTS.enter("one cut twice", "the second time there is no metal under the arc")
def one_cut_twice(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    at = chance.choice([c for c in view.cuts if c.first >= cut.first]).last
    return view.put(at, *view.lines[cut.first : cut.last])


@FAULTS.enter("all cuts twice", "the second time there is no metal under the arc")
def all_cuts_twice(view: View, chance: random.Random) -> Lines:
    first, last = view.cuts[0].first, view.cuts[-1].last
    return view.put(last, *view.lines[first:last])


@FAULTS.enter("order turned round", "outsides come before their holes and marks")
def order_turned_round(view: View, chance: random.Random) -> Lines:
    if not any(
        _inside(view, a, b) for k, a in enumerate(view.cuts) for b in view.cuts[k + 1 :] if not b.marks
    ):
        return None
    return view.reordered(view.cuts[::-1])


@FAULTS.enter("way to a cut left out", "the cut begins where the last one ended")
def way_left_out(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    lines = [k for k in range(cut.first, cut.on) if find(view.lines[k], "X") or find(view.lines[k], "Y")]
    return None if not lines else [line for k, line in enumerate(view.lines) if k not in lines]


@FAULTS.enter("cut across the plate", "a line nobody drew runs through the parts")
def cut_across(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    on = view.lines[cut.on : cut.on + 1]
    dwell = [view.lines[row.line] for row in view.own_rows(cut) if row.kind == "dwell"]
    feed = view.feed_word(view.data["feed_mm_min"])
    off = view.lines[cut.off]
    return view.put(
        view.cuts[-1].last, f"G0 {view.xy(20, 20)}", *on, *dwell, f"G1 {view.xy(200, 150)} {feed}", off
    )


@FAULTS.enter("cut in scrap that nobody planned", "it frees a piece that tips, or weakens a later pierce")
def cut_in_scrap(view: View, chance: random.Random) -> Lines:
    cut = view.torch_cuts[0]
    dwell = [view.lines[row.line] for row in view.own_rows(cut) if row.kind == "dwell"]
    feed = view.feed_word(view.data["feed_mm_min"])
    box = view.case.plate
    x, y = box["length_mm"] - 60, box["width_mm"] - 8
    new = [
        f"G0 {view.xy(x, y)}",
        view.lines[cut.on],
        *dwell,
        f"G1 {view.xy(x + 30, y)} {feed}",
        view.lines[cut.off],
    ]
    return view.put(view.cuts[0].first, *new)
