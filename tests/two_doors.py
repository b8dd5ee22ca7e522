"""A part through `check` and through `plan`, and whether the two agree."""

from __future__ import annotations

from pathlib import Path

from cutplan.base.errors import CutplanError
from cutplan.drawing import Part, part_layers, write_dxf
from cutplan.geometry import bounds
from cutplan.planning import check_job, load_job, plan

__all__ = ["through_both_doors"]

THICKNESSES = {"plasma": (6, 10, 16), "oxyfuel": (10, 20, 30)}
JOB = """[job]
name = "doors"
[machine]
table = [3000, 2000]
marker = {marker}
water_table = {wet}
[cutting]
process = "{process}"
[nesting]
seconds = 0.05
[order]
effort = 0.05
[[plate]]
id = "P"
length = {length}
width = {width}
thickness = {thickness}
grade = "S355"
[[part]]
drawing = "part.dxf"
quantity = 1
thickness = {thickness}
grade = "S355"
"""


def through_both_doors(part: Part, folder: Path, seed: int, process: str = "plasma") -> tuple[str, str]:
    """Return what came of a part, and the words of who refused it."""
    write_dxf(folder / "part.dxf", part_layers([part]))
    x0, y0, x1, y1 = bounds(part.outer)
    side = 2.0 * max(x1 - x0, y1 - y0) + 120.0
    thickness = THICKNESSES[process][seed // 7 % 3]
    wet, marker = str(process == "plasma").lower(), str(seed % 2 == 0).lower()
    words = JOB.format(length=side, width=side, thickness=thickness, process=process, wet=wet, marker=marker)
    (folder / "job.toml").write_text(words)
    job = load_job(folder / "job.toml")
    (checked,) = check_job(job)
    refused = "; ".join(str(f) for f in checked.findings if f.kind in ("refused", "question"))
    placed = all(f.place is not None for f in checked.findings if f.kind == "refused")
    try:
        made = plan(job)
    except CutplanError as error:
        if not refused:
            return f"WRONG: checked, then {type(error).__name__}", str(error)
        return ("refused by both", refused) if placed else ("WRONG: refused without a place", refused)
    if refused:
        return "WRONG: refused by the check alone", refused
    return ("planned", "") if not made.unplaced else ("WRONG: not placed", made.unplaced[0].reason)
