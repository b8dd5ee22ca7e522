"""From a job to a proved plan in its folder: the only room that knows all those below."""

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cutplan.planning.alignment import (
        Aligned,
        align_program,
        lying_outline,
        plate_lie,
        write_aligned,
    )
    from cutplan.planning.bookings import book_out, left_behind, planned_before, reserved
    from cutplan.planning.comparing import compare_job
    from cutplan.planning.drawing_checks import (
        CheckedDrawing,
        check_drawing,
        check_drawings,
        check_job,
        drawings_in,
    )
    from cutplan.planning.engine import Engine
    from cutplan.planning.flow import nest_job, plan_job, strip_job
    from cutplan.planning.folders import locked
    from cutplan.planning.group_nests import as_plate
    from cutplan.planning.handwork import Handwork
    from cutplan.planning.job import Job, load_job, parse_job
    from cutplan.planning.output import write_files
    from cutplan.planning.preparation import Group
    from cutplan.planning.program_check import CheckedProgram, LeftOut, check_program
    from cutplan.planning.restart import Restarted, restart_program, write_restart
    from cutplan.planning.scripting import (
        NestedJob,
        estimate,
        nest,
        on_offer,
        plan,
        verify,
        wanted,
        write_plan,
    )
    from cutplan.planning.shop_days import works_in
    from cutplan.planning.standing import refuse_another
    from cutplan.planning.stops import RestartWishes
    from cutplan.planning.workers import opened

__all__ = [
    "Aligned",
    "CheckedDrawing",
    "CheckedProgram",
    "Engine",
    "Group",
    "Handwork",
    "Job",
    "LeftOut",
    "NestedJob",
    "RestartWishes",
    "Restarted",
    "align_program",
    "as_plate",
    "book_out",
    "check_drawing",
    "check_drawings",
    "check_job",
    "check_program",
    "compare_job",
    "drawings_in",
    "estimate",
    "kerf_piece_job",
    "kerf_readings_form",
    "left_behind",
    "load_job",
    "locked",
    "lying_outline",
    "nest",
    "nest_job",
    "on_offer",
    "opened",
    "parse_job",
    "plan",
    "plan_job",
    "planned_before",
    "plate_lie",
    "quote_job",
    "refuse_another",
    "reserved",
    "restart_program",
    "strip_job",
    "verify",
    "wanted",
    "works_in",
    "write_aligned",
    "write_files",
    "write_plan",
    "write_restart",
]

# The flow brings compiler and searches with it: each name is loaded when first asked for.
_HOMES = {
    "shop_days": ("works_in",),
    "alignment": ("Aligned", "align_program", "lying_outline", "plate_lie", "write_aligned"),
    "bookings": ("book_out", "left_behind", "planned_before", "reserved"),
    "comparing": ("compare_job",),
    "flow": ("nest_job", "plan_job", "strip_job"),
    "output": ("write_files",),
    "engine": ("Engine",),
    "workers": ("opened",),
    "folders": ("locked",),
    "handwork": ("Handwork",),
    "group_nests": ("as_plate",),
    "job": ("Job", "load_job", "parse_job"),
    "preparation": ("Group",),
    "quoting": ("quote_job",),
    "stops": ("RestartWishes",),
    "restart": ("Restarted", "restart_program", "write_restart"),
    "scripting": ("NestedJob", "estimate", "nest", "on_offer", "plan", "verify", "wanted", "write_plan"),
    "program_check": ("CheckedProgram", "LeftOut", "check_program"),
    "standing": ("refuse_another",),
    "kerf_pieces": ("kerf_piece_job", "kerf_readings_form"),
    "drawing_checks": ("CheckedDrawing", "check_drawing", "check_drawings", "check_job", "drawings_in"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"cutplan.planning.{_HOME_OF[name]}"), name)
