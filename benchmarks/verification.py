"""How fast programs are read and proved.

    python benchmarks/verification.py [--blocks 1000000] [--stretch 100000] [--no-demo]

A made-up program of many blocks is read, and a stretch of it by itself, to see that the time
grows with the length alone.  The demo's job is planned, and its largest plate proved from
its program's text.  Figures are seconds by the clock, and seconds of the processor; all runs on
one core, so the two differ only where the machine has other work.  Exit code 1 where the
processor's seconds miss a limit.
"""

from __future__ import annotations

import argparse
import platform
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

from cutplan.control import Dialect, read_program
from cutplan.verification import verify

READ_LIMIT_S = 3.0  # a million blocks
PROOF_LIMIT_S = 0.5  # the demo's largest plate
REPEATS = 5
DEMO = Path(__file__).parent.parent / "parts" / "dolly-batch.toml"


def program_text(blocks: int) -> str:
    """Return a program of rectangles with round corners, pierced and cut one after the other."""
    lines = ["G21 G90 G17 G40 G80 G94 G54 G64", "M5", "M9"]
    k = 0
    while len(lines) < blocks - 1:
        x, y = 5.0 + 37.217 * (k % 150), 5.0 + 31.391 * (k // 150 % 55)
        k += 1
        lines += [
            f"G0 X{x:.3f} Y{y:.3f}",
            "M3",
            "G4 P0.4",
            f"G1 X{x + 20:.3f} F1800",
            f"G3 X{x + 24:.3f} Y{y + 4:.3f} I0 J4",
            f"G1 Y{y + 18:.3f}",
            f"G3 X{x + 20:.3f} Y{y + 22:.3f} I-4 J0",
            f"G1 X{x + 2.5:.3f}",
            f"X{x:.3f} Y{y:.3f}",
            "M5",
        ]
    return "\n".join([*lines[: blocks - 2], "M5", "M30", ""])


def timed(action: Callable[[], object]) -> tuple[float, float]:
    """Return the seconds by the clock, and of the processor, that an action takes."""
    clock, processor = time.perf_counter(), time.process_time()
    action()
    return time.perf_counter() - clock, time.process_time() - processor


def row(what: str, seconds: tuple[float, float]) -> None:
    """Print a row of the table."""
    print(f"| {what} | {seconds[0]:.2f} s | {seconds[1]:.2f} s |")


def peak_mb() -> float:
    """Return the most memory that this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def reading(blocks: int, stretch: int) -> bool:
    """Time the reading of a long program; return whether the limits hold."""
    text = program_text(blocks)
    before = peak_mb()
    seconds = timed(lambda: read_program(text, Dialect()))
    row(f"read {blocks:,} blocks, {len(text) / 1e6:.1f} MB of text", seconds)
    print(f"| memory above the text's own | {peak_mb() - before:.0f} MB | |")
    good = seconds[1] * 1e6 / blocks < READ_LIMIT_S
    short = program_text(stretch)
    row(f"read {stretch:,} blocks", timed(lambda: read_program(short, Dialect())))
    return good


def proving() -> bool:
    """Time the proof of the demo's largest plate; return whether the limit holds."""
    from cutplan.planning.flow import plan_job
    from cutplan.planning.job import load_job
    from cutplan.program import find_postprocessor
    from cutplan.record import planned_of

    plan = plan_job(load_job(DEMO))
    sheet = max(plan.sheets, key=lambda s: s.verdict.pierces)
    dialect = find_postprocessor(sheet.program.postprocessor).dialect_for(sheet.data)
    texts = [file.text for file in sheet.program.files]
    planned = planned_of(sheet.order.steps, sheet.lanes)
    seconds = []
    for _ in range(REPEATS):
        seconds.append(
            timed(
                lambda: verify(
                    texts, sheet.nested, sheet.data, plan.machine, dialect=dialect, planned=planned
                )
            )
        )
    parts, pierces = len(sheet.nested.placements), sheet.verdict.pierces
    row(f"prove {sheet.name}: {parts} parts, {pierces} pierces", sorted(seconds)[REPEATS // 2])
    bite, left = sheet.verdict.worst_bite_mm, sheet.verdict.worst_left_mm
    print(f"| worst bite, worst metal left | {bite:.4f} mm | {left:.4f} mm |")
    return sorted(seconds)[REPEATS // 2][1] < PROOF_LIMIT_S


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--blocks", type=int, default=1_000_000)
    parser.add_argument("--stretch", type=int, default=100_000)
    parser.add_argument("--no-demo", action="store_true")
    options = parser.parse_args()
    print(f"{time.strftime('%Y-%m-%d')}, {platform.machine()}, Python {platform.python_version()}\n")
    print("| what | by the clock | processor |\n|---|---|---|")
    good = reading(options.blocks, options.stretch)
    if not options.no_demo:
        good = proving() and good
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
