"""Parts laid out on plates."""

from cutplan.nesting.model import (
    Demand,
    Nest,
    NestedPlate,
    NestRules,
    Placement,
    Unplaced,
)

__all__ = ["Demand", "Nest", "NestRules", "NestedPlate", "Placement", "Unplaced"]
