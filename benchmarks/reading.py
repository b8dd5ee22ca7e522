"""Whether long programs are read as short ones are: in stretches, and line by line.

    python benchmarks/reading.py [--texts 100000] [--workers 2]

Random texts, mostly plain, now and then odd, seldom wrong, are read both ways; rows, doubts and
refusals must be the same.  Exit code 1 where they differ.
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "control"))

from random_programs import read_alike

AT_ONCE = 1000


def share(first: int) -> tuple[int, list[int]]:
    """Return how many of some seeds were read, and those that were read otherwise in stretches."""
    read, differing = 0, []
    for seed in range(first, first + AT_ONCE):
        try:
            read += read_alike(seed)
        except AssertionError:
            differing.append(seed)
    return read, differing


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--texts", type=int, default=100_000, help="in thousands")
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    begun = time.perf_counter()
    firsts = range(0, options.texts, AT_ONCE)
    with ProcessPoolExecutor(options.workers) as pool:
        results = list(pool.map(share, firsts))
    texts = len(firsts) * AT_ONCE
    read = sum(result[0] for result in results)
    differing = [seed for result in results for seed in result[1]]
    print(f"{time.strftime('%Y-%m-%d')}, {platform.machine()}, Python {platform.python_version()}")
    print(f"{texts} texts: {read} read, {texts - read} refused, {len(differing)} read otherwise in stretches")
    print(f"seeds {differing[:20]}" if differing else f"{time.perf_counter() - begun:.0f} s")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main())
