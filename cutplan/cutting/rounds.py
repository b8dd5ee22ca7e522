"""Once round a torch contour from any place of it, and on past the start."""

from __future__ import annotations

import math

import numpy as np

from cutplan.cutting.torch import TorchContour
from cutplan.geometry import FloatArray, circle

__all__ = ["once_round"]

# A place nearer to a vertex than this, mm, is the vertex: no sliver is left over.
AT_VERTEX = 1e-9


def once_round(torch: TorchContour, at: float, overburn: float = 0.0) -> FloatArray:
    """Return the vertices from a place of the torch contour round to it, and `overburn` mm past it.

    A circle is travelled as two half circles from wherever it starts.

    Parameters
    ----------
    torch : TorchContour
    at : float
        Arc-length of the start, mm.
    overburn : float
        At most the length of the contour, mm.

    Returns
    -------
    ndarray, shape (n, 3)
        x, y and bulge; the last row is the end, with bulge 0.
    """
    whole = torch.circle
    if whole is not None:
        return _round_circle(torch, whole, at, overburn)
    vertices, sizes = torch.path.vertices, torch.path.segments.length
    index, fraction = _locate(torch, at)
    start = _point(torch, index, fraction)
    bulge = float(vertices[index, 2])
    if fraction == 0.0:
        rows = [vertices[index:], vertices[:index]]
    else:
        head = [[*start, _part_bulge(bulge, 1.0 - fraction)]]
        tail = [[*vertices[index, :2], _part_bulge(bulge, fraction)]]
        rows = [np.array(head), vertices[index + 1 :], vertices[:index], np.array(tail)]
    past: list[list[float]] = []
    end = start
    while overburn > AT_VERTEX:
        rest = float(sizes[index]) * (1.0 - fraction)
        share = min(overburn, rest) / float(sizes[index])
        if overburn > rest - AT_VERTEX:
            share = 1.0 - fraction
        past.append([*end, _part_bulge(float(vertices[index, 2]), share)])
        overburn -= share * float(sizes[index])
        if fraction + share < 1.0:
            end = _point(torch, index, fraction + share)
            break
        index, fraction = (index + 1) % len(vertices), 0.0
        end = _point(torch, index, 0.0)
    return np.vstack([*rows, *([past] if past else []), [[*end, 0.0]]])


def _round_circle(
    torch: TorchContour, whole: tuple[float, float, float], at: float, overburn: float
) -> FloatArray:
    x, y, radius = whole
    first = torch.path.start
    sense = 1.0 if torch.path.vertices[0, 2] > 0.0 else -1.0
    angle = math.atan2(first[1] - y, first[0] - x) + sense * at / radius
    loop = circle((x, y), radius, clockwise=sense < 0.0, start=angle).vertices
    past = [[*loop[0, :2], sense * math.tan(0.25 * overburn / radius)]] if overburn > AT_VERTEX else []
    ended = angle + sense * overburn / radius
    end = [x + radius * math.cos(ended), y + radius * math.sin(ended)] if past else loop[0, :2]
    return np.vstack([loop, *past, [[*end, 0.0]]])


def _locate(torch: TorchContour, at: float) -> tuple[int, float]:
    """Return the segment an arc-length lies in and the fraction along it, below 1."""
    starts, sizes = torch.starts, torch.path.segments.length
    place = at % torch.length
    index = max(int(np.searchsorted(starts, place + AT_VERTEX, side="right")) - 1, 0)
    along = place - float(starts[index])
    if along > float(sizes[index]) - AT_VERTEX:
        return (index + 1) % len(sizes), 0.0
    return index, 0.0 if along <= AT_VERTEX else along / float(sizes[index])


def _point(torch: TorchContour, index: int, fraction: float) -> tuple[float, float]:
    """Return the place at a fraction of a segment."""
    x, y, bulge = torch.path.vertices[index].tolist()
    if fraction == 0.0:
        return x, y
    ex, ey = torch.path.vertices[(index + 1) % len(torch.path)][:2].tolist()
    half = 2.0 * math.atan(bulge)
    # From the start the chord is sin(fθ/2) / sin(θ/2) of the whole, turned by (f − 1)·θ/2.
    ratio = fraction if bulge == 0.0 else math.sin(fraction * half) / math.sin(half)
    c, s = ratio * math.cos((fraction - 1.0) * half), ratio * math.sin((fraction - 1.0) * half)
    return x + c * (ex - x) - s * (ey - y), y + s * (ex - x) + c * (ey - y)


def _part_bulge(bulge: float, share: float) -> float:
    """Return the bulge of a share of an arc."""
    return bulge if share == 1.0 else math.tan(share * math.atan(bulge))
