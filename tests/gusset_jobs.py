"""A batch of gussets with slots in thin plate, from drawing to job file: travel counts for most there."""

from __future__ import annotations

from pathlib import Path as FilePath

from cutplan.drawing import write_dxf
from cutplan.geometry import Path, circle, polygon, reverse

THICKNESS = 6.0
LONG, HIGH, NOSE = 210.0, 160.0, 40.0
SLOT_LENGTH, SLOT_WIDTH = 44.0, 13.0
HOLE = 18.0


def slot(x: float, y: float) -> Path:
    """Return a slot with round ends, its middle at a place, clockwise."""
    half, r = 0.5 * (SLOT_LENGTH - SLOT_WIDTH), 0.5 * SLOT_WIDTH
    rows = [
        (x - half, y - r, 0.0),
        (x + half, y - r, 1.0),
        (x + half, y + r, 0.0),
        (x - half, y + r, 1.0),
    ]
    return reverse(Path(rows, closed=True))


def write_gusset_job(folder: FilePath, quantity: int, plates: int, plate: tuple[float, float]) -> FilePath:
    """Write drawing and job into a folder and return the job file."""
    outer = polygon([(0, 0), (LONG, 0), (LONG, NOSE), (NOSE, HIGH), (0, HIGH)])
    holes = [slot(45.0, 28.0), slot(150.0, 28.0), circle((30.0, 110.0), 0.5 * HOLE, clockwise=True)]
    write_dxf(folder / "gusset.dxf", {"CUT": [outer, *holes]})
    file = folder / "job.toml"
    file.write_text(
        f"""[job]
name = "gussets"

[machine]
table = [6000, 2000]
postprocessor = "rs274-heights"
water_table = true

[order]
low_travel = true

[[plate]]
id = "P"
length = {plate[0]:g}
width = {plate[1]:g}
thickness = {THICKNESS:g}
grade = "S355"
quantity = {plates}

[[part]]
drawing = "gusset.dxf"
quantity = {quantity}
thickness = {THICKNESS:g}
grade = "S355"
"""
    )
    return file
