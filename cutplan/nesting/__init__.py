"""Parts laid out on plates."""

from cutplan.nesting.api import nest, nest_strip
from cutplan.nesting.model import Demand, Nest, NestRules, StripNest, Unplaced
from cutplan.nesting.stopping import MaxIterations, MaxSeconds, NoImprovement, Progress, StoppingRule

__all__ = [
    "Demand",
    "MaxIterations",
    "MaxSeconds",
    "Nest",
    "NestRules",
    "NoImprovement",
    "Progress",
    "StoppingRule",
    "StripNest",
    "Unplaced",
    "nest",
    "nest_strip",
]
