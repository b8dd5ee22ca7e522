"""Numbers of cuts in a picture lie on no edge and on each other nowhere; a line leads back where they are far."""

import numpy as np
import pytest
import shapely

from cutplan.report.number_places import axis_ticks, number_places

BOX = (0.0, 0.0, 190.0, 120.0)


def crowd() -> tuple[list[tuple[float, float]], list[np.ndarray]]:
    """Two hundred rings of 8 mm in a close grid, each begun in its middle."""
    turns = np.linspace(0.0, 2.0 * np.pi, 33)
    ring = 4.0 * np.column_stack([np.cos(turns), np.sin(turns)])
    middles = [(8.0 + 9.0 * column, 8.0 + 9.0 * row) for row in range(12) for column in range(17)]
    return middles, [ring + middle for middle in middles]


def test_numbers_lie_on_no_edge_and_on_no_other_number() -> None:
    anchors, rings = crowd()
    sizes = [(1.2 * len(str(n)), 1.9) for n in range(1, len(anchors) + 1)]
    places = number_places(anchors, sizes, rings, BOX)
    boxes = [
        shapely.box(x - 0.5 * w, y - 0.5 * h, x + 0.5 * w, y + 0.5 * h)
        for found, (w, h) in zip(places, sizes, strict=True) if found is not None
        for (x, y), _ in [found]
    ]  # fmt: skip
    assert len(boxes) > 0.9 * len(anchors)
    tree = shapely.STRtree(boxes)
    for index, box in enumerate(boxes):
        assert [k for k in tree.query(box, predicate="overlaps") if k != index] == []
    edges = shapely.union_all([shapely.LineString(ring) for ring in rings])
    assert not any(box.buffer(-0.35).intersects(edges) for box in boxes)


def test_a_number_close_to_its_pierce_needs_no_line_and_one_without_room_is_told() -> None:
    ((place, led),) = number_places([(95.0, 60.0)], [(2.0, 2.0)], [], BOX)
    assert not led and np.hypot(place[0] - 95.0, place[1] - 60.0) < 4.0
    full = [np.array([[0.0, y], [190.0, y]]) for y in np.arange(0.0, 120.0, 0.3)]
    assert number_places([(95.0, 60.0)], [(2.0, 2.0)], full, BOX) == [None]


@pytest.mark.parametrize(
    ("length", "ticks"), [(3000, 500), (1200, 100), (6000, 500), (250, 50), (12000, 1000), (95, 10), (7, 1)]
)
def test_axes_have_round_figures(length: float, ticks: float) -> None:
    found = axis_ticks(length)
    assert found[0] == 0 and found[-1] <= length
    assert found[1] == pytest.approx(ticks)
