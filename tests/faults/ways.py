"""Faults of where the torch goes: pierces, travel, clamps, the table."""

from __future__ import annotations

import math
import random

from faults.model import FAULTS
from faults.places import Lines, at_head, between
from faults.view import Cut, View
from faults.words import find

WITH_CLAMP = (
    "metric", "inch", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "heights",
    "numbered", "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat",
)  # fmt: skip


def started_at(view: View, cut: Cut, place: tuple[float, float]) -> Lines:
    """Begin a cut elsewhere: a straight way leads from there to the end of its first move."""
    line = next(
        (
            k
            for k in reversed(range(cut.first, cut.on))
            if find(view.lines[k], "X") or find(view.lines[k], "Y")
        ),
        None,
    )
    moves = view.moves(cut)
    if line is None or not moves:
        return None
    first = moves[0]
    lines = view.swap(line, f"G0 {view.xy(*place)}")
    lead = f"G1 {view.xy(*first.end[:2])} {view.feed_word(first.feed)}"
    return [*lines[: first.line], lead, *lines[first.line + 1 :]]


def _lead_length(cut: Cut) -> float:
    return math.dist(cut.rows[0].end[:2], next(row for row in cut.rows if row.moves).end[:2])


@FAULTS.enter("pierce in a kerf", "the arc finds no metal under it and goes out, or blows the kerf wide")
def pierce_in_a_kerf(view: View, chance: random.Random) -> Lines:
    cuts = view.torch_cuts
    if len(cuts) < 2:
        return None
    k = chance.randrange(1, len(cuts))
    before = [row for cut in cuts[:k] for row in cut.rows if row.moves]
    here = cuts[k].pierce
    place = min((row.points(1.0)[0] for row in before), key=lambda p: math.dist(p, here))
    return started_at(view, cuts[k], place)


@FAULTS.enter("pierce beside a kerf", "the mound and the weak rim of the kerf let the arc break out")
def pierce_beside_a_kerf(view: View, chance: random.Random) -> Lines:
    cuts = view.torch_cuts
    if len(cuts) < 2:
        return None
    k = chance.randrange(1, len(cuts))
    before = [row for cut in cuts[:k] for row in cut.rows if row.moves]
    here = cuts[k].pierce
    place = min((row.points(1.0)[0] for row in before), key=lambda p: math.dist(p, here))
    gap = math.dist(place, here)
    aside = view.data["kerf_mm" if "kerf_mm" in view.data else "kerf"] / 2 + 0.3
    if gap < 1e-6:
        return None
    return started_at(
        view, cuts[k], tuple(p + (h - p) * aside / gap for p, h in zip(place, here, strict=True))
    )  # type: ignore[arg-type]


@FAULTS.enter("pierce in an old pierce", "there is a hole already, with its mound round it")
def pierce_in_an_old_pierce(view: View, chance: random.Random) -> Lines:
    cuts = view.torch_cuts
    if len(cuts) < 2:
        return None
    k = chance.randrange(1, len(cuts))
    place = min((cut.pierce for cut in cuts[:k]), key=lambda p: math.dist(p, cuts[k].pierce))
    return started_at(view, cuts[k], place)


@FAULTS.enter("pierce on the contour", "the pierce's crater and spatter stay on the part's edge")
def pierce_on_the_contour(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    moves = view.moves(cut)
    if len(moves) < 3:
        return None
    return started_at(view, cut, moves[0].end[:2])


@FAULTS.enter("pierce near the contour", "spatter and blow-out of the pierce reach the part")
def pierce_near_the_contour(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    moves = view.moves(cut)
    if len(moves) < 3 or _lead_length(cut) < 3.0:
        return None
    share = 0.6 / _lead_length(cut)
    (x0, y0), (x1, y1) = cut.pierce, moves[0].end[:2]
    return started_at(view, cut, (x1 + share * (x0 - x1), y1 + share * (y0 - y1)))


@FAULTS.enter(
    "pierce beside the plate", "there is nothing to pierce; the cut enters over an edge nobody planned"
)
def pierce_beside_the_plate(view: View, chance: random.Random) -> Lines:
    cut = min(view.torch_cuts, key=lambda c: min(c.pierce))
    x, y = cut.pierce
    return started_at(view, cut, (-4.0, y) if x < y else (x, -4.0))


@FAULTS.enter("pierce on the plate's edge", "the edge melts away and the arc goes out")
def pierce_on_the_plates_edge(view: View, chance: random.Random) -> Lines:
    cut = min(view.torch_cuts, key=lambda c: min(c.pierce))
    x, y = cut.pierce
    return started_at(view, cut, (0.5, y) if x < y else (x, 0.5))


@FAULTS.enter("pierces of two cuts exchanged", "both leads run across what lies between")
def pierces_exchanged(view: View, chance: random.Random) -> Lines:
    if len(view.torch_cuts) < 2:
        return None
    one, other = chance.sample(view.torch_cuts, 2)
    return started_at(view, one, other.pierce)


def clamp_box(view: View) -> tuple[float, float, float, float] | None:
    """Return the box round the first clamp."""
    boxes = view.case.plate["plate"]["keepouts"]
    if not boxes:
        return None
    xs = [v[0] for v in boxes[0]["path"]] if isinstance(boxes[0], dict) and "path" in boxes[0] else None
    points = boxes[0] if xs is None else boxes[0]["path"]
    if isinstance(points, dict):
        points = next(v for v in points.values() if isinstance(v, list))
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


CLAMP = "the torch breaks on a clamp"


def _through(view: View, chance: random.Random, *texts: str) -> Lines:
    box = clamp_box(view)
    if box is None:
        return None
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    cuts = [cut for cut in view.cuts[1:]]
    at = chance.choice(cuts).first
    low = ["G0 Z5"] if view.dialect.get("heights") or view.case.name == "heights" else []
    made = [
        text.format(
            at=view.xy(x, y),
            beside=view.xy(box[0] - 10, y),
            over=view.xy(x, box[3] + 15),
            feed=view.feed_word(2000),
        )
        for text in texts
    ]
    return view.put(at, *low, *made)


@FAULTS.enter("travel onto a clamp", CLAMP, cases=WITH_CLAMP)
def travel_onto_aclamp_box(view: View, chance: random.Random) -> Lines:
    return _through(view, chance, "G0 {at}")


@FAULTS.enter("travel through a clamp", CLAMP, cases=WITH_CLAMP)
def travel_through_aclamp_box(view: View, chance: random.Random) -> Lines:
    box = clamp_box(view)
    if box is None:
        return None
    at = chance.choice(view.cuts[1:]).first
    low = ["G0 Z5"] if view.case.name == "heights" else []
    y = (box[1] + box[3]) / 2
    return view.put(at, *low, f"G0 {view.xy(box[0] - 60, y)}", f"G0 {view.xy(box[2] + 60, y)}")


@FAULTS.enter("slow way through a clamp", CLAMP, cases=WITH_CLAMP)
def slow_way_through_aclamp_box(view: View, chance: random.Random) -> Lines:
    return _through(view, chance, "G1 {at} {feed}")


@FAULTS.enter(
    "arc through a clamp",
    CLAMP,
    cases=("metric", "heights", "numbered", "small-memory", "split", "subprograms"),
)
def arc_through_aclamp_box(view: View, chance: random.Random) -> Lines:
    box = clamp_box(view)
    if box is None:
        return None
    low = ["G0 Z5"] if view.case.name == "heights" else []
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    radius = 70.0
    start = (x - radius * math.sin(1.0), y + radius - radius * math.cos(1.0))
    end = (x + radius * math.sin(1.0), start[1])
    at = chance.choice(view.cuts[1:]).first
    return view.put(
        at,
        *low,
        f"G0 {view.xy(*start)}",
        f"G3 {view.xy(*end)} I{x - start[0]:.3f} J{y + radius - start[1]:.3f} F2000",
    )


@FAULTS.enter("cut led through a clamp", "the torch breaks on a clamp and burns it", cases=WITH_CLAMP)
def cut_led_through_aclamp_box(view: View, chance: random.Random) -> Lines:
    box = clamp_box(view)
    cut = chance.choice(view.torch_cuts)
    return None if box is None else started_at(view, cut, ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))


AWAY = "the gantry runs into its stop"
FAULTS.add("travel beyond the table", AWAY, between("G0 X9000 Y100"))
FAULTS.add("travel below the table's corner", AWAY, between("G0 X-400 Y0"))
FAULTS.add("first travel beyond the table", AWAY, at_head("G0 Y-700"))


@FAULTS.enter(
    "arc beyond the table",
    AWAY,
    cases=("metric", "heights", "numbered", "small-memory", "split", "subprograms", "control-compensation"),
)
def arc_beyond_the_table(view: View, chance: random.Random) -> Lines:
    at = chance.choice(view.cuts[1:]).first
    return view.put(
        at, "G0 X0 Y100", "G2 X0 Y900 I0 J400 F9000" if chance.random() < 0 else "G3 X0 Y100.5 I0 J800 F9000"
    )


@FAULTS.enter("the way home beyond the table", AWAY)
def home_beyond_the_table(view: View, chance: random.Random) -> Lines:
    return view.put(view.end, "G0 X-9000 Y0")


@FAULTS.enter("travel with the marker down", "the marker scribes over the parts")
def travel_with_the_marker_down(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    on, off = view.word("marker_on"), view.word("marker_off")
    cut = chance.choice(view.torch_cuts)
    at = next(k for k in range(cut.first, cut.on) if find(view.lines[k], "X") or find(view.lines[k], "Y"))
    return [*view.lines[:at], on, view.lines[at], off, *view.lines[at + 1 :]]


@FAULTS.enter(
    "low way over the plate by feed moves", "what has tipped up stands in the way", cases=("heights",)
)
def low_way_over_the_plate(view: View, chance: random.Random) -> Lines:
    return view.put(view.cuts[-1].last, "G0 Z1", "G1 X10 Y10 F6000", "G1 X300 Y250", "G0 Z30")


@FAULTS.enter("unlit way through the plate", "the torch is pushed through the plate", cases=("heights",))
def way_through_the_plate(view: View, chance: random.Random) -> Lines:
    return view.put(view.cuts[-1].first, "G0 Z-12", "G0 X10 Y10", "G0 Z30")
