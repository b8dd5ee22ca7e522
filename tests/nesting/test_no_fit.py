"""Overlap as the search sees it, held against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity

from cutplan.nesting.kernels import depth
from cutplan.nesting.shapes import make_form
from cutplan.nesting.tables import Orientation, TableStore


def star(seed: int, points: int, hole: bool) -> Polygon:
    """A ragged outline round the origin, with a hole in its middle where asked."""
    chance = np.random.default_rng(seed)
    angles = np.sort(chance.uniform(0.0, 2.0 * np.pi, points))
    radius = chance.uniform(40.0, 100.0, points)
    outer = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])
    return Polygon(outer, [0.3 * outer[::-1]] if hole else [])


@pytest.mark.parametrize("seed", range(6))
def test_depth_of_overlap_is_that_of_the_true_shapes(seed: int) -> None:
    outlines = [star(seed, 9, seed % 2 == 0), star(seed + 50, 7, False)]
    forms = [make_form(outline) for outline in outlines]
    shapes = [affinity.translate(o, *f.shift) for o, f in zip(outlines, forms, strict=True)]
    store = TableStore(forms, [Orientation(0, 0.0), Orientation(1, 30.0 * seed)])
    tables = store.tables([0, 1])
    row = tables.pairs[0, 1]
    turned = affinity.rotate(shapes[1], 30.0 * seed, origin=(0, 0))
    chance = np.random.default_rng(seed)
    met = 0
    for x, y in chance.uniform(-160.0, 160.0, (300, 2)):
        c, s = row[4], row[5]
        deep = depth(tables.sides, *(int(n) for n in row[6:9]), c * x + s * y, c * y - s * x)
        moved = affinity.translate(turned, x, y)
        shared = shapes[0].intersection(moved).area
        assert (deep > 1e-6) == (shared > 1e-6), (x, y)
        if deep > 1e-3:
            met += 1
            # The least way out: somewhere on the circle of that radius the two are apart, and
            # nowhere inside it.
            ways = [(np.cos(a), np.sin(a)) for a in np.linspace(0.0, 2.0 * np.pi, 721)]
            near = [affinity.translate(moved, 0.97 * deep * u, 0.97 * deep * v) for u, v in ways]
            assert shapely.area(shapely.intersection(shapes[0], near)).min() > 0.0
            out = [affinity.translate(moved, 1.03 * deep * u, 1.03 * deep * v) for u, v in ways]
            assert shapely.area(shapely.intersection(shapes[0], out)).min() < 1e-6
        if met > 12:
            break
    assert met > 5


def test_tables_stay_right_when_the_store_begins_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    forms = [make_form(star(seed, 8, False)) for seed in range(4)]
    turns = [Orientation(k, angle) for k in range(4) for angle in (0.0, 90.0)]
    whole = TableStore(forms, turns).tables(range(8))
    monkeypatch.setattr("cutplan.nesting.tables._MOST_ROWS", 10)
    store = TableStore(forms, turns)
    for some in ([0, 1, 2], [3, 4], [5, 6, 7, 0]):
        part = store.tables(some)
        for i, a in enumerate(some):
            for j, b in enumerate(some):
                assert (part.pairs[i, j, :6] == whole.pairs[a, b, :6]).all()
                mine = part.sides[slice(*part.pairs[i, j, 6:8].astype(int))]
                theirs = whole.sides[slice(*whole.pairs[a, b, 6:8].astype(int))]
                assert (mine == theirs).all()
