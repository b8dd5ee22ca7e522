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
from cutplan.cutting.times import CutTime, cut_time

__all__ = [
    "Contour",
    "CornerStyle",
    "Cut",
    "CutTime",
    "CuttingOptions",
    "FeedSpan",
    "LeadChoice",
    "SheetCuts",
    "check_part",
    "cut_time",
    "gaps_for",
    "make_cuts",
    "needs_marker",
]
