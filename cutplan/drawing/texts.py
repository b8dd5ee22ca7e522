"""Texts in drawings: where TEXT, ATTRIB and MTEXT stand, line by line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from cutplan.base.errors import DrawingError
from cutplan.drawing.frames import Frame, object_frame
from cutplan.drawing.model import MarkText
from cutplan.drawing.strokes import FARTHEST, Source

__all__ = ["TextLine", "read_mtext", "read_text"]

# Width of a letter over its height, to find the left end of centred text; common practice
# for single-stroke lettering.
LETTER_WIDTH = 0.8
# Distance of MTEXT base lines over the letter height at a spacing factor of 1 (DXF reference).
LINE_SPACING = 5.0 / 3.0
# TEXT alignments (DXF reference, group codes 72 and 73) as shares of width and height.
_ACROSS = {1: 0.5, 2: 1.0, 4: 0.5}
_UP = {2: 0.5, 3: 1.0}
_MIDDLE = 4


@dataclass(frozen=True)
class TextLine:
    """One line of text and the entity it comes from."""

    text: MarkText
    layer: str
    source: Source


@dataclass(frozen=True)
class _Anchor:
    """Where a text hangs: a point in its own coordinates, direction, letter height."""

    x: float
    y: float
    rotation_deg: float
    height: float
    width_factor: float = 1.0


def read_text(entity: Any, frame: Frame) -> list[MarkText]:
    """Read a TEXT or an ATTRIB."""
    dxf = entity.dxf
    words = entity.plain_text().strip()
    if not words:
        return []
    across, up = int(dxf.get("halign", 0)), int(dxf.get("valign", 0))
    aligned = (across, up) != (0, 0) and dxf.hasattr("align_point")
    place = dxf.align_point if aligned and across not in (3, 5) else dxf.insert
    share = (
        (_ACROSS.get(across, 0.0), 0.5 if across == _MIDDLE else _UP.get(up, 0.0)) if aligned else (0.0, 0.0)
    )
    anchor = _Anchor(place.x, place.y, float(dxf.rotation), float(dxf.height), float(dxf.get("width", 1.0)))
    return [_placed(words, anchor, share, frame @ object_frame(dxf.extrusion))]


def read_mtext(entity: Any, frame: Frame) -> list[MarkText]:
    """Read an MTEXT, a line each."""
    dxf = entity.dxf
    lines = [line.strip() for line in entity.plain_text(split=True)]
    height = float(dxf.char_height)
    rise = height * LINE_SPACING * float(dxf.get("line_spacing_factor", 1.0))
    block = height + rise * (len(lines) - 1)
    attachment = int(dxf.get("attachment_point", 1))
    across = 0.5 * ((attachment - 1) % 3)
    top = block * (1.0, 0.5, 0.0)[(attachment - 1) // 3] if 1 <= attachment <= 9 else block
    # What is above the insertion point at attachment "top" hangs below it.
    first = block - top
    angle = math.radians(entity.get_rotation())
    object_frame(dxf.extrusion)
    texts = []
    for k, line in enumerate(lines):
        lift = first - height - rise * k
        x = dxf.insert.x - lift * math.sin(angle)
        y = dxf.insert.y + lift * math.cos(angle)
        if line:
            anchor = _Anchor(x, y, math.degrees(angle), height)
            texts.append(_placed(line, anchor, (across, 0.0), frame))
    return texts


def _placed(words: str, anchor: _Anchor, share: tuple[float, float], frame: Frame) -> MarkText:
    """Return a line of text in drawing coordinates; under a mirror it stays readable."""
    angle = math.radians(anchor.rotation_deg)
    c, s = math.cos(angle), math.sin(angle)
    width = LETTER_WIDTH * anchor.height * anchor.width_factor * len(words)
    right, down = -share[0] * width, -share[1] * anchor.height
    mirrored = frame.determinant < 0.0
    if mirrored:
        right += width
    corner = frame.point(anchor.x + right * c - down * s, anchor.y + right * s + down * c)
    along = frame.vector(-c, -s) if mirrored else frame.vector(c, s)
    height = anchor.height * math.sqrt(abs(frame.determinant))
    values = (*corner, *along, height)
    if not all(math.isfinite(v) and abs(v) <= FARTHEST for v in values) or not height > 0.0:
        raise DrawingError("its place or height is no usable number", remedy="write it again")
    return MarkText(words, corner, height, math.degrees(math.atan2(along[1], along[0])))
