"""What `check` lets through, `plan` can cut and prove: awkward parts through both doors.

    python benchmarks/doors.py --count 300 --first 0 --process plasma

Each part is drawn, checked and planned alone.  What cannot be cut must be refused by the check,
with its place; a plan that is refused without that, or fails its own proof, is listed with its seed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from awkward_parts import KINDS, awkward_part  # noqa: E402
from two_doors import through_both_doors  # noqa: E402


def main() -> int:
    """Run the parts that the command line asks for and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--process", choices=["plasma", "oxyfuel"], default="plasma")
    asked = parser.parse_args()
    outcomes: Counter[str] = Counter()
    began = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(asked.first, asked.first + asked.count):
            part = awkward_part(seed)
            if part is None:
                continue
            outcome, words = through_both_doors(part, Path(folder), seed, asked.process)
            outcomes[outcome] += 1
            if outcome.startswith("WRONG"):
                print(f"{seed} {KINDS[seed % len(KINDS)].__name__}: {outcome}: {words[:300]}", flush=True)
    print(
        f"{sum(outcomes.values())} parts, {asked.process}: {dict(outcomes)}; {time.process_time() - began:.0f} s of processor time"
    )
    return 1 if any(outcome.startswith("WRONG") for outcome in outcomes) else 0


if __name__ == "__main__":
    sys.exit(main())
