"""Contours as the torch runs them: kerf offset, leads, feeds."""

from cutplan.cutting.model import (
    Contour,
    CornerStyle,
    Cut,
    CuttingOptions,
    FeedSpan,
    LeadChoice,
    SheetCuts,
)

__all__ = [
    "Contour",
    "CornerStyle",
    "Cut",
    "CuttingOptions",
    "FeedSpan",
    "LeadChoice",
    "SheetCuts",
]
