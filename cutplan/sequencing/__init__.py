"""The order of cutting, the pierce of each cut and the travel between them."""

from cutplan.sequencing.model import (
    Order,
    Step,
    Travel,
)

__all__ = [
    "Order",
    "Step",
    "Travel",
]
