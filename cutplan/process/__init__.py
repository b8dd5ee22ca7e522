"""What plasma and oxy-fuel do to plate: cutting data by process, material and thickness."""

from cutplan.process.model import (
    CutData,
    GasFlow,
    Process,
    Rules,
)

__all__ = [
    "CutData",
    "GasFlow",
    "Process",
    "Rules",
]
