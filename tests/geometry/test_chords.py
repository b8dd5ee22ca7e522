"""Chords of many paths at once are those of each."""

from __future__ import annotations

import numpy as np
import pytest

from cutplan.base.errors import GeometryError
from cutplan.geometry import Path, chord_points, chords_of_many


@pytest.mark.parametrize("vertices", [2, 3, 5])
def test_the_chords_of_many_paths_are_those_of_each(vertices: int) -> None:
    random = np.random.default_rng(vertices)
    paths = random.uniform(-100.0, 100.0, (40, vertices, 3))
    paths[:, :, 2] = np.where(
        random.random((40, vertices)) < 0.4, 0.0, random.uniform(-1.5, 1.5, (40, vertices))
    )
    paths[1:10, 0, :2] = paths[:9, -1, :2]  # where one ends the next begins
    points, owner = chords_of_many(paths, 0.05)
    for k, path in enumerate(paths):
        each = chord_points(Path(path, closed=False), 0.05)
        np.testing.assert_allclose(points[owner == k], each, atol=1e-9)


def test_a_tolerance_of_nothing_is_refused() -> None:
    with pytest.raises(GeometryError, match="above zero"):
        chords_of_many(np.zeros((1, 2, 3)), 0.0)
