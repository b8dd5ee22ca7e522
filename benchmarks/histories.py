"""A random history of real, tiny plans over a rack, killed again and again, and held after each step.

    python benchmarks/histories.py --steps 500 --kills 25

Plan, book out, spoil, take back and release by the command line, as in `tests/plan_history.py`;
the process is killed (signal 9) at random and the history goes on from there.  Ends with 1 at the
first step that loses or invents a part or a plate.
"""

from __future__ import annotations

import argparse
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from plan_history import begun, killed_after, wrongs  # noqa: E402


def main() -> int:
    """Run the history and print what came of it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--steps", type=int, default=500)
    parser.add_argument("--kills", type=int, default=25)
    told = parser.parse_args()
    dice, kills, at, began = random.Random(1), 0, 0, time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        begun(Path(folder))
        while at < told.steps:
            # By the pace so far, so that the kills are spread over the steps on any machine.
            pace = (time.perf_counter() - began) / at if at else 0.1
            longest = 2.0 * pace * told.steps / max(told.kills, 1)
            wait = dice.uniform(0.0, longest) if kills < told.kills else 1e6
            at, code = killed_after(Path(folder), told.steps - at, at, wait)
            kills += code == -signal.SIGKILL
            if code not in (0, -signal.SIGKILL):
                print(f"step {at - 1} lost or invented something: {wrongs(Path(folder))}")
                return 1
            print(f"{at} steps, {kills} kills, {time.perf_counter() - began:.0f} s", flush=True)
        begun(Path(folder))
        print(f"{at} steps and {kills} kills: {wrongs(Path(folder)) or 'nothing lost, nothing invented'}")
        return 1 if wrongs(Path(folder)) else 0


if __name__ == "__main__":
    raise SystemExit(main())
