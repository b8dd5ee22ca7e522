"""Parts laid out on plates."""

from cutplan.nesting.api import nest, nest_strip
from cutplan.nesting.lanes import ONE_TORCH, Lanes, first_lane, in_step, lane_plates, repeated
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
    "ONE_TORCH",
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
    "in_step",
    "lane_plates",
    "nest",
    "nest_strip",
    "repeated",
]
