"""Every entity that draws an edge, in every orientation, against coordinates worked out by hand.

Under the extrusion (0, 0, −1) the arbitrary axis algorithm of the DXF reference puts the
object's x axis at (−1, 0, 0) and its y axis at (0, 1, 0): x changes sign, y stays.
"""

import itertools
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from cutplan.drawing import Drawing
from cutplan.geometry import area, bounds, distance

Inspect = Callable[..., Drawing]
FLIPPED = {"extrusion": (0, 0, -1)}
ROOT = math.sqrt(0.5)


def only_part(drawing: Drawing) -> Any:
    assert [str(f) for f in drawing.findings if f.kind != "mended" and f.topic != "units"] == []
    assert len(drawing.parts) == 1
    return drawing.parts[0]


def close_by_lines(space: Any, *points: tuple[float, float]) -> None:
    for a, b in itertools.pairwise(points):
        space.add_line(a, b)


def test_lines_make_a_rectangle_of_their_end_points(inspect: Inspect) -> None:
    part = only_part(inspect(lambda doc, m: close_by_lines(m, (0, 0), (80, 0), (80, 30), (0, 30), (0, 0))))
    assert sorted(map(tuple, part.outer.points.tolist())) == [(0, 0), (0, 30), (80, 0), (80, 30)]
    assert not part.outer.vertices[:, 2].any()
    assert area(part.outer) == pytest.approx(2400, rel=1e-12)


def test_lines_stay_where_they_are_under_a_flipped_extrusion(inspect: Inspect) -> None:
    # LINE is in world coordinates: its extrusion is the direction of its thickness only.
    def content(doc: Any, m: Any) -> None:
        for a, b in [((10, 0), (90, 0)), ((90, 0), (90, 40)), ((90, 40), (10, 0))]:
            m.add_line(a, b, dxfattribs=FLIPPED)

    assert bounds(only_part(inspect(content)).outer) == (10, 0, 90, 40)


@pytest.mark.parametrize(("attributes", "x"), [({}, 30.0), (FLIPPED, -30.0)])
def test_a_circle_is_two_arcs_about_its_centre(
    inspect: Inspect, attributes: dict[str, Any], x: float
) -> None:
    part = only_part(inspect(lambda doc, m: m.add_circle((30, 20), 12.5, dxfattribs=attributes)))
    assert len(part.outer) == 2
    np.testing.assert_allclose(part.outer.segments.centre, [[x, 20], [x, 20]], atol=1e-12)
    np.testing.assert_allclose(part.outer.segments.radius, 12.5, rtol=1e-15)


@pytest.mark.parametrize(
    ("attributes", "box"), [({}, (7.0, 4.0, 13.0, 7.0)), (FLIPPED, (-13.0, 4.0, -7.0, 7.0))]
)
def test_an_arc_runs_counter_clockwise_in_its_own_plane(
    inspect: Inspect, attributes: dict[str, Any], box: tuple[float, ...]
) -> None:
    # Upper half circle about (10, 4), radius 3; flipped it is the upper half about (−10, 4).
    side = -1 if attributes else 1

    def content(doc: Any, m: Any) -> None:
        m.add_arc((10, 4), 3, 0, 180, dxfattribs=attributes)
        m.add_line((side * 13, 4), (side * 7, 4))

    part = only_part(inspect(content))
    assert bounds(part.outer) == pytest.approx(box, abs=1e-12)
    assert area(part.outer) == pytest.approx(4.5 * math.pi, rel=1e-12)
    assert len(part.outer) == 2


def test_a_quarter_arc_flipped_lands_in_the_second_quadrant(inspect: Inspect) -> None:
    # From 0° to 90° about the origin, flipped: from (−20, 0) to (0, 20).
    def content(doc: Any, m: Any) -> None:
        m.add_arc((0, 0), 20, 0, 90, dxfattribs=FLIPPED)
        close_by_lines(m, (-20, 0), (0, 0), (0, 20))

    part = only_part(inspect(content))
    assert bounds(part.outer) == pytest.approx((-20, 0, 0, 20), abs=1e-12)
    assert area(part.outer) == pytest.approx(100 * math.pi, rel=1e-12)


@pytest.mark.parametrize("angles", [(0, 360), (90, 450), (-180, 180)])
def test_an_arc_of_a_whole_turn_is_a_circle(inspect: Inspect, angles: tuple[float, float]) -> None:
    part = only_part(inspect(lambda doc, m: m.add_arc((5, 5), 8, *angles)))
    assert len(part.outer) == 2
    assert area(part.outer) == pytest.approx(64 * math.pi, rel=1e-12)


@pytest.mark.parametrize(("attributes", "side"), [({}, 1.0), (FLIPPED, -1.0)])
def test_the_bulge_of_a_polyline_is_an_arc_to_its_right(
    inspect: Inspect, attributes: dict[str, Any], side: float
) -> None:
    # A square of 10 whose lower side is a half circle below it: bulge 1 from (0, 0) to (10, 0).
    rows = [(0, 0, 1), (10, 0, 0), (10, 10, 0), (0, 10, 0)]
    part = only_part(
        inspect(lambda doc, m: m.add_lwpolyline(rows, format="xyb", close=True, dxfattribs=attributes))
    )
    low, high = sorted((0.0, 10.0 * side))
    assert bounds(part.outer) == pytest.approx((low, -5, high, 10), abs=1e-12)
    assert area(part.outer) == pytest.approx(100 + 12.5 * math.pi, rel=1e-12)
    assert len(part.outer) == 4


@pytest.mark.parametrize("version", ["R12", "R2018"])
def test_an_old_polyline_reads_like_a_new_one(inspect: Inspect, version: str) -> None:
    rows = [(0, 0, 0), (40, 0, 1), (40, 20, 0), (0, 20, 1)]

    def content(doc: Any, m: Any) -> None:
        m.add_polyline2d(rows, format="xyb", close=True)

    drawing = inspect(content, version=version)
    part = drawing.parts[0]
    assert bounds(part.outer) == pytest.approx((-10, 0, 50, 20), abs=1e-12)
    assert area(part.outer) == pytest.approx(800 + 100 * math.pi, rel=1e-12)


def test_a_bulge_of_more_than_half_a_turn_is_cut_in_two(inspect: Inspect) -> None:
    # Three quarters of a circle of radius 10 about the origin, from (10, 0) to (0, −10).
    bulge = math.tan(math.radians(270) / 4)
    rows = [(10, 0, bulge), (0, -10, 0), (0, 0, 0)]
    part = only_part(inspect(lambda doc, m: m.add_lwpolyline(rows, format="xyb", close=True)))
    assert np.abs(part.outer.vertices[:, 2]).max() <= 1.0
    assert area(part.outer) == pytest.approx(75 * math.pi, rel=1e-12)
    assert bounds(part.outer) == pytest.approx((-10, -10, 10, 10), abs=1e-12)


def test_a_curve_fit_polyline_keeps_its_arcs_and_a_spline_fit_one_drops_its_frame(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        fit = m.add_polyline2d([(0, 0), (10, 0), (10, 10)], close=True, dxfattribs={"flags": 4})
        for vertex, flags in zip(fit.vertices, (8, 8, 8), strict=True):
            vertex.dxf.flags = flags
        fit.append_vertices([(50, 50), (60, 90)], dxfattribs={"flags": 16})
        curved = m.add_polyline2d([(30, 0, 1), (40, 0, 1)], format="xyb", close=True, dxfattribs={"flags": 2})
        for vertex in curved.vertices:
            vertex.dxf.flags = 1

    triangle, disc = inspect(content).parts
    assert area(triangle.outer) == pytest.approx(50, rel=1e-12)
    assert area(disc.outer) == pytest.approx(25 * math.pi, rel=1e-12)


def test_a_spline_frame_alone_is_drawn_as_its_spline(inspect: Inspect) -> None:
    # A closed quadratic B-spline over a square of 40 touches the middles of its sides.
    def content(doc: Any, m: Any) -> None:
        square = [(0, 0), (40, 0), (40, 40), (0, 40)]
        frame = m.add_polyline2d(square, close=True, dxfattribs={"flags": 4, "smooth_type": 5})
        for vertex in frame.vertices:
            vertex.dxf.flags = 16

    part = only_part(inspect(content))
    middles = [(20, 0), (40, 20), (20, 40), (0, 20)]
    assert distance(part.outer, middles).max() < 0.0101
    # Four parabolas cut a third of each corner's triangle of 20 × 20 / 2.
    assert area(part.outer) == pytest.approx(1600 - 4 * 200 / 3, abs=0.5)


def test_a_polyline_in_space_is_flattened_at_one_height_and_refused_otherwise(inspect: Inspect) -> None:
    level = [(0, 0, 7), (50, 0, 7), (50, 20, 7)]
    assert bounds(only_part(inspect(lambda d, m: m.add_polyline3d(level, close=True))).outer) == (
        0,
        0,
        50,
        20,
    )
    rising = [(0, 0, 0), (50, 0, 0), (50, 20, 1)]
    drawing = inspect(lambda d, m: m.add_polyline3d(rising, close=True))
    assert not drawing.parts
    (refused,) = drawing.findings
    assert refused.kind == "refused" and "POLYLINE #" in refused.message and "1.000 mm" in refused.message
    assert refused.place == (0.0, 0.0)


@pytest.mark.parametrize("attributes", [{}, FLIPPED])
def test_an_ellipse_is_fitted_within_a_hundredth(inspect: Inspect, attributes: dict[str, Any]) -> None:
    part = only_part(inspect(lambda doc, m: m.add_ellipse((10, 5), (60, 0), 0.5, dxfattribs=attributes)))
    t = np.linspace(0, 2 * math.pi, 721)
    curve = np.column_stack([10 + 60 * np.cos(t), 5 + 30 * np.sin(t)])
    assert distance(part.outer, curve).max() <= 0.0101
    assert area(part.outer) == pytest.approx(1800 * math.pi, rel=1e-4)
    assert len(part.outer) <= 40


@pytest.mark.parametrize(("attributes", "low", "high"), [({}, 0.0, 20.0), (FLIPPED, -20.0, 0.0)])
def test_half_an_ellipse_turns_with_its_extrusion(
    inspect: Inspect, attributes: dict[str, Any], low: float, high: float
) -> None:
    # Centre and major axis are in world coordinates; the minor axis is extrusion × major × ratio,
    # so the half from parameter 0 to π bulges up, or down where flipped.
    def content(doc: Any, m: Any) -> None:
        m.add_ellipse((0, 0), (40, 0), 0.5, 0, math.pi, dxfattribs=attributes)
        m.add_line((-40, 0), (40, 0))

    assert bounds(only_part(inspect(content)).outer) == pytest.approx((-40, low, 40, high), abs=1e-6)


def test_an_ellipse_as_wide_as_it_is_high_is_a_circle(inspect: Inspect) -> None:
    part = only_part(inspect(lambda doc, m: m.add_ellipse((0, 0), (0, 25), 1.0)))
    assert len(part.outer) == 2
    assert area(part.outer) == pytest.approx(625 * math.pi, rel=1e-12)


def test_a_rational_spline_of_a_circle_comes_out_as_two_arcs(inspect: Inspect) -> None:
    # The nine-point circle of Piegl and Tiller, The NURBS Book, section 7.5.
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    weights = [1, ROOT, 1, ROOT, 1, ROOT, 1, ROOT, 1]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]

    def content(doc: Any, m: Any) -> None:
        points = [(30 * x + 5, 30 * y, 0) for x, y in square]
        m.add_rational_spline(points, weights=weights, degree=2, knots=knots)

    part = only_part(inspect(content))
    assert len(part.outer) == 2
    np.testing.assert_allclose(part.outer.segments.radius, 30, atol=1e-3)
    np.testing.assert_allclose(part.outer.segments.centre, [[5, 0], [5, 0]], atol=1e-3)


@pytest.mark.parametrize("attributes", [{}, FLIPPED])
def test_a_cubic_spline_keeps_to_its_curve(inspect: Inspect, attributes: dict[str, Any]) -> None:
    # A Bézier from (0, 0) to (100, 0) with handles of 80: y = 3·80·(s²t + st²) = 240·st, x by hand.
    def content(doc: Any, m: Any) -> None:
        points = [(0, 0, 0), (0, 80, 0), (100, 80, 0), (100, 0, 0)]
        spline = m.add_open_spline(points, degree=3, dxfattribs=attributes)
        assert spline.dxf.degree == 3
        m.add_line((100, 0), (0, 0))

    part = only_part(inspect(content))
    t = np.linspace(0, 1, 500)
    curve = np.column_stack([300 * (1 - t) * t**2 + 100 * t**3, 240 * (1 - t) * t])
    assert distance(part.outer, curve).max() <= 0.0101
    assert len(part.outer) < 40


def test_a_closed_spline_is_a_contour(inspect: Inspect) -> None:
    # A uniform closed cubic over a square of 60: at a knot (P0 + 4·P1 + P2) / 6, so (10, 10) at P1 = (0, 0).
    def content(doc: Any, m: Any) -> None:
        m.add_spline().set_closed([(0, 0, 0), (60, 0, 0), (60, 60, 0), (0, 60, 0)])

    part = only_part(inspect(content))
    knots = [(10, 10), (50, 10), (50, 50), (10, 50)]
    assert distance(part.outer, knots).max() < 0.0101


def test_a_spline_through_fit_points_passes_through_them(inspect: Inspect) -> None:
    points = [(0, 0), (40, 10), (80, -5), (120, 0)]

    def content(doc: Any, m: Any) -> None:
        m.add_spline(fit_points=points)
        close_by_lines(m, (120, 0), (120, 60), (0, 60), (0, 0))

    assert distance(only_part(inspect(content)).outer, points).max() < 0.0101


def test_a_closed_spline_through_fit_points_is_smooth_where_it_closes(inspect: Inspect) -> None:
    # Eight points of a circle of radius 50: the periodic spline differs from it by under 0.2 mm.
    angles = np.arange(8) * math.pi / 4

    def content(doc: Any, m: Any) -> None:
        points = np.column_stack([50 * np.cos(angles), 50 * np.sin(angles)])
        m.add_spline(fit_points=points.tolist()).closed = True

    part = only_part(inspect(content))
    off = np.abs(np.hypot(*part.outer.points.T) - 50)
    assert off.max() < 0.2
    assert area(part.outer) == pytest.approx(2500 * math.pi, rel=2e-3)


def test_a_spline_of_the_first_degree_keeps_its_corners(inspect: Inspect) -> None:
    corners = [(0, 0, 0), (50, 0, 0), (50, 30, 0), (0, 0, 0)]
    part = only_part(inspect(lambda doc, m: m.add_open_spline(corners, degree=1)))
    assert sorted(map(tuple, np.round(part.outer.points, 9).tolist())) == [(0, 0), (50, 0), (50, 30)]
    assert area(part.outer) == pytest.approx(750, rel=1e-9)


def test_a_long_spline_of_many_knots_needs_few_arcs(inspect: Inspect) -> None:
    # 1,000 control points along a circle: the spline is one within 1e-5 of its radius.
    angles = np.linspace(0, math.pi, 1000)

    def content(doc: Any, m: Any) -> None:
        m.add_open_spline([(100 * math.cos(a), 100 * math.sin(a), 0) for a in angles], degree=3)
        m.add_line((-100, 0), (100, 0))

    assert len(only_part(inspect(content)).outer) < 40


def test_entities_raised_to_one_height_are_flattened(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_circle((0, 0, 12), 40)
        m.add_lwpolyline([(-5, -5), (5, -5), (5, 5), (-5, 5)], close=True, dxfattribs={"elevation": -3})

    part = only_part(inspect(content))
    assert len(part.holes) == 1 and area(part.holes[0]) == pytest.approx(-100)


@pytest.mark.parametrize(
    ("add", "word"),
    [
        (lambda m: m.add_line((3, 4, 0), (60, 4, 5)), "rises"),
        (lambda m: m.add_circle((3, 4), 30, dxfattribs={"extrusion": (0, 1, 0)}), "tilted"),
        (lambda m: m.add_3dface([(3, 4, 0), (50, 0, 0), (50, 50, 9)]), "no flat outline"),
        (lambda m: m.add_ellipse((3, 4), (40, 0, 9), 0.5), "rises"),
    ],
)
def test_what_is_drawn_in_space_is_refused_by_name_and_place(
    inspect: Inspect, add: Callable[[Any], object], word: str
) -> None:
    drawing = inspect(lambda doc, m: add(m))
    (refused,) = [f for f in drawing.findings if f.kind == "refused"]
    assert word in refused.message and "#" in refused.message and refused.remedy


@pytest.mark.parametrize("kind", ["POINT", "HATCH", "TEXT", "DIMENSION", "SOLID"])
def test_what_draws_no_edge_is_left_out_and_counted(inspect: Inspect, kind: str) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_circle((0, 0), 40)
        if kind == "POINT":
            m.add_point((1, 1))
        elif kind == "HATCH":
            m.add_hatch().paths.add_polyline_path([(0, 0), (10, 0), (10, 10)])
        elif kind == "TEXT":
            m.add_text("PLATE 10")
        elif kind == "SOLID":
            m.add_solid([(0, 0), (5, 0), (0, 5), (5, 5)])
        else:
            m.add_linear_dim(base=(0, 60), p1=(-40, 0), p2=(40, 0)).render()

    drawing = inspect(content)
    assert only_part(drawing).holes == ()
    assert drawing.ignored == {kind: 1}


def test_paper_space_is_ignored(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_circle((0, 0), 40)
        doc.paperspace().add_lwpolyline([(0, 0), (420, 0), (420, 297)], close=True)

    assert len(inspect(content).parts) == 1
