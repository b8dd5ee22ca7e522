"""Webs and flanges of beams: areas and places by hand, camber by the circle's own formula."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from cutplan.drawing import BeamWeb, CutOuts, FlangeStrip, Part
from cutplan.drawing.standard_plates import StandardPlate
from cutplan.geometry import area, bounds, contains, direction_at, offset

PLATE: TypeAdapter[Any] = TypeAdapter(StandardPlate)


def web(**sizes: Any) -> Part:
    return PLATE.validate_python({"kind": "beam web", **sizes}).part("w")


def metal(part: Part) -> float:
    return area(part.outer) + sum(area(hole) for hole in part.holes)


def shoelace(points: list[tuple[float, float]]) -> float:
    x, y = np.array(points).T
    return 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))


GOOSE_NECK = {
    "length": 9000, "height": 450, "neck_length": 2200, "neck_height": 150, "neck_rise": 180,
    "slope_length": 500, "taper_length": 1200, "end_height": 220,
}  # fmt: skip
CORNERS = [
    (0, 480), (2200, 480), (2700, 0), (7800, 0), (9000, 230), (9000, 450), (2700, 450), (2200, 630), (0, 630),
]  # fmt: skip


def test_a_goose_neck_has_the_corners_worked_out_by_hand() -> None:
    part = web(**GOOSE_NECK)
    assert metal(part) == pytest.approx(shoelace(CORNERS))
    assert sorted(map(tuple, part.outer.points.tolist())) == sorted(
        map(tuple, np.array(CORNERS, float).tolist())
    )


def test_knees_are_rounded_by_the_fillets_formula() -> None:
    """A fillet of radius r at a turn t takes r²·(tan(t/2) − t/2) off a corner, or fills it in."""
    r = 60.0
    part = web(**GOOSE_NECK, knee_radius=r)
    expected = shoelace(CORNERS)
    for k in (1, 2, 3, 6, 7):
        (px, py), (x, y), (nx, ny) = CORNERS[k - 1], CORNERS[k], CORNERS[k + 1]
        turn = math.remainder(math.atan2(ny - y, nx - x) - math.atan2(y - py, x - px), math.tau)
        expected -= math.copysign(r * r * (math.tan(abs(turn) / 2) - abs(turn) / 2), turn)
    assert metal(part) == pytest.approx(expected, rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.integers(2000, 14000), st.integers(200, 900), st.integers(1, 80))
def test_camber_is_a_circle_through_ends_and_middle_and_leaves_the_area(
    length: int, height: int, camber: int
) -> None:
    part = web(length=length, height=height, camber=camber)
    # Between two equal arcs, one above the other, lies the rectangle's area (Cavalieri).
    assert metal(part) == pytest.approx(length * height, rel=1e-9)
    rows = part.outer.segments
    radii = rows.radius[rows.is_arc]
    assert radii == pytest.approx([(length**2 / 4 + camber**2) / (2 * camber)] * 2, rel=1e-9)
    assert bounds(part.outer)[3] == pytest.approx(height + camber)
    middle = [(length / 2, camber - 0.01), (length / 2, camber + 0.01), (length / 2, height + camber + 0.01)]
    assert contains(part.outer, middle).tolist() == [False, True, False]
    by_radius = web(length=length, height=height, camber_radius=float(radii[0]))
    assert by_radius.outer.vertices == pytest.approx(part.outer.vertices, abs=1e-6)


def test_cut_outs_lie_where_the_row_says_and_rise_with_the_camber() -> None:
    rows = [
        {"at": 1000, "count": 3, "pitch": 1500, "width": 120, "height": 90, "edge": "upper", "radius": 10},
        {"at": 1750, "count": 2, "pitch": 1500, "width": 80, "height": 60, "edge": "lower"},
        {"at": 2500, "width": 200, "height": 100, "level": 250, "radius": 50},
    ]
    flat = web(length=6000, height=500, cut_outs=rows)
    quarter = (1 - math.pi / 4) * 10**2
    upper = 3 * (120 * 90 - 2 * quarter)
    slot = 100 * 100 + math.pi * 50**2
    assert metal(flat) == pytest.approx(6000 * 500 - upper - 2 * 80 * 60 - slot)
    assert contains(flat.outer, [(1000, 450), (2500, 415), (1750, 30), (3250, 59)]).tolist() == [False] * 4
    assert contains(flat.outer, [(1000, 405), (1750, 61), (1061, 450), (4000, 409)]).tolist() == [True] * 4
    raised = web(length=6000, height=500, camber=30, cut_outs=rows)
    lift = 30 * (1 - (500 / 3000) ** 2)  # of a parabola; the circle differs by less than 0.01
    assert bounds(raised.holes[0])[1] == pytest.approx(200 + lift, abs=0.05)
    # Rigid cut-outs under a curved edge: the area stays but for the slivers at their mouths.
    assert metal(raised) == pytest.approx(metal(flat), abs=3 * 120 * 2.0)


@settings(max_examples=25, deadline=None)
@given(
    length=st.integers(2000, 12000), camber=st.floats(0.5, 40), knee=st.sampled_from([0, 40, 80]),
    edge=st.sampled_from(["upper", "lower"]), radius=st.sampled_from([0, 8, 20]), rise=st.sampled_from([0, 80]),
)  # fmt: skip
def test_fillets_run_smoothly_into_cambered_edges(length, camber, knee, edge, radius, rise) -> None:
    part = web(
        length=length, height=450, camber=camber, knee_radius=knee, taper_length=0.15 * length, end_height=200,
        neck_length=0.15 * length, neck_height=150, neck_rise=rise, slope_length=0.1 * length,
        cut_outs=[{"at": 0.4 * length, "count": 3, "pitch": 150, "width": 100, "height": 60, "edge": edge, "radius": radius}],
    )  # fmt: skip
    rows = part.outer.segments
    small = np.flatnonzero(rows.is_arc & (rows.radius < 200))
    assert len(small) == 6 * (radius > 0) + (3 + 2 * (rise > 0)) * (knee > 0)
    for k in small:
        assert min(abs(rows.radius[k] - r) for r in (radius, knee)) < 1e-6
        after = (k + 1) % len(part.outer)
        ends = [direction_at(part.outer, [s])[0] for s in np.cumsum(rows.length)[k] + np.array([-1e-9, 1e-9])]
        assert ends[0] @ ends[1] > 1 - 1e-9 and not (rows.is_arc[after] and rows.radius[after] < 200)
    # The kerf's path finds its way round every one of them.
    for distance in (1.0, -1.0):
        assert len(offset(part.outer, distance)) == 1


def test_a_cut_out_in_a_slope_is_open_to_it() -> None:
    part = web(**GOOSE_NECK, cut_outs=[{"at": 8400, "width": 100, "height": 60, "edge": "lower"}])
    edge = 230 * (8400 - 7800) / 1200
    assert contains(part.outer, [(8400, edge + 55), (8400, edge + 65)]).tolist() == [False, True]


def test_a_flange_narrows_at_both_ends() -> None:
    part = PLATE.validate_python(
        {"kind": "flange strip", "length": 9000, "width": 160, "end_width": 100, "taper_length": 600}
    ).part("f")
    assert metal(part) == pytest.approx(9000 * 160 - 4 * 0.5 * 600 * 30)
    assert metal(FlangeStrip(length=500, width=80).part("f")) == pytest.approx(500 * 80)


@pytest.mark.parametrize(
    ("sizes", "told"),
    [
        ({"neck_length": 500}, "both neck_length and neck_height"),
        ({"neck_length": 500, "neck_height": 200}, "needs a slope_length"),
        ({"taper_length": 500}, "both taper_length and end_height"),
        ({"taper_length": 500, "end_height": 500}, "less than the height"),
        ({"taper_length": 7000, "end_height": 200}, "longer than the web"),
        ({"camber": 10, "camber_radius": 1e6}, "keep one"),
        ({"camber": 400}, "more than 5% of the length"),
        ({"camber_radius": 3000}, "no camber"),
        ({"cut_outs": [{"at": 3000, "width": 100, "height": 600}]}, "is not inside|edges cross|meets"),
        ({"cut_outs": [{"at": 30, "width": 100, "height": 60, "edge": "upper"}]}, "edges cross"),
        ({"cut_outs": [{"at": 3000, "count": 2, "width": 100, "height": 60}]}, "needs a pitch"),
        ({"cut_outs": [{"at": 3000, "count": 2, "pitch": 90, "width": 100, "height": 60}]}, "meet"),
        ({"cut_outs": [{"at": 3000, "width": 100, "height": 60, "radius": 40}]}, "more than half"),
        ({"cut_outs": [{"at": 3000, "width": 100, "height": 60, "edge": "upper", "level": 9}]}, "no level"),
    ],
)
def test_sizes_that_make_no_web_are_refused_with_the_reason(sizes: dict[str, Any], told: str) -> None:
    with pytest.raises((ValidationError, Exception), match=told):
        web(length=6000, height=500, **sizes)


@pytest.mark.parametrize(
    "sizes",
    [
        {"length": 500, "width": 80, "taper_length": 300, "end_width": 60},
        {"length": 500, "width": 80, "taper_length": 100},
        {"length": 500, "width": 80, "taper_length": 100, "end_width": 90},
    ],
)
def test_sizes_that_make_no_flange_are_refused(sizes: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        FlangeStrip(**sizes)


def test_the_classes_serve_from_python_too() -> None:
    row = CutOuts(at=1000, count=2, pitch=400, width=90, height=60)
    assert BeamWeb(length=3000, height=300, cut_outs=(row,)).part("w").name == "w"
