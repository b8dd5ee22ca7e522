"""RS-274 text out of ordered cuts, and motions out of RS-274 text."""

from cutplan.program.catalogue import find_postprocessor, list_postprocessors
from cutplan.program.dialect import Dialect
from cutplan.program.digest import digest, is_untouched, plan_digest, stamp
from cutplan.program.lint import Lint, LintLine, lint_postprocessor
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
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.reader import read_program
from cutplan.program.rows import ROW_COLUMNS, joined
from cutplan.program.writer import write_program

__all__ = [
    "ARC_CCW",
    "ARC_CW",
    "DWELL",
    "LINE",
    "RAPID",
    "ROW_COLUMNS",
    "SWITCH",
    "Dialect",
    "Lint",
    "LintLine",
    "Motions",
    "PostProcessor",
    "Program",
    "digest",
    "find_postprocessor",
    "is_untouched",
    "joined",
    "lint_postprocessor",
    "list_postprocessors",
    "plan_digest",
    "read_program",
    "stamp",
    "write_program",
]
