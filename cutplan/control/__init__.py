"""How a control reads RS-274: dialect, reader, and the motions that come of a text."""

from cutplan.control.comments import acts, harmless_text
from cutplan.control.dialect import MODES, Dialect
from cutplan.control.digest import (
    bound_to,
    digest,
    is_untouched,
    overall_digest,
    plan_digest,
    plan_digests,
    stamp,
)
from cutplan.control.head import Head, HeadTurn, head_angles, jet_at, rotary_letters
from cutplan.control.kinematics import block_lengths, block_times, segment_times
from cutplan.control.motions import (
    ARC_CCW,
    ARC_CW,
    DWELL,
    LINE,
    RAPID,
    ROW_COLUMNS,
    STOP,
    SWITCH,
    Doubt,
    Motions,
    joined,
)
from cutplan.control.reader import read_files, read_program
from cutplan.control.reading import Reading, as_read

__all__ = [
    "ARC_CCW",
    "ARC_CW",
    "DWELL",
    "LINE",
    "MODES",
    "RAPID",
    "ROW_COLUMNS",
    "STOP",
    "SWITCH",
    "Dialect",
    "Doubt",
    "Head",
    "HeadTurn",
    "Motions",
    "Reading",
    "acts",
    "as_read",
    "block_lengths",
    "block_times",
    "bound_to",
    "digest",
    "harmless_text",
    "head_angles",
    "is_untouched",
    "jet_at",
    "joined",
    "overall_digest",
    "plan_digest",
    "plan_digests",
    "read_files",
    "read_program",
    "rotary_letters",
    "segment_times",
    "stamp",
]
