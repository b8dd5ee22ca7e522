"""How fast contours are offset, fitted and read, each beside a general-purpose reference.

    python benchmarks/geometry.py [--repeats 7] [--out FILE.json]

- Offset: a contour of lines and arcs, made up from a seed, is offset exactly, and the same
  contour chorded to 0.001 mm is buffered by shapely (GEOS) in the same run.  The contour is
  laid down anew for every repeat, so that nothing is remembered from the one before; its
  offset includes the test that it does not cross itself.
- Fit: curves sampled in 1,000 chords, turned into arcs within 0.01 mm.
- Reading: a drawing of about 5 MB is read into parts, and loaded by ezdxf alone.

Times are the processor's (all of it runs on one core), the least of the repeats.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import tempfile
import time
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import numpy as np
import shapely

from cutplan.drawing import read_drawing
from cutplan.geometry import (
    FloatArray,
    Path,
    area,
    chord_points,
    distance,
    fit_arcs,
    fit_curve,
    length,
    offset,
    oriented,
    point_at,
    polyline,
    recover_arcs,
)

CHORD = 0.001
"""Greatest distance of the reference's chords from the arcs, mm."""
TOLERANCE = 0.01
"""Tolerance of the fits, mm."""
DISTANCES = (1.05, -1.05, 5.0, -5.0)
"""Half a plasma kerf in 10 mm plate, and a gap between parts, outwards and inwards, mm."""
OFFSET_LIMIT_MS = 50.0
"""What the offset of 10,000 segments may take."""
READING_LIMIT = 1.5
"""How many times the bare load the reading may take."""
DRAWING_BYTES = 5_000_000
"""Size of the drawing read, bytes."""
POLYLINE_BYTES, ENTITY_BYTES = 54, 165
"""Bytes that a polyline's vertex and an entity of its own take in a file, about."""


def ragged_contour(count: int, seed: int = 0) -> Path:
    """A ring of lines and arcs of about 8 mm, half of each, wavy and with teeth."""
    rng = np.random.default_rng(seed)
    angles = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2.0 * math.pi / count
    radius = 8.0 * count / (2.0 * math.pi)
    radii = radius * (1.0 + 0.05 * np.sin(7.0 * angles)) + rng.uniform(-2.0, 2.0, count)
    bulges = np.where(np.arange(count) % 2 == 0, rng.uniform(-0.4, 0.4, count), 0.0)
    return Path(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges]))


def best_ms(action: Callable[[], object], repeats: int) -> float:
    """Return the least of several times on the processor, ms: the one least disturbed by other work."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return 1000.0 * min(times)


def offset_rows(repeats: int) -> list[dict[str, Any]]:
    return [
        offset_row(ragged_contour(count), size, repeats)
        for count in (20, 200, 2_000, 10_000)
        for size in DISTANCES
    ]


def offset_row(contour: Path, size: float, repeats: int) -> dict[str, Any]:
    """Offset one contour exactly, and buffer its chords; return the times and the errors."""
    points = chord_points(contour, CHORD)
    chorded = shapely.Polygon(points)
    quarter = math.ceil(math.pi / 4.0 / math.acos(1.0 - CHORD / abs(size)))
    exact, buffered = offset(contour, size), chorded.buffer(size, quad_segs=quarter)
    places = np.vstack([point_at(c, np.linspace(0.0, length(c), 5 * len(c))) for c in exact])
    return {
        "segments": len(contour),
        "distance_mm": size,
        "exact_ms": best_ms(lambda: offset(Path(contour.vertices), size), repeats),
        "buffer_ms": best_ms(lambda: chorded.buffer(size, quad_segs=quarter), repeats),
        "chords": len(points),
        "result_segments": sum(map(len, exact)),
        "worst_error_mm": float(np.abs(distance(contour, places) - abs(size)).max()),
        "area_difference_mm2": sum(map(area, exact)) - buffered.area,
    }


def ellipse(t: FloatArray) -> FloatArray:
    return np.column_stack([100.0 * np.cos(t), 40.0 * np.sin(t)])


def ellipse_slope(t: FloatArray) -> FloatArray:
    return np.column_stack([-100.0 * np.sin(t), 40.0 * np.cos(t)])


def wave(t: FloatArray) -> FloatArray:
    return np.column_stack([t, 30.0 * np.sin(t / 40.0)])


def wave_slope(t: FloatArray) -> FloatArray:
    return np.column_stack([np.ones_like(t), 0.75 * np.cos(t / 40.0)])


def fit_rows(repeats: int) -> list[dict[str, Any]]:
    rows = []
    for name, point, slope, end in (
        ("ellipse 200 x 80", ellipse, ellipse_slope, 2.0 * math.pi),
        ("wave 500 long", wave, wave_slope, 500.0),
    ):
        chords = polyline(point(np.linspace(0.0, end, 1001)))
        ways: dict[str, Callable[[], Path]] = {
            "curve, smooth": lambda p=point, s=slope, e=end: fit_curve(p, s, 0.0, e, TOLERANCE),  # type: ignore[misc]
            "1,000 chords": lambda c=chords: recover_arcs(c, TOLERANCE),  # type: ignore[misc]
            "1,001 points": lambda c=chords: fit_arcs(c.points, TOLERANCE),  # type: ignore[misc]
        }
        curve = point(np.linspace(0.0, end, 20_001))
        for way, action in ways.items():
            fitted = action()
            rows.append(
                {
                    "curve": name,
                    "from": way,
                    "segments": len(fitted),
                    "worst_error_mm": float(distance(fitted, curve).max()),
                    "ms": best_ms(action, repeats),
                }
            )
    return rows


def write_drawing(file: FilePath, size: int) -> int:
    """Write a DXF of about so many bytes: plates with holes, half as polylines, half loose."""
    document = ezdxf.new(units=ezdxf.units.MM)
    space = document.modelspace()
    parts, written = 0, 0
    while written < size:
        contour = oriented(ragged_contour(60, seed=parts))
        at = np.array([parts % 100 * 250.0, parts // 100 * 250.0])
        vertices = contour.vertices + np.array([*at, 0.0])
        if parts % 2 == 0:
            space.add_lwpolyline(vertices.tolist(), format="xyb", close=True)
            written += 60 * POLYLINE_BYTES
        else:
            for start, end in zip(vertices, np.roll(vertices, -1, axis=0), strict=True):
                if start[2] == 0.0:
                    space.add_line(start[:2].tolist(), end[:2].tolist())
                else:
                    space.add_arc(*_arc_words(start, end))
            written += 60 * ENTITY_BYTES
        for k in range(4):
            turn = 0.5 * math.pi * k
            space.add_circle((at + 30.0 * np.array([math.cos(turn), math.sin(turn)])).tolist(), 7.0)
        written += 4 * ENTITY_BYTES
        parts += 1
    document.saveas(file)
    return parts


def _arc_words(start: FloatArray, end: FloatArray) -> tuple[tuple[float, float], float, float, float]:
    centre = ezdxf.math.bulge_center(start[:2], end[:2], start[2])
    radius = ezdxf.math.bulge_radius(start[:2], end[:2], start[2])
    angles = [math.degrees(math.atan2(p[1] - centre.y, p[0] - centre.x)) for p in (start, end)]
    if start[2] < 0.0:
        angles.reverse()
    return (centre.x, centre.y), radius, angles[0], angles[1]


def reading_row(repeats: int) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as folder:
        file = FilePath(folder) / "nest.dxf"
        parts = write_drawing(file, DRAWING_BYTES)
        drawing = read_drawing(file)
        loading = best_ms(lambda: ezdxf.readfile(file), repeats)
        reading = best_ms(lambda: read_drawing(file), repeats)
        return {
            "megabytes": file.stat().st_size / 1e6,
            "parts_drawn": parts,
            "parts_read": len(drawing.parts),
            "holes_read": sum(len(part.holes) for part in drawing.parts),
            "ezdxf_ms": loading,
            "read_drawing_ms": reading,
            "ratio": reading / loading,
        }


def show(results: dict[str, Any]) -> None:
    print(
        f"{'segments':>8} {'distance':>8} {'exact ms':>9} {'buffer ms':>9} {'chords':>7} {'worst error mm':>15}"
    )
    for row in results["offset"]:
        print(
            f"{row['segments']:>8} {row['distance_mm']:>8} {row['exact_ms']:>9.2f} {row['buffer_ms']:>9.2f} "
            f"{row['chords']:>7} {row['worst_error_mm']:>15.1e}"
        )
    print(f"\n{'curve':<18} {'from':<14} {'segments':>8} {'worst error mm':>15} {'ms':>7}")
    for row in results["fit"]:
        print(
            f"{row['curve']:<18} {row['from']:<14} {row['segments']:>8} {row['worst_error_mm']:>15.4f} {row['ms']:>7.2f}"
        )
    row = results["reading"]
    print(
        f"\nDXF of {row['megabytes']:.1f} MB: {row['parts_read']} of {row['parts_drawn']} parts and "
        f"{row['holes_read']} holes read in {row['read_drawing_ms']:.0f} ms; ezdxf alone loads it in "
        f"{row['ezdxf_ms']:.0f} ms; ratio {row['ratio']:.2f} (at most {READING_LIMIT})"
    )
    big = [r["exact_ms"] for r in results["offset"] if r["segments"] == 10_000]
    beaten = all(r["exact_ms"] < r["buffer_ms"] for r in results["offset"] if r["segments"] >= 2_000)
    print(
        f"Offset of 10,000 segments: {max(big):.1f} ms at most (limit {OFFSET_LIMIT_MS:.0f} ms); "
        f"faster than the buffer from 2,000 segments on: {'yes' if beaten else 'no'}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--out", type=FilePath, help="write the figures as JSON")
    options = parser.parse_args()
    results = {
        "machine": {
            "cpus": os.cpu_count(),
            "python": platform.python_version(),
            "shapely": shapely.__version__,
        },
        "offset": offset_rows(options.repeats),
        "fit": fit_rows(options.repeats),
        "reading": reading_row(max(1, options.repeats // 2)),
    }
    show(results)
    if options.out:
        options.out.write_text(json.dumps(results, indent=1) + "\n")


if __name__ == "__main__":
    main()
