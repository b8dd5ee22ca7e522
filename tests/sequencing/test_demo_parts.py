"""The demo's own parts, cut with the torch staying low on short hops."""

from pathlib import Path

import shapely

from cutplan.base.machine import Machine
from cutplan.cutting import make_cuts
from cutplan.drawing import Part, ReadOptions, read_drawing
from cutplan.geometry import Pose, bounds, place, polygon, to_polygon
from cutplan.process import Library
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.stock import NestedPlate, Placement, Plate

PARTS = Path(__file__).parent.parent.parent / "parts"
NAMES = ("ring-flange", "landing-leg-foot", "spring-hanger", "tie-plate", "lashing-plate", "gusset")
GAP = 10.0


def row_of_parts() -> NestedPlate:
    """Lay two of each part side by side in one row."""
    placements: list[Placement] = []
    x = GAP
    for copy in (1, 2):
        for name in NAMES:
            part: Part = read_drawing(PARTS / f"{name}.dxf", ReadOptions(units="mm")).parts[0]
            x0, y0, x1, _ = bounds(part.outer)
            placements.append(Placement(part, copy, Pose(x=x - x0, y=GAP - y0)))
            x += x1 - x0 + GAP
    plate = Plate("A", polygon([(0, 0), (x, 0), (x, 400), (0, 400)]), 10.0, "S355", "mild steel")
    return NestedPlate(plate, 1, tuple(placements))


def test_no_low_travel_passes_over_a_freed_part_of_the_demo() -> None:
    sheet = row_of_parts()
    data = Library.load().choose("plasma", "mild steel", 10.0)
    cuts = make_cuts(sheet, data)
    order = sequence(cuts.cuts, Machine(), data, sheet.plate, options=SequenceOptions(low_travel=True))
    metal = [
        to_polygon(place(p.part.outer, p.pose), [place(h, p.pose) for h in p.part.holes], tolerance=0.01)
        for p in sheet.placements
    ]
    freed: list[shapely.Polygon] = []
    low = 0
    for step in order.steps:
        if not step.travel.raised:
            low += 1
            way = shapely.LineString(step.travel.points)
            assert not any(part.intersection(way).length > 1e-6 for part in freed)
        if step.cut.kind == "outside":
            freed.append(metal[step.cut.makes[0].placement])
    assert low > 0
    assert order.crossings == 0
    assert order.bound_s <= order.travel_s
