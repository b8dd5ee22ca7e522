"""Random jobs for tests and benchmarks: drawn parts with marks, remnants, clamps, torches, both processes.

A job is written as a planner gets it: drawings, a remnant's outline, and the job file.
"""

from __future__ import annotations

import json
from pathlib import Path as FilePath

import numpy as np

from cutplan.drawing import MarkText, Part, part_layers, write_dxf
from cutplan.geometry import Path, circle, is_simple, polygon, polyline, reverse, to_polygon

THICKNESSES = {"plasma": (4, 6, 8, 10, 12, 16, 20), "oxyfuel": (8, 12, 16, 20, 25, 30)}
POSTS = {
    "plasma": ("rs274-metric", "rs274-metric", "rs274-heights"),
    "oxyfuel": ("rs274-metric", "rs274-oxyfuel-preheat"),
}
CLAMP_HEIGHTS = (None, None, 0.0, 12.0, 24.0, 60.0)


def write_random_job(folder: FilePath, seed: int) -> FilePath:
    """Write a job's files into a folder and return the job file; the same seed, the same job."""
    rng = np.random.default_rng(seed)
    process = str(rng.choice(["plasma", "oxyfuel"]))
    thickness = int(rng.choice(THICKNESSES[process]))
    several = process == "oxyfuel" and bool(rng.random() < 0.3)
    length, width = float(rng.integers(900, 1500)), float(rng.integers(600, 1000))
    post = str(rng.choice(POSTS[process]))
    marker = bool(rng.random() < 0.75) and post != "rs274-oxyfuel-preheat"
    machine = {
        "table": [2000, 1500],
        "marker": marker,
        "water_table": process == "plasma",
        "torch_radius_mm": float(rng.choice([15, 25, 40])),
        "travel_height_mm": float(rng.choice([20, 30, 45])),
        "postprocessor": post,
    }
    if several:
        machine |= {"torches": 2, "torch_spacing_mm": 300, "postprocessor": "rs274-several-torches"}
    common = {"thickness": thickness, "grade": "S355"}
    plates = [{"id": "A", "length": length, "width": width, "quantity": 6, **common}]
    if not several:
        plates[0]["keepouts"] = _clamps(rng, length, width)
        if rng.random() < 0.35:
            plates.append({"id": "R", "outline": _write_remnant(folder, rng), **common})
    lines = [
        f"[job]\nname = {json.dumps(f'random {seed}')}\nseed = {seed}",
        f"[machine]\n{_table(machine)}",
        f"[cutting]\nprocess = {json.dumps(process)}",
        "[nesting]\nseconds = 0.3",
        f"[marking]\nnames = {str(bool(rng.random() < 0.5)).lower()}",
        f"[order]\n{_table(_order(rng, post))}",
        *(f"[[plate]]\n{_table(plate)}" for plate in plates),
        *(f"[[part]]\n{_table({**part, **common})}" for part in _parts(folder, rng, thickness, marker)),
    ]
    file = folder / "job.toml"
    file.write_text("\n".join(lines) + "\n")
    return file


def _order(rng: np.random.Generator, post: str) -> dict:
    return {
        "marks": str(rng.choice(["sheet", "part"])),
        "parts_together": bool(rng.random() < 0.2),
        "low_travel": post == "rs274-heights" and bool(rng.random() < 0.7),
        "effort": 0.1,
    }


def _table(values: dict) -> str:
    return "\n".join(f"{key} = {_toml(value)}" for key, value in values.items())


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value)


def _clamps(rng: np.random.Generator, length: float, width: float) -> list:
    """Clamps along the plate's edges, and now and then a weight in its middle."""
    clamps: list = []
    for _ in range(int(rng.integers(0, 4))):
        size, deep = float(rng.integers(30, 90)), float(rng.integers(20, 60))
        along = float(rng.integers(150, int(length) - 250))
        boxes = [[along, 0.0, along + size, deep], [along, width - deep, along + size, width]]
        if rng.random() < 0.25:
            boxes.append([along, 0.4 * width, along + size, 0.4 * width + deep])
        box = boxes[int(rng.integers(len(boxes)))]
        height = CLAMP_HEIGHTS[int(rng.integers(len(CLAMP_HEIGHTS)))]
        clamps.append(box if height is None else {"box": box, "height": height})
    return clamps


def _write_remnant(folder: FilePath, rng: np.random.Generator) -> str:
    """An L, or a plate with a hole that was burnt out of it."""
    x, y = float(rng.integers(600, 1100)), float(rng.integers(400, 700))
    if rng.random() < 0.5:
        outline = [polygon([(0, 0), (x, 0), (x, 0.45 * y), (0.4 * x, 0.45 * y), (0.4 * x, y), (0, y)])]
    else:
        hole = circle((0.5 * x, 0.5 * y), 0.15 * min(x, y), clockwise=True)
        outline = [polygon([(0, 0), (x, 0), (x, y), (0, y)]), hole]
    write_dxf(folder / "remnant.dxf", {"OUTLINE": outline})
    return "remnant.dxf"


def _parts(folder: FilePath, rng: np.random.Generator, thickness: float, marker: bool) -> list[dict]:
    entries = []
    for number in range(int(rng.integers(2, 4))):
        part = random_part(rng, f"P{number + 1}", thickness, marker=marker)
        write_dxf(folder / f"{part.name}.dxf", part_layers([part]))
        entries.append(
            {
                "drawing": f"{part.name}.dxf",
                "quantity": int(rng.integers(1, 5)),
                "mirror": bool(rng.random() < 0.3),
                "rotations": str(rng.choice(["quarter", "half", "any"])),
            }
        )
    outside = float(rng.integers(14, 26) * 10)
    ring = {"kind": "ring", "outside": outside, "inside": 0.6 * outside}
    entries.append({"name": "ring", "quantity": int(rng.integers(1, 4)), "shape": ring})
    return entries


def random_part(rng: np.random.Generator, name: str, thickness: float, *, marker: bool) -> Part:
    """Return a part of lines and arcs with holes, marks and a text."""
    outer = _contour(rng, rng.uniform(60.0, 150.0), int(rng.integers(3, 9)))
    free = to_polygon(outer, tolerance=0.05).buffer(-1.5 * thickness)
    holes: list[Path] = []
    for _ in range(int(rng.integers(0, 5))):
        radius = thickness * rng.uniform(0.9, 2.5)
        hole = circle((0, 0), radius) if rng.random() < 0.6 else _contour(rng, 1.4 * radius, 4)
        shift = np.append(rng.uniform(-90.0, 90.0, 2), 0.0)
        moved = Path(hole.vertices + shift, closed=True)
        view = to_polygon(moved, tolerance=0.05)
        if free.contains(view):
            holes.append(reverse(moved))
            free = free.difference(view.buffer(1.5 * thickness))
    marks: tuple[Path, ...] = ()
    texts: tuple[MarkText, ...] = ()
    if marker:
        x, y = free.representative_point().coords[0] if not free.is_empty else (0.0, 0.0)
        marks = (polyline([(x - 20, y - 6), (x + 30, y + 9)]), circle((x, y), 8.0))
        texts = (
            MarkText(
                f"{name}-{int(rng.integers(100))}", (x - 10.0, y + 3.0), 6.0, float(rng.integers(0, 360))
            ),
        )
    return Part(name, outer, tuple(holes), marks=marks, texts=texts)


def _contour(rng: np.random.Generator, size: float, corners: int) -> Path:
    """Return a random simple counter-clockwise contour of lines and arcs about the origin."""
    while True:
        angles = 2.0 * np.pi * (np.arange(corners) + rng.uniform(-0.3, 0.3, corners)) / corners
        radii = size * rng.uniform(0.6, 1.0, corners)
        bulges = np.where(rng.random(corners) < 0.4, rng.uniform(-0.35, 0.5, corners), 0.0)
        path = Path(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges]), closed=True)
        if is_simple(path):
            return path
