"""Bend lines: strokes on bend layers with the angle, radius and direction that notes give them."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.drawing.model import BendLine
from cutplan.drawing.notes import Notes, at
from cutplan.drawing.strokes import Stroke
from cutplan.drawing.texts import TextLine

__all__ = ["BendNote", "bend_lines", "read_bend_note"]

# A note belongs to a bend line within this many letter heights of it.
NOTE_REACH = 12.0
# Square, by common practice where a drawing says nothing.
DEFAULT_ANGLE = 90.0

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_RADIUS = re.compile(rf"(?<![A-Z])(?:R|RAD|RADIUS)\.?\s*[=:]?\s*{_NUMBER}", re.IGNORECASE)
_MARKED_ANGLE = re.compile(rf"{_NUMBER}\s*(?:°|DEG\b|DEGREES?\b)|(?:ANGLE|∠)\s*[=:]?\s*{_NUMBER}", re.I)
_BARE_ANGLE = re.compile(rf"(?<![A-Z0-9.,=]){_NUMBER}(?![0-9.,]*\s*(?:MM|IN)\b|[0-9.,]*[A-Z%])", re.I)
_DIRECTION = re.compile(r"(?<![A-Z])(UP|DOWN|DN)(?![A-Z])", re.IGNORECASE)


@dataclass(frozen=True)
class BendNote:
    """What a note says; None for what it leaves open."""

    angle_deg: float | None = None
    radius: float | None = None
    direction: str | None = None


def read_bend_note(text: str) -> BendNote | None:
    """Return what a text such as "UP 90 R10" or "90° R12" says of a bend; None if nothing.

    The radius is in the units of the drawing.
    """
    radius = _RADIUS.search(text)
    rest = text[: radius.start()] + " " + text[radius.end() :] if radius else text
    marked = _MARKED_ANGLE.search(rest) or _BARE_ANGLE.search(rest)
    angle = None
    if marked:
        value = _value(next(group for group in marked.groups() if group))
        angle = value if 0.0 < value < 180.0 else None
    way = _DIRECTION.search(rest)
    direction = None if way is None else "up" if way.group(1).upper() == "UP" else "down"
    if radius is None and angle is None and direction is None:
        return None
    return BendNote(angle, _value(radius.group(1)) if radius else None, direction)


def _value(digits: str) -> float:
    return float(digits.replace(",", "."))


def bend_lines(
    strokes: Sequence[Stroke], texts: Sequence[TextLine], unit: float, notes: Notes
) -> list[BendLine]:
    """Return the bend lines of a drawing.

    Each note goes to the line nearest to it; where no note is near, the layer's name may
    speak ("BEND_UP_45"), and then a bend is square.

    Parameters
    ----------
    strokes : sequence of Stroke
        What stands on bend layers.
    texts : sequence of TextLine
        Texts on bend layers.
    unit : float
        Length of a drawing unit, mm, for radii in notes.
    notes : Notes
    """
    lines, layers = _straight_lines(strokes, notes)
    if not lines:
        return []
    said = _said(lines, texts, notes)
    result = []
    for line, layer, note in zip(lines, layers, said, strict=True):
        note = note or read_bend_note(layer)
        if note is None or note.angle_deg is None:
            middle = (0.5 * (line.start[0] + line.end[0]), 0.5 * (line.start[1] + line.end[1]))
            message = f"no angle stands at a bend line; {DEFAULT_ANGLE:g}° is taken"
            notes.add(
                "warning", "bends without angle", message, middle, 'write a note such as "UP 90 R10" by it'
            )
        if note is not None:
            line = replace(
                line,
                angle_deg=note.angle_deg or DEFAULT_ANGLE,
                radius_mm=None if note.radius is None else note.radius * unit,
                direction=note.direction,  # type: ignore[arg-type]
            )
        result.append(line)
    return result


def _straight_lines(strokes: Sequence[Stroke], notes: Notes) -> tuple[list[BendLine], list[str]]:
    lines, layers = [], []
    for stroke in strokes:
        rows = stroke.rows
        if stroke.closed or rows[:, 2].any():
            message = f"{stroke.source} on layer {stroke.layer!r} is no straight bend line and was left out"
            remedy = "draw a line from edge to edge"
            notes.add("warning", "bends that are not straight", message, at(rows[0]), remedy)
            continue
        for a, b in itertools.pairwise(rows):
            if math.hypot(b[0] - a[0], b[1] - a[1]) > 0.0:
                lines.append(BendLine(at(a), at(b), DEFAULT_ANGLE))
                layers.append(stroke.layer)
    return lines, layers


def _said(lines: list[BendLine], texts: Sequence[TextLine], notes: Notes) -> list[BendNote | None]:
    """Return the note of each line, from the nearest text that says something of a bend."""
    starts = np.array([line.start for line in lines])
    along = np.array([line.end for line in lines]) - starts
    square = np.sum(along * along, axis=1)
    best: list[tuple[float, BendNote | None]] = [(math.inf, None)] * len(lines)
    for line in texts:
        text = line.text
        note = read_bend_note(text.text)
        if note is None:
            message = f"the text {text.text!r} on a bend layer says nothing of a bend"
            notes.add(
                "warning", "bend notes not understood", message, text.place, 'write it like "UP 90 R10"'
            )
            continue
        place = np.array(text.place)
        share = np.clip(np.sum((place - starts) * along, axis=1) / square, 0.0, 1.0)
        apart = np.hypot(*(starts + share[:, None] * along - place).T)
        k = int(np.argmin(apart))
        if apart[k] > NOTE_REACH * text.height:
            message = f"the note {text.text!r} stands too far from any bend line to belong to it"
            notes.add("warning", "bend notes far off", message, text.place, "move it to its line")
        elif apart[k] < best[k][0]:
            best[k] = (float(apart[k]), note)
    return [note for _, note in best]
