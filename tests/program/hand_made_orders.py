"""Small orders made by hand: a plate with a holed square and a disc, cut inside first."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from cutplan.base.machine import Machine
from cutplan.cutting import Cut, FeedSpan, LeadChoice, Made, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, circle, join, length, place, polygon, polyline, reverse
from cutplan.process import CutData, Rules
from cutplan.sequencing import Order, Step, Travel
from cutplan.stock import NestedPlate, Placement, Plate

KERF = 2.0
RULES = Rules(
    part_gap=8,
    edge_gap=8,
    lead_in=6,
    lead_out=3,
    pierce_clearance=4,
    overburn=2,
    smallest_hole=8,
    small_hole=15,
)
PLASMA = CutData(
    process="plasma", material="mild steel", thickness=10, setting="120 A oxygen", source="by hand",
    kerf=KERF, feed_mm_min=1800, pierce_height=6, cut_height=3, pierce_s=0.6, preheat_s=0, gases=(),
    rules=RULES,
)  # fmt: skip
OXYFUEL = CutData(
    process="oxyfuel", material="mild steel", thickness=40, setting="tip 3 propane", source="by hand",
    kerf=KERF, feed_mm_min=320, pierce_height=12, cut_height=9, pierce_s=2, preheat_s=45, gases=(),
    rules=RULES, edge_preheat_s=20,
)  # fmt: skip
MACHINE = Machine(marker=True)


def hole_cut(part: str, copy: int, centre: tuple[float, float], radius: float, *, placement: int = 0) -> Cut:
    """A round hole: pierced at its centre, cut counter-clockwise, run on past the start."""
    x, y = centre
    torch = radius - KERF / 2
    lead_in = polyline([centre, (x + torch, y)])
    loop = circle(centre, torch)
    turn = RULES.overburn / torch
    end = (x + torch * math.cos(turn), y + torch * math.sin(turn))
    over = Path(np.array([[x + torch, y, math.tan(turn / 4)], [*end, 0.0]]), closed=False)
    opened = Path(np.vstack([loop.vertices, loop.vertices[:1]]), closed=False)
    lead = _lead(lead_in, opened, over)
    return Cut("hole", (Made(part, copy, placement, reverse(circle(centre, radius)), 0),), (lead,))


def square_cut(part: str, copy: int, corner: tuple[float, float], side: float, *, placement: int = 0) -> Cut:
    """A square outside, cut clockwise with round corners, entered along an edge's line."""
    x, y = corner
    r = KERF / 2
    quarter = math.tan(math.pi / 8)
    rows = [
        [x - r, y, 0.0], [x - r, y + side, -quarter], [x, y + side + r, 0.0],
        [x + side, y + side + r, -quarter], [x + side + r, y + side, 0.0], [x + side + r, y, -quarter],
        [x + side, y - r, 0.0], [x, y - r, -quarter],
    ]  # fmt: skip
    opened = Path(np.array([*rows, rows[0]]), closed=False)
    lead_in = polyline([(x - r, y - RULES.lead_in - r), (x - r, y)])
    lead_out = polyline([(x - r, y), (x - r - 2.0, y + 2.0)])
    contour = polygon([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
    slow = (FeedSpan(start=RULES.lead_in + r + side - 4, end=RULES.lead_in + r + side + 5, factor=0.6),)
    made = Made(part, copy, placement, contour)
    return Cut("outside", (made,), (_lead(lead_in, opened, lead_out, slow),), (placement,))


def mark_cut(part: str, copy: int, points: list[tuple[float, float]], *, placement: int = 0) -> Cut:
    """A line to mark."""
    path = polyline(points)
    lead = LeadChoice(path, points[0], points[-1], 0.0, 0.0)
    return Cut("mark", (Made(part, copy, placement, path),), (lead,))


def _lead(lead_in: Path, loop: Path, lead_out: Path, spans: tuple[FeedSpan, ...] = ()) -> LeadChoice:
    path = join([lead_in, loop, lead_out])
    start, end = path.start.tolist(), path.end.tolist()
    return LeadChoice(path, (start[0], start[1]), (end[0], end[1]), length(lead_in), length(lead_out), spans)


def order_of(cuts: list[Cut]) -> Order:
    """The cuts in the order given, each reached straight and raised."""
    here = MACHINE.start
    steps = []
    for cut in cuts:
        lead = cut.choices[0]
        steps.append(Step(cut, 0, Travel(np.array([here, lead.pierce]), True, 1.0)))
        here = lead.end
    return Order(tuple(steps), 10.0, 8.0)


def sheet_of(placements: list[Placement], data: CutData = PLASMA) -> NestedPlate:
    """A plate of 600 x 300 mm with placements on it."""
    outline = polygon([(0, 0), (600, 0), (600, 300), (0, 300)])
    return NestedPlate(
        Plate("PL10", outline, data.thickness, "S355", "mild steel", heat="H 4711"), 1, tuple(placements)
    )


SQUARE = Part(
    "tie-plate", polygon([(0, 0), (80, 0), (80, 80), (0, 80)]), (reverse(circle((40, 40), 15)),),
    (polyline([(10, 10), (20, 10)]),),
)  # fmt: skip
CORNERS = ((20.0, 20.0), (130.0, 20.0), (240.0, 20.0))


def tie_plates(count: int = 2, data: CutData = PLASMA) -> tuple[Order, NestedPlate]:
    """Tie plates in a row: a mark, a hole and the outside of each."""
    cuts: list[Cut] = []
    placements = []
    for k, (x, y) in enumerate(CORNERS[:count]):
        pose = Pose(x, y)
        placements.append(Placement(SQUARE, k + 1, pose))
        mark = place(SQUARE.marks[0], pose).points.tolist()
        cuts += [
            mark_cut("tie-plate", k + 1, [(p[0], p[1]) for p in mark], placement=k),
            hole_cut("tie-plate", k + 1, (x + 40, y + 40), 15, placement=k),
            square_cut("tie-plate", k + 1, (x, y), 80, placement=k),
        ]
    return order_of(cuts), sheet_of(placements, data)


def bracket_part() -> Part:
    """A bracket: sharp and round re-entrant corners, a slot, a square hole, an arc against the rest."""
    q = math.tan(math.pi / 8)
    rim = [
        [0, 0, 0], [120, 0, 0], [120, 30, 0], [60, 30, 0], [60, 50, -q], [50, 60, 0], [40, 60, 0.4],
        [20, 80, 0], [0, 80, 0],
    ]  # fmt: skip
    slot = [[75, 10, -1], [75, 20, 0], [105, 20, -1], [105, 10, 0]]
    window = [(10, 10), (10, 40), (40, 40), (40, 10)]
    return Part(
        "bracket",
        Path(np.array(rim, float), closed=True),
        (Path(np.array(slot, float), closed=True), polygon(window)),
    )


@cache
def bracket_order(data: CutData = PLASMA) -> tuple[Order, NestedPlate]:
    """Two brackets, one turned by 33 degrees, with the torch paths that the package makes."""
    part = bracket_part()
    placements = [Placement(part, 1, Pose(30, 30)), Placement(part, 2, Pose(300, 60, 33.0))]
    sheet = sheet_of(placements, data)
    found = make_cuts(sheet, data)
    assert len(found.cuts) == 6, found.findings
    return order_of(list(found.cuts)), sheet
