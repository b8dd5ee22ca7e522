"""A small job of plain shapes for edits by hand: two sheets of 10 mm, one part that must not turn."""

from __future__ import annotations

from pathlib import Path

from cutplan.planning import Job, load_job

JOB = """
[job]
name = "hand"

[machine]
table = [3000, 1500]
marker = true
processes = ["plasma", "oxyfuel"]
max_current_a = 200

[[plate]]
id = "PL"
length = 500
width = 420
thickness = 10
grade = "S355"
quantity = 3

[[plate]]
id = "THICK"
length = 500
width = 400
thickness = 40
grade = "S355"

[[part]]
name = "cover"
shape = { kind = "base plate", length = 210, width = 130, hole = 22, edge_distance = 30 }
quantity = 5
thickness = 10
grade = "S355"

[[part]]
name = "ring"
shape = { kind = "ring", outside = 170, inside = 80 }
quantity = 2
thickness = 10
grade = "S355"

[[part]]
name = "strap"
shape = { kind = "rectangle", length = 180, width = 40 }
quantity = 2
thickness = 10
grade = "S355"
rotations = "none"
rolling_direction = "x"

[[part]]
name = "block"
shape = { kind = "rectangle", length = 120, width = 90 }
quantity = 1
thickness = 40
grade = "S355"
"""


def hand_job(folder: Path, text: str = JOB) -> Job:
    """Write the job into a folder and return it."""
    file = folder / "hand.toml"
    file.write_text(text, encoding="utf-8")
    return load_job(file)
