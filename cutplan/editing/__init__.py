"""Edits of a plan as data, and what comes of them: how parts lie, and what is asked of their cuts."""

from cutplan.editing.apply import applied, edit_words, replayed
from cutplan.editing.file import Edits, EditStart, edit_of, edits_text, read_edits, write_edits
from cutplan.editing.laying import refuse_conflicts
from cutplan.editing.model import CutRow, Edit, Layout, OrderOf, Quantity, SheetLaid, UnplacedRow, UseData
from cutplan.editing.state import Bench, LaidSheet, State
from cutplan.editing.wishes import SheetWishes, wishes_of

__all__ = [
    "Bench",
    "CutRow",
    "Edit",
    "EditStart",
    "Edits",
    "LaidSheet",
    "Layout",
    "OrderOf",
    "Quantity",
    "SheetLaid",
    "SheetWishes",
    "State",
    "UnplacedRow",
    "UseData",
    "applied",
    "edit_of",
    "edit_words",
    "edits_text",
    "read_edits",
    "refuse_conflicts",
    "replayed",
    "wishes_of",
    "write_edits",
]
