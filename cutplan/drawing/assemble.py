"""From sound contours to parts: outer and holes by depth, marks and bends to where they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cutplan.drawing.contours import Contours
from cutplan.drawing.enclosure import Enclosure, enclosure
from cutplan.drawing.model import BendLine, MarkText, Part
from cutplan.drawing.notes import Notes, at
from cutplan.geometry import FloatArray, Path, contains, point_at

__all__ = ["Box", "Extras", "assemble"]

# xmin, ymin, xmax, ymax, mm.
Box = tuple[float, float, float, float]

# Proportions of drawing sheets and of the frames in them: √2 for the A series of ISO 216, the
# same after the margins of ISO 5457, and the sheets of two common inch sizes.
SHEET_RATIOS = ((1.28, 1.31), (1.40, 1.43), (1.53, 1.56))


@dataclass(frozen=True)
class Extras:
    """What is not cut: lines and texts to mark, and bend lines."""

    marks: Sequence[Path] = ()
    texts: Sequence[MarkText] = ()
    bends: Sequence[BendLine] = ()


@dataclass
class _Draft:
    """A part in the making."""

    outer: int
    holes: list[int] = field(default_factory=list)
    marks: list[Path] = field(default_factory=list)
    texts: list[MarkText] = field(default_factory=list)
    bends: list[BendLine] = field(default_factory=list)


def assemble(
    contours: Contours, extras: Extras, stem: str, source: str, notes: Notes
) -> list[tuple[Part, Box]]:
    """Return the parts that contours bound, each with its box.

    A contour inside an even number of others is the outside of a part, the rest are holes.
    Several parts are numbered from left to right, and from bottom to top where they start at
    the same x.

    Parameters
    ----------
    contours : Contours
        Sound ones.
    extras : Extras
        Each goes to the part it lies on; what lies on none is warned of and left out.
    stem : str
        Name of a single part, and first half of the names of several.
    source : str
        File they come from.
    notes : Notes
    """
    if len(contours) == 0:
        return []
    nested = enclosure(contours)
    _warn_of_sheet_frames(contours, nested, notes)
    boxes = contours.boxes
    outers = sorted(
        np.flatnonzero(nested.depth % 2 == 0).tolist(),
        key=lambda k: (round(float(boxes[k, 0]), 3), round(float(boxes[k, 1]), 3), k),
    )
    drafts = {k: _Draft(k, nested.children[k]) for k in outers}
    _hand_out(extras, contours, nested, drafts, notes)
    names = [stem] if len(outers) == 1 else [f"{stem}-{n}" for n in range(1, len(outers) + 1)]
    return [
        (_part(drafts[k], contours, name, source), tuple(boxes[k].tolist()))
        for k, name in zip(outers, names, strict=True)
    ]


def _part(draft: _Draft, contours: Contours, name: str, source: str) -> Part:
    return Part(
        name=name,
        outer=_turning(contours, draft.outer, left=True),
        holes=tuple(_turning(contours, k, left=False) for k in draft.holes),
        marks=tuple(draft.marks),
        bends=tuple(draft.bends),
        texts=tuple(draft.texts),
        source=source,
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
    extras: Extras, contours: Contours, nested: Enclosure, drafts: dict[int, _Draft], notes: Notes
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


def _warn_of_sheet_frames(contours: Contours, nested: Enclosure, notes: Notes) -> None:
    """Warn where an outermost rectangle of a sheet's proportions holds contours within contours.

    It may be the frame of the drawing sheet, whose parts would then be read as its holes.
    """
    for k in np.flatnonzero(nested.depth == 0).tolist():
        if not any(nested.children[inner] for inner in nested.children[k]):
            continue
        rows = contours.chains[k].rows
        x0, y0, x1, y1 = (float(v) for v in contours.boxes[k])
        width, height = x1 - x0, y1 - y0
        fills = abs(abs(float(contours.areas[k])) - width * height) <= 1e-6 * width * height
        ratio = max(width, height) / min(width, height)
        if fills and not rows[:, 2].any() and any(low <= ratio <= high for low, high in SHEET_RATIOS):
            message = (
                f"the outermost rectangle, {width:g} × {height:g} mm, has the proportions of a drawing sheet "
                "and holds contours within contours; it is read as a part with holes"
            )
            remedy = "if it is the sheet's frame, put it on a layer named BORDER"
            notes.add("warning", "sheet frames", message, (x0, y0), remedy)
