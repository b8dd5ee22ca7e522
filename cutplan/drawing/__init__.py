"""Drawings in: DXF files become parts, with notes on what was healed."""

from cutplan.drawing.model import (
    BendLine,
    Drawing,
    Finding,
    MarkText,
    Part,
)

__all__ = [
    "BendLine",
    "Drawing",
    "Finding",
    "MarkText",
    "Part",
]
