"""Programs held against the drawings before they leave."""

from cutplan.verification.bevel_proof import unmade_bevels, verify_bevels
from cutplan.verification.model import (
    FAULT_CODES,
    Before,
    Done,
    Fault,
    Planned,
    PlannedBevels,
    PlannedCut,
    PlannedMake,
    PlannedTab,
    Verdict,
)
from cutplan.verification.proof import TOLERANCE_MM, offcuts, skeleton, tab_widths, verify

__all__ = [
    "FAULT_CODES",
    "TOLERANCE_MM",
    "Before",
    "Done",
    "Fault",
    "Planned",
    "PlannedBevels",
    "PlannedCut",
    "PlannedMake",
    "PlannedTab",
    "Verdict",
    "offcuts",
    "skeleton",
    "tab_widths",
    "unmade_bevels",
    "verify",
    "verify_bevels",
]
