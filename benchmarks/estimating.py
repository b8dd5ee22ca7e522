"""How long an estimate takes: a program of many blocks, timed from its motions.

    python benchmarks/estimating.py [--blocks 10000] [--repeats 7]

The program is made up from a seed: contours of lines, arcs and chorded curves with pierces and
rapids between them, as a dense sheet of small parts would have.  Reading the text is timed
apart, since a plan reads its programs once for the proof and the estimate together.
"""

from __future__ import annotations

import argparse
import math
import os
import platform
import random
import sys
import time
from collections.abc import Callable

import numpy as np

from cutplan.base.machine import Machine
from cutplan.control import DWELL, SWITCH, Motions, read_program
from cutplan.estimating import estimate
from cutplan.process import Library

LIMIT_S = 0.5
"""What an estimate of 10,000 blocks may take."""
BLOCKS_A_CONTOUR = 40


def program_text(blocks: int, seed: int = 0) -> str:
    """Return a program of at least so many moves."""
    rng = random.Random(seed)
    lines = ["G21 G90 G17 G40 G80 G94"]
    moves = 0
    while moves < blocks:
        x, y = rng.uniform(0, 5900), rng.uniform(0, 1900)
        lines += [f"G0 X{x:.3f} Y{y:.3f}", "M3", "G4 P0.3", "F2780"]
        radius = rng.uniform(5.0, 60.0)
        moves += 1
        if rng.random() < 0.3:
            lines.append(f"G2 X{x:.3f} Y{y:.3f} I{radius:.3f} J0")
            moves += 1
        else:
            for i in range(1, BLOCKS_A_CONTOUR + 1):
                turn = 2.0 * math.pi * i / BLOCKS_A_CONTOUR
                wave = radius * (1.0 + 0.2 * math.sin(5.0 * turn))
                lines.append(f"G1 X{x + wave * math.cos(turn):.3f} Y{y + wave * math.sin(turn):.3f}")
            moves += BLOCKS_A_CONTOUR
        lines.append("M5")
    return "\n".join([*lines, "M30", ""])


def timed(action: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Return the first and the median of the later seconds."""
    seconds = []
    for _ in range(repeats + 1):
        start = time.perf_counter()
        action()
        seconds.append(time.perf_counter() - start)
    return seconds[0], float(np.median(seconds[1:]))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--blocks", type=int, default=10_000)
    parser.add_argument("--repeats", type=int, default=7)
    options = parser.parse_args()
    text = program_text(options.blocks)
    motions: Motions = read_program(text)
    moves = int(np.count_nonzero((motions.kind != DWELL) & (motions.kind != SWITCH)))
    data = Library.load().choose("plasma", "mild steel", 10.0)
    machine = Machine()
    names = [f"part {i % 50}" for i in range(text.count("M3\n"))]

    def plain() -> object:
        return estimate(motions, data, machine)

    def by_part() -> object:
        return estimate(motions, data, machine, cut_parts=names)

    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"{moves} blocks, {len(names)} pierces")
    worst = 0.0
    for name, action in (("estimate", plain), ("estimate by part", by_part)):
        first, median = timed(action, options.repeats)
        worst = max(worst, first)
        print(f"{name:18} first {first:.3f} s, then {median:.3f} s")
    first, median = timed(lambda: read_program(text), options.repeats)
    print(f"{'reading the text':18} first {first:.3f} s, then {median:.3f} s")
    allowed = LIMIT_S * max(moves / 10_000, 1.0)
    print(f"limit {allowed:.2f} s: {'kept' if worst < allowed else 'MISSED'}")
    return 0 if worst < allowed else 1


if __name__ == "__main__":
    sys.exit(main())
