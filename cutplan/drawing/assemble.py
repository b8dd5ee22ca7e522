"""From sound contours to parts: outer and holes by depth, marks and bends to where they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cutplan.drawing.contours import Contours
from cutplan.drawing.enclosure import Enclosure, enclosure
from cutplan.drawing.model import BendLine, BevelLine, MarkText, Note, Part
from cutplan.drawing.notes import Notes, at
from cutplan.geometry import FloatArray, Path, contains, distance, point_at

__all__ = ["Box", "Draft", "Extras", "as_part", "assemble"]

# xmin, ymin, xmax, ymax, mm.
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Extras:
    """What is not cut: lines and texts to mark, bend lines, and lines that show bevels."""

    marks: Sequence[Path] = ()
    texts: Sequence[MarkText] = ()
    bends: Sequence[BendLine] = ()
    bevels: Sequence[BevelLine] = ()


@dataclass
class Draft:
    """A part in the making: the numbers of its contours, and what lies on it."""

    outer: int
    holes: list[int] = field(default_factory=list)
    marks: list[Path] = field(default_factory=list)
    texts: list[MarkText] = field(default_factory=list)
    bends: list[BendLine] = field(default_factory=list)
    bevels: list[BevelLine] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)


def assemble(contours: Contours, extras: Extras, notes: Notes) -> list[Draft]:
    """Return the parts that contours bound.

    A contour inside an even number of others is the outside of a part, the rest are holes.
    They come from left to right, and from bottom to top where they start at the same x.

    Parameters
    ----------
    contours : Contours
        Sound ones.
    extras : Extras
        Each goes to the part it lies on; what lies on none is warned of and left out.
    notes : Notes
    """
    if len(contours) == 0:
        return []
    nested = enclosure(contours)
    boxes = contours.boxes
    outers = sorted(
        np.flatnonzero(nested.depth % 2 == 0).tolist(),
        key=lambda k: (round(float(boxes[k, 0]), 3), round(float(boxes[k, 1]), 3), k),
    )
    drafts = {k: Draft(k, nested.children[k]) for k in outers}
    _hand_out(extras, contours, nested, drafts, notes)
    for line in extras.bevels:
        # On an edge, or beside it on either side.
        middle = _middle(line.path)[None, :]
        k = min(range(len(contours)), key=lambda k: float(distance(contours.path(k), middle)[0]))
        drafts[k if nested.depth[k] % 2 == 0 else int(nested.parent[k])].bevels.append(line)
    return [drafts[k] for k in outers]


def as_part(draft: Draft, contours: Contours, name: str, source: str) -> Part:
    """Return the part of a draft."""
    return Part(
        name=name,
        outer=_turning(contours, draft.outer, left=True),
        holes=tuple(_turning(contours, k, left=False) for k in draft.holes),
        marks=tuple(draft.marks),
        bends=tuple(draft.bends),
        texts=tuple(draft.texts),
        source=source,
        notes=tuple(draft.notes),
        bevel_lines=tuple(draft.bevels),
    )


def _turning(contours: Contours, k: int, *, left: bool) -> Path:
    rows = contours.chains[k].rows
    if bool(contours.areas[k] > 0.0) == left:
        return contours.path(k)
    turned = np.empty_like(rows)
    turned[0, :2], turned[1:, :2] = rows[0, :2], rows[:0:-1, :2]
    turned[:, 2] = -rows[::-1, 2]
    return Path(turned, closed=True)


def _hand_out(
    extras: Extras, contours: Contours, nested: Enclosure, drafts: dict[int, Draft], notes: Notes
) -> None:
    """Give marks, texts and bends to the parts they lie on."""
    items: list[tuple[str, Any, FloatArray]] = []
    items += [("marks", path, _middle(path)) for path in extras.marks]
    items += [("texts", text, np.array(text.place)) for text in extras.texts]
    items += [("bends", bend, 0.5 * (np.array(bend.start) + np.array(bend.end))) for bend in extras.bends]
    if not items:
        return
    places = np.array([place for _, _, place in items])
    for (kind, item, place), k in zip(items, _innermost(contours, nested, places), strict=True):
        if k < 0:
            message = {"marks": "a line to mark", "texts": "a text to mark", "bends": "a bend line"}[kind]
            notes.add(
                "warning", "marks beside parts", f"{message} lies on no part and was left out", at(place)
            )
            continue
        # A bend line's middle may lie in a lightening hole of its part.
        owner = k if nested.depth[k] % 2 == 0 else int(nested.parent[k])
        getattr(drafts[owner], kind).append(item)


def _middle(path: Path) -> FloatArray:
    return np.asarray(point_at(path, [0.5 * float(path.segments.length.sum())])[0])


def _innermost(contours: Contours, nested: Enclosure, places: FloatArray) -> list[int]:
    """Return for each place the deepest contour around it, or −1."""
    best = np.full(len(places), -1)
    x, y = places.T
    for k in np.argsort(nested.depth, kind="stable").tolist():
        x0, y0, x1, y1 = contours.boxes[k]
        near = np.flatnonzero((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))
        if len(near):
            best[near[contains(contours.path(k), places[near])]] = k
    return [int(k) for k in best]
