"""Contours as the torch runs them: kerf offset, leads, feeds."""

from cutplan.cutting.bevels import (
    BevelCuts,
    BevelHead,
    bevel_angles,
    bevel_cuts,
    bevel_foot,
    bevel_refusals,
    clear_of_grooves,
)
from cutplan.cutting.blocks import block_outline, may_share
from cutplan.cutting.chained import chained_cut, shared_stretches
from cutplan.cutting.cuttable import check_part, needs_marker
from cutplan.cutting.gaps import gaps_for
from cutplan.cutting.lean import Lean
from cutplan.cutting.model import (
    ByHand,
    CornerStyle,
    Cut,
    CutKind,
    CuttingOptions,
    FeedSpan,
    LeadChoice,
    Links,
    Made,
    SheetCuts,
    Tab,
    cut_name,
    length_made,
    made_name,
)
from cutplan.cutting.resuming import on_placements, taken_up
from cutplan.cutting.sheet import make_cuts
from cutplan.cutting.slender import camber_mm, is_slender
from cutplan.cutting.techniques import Chains, RestCut, SharedCuts, Tabs, Techniques
from cutplan.cutting.times import CutTime, cut_time

__all__ = [
    "BevelCuts",
    "BevelHead",
    "ByHand",
    "Chains",
    "CornerStyle",
    "Cut",
    "CutKind",
    "CutTime",
    "CuttingOptions",
    "FeedSpan",
    "LeadChoice",
    "Lean",
    "Links",
    "Made",
    "RestCut",
    "SharedCuts",
    "SheetCuts",
    "Tab",
    "Tabs",
    "Techniques",
    "bevel_angles",
    "bevel_cuts",
    "bevel_foot",
    "bevel_refusals",
    "block_outline",
    "camber_mm",
    "chained_cut",
    "check_part",
    "clear_of_grooves",
    "cut_name",
    "cut_time",
    "gaps_for",
    "is_slender",
    "length_made",
    "made_name",
    "make_cuts",
    "may_share",
    "needs_marker",
    "on_placements",
    "shared_stretches",
    "taken_up",
]
