"""The first run after an install: the searches' loops compiled beside the reading of drawings.

Compiled loops are kept on disk, so this happens once.  Two processes of their own nest a few
small rings, and cut and order them, which compiles what every search needs; their results are
thrown away.  Else each process that searches would compile the same loops for itself.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from cutplan.base.compiled import COMPILED

__all__ = ["compiled_beside", "nest_few_rings", "order_few_rings", "saying_so", "start_compiling"]

KEPT = Path(__file__).parents[1] / "sequencing" / "__pycache__"

Tell = Callable[[str, float | None], None]


@contextmanager
def compiled_beside(tell: Tell) -> Iterator[None]:
    """Compile the searches' loops beside a block, where they are missing, and wait for them at its end.

    Parameters
    ----------
    tell : callable
        Told of the wait in words.
    """
    processes = start_compiling()
    try:
        yield
        if processes:
            tell("waiting for the searches", None)
        for process in processes:
            process.wait()
    finally:
        for process in processes:
            process.terminate()
            process.wait()


def saying_so(tell: Tell) -> Tell:
    """Return a progress callback that says, as long as loops are missing, that they are compiled."""
    missing = COMPILED

    def said(stage: str, share: float | None) -> None:
        nonlocal missing
        missing = missing and not any(KEPT.glob("search.*.nbi"))
        tell(f"{stage} (first run: compiling, up to a minute)" if missing else stage, share)

    return said


def _is_cold() -> bool:
    if not COMPILED or (os.cpu_count() or 1) < 2 or os.environ.get("NUMBA_CACHE_DIR"):
        return False
    return not any(KEPT.glob("search.*.nbi"))


def start_compiling() -> list[subprocess.Popen[bytes]]:
    """Start the processes that compile the searches' loops; none where nothing is missing.

    Returns
    -------
    list of Popen
        None where no process can be had: who searches compiles for himself then.
    """
    started: list[subprocess.Popen[bytes]] = []
    for what in _WORK if _is_cold() else ():
        try:
            started.append(
                subprocess.Popen(
                    [sys.executable, "-m", "cutplan.planning.warming", what],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    start_new_session=True,
                )
            )
        except OSError:
            break
    return started


def nest_few_rings() -> int:
    """Nest six rings on two small plates; returns how many found a place.

    The nest is made so that both its searches, over sheets and within the last one, run.
    """
    from cutplan.base.stopping import MaxIterations
    from cutplan.cutting import gaps_for
    from cutplan.drawing import Part
    from cutplan.geometry import circle, polygon
    from cutplan.nesting import Demand, nest
    from cutplan.process import Library
    from cutplan.stock import Plate

    ring = Part("ring", circle((60, 60), 60), (circle((60, 60), 30, clockwise=True),))
    square = Part("square", polygon([(0, 0), (50, 0), (50, 40), (0, 40)]))
    outline = polygon([(0, 0), (430, 0), (430, 160), (0, 160)])
    plate = Plate("W", outline, 10.0, "S355", "mild steel", quantity=3)
    demands = [Demand(ring, 5, 10.0, "S355"), Demand(square, 2, 10.0, "S355")]
    gaps = gaps_for(Library.load().choose("plasma", "mild steel", 10.0))
    nested = nest(demands, [plate], gaps, stop=MaxIterations(3))
    return sum(len(sheet.placements) for sheet in nested.plates)


def order_few_rings() -> float:
    """Cut and order six rings that lie in two rows; returns the travel in seconds."""
    from cutplan.base.machine import Machine
    from cutplan.cutting import make_cuts
    from cutplan.drawing import Part
    from cutplan.geometry import Pose, circle, polygon
    from cutplan.process import Library
    from cutplan.sequencing import sequence
    from cutplan.stock import NestedPlate, Placement, Plate

    ring = Part("ring", circle((60, 60), 60), (circle((60, 60), 30, clockwise=True),))
    outline = polygon([(0, 0), (480, 0), (480, 320), (0, 320)])
    plate = Plate("W", outline, 10.0, "S355", "mild steel")
    rings = [Placement(ring, n + 1, Pose(20.0 + 150 * (n % 3), 20.0 + 150 * (n // 3))) for n in range(6)]
    data = Library.load().choose("plasma", "mild steel", 10.0)
    made = make_cuts(NestedPlate(plate, 1, tuple(rings)), data)
    return sequence(made.cuts, Machine(), data, plate).travel_s


_WORK: dict[str, Callable[[], float]] = {"nest": nest_few_rings, "order": order_few_rings}

if __name__ == "__main__":
    _WORK[sys.argv[1]]()
