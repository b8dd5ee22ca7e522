"""cutplan: from part drawings to proved cutting programs for plasma and oxy-fuel.

The front door for Python::

    import cutplan

    job = cutplan.load_job("parts/dolly-batch.toml")
    plan = cutplan.plan(job, progress=lambda stage, share: print(stage))
    for sheet in plan.sheets:
        print(sheet.name, sheet.utilisation, len(sheet.cuts), sheet.estimate)
    plan = cutplan.plan(job.with_quantity("gusset", 20))
    cutplan.write_plan(plan, "out")

Lengths are mm, times seconds, angles degrees.  In a notebook parts, nests, sheets and plans
show themselves as pictures.  Everything is loaded when it is first asked for.
"""

import importlib
from typing import TYPE_CHECKING, Any

from cutplan.base import pictures
from cutplan.base.version import __version__

if TYPE_CHECKING:
    from cutplan.base.errors import CutplanError, InputError, ProofError
    from cutplan.base.findings import Finding
    from cutplan.base.machine import Machine
    from cutplan.cutting import Chains, RestCut, SharedCuts, Tabs, Techniques
    from cutplan.drawing import (
        BasePlate,
        BeamWeb,
        BendLine,
        CutOuts,
        Drawing,
        Flange,
        FlangeStrip,
        Gusset,
        MarkText,
        Part,
        PartSplices,
        Rectangle,
        Ring,
        SlottedStrip,
        Splices,
        make_part,
        read_drawing,
        write_dxf,
    )
    from cutplan.editing import Edits, read_edits, write_edits
    from cutplan.estimating import Estimate
    from cutplan.forming import BlankFlange, BlankHole, FlangeProfile
    from cutplan.geometry import Path, arc, circle, join, polygon, polyline, reverse
    from cutplan.nesting import Nest
    from cutplan.planning import (
        CheckedDrawing,
        CheckedProgram,
        Job,
        NestedJob,
        check_drawing,
        estimate,
        load_job,
        nest,
        on_offer,
        parse_job,
        plan,
        verify,
        wanted,
        write_plan,
    )
    from cutplan.record import Joint, Plan, PlannedSheet, SavedPlan, joints_of, read_plan
    from cutplan.sequencing import Order, Step
    from cutplan.stock import NestedPlate, Placement, Plate
    from cutplan.verification import Verdict

__all__ = [
    "BasePlate",
    "BeamWeb",
    "BendLine",
    "BlankFlange",
    "BlankHole",
    "Chains",
    "CheckedDrawing",
    "CheckedProgram",
    "CutOuts",
    "CutplanError",
    "Drawing",
    "Edits",
    "Estimate",
    "Finding",
    "Flange",
    "FlangeProfile",
    "FlangeStrip",
    "Gusset",
    "InputError",
    "Job",
    "Joint",
    "Machine",
    "MarkText",
    "Nest",
    "NestedJob",
    "NestedPlate",
    "Order",
    "Part",
    "PartSplices",
    "Path",
    "Placement",
    "Plan",
    "PlannedSheet",
    "Plate",
    "ProofError",
    "Rectangle",
    "RestCut",
    "Ring",
    "SavedPlan",
    "SharedCuts",
    "SlottedStrip",
    "Splices",
    "Step",
    "Tabs",
    "Techniques",
    "Verdict",
    "__version__",
    "arc",
    "check_drawing",
    "circle",
    "estimate",
    "join",
    "joints_of",
    "load_job",
    "make_part",
    "nest",
    "on_offer",
    "parse_job",
    "plan",
    "polygon",
    "polyline",
    "read_drawing",
    "read_edits",
    "read_plan",
    "reverse",
    "verify",
    "wanted",
    "write_dxf",
    "write_edits",
    "write_plan",
]

# Compiler, searches and readers of drawings are behind these: each room is loaded when needed.
_ROOMS = {
    "base.errors": ("CutplanError", "InputError", "ProofError"),
    "base.findings": ("Finding",),
    "base.machine": ("Machine",),
    "cutting": ("Chains", "RestCut", "SharedCuts", "Tabs", "Techniques"),
    "drawing": (
        "BasePlate", "BeamWeb", "BendLine", "CutOuts", "Drawing", "Flange", "FlangeStrip", "Gusset", "MarkText",
        "Part", "PartSplices", "Rectangle", "Ring", "SlottedStrip", "Splices", "make_part", "read_drawing",
        "write_dxf",
    ),
    "editing": ("Edits", "read_edits", "write_edits"),
    "estimating": ("Estimate",),
    "forming": ("BlankFlange", "BlankHole", "FlangeProfile"),
    "geometry": ("Path", "arc", "circle", "join", "polygon", "polyline", "reverse"),
    "nesting": ("Nest",),
    "planning": (
        "CheckedDrawing", "CheckedProgram", "Job", "NestedJob", "check_drawing", "estimate", "load_job", "nest",
        "on_offer", "parse_job", "plan", "verify", "wanted", "write_plan",
    ),
    "record": ("Joint", "Plan", "PlannedSheet", "SavedPlan", "joints_of", "read_plan"),
    "sequencing": ("Order", "Step"),
    "stock": ("NestedPlate", "Placement", "Plate"),
    "verification": ("Verdict",),
}  # fmt: skip
_ROOM_OF = {name: room for room, names in _ROOMS.items() for name in names}

pictures.painted_by("cutplan.report")


def __getattr__(name: str) -> Any:
    if name not in _ROOM_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"cutplan.{_ROOM_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
