"""RS-274 text out of ordered cuts, and motions out of RS-274 text."""

from cutplan.program.model import (
    ARC_CCW,
    ARC_CW,
    DWELL,
    LINE,
    RAPID,
    SWITCH,
    Motions,
    Program,
)

__all__ = [
    "ARC_CCW",
    "ARC_CW",
    "DWELL",
    "LINE",
    "RAPID",
    "SWITCH",
    "Motions",
    "Program",
]
