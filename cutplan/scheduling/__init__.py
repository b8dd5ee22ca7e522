"""Work shared out over a shop's tables by process, size and due date, with a bound on how good it can be."""

from cutplan.scheduling.days import give_out, next_start
from cutplan.scheduling.model import Booked, Schedule, Shop, Table, Work
from cutplan.scheduling.shop_file import ShopFile, load_shop, read_shop_file
from cutplan.scheduling.work_list import WORK_COLUMNS, read_works

__all__ = [
    "WORK_COLUMNS",
    "Booked",
    "Schedule",
    "Shop",
    "ShopFile",
    "Table",
    "Work",
    "give_out",
    "load_shop",
    "next_start",
    "read_shop_file",
    "read_works",
]
