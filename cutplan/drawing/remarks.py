"""Texts to the parts they speak of: on the part, beside it, or of the drawing as a whole."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from cutplan.drawing.assemble import Draft
from cutplan.drawing.contours import Contours
from cutplan.drawing.model import MarkText, Note
from cutplan.drawing.texts import LETTER_WIDTH, TextLine
from cutplan.drawing.wording import meanings
from cutplan.geometry import FloatArray, contains, distance

__all__ = ["hand_out_notes"]

# A text belongs to the part nearest to it within this many letter heights.
REACH = 12.0
# Another part that is less than this much farther away, in letter heights, makes it unsure.
CLEARLY_NEARER = 2.0


def hand_out_notes(
    lines: Sequence[TextLine],
    drafts: Sequence[Draft],
    contours: Contours,
    patterns: Mapping[str, Sequence[str]] | None,
) -> tuple[Note, ...]:
    """Give the texts of a drawing to its parts; returns those that belong to none.

    A text goes to the part it stands on, else to the nearest within reach.  Where there is one
    part only, what says something of a part is taken to speak of that one.

    Parameters
    ----------
    lines : sequence of TextLine
    drafts : sequence of Draft
        Take their notes.
    contours : Contours
    patterns : mapping or None
        The job's own, see `cutplan.drawing.wording.meanings`.
    """
    rest: list[Note] = []
    boxes = contours.boxes[[draft.outer for draft in drafts]] if drafts else np.zeros((0, 4))
    for line in dict.fromkeys(line.text for line in lines):
        values = meanings(line.text, patterns)
        places = _stretch(line)
        apart = _apart(places, drafts, contours, boxes, REACH * line.height)
        order = np.argsort(apart, kind="stable")
        near = len(order) > 0 and apart[order[0]] <= REACH * line.height
        if not near and not (len(drafts) == 1 and values):
            rest.append(Note(line.text, line.place, values, beside=True))
            continue
        beside = bool(apart[order[0]] > 0.0)
        margin = apart[order[1]] - apart[order[0]] if len(order) > 1 else math.inf
        sure = not beside or bool(margin > CLEARLY_NEARER * line.height)
        along = tuple((float(x), float(y)) for x, y in places)
        note = Note(line.text, line.place, values, beside, sure, line.height, along)
        drafts[int(order[0])].notes.append(note)
    return tuple(rest)


def _stretch(text: MarkText) -> FloatArray:
    """Return the ends and the middle of a text's base line."""
    turn = math.radians(text.rotation_deg)
    width = LETTER_WIDTH * text.height * len(text.text)
    way = width * np.array([math.cos(turn), math.sin(turn)])
    return np.asarray(np.array(text.place) + np.outer([0.0, 0.5, 1.0], way))


def _apart(
    places: FloatArray, drafts: Sequence[Draft], contours: Contours, boxes: FloatArray, reach: float
) -> FloatArray:
    """Return how far a text is from each part; 0 on it, infinite out of reach."""
    apart = np.full(len(drafts), np.inf)
    low, high = places.min(axis=0), places.max(axis=0)
    aside = np.maximum(np.maximum(boxes[:, :2] - high, low - boxes[:, 2:]), 0.0)
    for k in np.flatnonzero(np.hypot(aside[:, 0], aside[:, 1]) <= reach).tolist():
        outer = contours.path(drafts[k].outer)
        inside = contains(outer, places)
        in_hole = [contains(contours.path(h), places[:1])[0] for h in drafts[k].holes]
        on = bool(inside[0] or inside[1]) and not any(in_hole)
        apart[k] = 0.0 if on else float(distance(outer, places).min())
    return apart
