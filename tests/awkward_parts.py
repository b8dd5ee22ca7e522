"""Parts that are awkward to cut: narrow necks and slots, holes near edges, tiny steps, slivers, spikes.

Sizes are drawn around the kerf and the trade's limits, where rules begin and end.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from cutplan.drawing import Part
from cutplan.geometry import Path, area, circle, contains, is_simple, path_distance, polygon, reverse

__all__ = ["KINDS", "awkward_part"]

Random = np.random.Generator
Drawn = tuple[Path, list[Path]]
# About the kerf of plasma in 10 mm plate, mm.
KERF = 2.0
LEAST_APART = 0.05


def _about(random: Random, size: float, spread: float = 4.0) -> float:
    """Return a length from a share of a size to a multiple of it, by its logarithm."""
    return float(size * spread ** random.uniform(-1.0, 1.0))


def necked(random: Random) -> Drawn:
    """Two bodies joined by a neck, straight or rounded in."""
    w, long, bulge = _about(random, KERF, 6), _about(random, 20, 3), float(random.choice([0.0, -0.6]))
    a, b, h = float(random.uniform(30, 80)), float(random.uniform(30, 80)), float(random.uniform(30, 60))
    y0, y1 = 0.5 * (h - w), 0.5 * (h + w)
    rows = [[0, 0, 0], [a, 0, 0], [a, y0, bulge * 0.2], [a + long, y0, 0], [a + long, 0, 0], [a + long + b, 0, 0],
            [a + long + b, h, 0], [a + long, h, 0], [a + long, y1, bulge * 0.2], [a, y1, 0], [a, h, 0], [0, h, 0]]  # fmt: skip
    return Path(np.array(rows, dtype=float)), []


def holed(random: Random) -> Drawn:
    """A plate with holes of every size, some near its edge and each other."""
    w, h = random.uniform(60, 140, 2).tolist()
    outer, holes = polygon([(0, 0), (w, 0), (w, h), (0, h)]), []
    for _ in range(random.integers(1, 7)):
        r = _about(random, 4, 6)
        web = _about(random, 2, 8)
        x = r + web if random.random() < 0.5 else float(random.uniform(r, max(w - r, r + 1)))
        holes.append(_hole(random, x, float(random.uniform(r + 0.3, max(h - r, r + 1))), r))
    return outer, holes


def _hole(random: Random, x: float, y: float, r: float) -> Path:
    kind = random.integers(4)
    if kind == 0:
        return circle((x, y), r)
    if kind == 1:
        n = int(random.integers(3, 7))
        return _ngon(x, y, r, n, float(random.uniform(0, 6)))
    long, turn = _about(random, 8, 3), float(random.uniform(0, math.pi))
    waist = r if kind == 2 else 0.3 * r
    rows = np.array(
        [[-long, -r, 0], [0, -waist, 0], [long, -r, 1], [long, r, 0], [0, waist, 0], [-long, r, 1]]
    )
    c, s = math.cos(turn), math.sin(turn)
    places = rows[:, :2] @ np.array([[c, s], [-s, c]]) + (x, y)
    return Path(np.column_stack([places, rows[:, 2]]))


def _ngon(x: float, y: float, r: float, n: int, turn: float) -> Path:
    return polygon([(x + r * math.cos(turn + 2 * math.pi * k / n), y + r * math.sin(turn + 2 * math.pi * k / n)) for k in range(n)])  # fmt: skip


def notched(random: Random) -> Drawn:
    """A plate with steps, nicks, tabs and slots in its edge, from hundredths of a millimetre on."""
    w, h, x, points = float(random.uniform(80, 160)), float(random.uniform(50, 90)), 3.0, [(0.0, 0.0)]
    while x < w - 20:
        wide, deep = _about(random, 2, 10), _about(random, 4, 30) * float(random.choice([-1, 1]))
        deep = min(deep, 0.6 * h)
        slant = float(random.choice([0.0, 0.0, 0.3, 0.5])) * wide
        points += [(x, 0.0), (x + slant, deep), (x + wide - slant, deep), (x + wide, 0.0)]
        x += wide + _about(random, 3, 6)
    points += [(w, 0.0), (w, h), (0.0, h)]
    return polygon(_distinct(points)), []


def _distinct(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [p for p, q in zip(points, [points[-1], *points], strict=False) if math.dist(p, q) > 1e-3]


def sliver(random: Random) -> Drawn:
    """A strip or a small part, as narrow as the kerf and narrower."""
    long, w = float(random.uniform(5, 200)), _about(random, 3, 12)
    kind = random.integers(3)
    if kind == 0:
        return polygon([(0, 0), (long, 0), (long, w), (0, w)]), []
    if kind == 1:
        return polygon([(0, 0), (long, 0), (long, w)]), []
    return circle((0, 0), w), [circle((0, 0), 0.5 * w)] if w > 4 else []


def spiked(random: Random) -> Drawn:
    """A star with sharp points and sharp corners between them."""
    n, far = int(random.integers(3, 12)), float(random.uniform(40, 90))
    near = far * float(random.uniform(0.15, 0.8))
    angle = math.pi * (np.arange(2 * n) + random.uniform(-0.3, 0.3, 2 * n)) / n
    reach = np.where(np.arange(2 * n) % 2 == 0, far, near) * random.uniform(0.8, 1.2, 2 * n)
    return polygon(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])), []


def wavy(random: Random) -> Drawn:
    """An outline of lines and arcs that bulge both ways, with a hole or two."""
    n = int(random.integers(5, 20))
    angle = np.linspace(0, 2 * math.pi, n, endpoint=False)
    reach = random.uniform(30, 80, n)
    bulge = np.where(random.random(n) < 0.6, random.uniform(-0.6, 0.6, n), 0.0)
    holes = [_hole(random, *random.uniform(-15, 15, 2).tolist(), _about(random, 4, 3)) for _ in range(random.integers(0, 3))]  # fmt: skip
    return Path(np.column_stack([reach * np.cos(angle), reach * np.sin(angle), bulge])), holes


KINDS: tuple[Callable[[Random], Drawn], ...] = (necked, holed, notched, sliver, spiked, wavy)


def awkward_part(seed: int) -> Part | None:
    """Return an awkward part; None where the seed gives none that a drawing may draw."""
    random = np.random.default_rng(seed)
    outer, drawn = KINDS[seed % len(KINDS)](random)
    if not is_simple(outer):
        return None
    holes: list[Path] = []
    for hole in drawn:
        clear = (
            is_simple(hole)
            and contains(outer, hole.points).all()
            and path_distance(outer, hole) > LEAST_APART
        )
        if clear and all(path_distance(hole, h) > LEAST_APART and not contains(h, hole.start)[0] and not contains(hole, h.start)[0] for h in holes):  # fmt: skip
            holes.append(hole if area(hole) < 0.0 else reverse(hole))
    return Part(f"part-{seed}", outer if area(outer) > 0.0 else reverse(outer), tuple(holes))
