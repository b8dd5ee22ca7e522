"""Parts laid out on plates."""

from cutplan.nesting.api import nest, nest_strip
from cutplan.nesting.conflicts import Conflict, conflicts_on
from cutplan.nesting.model import Demand, Nest, NestGaps, NestProgress, StripNest, Unplaced
from cutplan.nesting.rolling import along_rolling
from cutplan.nesting.rows import PlateRows, plate_rows, rows_taken
from cutplan.nesting.splits import LongPart, best_splits, splits_of

__all__ = [
    "Conflict",
    "Demand",
    "LongPart",
    "Nest",
    "NestGaps",
    "NestProgress",
    "PlateRows",
    "StripNest",
    "Unplaced",
    "along_rolling",
    "best_splits",
    "conflicts_on",
    "nest",
    "nest_strip",
    "plate_rows",
    "rows_taken",
    "splits_of",
]
