"""Parts laid out on plates."""

from cutplan.nesting.api import nest, nest_strip
from cutplan.nesting.conflicts import Conflict, conflicts_on
from cutplan.nesting.model import Demand, Nest, NestGaps, NestProgress, StripNest, Unplaced
from cutplan.nesting.rolling import along_rolling

__all__ = [
    "Conflict",
    "Demand",
    "Nest",
    "NestGaps",
    "NestProgress",
    "StripNest",
    "Unplaced",
    "along_rolling",
    "conflicts_on",
    "nest",
    "nest_strip",
]
