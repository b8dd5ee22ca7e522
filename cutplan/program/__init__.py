"""RS-274 text out of ordered cuts, through post-processors."""

from cutplan.program.catalogue import find_postprocessor, list_postprocessors
from cutplan.program.explain import ExplainedLine, Explanation, explain_postprocessor
from cutplan.program.model import Program
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.turning import turned_program
from cutplan.program.writer import write_program

__all__ = [
    "ExplainedLine",
    "Explanation",
    "PostProcessor",
    "Program",
    "explain_postprocessor",
    "find_postprocessor",
    "list_postprocessors",
    "turned_program",
    "write_program",
]
