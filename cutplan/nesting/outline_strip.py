"""Strip packing of plain outlines: polygons in, their places out, no gaps, no steel."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from cutplan.base.errors import NestingError
from cutplan.base.stopping import StoppingRule
from cutplan.nesting.layout import new_search
from cutplan.nesting.outlines import coarse_outline
from cutplan.nesting.problem import SCALE_POWER
from cutplan.nesting.shapes import Form, make_form, picture, smallest_box_angle, turned
from cutplan.nesting.shorten import Packing
from cutplan.nesting.sliding import slide_left
from cutplan.nesting.strip import IntArray, pack_strip, place_leftmost
from cutplan.nesting.tables import Orientation, TableStore

__all__ = ["OutlinePlace", "OutlineStrip", "StripItem", "pack_outlines"]

# Depth of overlap taken as touching, as a share of the strip's width.
_TOUCH = 2e-9
# Steps of free rotation for instances with few and with many outlines, degrees.
_FINE_STEP_DEG, _COARSE_STEP_DEG, _FEW = 15.0, 30.0, 12


@dataclass(frozen=True)
class StripItem:
    """An outline to pack: how often, and in which rotations (None for free rotation)."""

    outline: Polygon
    quantity: int
    rotations_deg: Sequence[float] | None


@dataclass(frozen=True)
class OutlinePlace:
    """Where a copy lies: turned about its own origin, then moved."""

    item: int
    copy: int
    x: float
    y: float
    rotation_deg: float


@dataclass(frozen=True)
class OutlineStrip:
    """A strip from x = 0 to `length`, its width along y from 0."""

    length: float
    places: tuple[OutlinePlace, ...]
    statistics: Mapping[str, float] = field(default_factory=dict)


def pack_outlines(
    items: Sequence[StripItem],
    width: float,
    *,
    seed: int = 0,
    stop: StoppingRule,
    workers: int = 1,
    progress: Callable[[float], None] | None = None,
) -> OutlineStrip:
    """Pack outlines into a strip of fixed width, as short as the search makes it.

    Parameters
    ----------
    items : sequence of StripItem
    width : float
        mm, or any one unit.
    seed : int
    stop : callable
        Stopping rule, asked after each iteration of all workers.
    workers : int
        Threads side by side.
    progress : callable, optional
        Told the least length so far.

    Raises
    ------
    NestingError
        If an item is wider than the strip in every allowed rotation.
    """
    forms = [make_form(_searched(item, width, len(items))) for item in items]
    orientations, options = _distinct_turns(items, forms)
    scale = np.array([forms[o.form].area ** SCALE_POWER for o in orientations])
    store = TableStore(forms, orientations, scale=scale / scale.mean())
    height = store.reach[:, 3] - store.reach[:, 1]
    fitting = [[t for t in mine if height[t] <= width * (1.0 + _TOUCH)] for mine in options]
    for k, mine in enumerate(fitting):
        if not mine:
            raise NestingError(f"item {k + 1} is wider than the strip in every allowed rotation")
    kinds = np.repeat(np.arange(len(items)), [item.quantity for item in items])
    turns = [fitting[k] for k in kinds]
    areas = np.array([forms[k].area for k in kinds])
    order = sorted(range(len(kinds)), key=lambda i: (-forms[kinds[i]].size, kinds[i], i))
    start = place_leftmost(store, turns, order, width, _TOUCH * width)
    search = new_search(store.tables(range(len(orientations))), turns, tolerance=_TOUCH * width)
    box = np.array([0.0, 0.0, start.length, width])
    packing, statistics = pack_strip(
        search, areas, kinds, box, start, seed=seed, stop=stop, workers=workers, progress=progress
    )
    packing = _closed_up(items, kinds, forms, orientations, packing, _TOUCH * width)
    places = _as_places(packing, kinds, forms, orientations)
    return OutlineStrip(packing.length, tuple(places), statistics)


def _distinct_turns(
    items: Sequence[StripItem], forms: Sequence[Form]
) -> tuple[list[Orientation], list[list[int]]]:
    """Return the orientations that differ in looks, and for each item which of them are its own."""
    orientations: list[Orientation] = []
    options: list[list[int]] = []
    for k, item in enumerate(items):
        seen: set[bytes] = set()
        mine: list[int] = []
        for angle in _angles(item, len(items)):
            look = picture(forms[k], angle)
            if look not in seen:
                seen.add(look)
                mine.append(len(orientations))
                orientations.append(Orientation(k, angle))
        options.append(mine)
    return orientations, options


def _as_places(
    packing: Packing, kinds: IntArray, forms: Sequence[Form], orientations: Sequence[Orientation]
) -> list[OutlinePlace]:
    places = []
    copies = dict.fromkeys(range(len(forms)), 0)
    for i, k in enumerate(kinds.tolist()):
        copies[k] += 1
        angle = orientations[packing.orientations[i]].angle_deg
        x, y = packing.places[i] + turned(np.array([forms[k].shift]), angle)[0]
        places.append(OutlinePlace(k, copies[k], float(x), float(y), angle))
    return places


def _searched(item: StripItem, width: float, count: int) -> Polygon:
    """The outline that the search packs: coarser where the true one has many points and both fit."""
    coarse = coarse_outline(item.outline)
    for angle in _angles(item, count):
        sizes = [
            np.ptp(turned(shapely.get_coordinates(o.exterior), angle)[:, 1]) for o in (item.outline, coarse)
        ]
        if sizes[0] <= width < sizes[1]:
            return item.outline
    return coarse


def _closed_up(
    items: Sequence[StripItem],
    kinds: NDArray[np.int64],
    forms: Sequence[Form],
    orientations: Sequence[Orientation],
    packing: Packing,
    touch: float,
) -> Packing:
    """Take back what room coarser outlines have left between the true ones."""
    true = [
        [shapely.get_coordinates(ring)[:-1] for ring in (i.outline.exterior, *i.outline.interiors)]
        for i in items
    ]
    if all(sum(map(len, t)) == sum(map(len, f.rings)) for t, f in zip(true, forms, strict=True)):
        return packing
    rings = [
        [turned(ring + np.array(forms[k].shift), orientations[o].angle_deg) for ring in true[k]]
        for k, o in zip(kinds.tolist(), packing.orientations.tolist(), strict=True)
    ]
    places = slide_left(rings, packing.places, 0.0, touch)
    right = max(float(x + ring[0][:, 0].max()) for (x, _), ring in zip(places, rings, strict=True))
    return Packing(places, packing.orientations, right)


def _angles(item: StripItem, count: int) -> tuple[float, ...]:
    if item.rotations_deg is not None:
        return tuple(float(angle) for angle in item.rotations_deg)
    step = _FINE_STEP_DEG if count <= _FEW else _COARSE_STEP_DEG
    base = smallest_box_angle(item.outline)
    return tuple((base + k * step) % 360.0 for k in range(round(360.0 / step)))
