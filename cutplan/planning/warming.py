"""The first run after an install: later rooms' loops compiled beside the reading of drawings.

Compiled loops are kept on disk, so this happens once.  A process of its own nests and orders a
few small rings, which compiles what the flow needs later; its results are thrown away.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from cutplan.base.compiled import COMPILED

__all__ = ["compiling_beside", "plan_few_rings", "saying_so"]

KEPT = Path(__file__).parents[1] / "sequencing" / "__pycache__"


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


def saying_so(tell: Callable[[str, float | None], None]) -> Callable[[str, float | None], None]:
    """Return a progress callback that says, on the first run, that loops are compiled beside all else."""
    if not COMPILED or any(KEPT.glob("search.*.nbi")):
        return tell
    return lambda stage, share: tell(f"{stage} (first run: compiling, up to a minute)", share)


def _is_cold() -> bool:
    if not COMPILED or (os.cpu_count() or 1) < 2 or os.environ.get("NUMBA_CACHE_DIR"):
        return False
    return not any(KEPT.glob("search.*.nbi"))


def _started() -> subprocess.Popen[bytes] | None:
    try:
        return subprocess.Popen(
            [sys.executable, "-m", "cutplan.planning.warming"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError:
        # Where no second process can be had, the first compiles everything itself.
        return None


def plan_few_rings() -> float:
    """Nest, cut and order six rings on two small plates; returns the travel in seconds.

    The nest is made so that both its searches, over sheets and within the last one, run.
    """
    from cutplan.base.machine import Machine
    from cutplan.base.stopping import MaxIterations
    from cutplan.cutting import gaps_for, make_cuts
    from cutplan.drawing import Part
    from cutplan.geometry import circle, polygon
    from cutplan.nesting import Demand, nest
    from cutplan.process import Library
    from cutplan.sequencing import sequence
    from cutplan.stock import Plate

    ring = Part("ring", circle((60, 60), 60), (circle((60, 60), 30, clockwise=True),))
    square = Part("square", polygon([(0, 0), (50, 0), (50, 40), (0, 40)]))
    outline = polygon([(0, 0), (430, 0), (430, 160), (0, 160)])
    plate = Plate("W", outline, 10.0, "S355", "mild steel", quantity=3)
    data = Library.load().choose("plasma", "mild steel", 10.0)
    demands = [Demand(ring, 5, 10.0, "S355"), Demand(square, 2, 10.0, "S355")]
    nested = nest(demands, [plate], gaps_for(data), stop=MaxIterations(3))
    cuts = [make_cuts(sheet, data) for sheet in nested.plates]
    return sum(
        sequence(made.cuts, Machine(), data, sheet.plate).travel_s
        for made, sheet in zip(cuts, nested.plates, strict=True)
    )


if __name__ == "__main__":
    plan_few_rings()
