"""Parts laid out on plates."""

from cutplan.nesting.api import nest, nest_strip
from cutplan.nesting.model import Demand, Nest, NestGaps, NestProgress, StripNest, Unplaced

__all__ = [
    "Demand",
    "Nest",
    "NestGaps",
    "NestProgress",
    "StripNest",
    "Unplaced",
    "nest",
    "nest_strip",
]
