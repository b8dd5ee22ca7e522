"""What plasma and oxy-fuel do to plate: cutting data by process, material and thickness."""

from cutplan.process.library import AUTO_PLASMA_LIMIT_MM, Library, load_cutting_data
from cutplan.process.model import (
    CutData,
    GasFlow,
    Process,
    Rules,
)
from cutplan.process.rules import default_rules
from cutplan.process.table import CuttingTable

__all__ = [
    "AUTO_PLASMA_LIMIT_MM",
    "CutData",
    "CuttingTable",
    "GasFlow",
    "Library",
    "Process",
    "Rules",
    "default_rules",
    "load_cutting_data",
]
