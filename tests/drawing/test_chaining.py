"""Loose lines and arcs joined to contours: gaps, doubles, branches, open ends, chords."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from cutplan.drawing import Drawing, ReadOptions
from cutplan.geometry import area, bounds

Inspect = Callable[..., Drawing]
Point = tuple[float, float]
SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]


def sides(corners: Sequence[Point] = SQUARE) -> list[tuple[Point, Point]]:
    return [(corners[k], corners[(k + 1) % len(corners)]) for k in range(len(corners))]


def lines(*pairs: tuple[Point, Point]) -> Callable[[Any, Any], None]:
    def content(doc: Any, m: Any) -> None:
        for a, b in pairs:
            m.add_line(a, b)

    return content


def found(drawing: Drawing, kind: str) -> list[str]:
    return [str(finding) for finding in drawing.findings if finding.kind == kind]


@pytest.mark.parametrize("seed", range(4))
def test_lines_in_any_order_and_direction_make_one_contour(inspect: Inspect, seed: int) -> None:
    random = np.random.default_rng(seed)
    pairs = [sides()[k] for k in random.permutation(4)]
    pairs = [pair[::-1] if random.random() < 0.5 else pair for pair in pairs]
    drawing = inspect(lines(*pairs))
    assert drawing.findings == ()
    assert area(drawing.parts[0].outer) == 10_000


def test_a_gap_within_the_tolerance_is_closed_and_told_of(inspect: Inspect) -> None:
    # The corner at (100, 100) is short by 0.06 mm on one side: it is where both lines would meet.
    pairs = [*sides()[:1], ((100, 0), (100, 99.94)), ((99.94, 100), (0, 100)), sides()[3]]
    drawing = inspect(lines(*pairs))
    (mended,) = drawing.findings
    assert mended.kind == "mended" and "gap of 0.085 mm" in mended.message
    assert mended.place == pytest.approx((100, 100), abs=0.1)
    assert area(drawing.parts[0].outer) == pytest.approx(10_000, abs=1e-9)


def test_a_wide_gap_is_refused_with_both_ends_unless_it_is_allowed(inspect: Inspect) -> None:
    content = lines(*sides()[:3], ((0, 100), (0, 0.4)))
    drawing = inspect(content)
    (refused,) = found(drawing, "refused")
    for figure in ("(0.000, 0.000)", "(0.000, 0.400)", "0.400 mm away", "LINE #"):
        assert figure in refused
    assert drawing.parts == ()
    assert len(inspect(content, ReadOptions(gap=0.5)).parts) == 1


def test_edges_shorter_than_the_gap_tolerance_survive(inspect: Inspect) -> None:
    # A circle of radius 5 exported as 1,000 loose lines of 0.03 mm each, gap tolerance 0.1 mm.
    angles = np.arange(1000) * 2 * math.pi / 1000
    corners = [(5 * math.cos(a), 5 * math.sin(a)) for a in angles]
    drawing = inspect(lines(*sides(corners)))
    (part,) = drawing.parts
    assert area(part.outer) == pytest.approx(25 * math.pi, rel=1e-4)
    assert len(part.outer) == 2


def test_an_overshoot_at_a_corner_is_trimmed(inspect: Inspect) -> None:
    pairs = [*sides()[:1], ((100, 0), (100, 100.04)), ((100.03, 100), (0, 100)), sides()[3]]
    assert area(inspect(lines(*pairs)).parts[0].outer) == pytest.approx(10_000, abs=1e-9)


def test_an_arc_keeps_its_radius_where_a_gap_beside_it_is_closed(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_arc((0, 0), 20, 0, 180)
        m.add_line((-20.03, 0), (20, 0))

    arcs = inspect(content).parts[0].outer.segments
    np.testing.assert_allclose(arcs.radius[arcs.is_arc], 20, rtol=1e-12)


@pytest.mark.parametrize(
    "extra",
    [
        ((0, 0), (100, 0)),
        ((100, 0), (0, 0)),
        ((20, 0), (70, 0)),
        ((0, 0.004), (55, 0.004)),
    ],
)
def test_a_line_drawn_on_a_line_is_dropped_and_told_of(inspect: Inspect, extra: tuple[Point, Point]) -> None:
    drawing = inspect(lines(*sides(), extra))
    assert len(drawing.parts) == 1 and len(drawing.parts[0].outer) == 4
    assert area(drawing.parts[0].outer) == pytest.approx(10_000, abs=0.5)
    assert any("on top of each other" in text for text in found(drawing, "mended"))


def test_lines_that_overlap_in_part_become_one(inspect: Inspect) -> None:
    drawing = inspect(lines(((0, 0), (60, 0)), ((40, 0), (100, 0)), *sides()[1:]))
    assert len(drawing.parts[0].outer) == 4


def test_arcs_that_overlap_in_part_become_one_circle(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_arc((50, 50), 10, 0, 200)
        m.add_arc((50, 50), 10, 150, 400)

    (part,) = inspect(content).parts
    assert len(part.outer) == 2 and area(part.outer) == pytest.approx(100 * math.pi)


def test_edges_on_a_closed_contour_yield_to_it(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_lwpolyline(SQUARE, close=True)
        m.add_line((10, 0), (40, 0))
        m.add_circle((50, 50), 10)
        m.add_arc((50, 50), 10, 300, 45)

    drawing = inspect(content)
    assert found(drawing, "refused") == []
    (part,) = drawing.parts
    assert len(part.outer) == 4 and len(part.holes) == 1


def test_a_whole_contour_drawn_twice_is_kept_once(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_lwpolyline(SQUARE, close=True)
        m.add_lwpolyline([*SQUARE[2:], *SQUARE[:2]], close=True)
        m.add_circle((50, 50), 10)
        m.add_lwpolyline([(40, 50, 1), (60, 50, 1)], format="xyb", close=True)

    drawing = inspect(content)
    (part,) = drawing.parts
    assert len(part.holes) == 1 and len(found(drawing, "mended")) == 2


def test_lines_without_length_and_repeated_vertices_are_dropped(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_lwpolyline([SQUARE[0], SQUARE[0], *SQUARE[1:], SQUARE[0]], close=True)
        m.add_line((50, 50), (50, 50))

    drawing = inspect(content)
    assert len(drawing.parts[0].outer) == 4
    assert len(found(drawing, "mended")) == 2 and found(drawing, "refused") == []


def test_a_speck_is_left_out(inspect: Inspect) -> None:
    drawing = inspect(lines(*sides(), ((50, 50), (50.05, 50))))
    assert drawing.parts[0].holes == ()
    assert len(found(drawing, "mended")) == 1


def test_a_branch_is_refused_with_its_place(inspect: Inspect) -> None:
    drawing = inspect(lines(*sides(), ((100, 100), (140, 120))))
    (refused,) = [f for f in drawing.findings if f.kind == "refused"]
    assert "3 ends meet" in refused.message and refused.place == (100, 100)
    assert drawing.parts == ()


def test_a_second_contour_is_read_though_the_first_is_refused(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        lines(*sides()[:3])(doc, m)
        m.add_circle((300, 0), 20)

    drawing = inspect(content)
    assert len(drawing.parts) == 1 and len(found(drawing, "refused")) == 1


def test_chords_of_a_circle_are_made_a_circle_again(inspect: Inspect) -> None:
    angles = np.arange(72) * 2 * math.pi / 72
    corners = np.column_stack([40 * np.cos(angles), 40 * np.sin(angles)]).tolist()
    drawing = inspect(lambda doc, m: m.add_lwpolyline(corners, close=True))
    (part,) = drawing.parts
    assert len(part.outer) == 2
    assert area(part.outer) == pytest.approx(1600 * math.pi, rel=1e-5)
    assert "72" in found(drawing, "mended")[0]


def test_a_hexagon_stays_a_hexagon(inspect: Inspect) -> None:
    corners = [(40 * math.cos(k * math.pi / 3), 40 * math.sin(k * math.pi / 3)) for k in range(6)]
    drawing = inspect(lambda doc, m: m.add_lwpolyline(corners, close=True))
    assert len(drawing.parts[0].outer) == 6 and drawing.findings == ()


def test_a_line_in_three_pieces_is_made_one(inspect: Inspect) -> None:
    corners = [(0, 0), (30, 0), (70, 0), (100, 0), (100, 50), (0, 50)]
    (part,) = inspect(lambda doc, m: m.add_lwpolyline(corners, close=True)).parts
    assert len(part.outer) == 4
    assert bounds(part.outer) == (0, 0, 100, 50)
