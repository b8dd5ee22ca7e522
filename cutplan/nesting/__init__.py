"""Parts laid out on plates."""

from cutplan.nesting.api import nest, nest_strip
from cutplan.nesting.lanes import Lanes, first_lane, lane_plates, repeated, shared_out
from cutplan.nesting.model import (
    Demand,
    Nest,
    NestedPlate,
    NestRules,
    Placement,
    StripNest,
    Unplaced,
)
from cutplan.nesting.stopping import MaxIterations, MaxSeconds, NoImprovement, Progress, StoppingRule

__all__ = [
    "Demand",
    "Lanes",
    "MaxIterations",
    "MaxSeconds",
    "Nest",
    "NestRules",
    "NestedPlate",
    "NoImprovement",
    "Placement",
    "Progress",
    "StoppingRule",
    "StripNest",
    "Unplaced",
    "first_lane",
    "lane_plates",
    "nest",
    "nest_strip",
    "repeated",
    "shared_out",
]
