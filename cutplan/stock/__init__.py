"""Plates and remnants on offer."""

from cutplan.stock.model import (
    MATERIALS,
    Material,
    Plate,
)

__all__ = [
    "MATERIALS",
    "Material",
    "Plate",
]
