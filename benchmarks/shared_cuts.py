"""What shared cuts save: 60 rectangles and 40 trapezoids by flame, plain and kerf to kerf, beside the theory.

    python benchmarks/shared_cuts.py [--rectangles 60] [--trapezoids 40] [--parts 4]

Rectangles of 300 × 180 mm, and trapezoids of 260 and 160 by 140 mm, in 20 mm; plates as long as
they must be (6,000 × 1,500 mm on offer), so the plate used is the length up to the last part.  The
theoretical saving is counted from the shapes alone: what the edges within full blocks measure, and
a pierce for each part of a block less its dividers and the run round it.
"""

from __future__ import annotations

import argparse
import math
import platform
import tempfile
from pathlib import Path

from cutplan.cutting import shared_stretches
from cutplan.drawing import Part, part_layers, write_dxf
from cutplan.geometry import bounds, place, polygon
from cutplan.planning import load_job, plan_job
from cutplan.record import Plan

RECTANGLE = (300.0, 180.0)
TRAPEZOID = (260.0, 160.0, 140.0)


def write_job(folder: Path, rectangles: int, trapezoids: int, parts: int | None) -> Path:
    """Write the batch's drawings and its job file."""
    (w, h), (a, b, c) = RECTANGLE, TRAPEZOID
    shapes = {
        "rectangle": [(0, 0), (w, 0), (w, h), (0, h)],
        "trapezoid": [(0, 0), (a, 0), (0.5 * (a + b), c), (0.5 * (a - b), c)],
    }
    for name, corners in shapes.items():
        write_dxf(folder / f"{name}.dxf", part_layers([Part(name, polygon(corners))]))
    asked = f"shared_cuts = {{ parts = {parts} }}" if parts else ""
    file = folder / "job.toml"
    file.write_text(
        "[job]\nname = 'shared cuts'\n[machine]\ntable = [6500, 2000]\nmarker = false\n"
        "postprocessor_oxyfuel = 'rs274-oxyfuel-preheat'\n[cutting]\nprocess = 'oxyfuel'\n"
        f"[techniques]\n{asked}\n"
        "[[plate]]\nid = 'P'\nlength = 6000\nwidth = 1500\nthickness = 20\ngrade = 'S355'\nquantity = 3\n"
        + "".join(
            f"[[part]]\ndrawing = '{name}.dxf'\nquantity = {count}\nthickness = 20\ngrade = 'S355'\n"
            for name, count in (("rectangle", rectangles), ("trapezoid", trapezoids))
        ),
        encoding="utf-8",
    )
    return file


def figures(plan: Plan) -> dict[str, float]:
    """Return what a plan takes."""
    used = 0.0
    for sheet in plan.sheets:
        far = max(bounds(place(p.part.outer, p.pose))[2] for p in sheet.nested.placements)
        x0, y0, _, y1 = bounds(sheet.nested.plate.outline)
        used += (far - x0) * (y1 - y0)
    times = plan.total.time_s
    return {
        "cut": sum(sheet.verdict.cut_length_mm for sheet in plan.sheets) / 1000.0,
        "pierces": sum(sheet.verdict.pierces for sheet in plan.sheets),
        "plate": used / 1e6,
        "time": times["total"] - times["handling"],
        "shared": sum(
            end - start
            for sheet in plan.sheets
            for step in sheet.order.steps
            for _, _, start, end in shared_stretches(step.cut, step.lead)
        )
        / 1000.0,
        "proved": float(all(sheet.verdict.is_as_planned for sheet in plan.sheets)),
        "placed": float(sum(len(sheet.nested.placements) for sheet in plan.sheets)),
    }


def theory(rectangles: int, trapezoids: int, parts: int) -> tuple[float, int]:
    """Return the metres and the pierces that full blocks save: rows, and two rows of rectangles."""
    (w, h), (a, b, c) = RECTANGLE, TRAPEZOID
    slant = math.hypot(c, 0.5 * (a - b))
    metres, pierces = 0.0, 0
    for count, of_row, square in ((rectangles, max(w, h), True), (trapezoids, slant, False)):
        left = count
        while left >= 2:
            n = min(parts, left)
            ways = [((n - 1) * of_row, n - 1)]
            if square and n >= 4 and n % 2 == 0:
                m = n // 2
                ways += [(2 * (m - 1) * one + m * other, m) for one, other in ((w, h), (h, w))]
            saved, dividers = max(ways)
            blocks = left // n
            metres += blocks * saved
            pierces += blocks * (n - dividers - 1)
            left %= n
    return metres / 1000.0, pierces


def main() -> None:
    """Plan the batch in both ways and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rectangles", type=int, default=60)
    parser.add_argument("--trapezoids", type=int, default=40)
    parser.add_argument("--parts", type=int, default=4)
    asked = parser.parse_args()
    print(f"{platform.platform()}, Python {platform.python_version()}")
    found = {}
    for way, parts in (("plain", None), ("shared", asked.parts)):
        with tempfile.TemporaryDirectory() as folder:
            file = write_job(Path(folder), asked.rectangles, asked.trapezoids, parts)
            found[way] = figures(plan_job(load_job(file)))
    print("| way | parts | cut | of that shared | pierces | plate to the last part | on the table | proof |")
    print("|---|---|---|---|---|---|---|---|")
    for way, row in found.items():
        print(
            f"| {way} | {row['placed']:.0f} | {row['cut']:.2f} m | {row['shared']:.2f} m | {row['pierces']:.0f} | "
            f"{row['plate']:.3f} m² | {row['time']:.0f} s | {'passed' if row['proved'] else 'FAILED'} |"
        )
    metres, pierces = theory(asked.rectangles, asked.trapezoids, asked.parts)
    plain, shared = found["plain"], found["shared"]
    print(f"saved {plain['cut'] - shared['cut']:.2f} m and {plain['pierces'] - shared['pierces']:.0f} pierces; "
          f"in theory {metres:.2f} m of shared edge and {pierces} pierces, leads left out")  # fmt: skip


if __name__ == "__main__":
    main()
