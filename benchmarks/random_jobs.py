"""Whether programs of random jobs keep their pierces clear, and their ways off clamps.

    python benchmarks/random_jobs.py [--jobs 300] [--workers 2] [--first 0]

Jobs with marks, remnants, clamps, several torches and both processes are planned, and their
programs judged by a replay in the tests that shares no code with the package: pierces against all
that is cut before, ways against clamps, heights, bites, metal left, order.  Exit code 1 where
it finds anything.
"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from random_jobs import trial

from cutplan.base.errors import CutplanError


def attempt(seed: int) -> tuple[int, int, list[str], str]:
    """Return what came of one job; the last text says why it could not be planned."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            return (*trial(seed, Path(folder)), "")
        except CutplanError as problem:
            return 0, 0, [], f"seed {seed}: {problem}"


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--jobs", type=int, default=300)
    parser.add_argument("--first", type=int, default=0, help="seed of the first job")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    begun = time.perf_counter()
    seeds = range(options.first, options.first + options.jobs)
    with ProcessPoolExecutor(options.workers) as pool:
        results = list(pool.map(attempt, seeds))
    wrong = [told for result in results for told in result[2]]
    unplanned = [result[3] for result in results if result[3]]
    print(f"{time.strftime('%Y-%m-%d')}, {platform.machine()}, Python {platform.python_version()}")
    print(
        f"{options.jobs} jobs, {sum(r[0] for r in results)} sheets, {sum(r[1] for r in results)} pierces: "
        f"{len(wrong)} faults by the replay, {len(unplanned)} jobs not planned"
    )
    for told in (*wrong[:40], *unplanned[:20]):
        print(told)
    print(f"{time.perf_counter() - begun:.0f} s")
    return 1 if wrong or unplanned else 0


if __name__ == "__main__":
    sys.exit(main())
