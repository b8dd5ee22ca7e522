"""The first run after an install: the ordering's loops compiled beside the nesting.

Compiled loops are kept on disk, so this happens once.  A process of its own orders the cuts of
three small rings, which compiles what the flow needs after nesting; its results are thrown away.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cutplan.compiled import COMPILED

__all__ = ["compiling_beside", "order_three_rings"]

KEPT = Path(__file__).parent / "sequencing" / "__pycache__"


@contextmanager
def compiling_beside() -> Iterator[None]:
    """Compile the later loops in a second process while the block runs, where they are missing."""
    process = _started() if _is_cold() else None
    try:
        yield
    finally:
        if process is not None:
            process.terminate()
            process.wait()


def _is_cold() -> bool:
    if not COMPILED or (os.cpu_count() or 1) < 2 or os.environ.get("NUMBA_CACHE_DIR"):
        return False
    return not any(KEPT.glob("search.*.nbi"))


def _started() -> subprocess.Popen[bytes] | None:
    try:
        return subprocess.Popen(
            [sys.executable, "-m", "cutplan.warming"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError:
        # Where no second process can be had, the first compiles everything itself.
        return None


def order_three_rings() -> float:
    """Order the cuts of three rings side by side; returns the travel in seconds."""
    from cutplan.cutting import make_cuts
    from cutplan.drawing import Part
    from cutplan.geometry import Pose, circle, polygon
    from cutplan.machine import Machine
    from cutplan.nesting import NestedPlate, Placement
    from cutplan.process import Library
    from cutplan.sequencing import sequence
    from cutplan.stock import Plate

    ring = Part("ring", circle((60, 60), 60), (circle((60, 60), 30, clockwise=True),))
    outline = polygon([(0, 0), (500, 0), (500, 200), (0, 200)])
    plate = Plate("W", outline, 10.0, "S355", "mild steel")
    placements = tuple(Placement(ring, n + 1, Pose(x=20.0 + 150.0 * n, y=30.0)) for n in range(3))
    data = Library.load().choose("plasma", "mild steel", 10.0)
    cuts = make_cuts(NestedPlate(plate, 1, placements), data)
    return sequence(cuts.cuts, Machine(), data, plate).travel_s


if __name__ == "__main__":
    order_three_rings()
