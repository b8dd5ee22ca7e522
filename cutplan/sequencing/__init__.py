"""The order of cutting, the pierce of each cut and the travel between them."""

import importlib
from typing import TYPE_CHECKING, Any

from cutplan.sequencing.model import (
    AMBIENT_C,
    CutKey,
    Kept,
    Order,
    OrderHeat,
    OrderWishes,
    Pin,
    SequenceOptions,
    Step,
    Travel,
    Which,
    shares_of,
)

if TYPE_CHECKING:
    from cutplan.sequencing.api import sequence
    from cutplan.sequencing.heat import heat_per_mm, plate_heat
    from cutplan.sequencing.kept import cut_keys
    from cutplan.sequencing.order_heat import HeatSource, heat_report

__all__ = [
    "AMBIENT_C",
    "CutKey",
    "HeatSource",
    "Kept",
    "Order",
    "OrderHeat",
    "OrderWishes",
    "Pin",
    "SequenceOptions",
    "Step",
    "Travel",
    "Which",
    "cut_keys",
    "heat_per_mm",
    "heat_report",
    "plate_heat",
    "sequence",
    "shares_of",
]


# The search and the heat model bring the compiler with them: loaded when first asked for.
_COMPILED = {
    "HeatSource": "cutplan.sequencing.order_heat",
    "cut_keys": "cutplan.sequencing.kept",
    "heat_per_mm": "cutplan.sequencing.heat",
    "heat_report": "cutplan.sequencing.order_heat",
    "plate_heat": "cutplan.sequencing.heat",
    "sequence": "cutplan.sequencing.api",
}


def __getattr__(name: str) -> Any:
    if name not in _COMPILED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_COMPILED[name]), name)
