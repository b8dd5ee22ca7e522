"""Plates and remnants on offer."""

from cutplan.stock.grades import DENSITY_KG_M3, Grade, density_of, grade_of, material_of
from cutplan.stock.model import (
    MATERIALS,
    Material,
    Plate,
)

__all__ = [
    "DENSITY_KG_M3",
    "MATERIALS",
    "Grade",
    "Material",
    "Plate",
    "density_of",
    "grade_of",
    "material_of",
]
