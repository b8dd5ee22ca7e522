"""Contours as the torch runs them: kerf offset, leads, feeds."""

from cutplan.cutting.cuttable import check_part, needs_marker
from cutplan.cutting.gaps import gaps_for
from cutplan.cutting.model import (
    Contour,
    CornerStyle,
    Cut,
    CuttingOptions,
    FeedSpan,
    LeadChoice,
    SheetCuts,
)
from cutplan.cutting.sheet import make_cuts

__all__ = [
    "Contour",
    "CornerStyle",
    "Cut",
    "CuttingOptions",
    "FeedSpan",
    "LeadChoice",
    "SheetCuts",
    "check_part",
    "gaps_for",
    "make_cuts",
    "needs_marker",
]
