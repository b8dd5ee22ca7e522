"""How a control reads RS-274: dialect, reader, and the motions that come of a text."""

from cutplan.control.dialect import Dialect
from cutplan.control.digest import digest, is_untouched, plan_digest, stamp
from cutplan.control.motions import (
    ARC_CCW,
    ARC_CW,
    DWELL,
    LINE,
    RAPID,
    ROW_COLUMNS,
    SWITCH,
    Motions,
    joined,
)
from cutplan.control.reader import read_program

__all__ = [
    "ARC_CCW",
    "ARC_CW",
    "DWELL",
    "LINE",
    "RAPID",
    "ROW_COLUMNS",
    "SWITCH",
    "Dialect",
    "Motions",
    "digest",
    "is_untouched",
    "joined",
    "plan_digest",
    "read_program",
    "stamp",
]
