"""Borders of drawing sheets and frames of title blocks: rectangles that are no part.

Terminology
-----------
frame : a rectangle, upright on the sheet, that holds what belongs to the sheet or to other parts.
border : a frame round everything.
title frame : a frame that holds the words of a title block and no contour but further frames.

A frame looks just like a rectangular part, so it is asked about, not decided; see the `frames` key.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.drawing.contours import Contours
from cutplan.drawing.notes import Notes
from cutplan.drawing.texts import TextLine
from cutplan.drawing.wording import meanings
from cutplan.geometry import FloatArray

__all__ = ["frame_contours", "question_frames"]

# Sides count as upright, and contours as inside, within this, mm.
UPRIGHT = 1e-3
# Proportions of drawing sheets and of the frames in them: √2 for the A series of ISO 216, the
# same after the margins of ISO 5457, and the sheets of two common inch sizes.
SHEET_RATIOS = ((1.28, 1.31), (1.40, 1.43), (1.53, 1.56))
# Rectangles that are tried where the largest of many is no border.
MOST_TRIED = 200
# Words of a title block, in English and German; common practice.
_TITLE_WORDS = re.compile(
    r"\b(?:TITLE|DRAWN|DRN|CHECKED|CHKD|APPROVED|APPD|SCALE|SHEET|REV(?:ISION)?|DATE|DWG|DRAWING|DRG|"
    r"PROJECT|CUSTOMER|TOLERANCES?|FINISH|GEZEICHNET|GEPRÜFT|MASSSTAB|MAßSTAB|BLATT|DATUM|ZEICHNUNG|BENENNUNG)\b",
    re.IGNORECASE,
)


def frame_contours(
    contours: Contours, texts: Sequence[TextLine], annotations: Sequence[tuple[float, float]]
) -> dict[int, str]:
    """Return the contours that may be frames, each with what speaks for it.

    Parameters
    ----------
    contours : Contours
        Before any check of what touches what: a title block's cells do.
    texts : sequence of TextLine
    annotations : sequence of tuple
        Places of dimensions and leaders.
    """
    upright = np.flatnonzero(_rectangles(contours))
    if len(upright) == 0:
        return {}
    boxes = contours.boxes
    sayings = _Sayings.of(texts, annotations)
    found: dict[int, str] = {}
    largest_first = upright[np.argsort(-np.abs(contours.areas[upright]), kind="stable")].tolist()
    for k in largest_first:
        # What lies in a border is judged as if the border were not there.
        rest = np.array([j != k and j not in found for j in range(len(contours))], dtype=bool)
        held = rest & _held(boxes, boxes[k])
        reason = None
        if held.any() and not (rest & ~held).any():
            reason = _border(contours, k, held, sayings)
        titled = int((sayings.titled & _inside(sayings.texts, boxes[k])).sum())
        if reason is None and titled and np.isin(np.flatnonzero(held), upright).all():
            reason = f"holds {titled} texts of a title block"
        if reason is not None:
            found[k] = reason
        elif len(found) == 0 and len(upright) > MOST_TRIED:
            break
    return found


@dataclass(frozen=True)
class _Sayings:
    """Places of texts and of dimensions; which texts are a title block's, and which a part's."""

    texts: FloatArray
    titled: NDArray[np.bool_]
    of_parts: NDArray[np.bool_]
    dimensions: FloatArray

    @classmethod
    def of(cls, texts: Sequence[TextLine], annotations: Sequence[tuple[float, float]]) -> _Sayings:
        of_parts = [bool(meanings(line.text.text)) for line in texts]
        titled = [
            bool(_TITLE_WORDS.search(line.text.text)) and not of_part
            for line, of_part in zip(texts, of_parts, strict=True)
        ]
        return cls(
            np.array([line.text.place for line in texts], dtype=np.float64).reshape(-1, 2),
            np.array(titled, dtype=bool),
            np.array(of_parts, dtype=bool),
            np.array(annotations, dtype=np.float64).reshape(-1, 2),
        )


def _rectangles(contours: Contours) -> NDArray[np.bool_]:
    """Return which contours are upright rectangles; split sides count as one."""
    if len(contours) == 0:
        return np.zeros(0, dtype=bool)
    boxes, edges = contours.boxes, contours.edges
    step = np.abs(edges.end - edges.start)
    slanted = (edges.bulge != 0.0) | (step.min(axis=1) > UPRIGHT)
    size = boxes[:, 2:] - boxes[:, :2]
    full = np.abs(np.abs(contours.areas) - size.prod(axis=1)) <= UPRIGHT * size.sum(axis=1)
    return np.asarray(full & ~np.bitwise_or.reduceat(slanted, contours.firsts))


def _inside(points: FloatArray, box: FloatArray) -> NDArray[np.bool_]:
    return np.asarray(
        (points[:, 0] > box[0]) & (points[:, 0] < box[2]) & (points[:, 1] > box[1]) & (points[:, 1] < box[3])
    )


def _held(boxes: FloatArray, box: FloatArray) -> NDArray[np.bool_]:
    return np.asarray(
        (boxes[:, 0] >= box[0] - UPRIGHT)
        & (boxes[:, 1] >= box[1] - UPRIGHT)
        & (boxes[:, 2] <= box[2] + UPRIGHT)
        & (boxes[:, 3] <= box[3] + UPRIGHT)
    )


def _border(contours: Contours, k: int, held: NDArray[np.bool_], sayings: _Sayings) -> str | None:
    """Return what makes a rectangle round all other contours a border, or None."""
    box = contours.boxes[k]
    deep = _holds_parts(contours, held)
    if deep:
        return f"holds contours within contours ({deep}), as parts with holes are drawn"
    within, spoken = _inside(sayings.texts, box), _inside(sayings.dimensions, box)
    if not within.all() or not spoken.all():
        # Words and sizes around a part stand outside it; a border has all of them inside.
        return None
    count, all_round = int(held.sum()), _all_round(contours, held)
    if len(spoken):
        return f"holds {len(spoken)} dimensions or leaders beside {count} contours"
    others = int((~sayings.of_parts).sum())
    if others > 1 or (others and not all_round):
        return f"holds {others} texts beside {count} contours"
    width, height = box[2] - box[0], box[3] - box[1]
    ratio = max(width, height) / min(width, height)
    if any(low <= ratio <= high for low, high in SHEET_RATIOS) and (len(within) or not all_round):
        return f"has the proportions of a drawing sheet, and {count} contours in it"
    return None


def _holds_parts(contours: Contours, held: NDArray[np.bool_]) -> int:
    """Return how many of some contours lie within another of them, judged by boxes."""
    boxes = shapely.box(*contours.boxes[held].T)
    inner, outer = shapely.STRtree(boxes).query(boxes, predicate="within")
    proper = np.abs(contours.areas[held][inner]) < np.abs(contours.areas[held][outer])
    return len(np.unique(inner[proper & (inner != outer)]))


def _all_round(contours: Contours, held: NDArray[np.bool_]) -> bool:
    """Return whether all of some contours are circles, as drilled plates have them."""
    straight = np.bitwise_or.reduceat(contours.edges.bulge == 0.0, contours.firsts)
    return not bool(straight[held].any())


def question_frames(contours: Contours, frames: dict[int, str], notes: Notes, *, ask: bool) -> None:
    """Ask about frames, or say that they were left out."""
    for k, reason in frames.items():
        x0, y0, x1, y1 = (float(v) for v in contours.boxes[k])
        what = f"the rectangle of {contours.chains[k].label}, {x1 - x0:g} × {y1 - y0:g} mm, {reason}"
        if ask:
            remedy = 'frames = "leave out" takes it for the frame of a sheet or title block, frames = "cut" for a part'
            notes.add("question", "frames", f"{what}: is it a frame?", (x0, y0), remedy)
        else:
            notes.add("left out", "frames", f"{what}: taken for a frame", (x0, y0))
