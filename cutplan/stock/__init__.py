"""Plates and remnants on offer: from a job file, or from the shop's own inventory."""

from cutplan.stock.grades import DENSITY_KG_M3, Grade, density_of, grade_of, material_of
from cutplan.stock.inventory import Inventory, default_inventory
from cutplan.stock.model import (
    MATERIALS,
    Material,
    Plate,
)
from cutplan.stock.piece import PartMark, Piece

__all__ = [
    "DENSITY_KG_M3",
    "MATERIALS",
    "Grade",
    "Inventory",
    "Material",
    "PartMark",
    "Piece",
    "Plate",
    "default_inventory",
    "density_of",
    "grade_of",
    "material_of",
]
