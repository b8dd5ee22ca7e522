"""The order of cutting, the pierce of each cut and the travel between them."""

from typing import TYPE_CHECKING, Any

from cutplan.sequencing.model import (
    Order,
    Pin,
    SequenceOptions,
    Step,
    Travel,
    Which,
)
from cutplan.sequencing.stopping import MaxSeconds, MaxWork, StoppingRule

if TYPE_CHECKING:
    from cutplan.sequencing.planning import sequence

__all__ = [
    "MaxSeconds",
    "MaxWork",
    "Order",
    "Pin",
    "SequenceOptions",
    "Step",
    "StoppingRule",
    "Travel",
    "Which",
    "sequence",
]


def __getattr__(name: str) -> Any:
    # The search brings the compiler with it: loaded when it is first asked for.
    if name == "sequence":
        from cutplan.sequencing.planning import sequence

        return sequence
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
