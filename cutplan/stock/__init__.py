"""Plates and remnants on offer: from a job file, or from the shop's own inventory."""

from cutplan.stock.grades import DENSITY_KG_M3, Grade, density_of, grade_of, material_of
from cutplan.stock.inventory import Inventory, default_inventory
from cutplan.stock.lanes import ONE_TORCH, Lanes, first_lane, in_bands, lane_plates, repeated, strip_width
from cutplan.stock.ledger import Owing
from cutplan.stock.listing import STOCK_COLUMNS, StockList, read_stock_list
from cutplan.stock.lying import Lie, as_it_lies, beyond_plate, lie_of, skew_allowed, touch_points
from cutplan.stock.model import MATERIALS, PASSING_MM, Keepout, Material, Plate
from cutplan.stock.nested import NestedPlate, Placement
from cutplan.stock.outline import read_outline
from cutplan.stock.piece import (
    LONGEST_LABEL,
    Batch,
    Change,
    Demanded,
    PartMark,
    Pending,
    Piece,
    PlannedMark,
    Run,
)
from cutplan.stock.remnant import KEEP_MM, RemnantShape, remnant_shapes
from cutplan.stock.rescue import Rescued, inventory_problems, rescue_inventory
from cutplan.stock.serving import shortfall
from cutplan.stock.wording import detail_words

__all__ = [
    "DENSITY_KG_M3",
    "KEEP_MM",
    "LONGEST_LABEL",
    "MATERIALS",
    "ONE_TORCH",
    "PASSING_MM",
    "STOCK_COLUMNS",
    "Batch",
    "Change",
    "Demanded",
    "Grade",
    "Inventory",
    "Keepout",
    "Lanes",
    "Lie",
    "Material",
    "NestedPlate",
    "Owing",
    "PartMark",
    "Pending",
    "Piece",
    "Placement",
    "PlannedMark",
    "Plate",
    "RemnantShape",
    "Rescued",
    "Run",
    "StockList",
    "as_it_lies",
    "beyond_plate",
    "default_inventory",
    "density_of",
    "detail_words",
    "first_lane",
    "grade_of",
    "in_bands",
    "inventory_problems",
    "lane_plates",
    "lie_of",
    "material_of",
    "read_outline",
    "read_stock_list",
    "remnant_shapes",
    "repeated",
    "rescue_inventory",
    "shortfall",
    "skew_allowed",
    "strip_width",
    "touch_points",
]
