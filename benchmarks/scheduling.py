"""Days of work: small random shops against every possible order, and 500 works on 4 tables by the clock.

    python benchmarks/scheduling.py --shops 300 --works 500

The small shops and the search through all their orders are those of the tests and share no code
with the package.  Ends with 1 where a bound is above the best of all orders, or a gap too small.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "scheduling"))

from test_days import MONDAY, best_of_all, big_shop, random_shop  # noqa: E402

from cutplan.scheduling import give_out  # noqa: E402


def small(count: int) -> int:
    """Hold random small shops against all their orders; return how many said something untrue."""
    same, late, shorter, total, wrong = 0, 0.0, 0, 0, 0
    for seed in range(count):
        shop, works = random_shop(random.Random(seed))
        works = [w for w in works if any(t.refusal(w) is None for t in shop.tables)][:5]
        if not works:
            continue
        found, (least, span) = give_out(works, shop, MONDAY, seed=1), best_of_all(shop, works)
        total += 1
        more = found.late_min - least
        wrong += found.late_bound_min > least + 1e-6 or more < -1e-6 or found.gap_late_min < more - 1e-6
        same += more <= 1e-6
        shorter += more <= 1e-6 and found.span_min <= span + 1e-6
        late = max(late, more)
    print(
        f"{total} small shops: as little late as the best of all orders in {same}, of these done as soon in "
        f"{shorter}; at most {late:.0f} min later; {wrong} with a bound or a gap that does not hold"
    )
    return wrong


def large(count: int) -> None:
    """Give out many works on four tables by the clock."""
    for seed in (7, 8, 9):
        shop, works = big_shop(random.Random(seed), count)
        clock, core = time.perf_counter(), time.process_time()
        days = give_out(works, shop, MONDAY)
        clock, core = time.perf_counter() - clock, time.process_time() - core
        print(
            f"{count} works on 4 tables, seed {seed}: {clock:.1f} s by the clock, {core:.1f} s of a core; "
            f"late {days.late_min:.0f} min, bound {days.late_bound_min:.0f}; span {days.span_min:.0f} min, "
            f"bound {days.span_bound_min:.0f}"
        )


def main() -> int:
    """Run both and print what came of them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--shops", type=int, default=300)
    parser.add_argument("--works", type=int, default=500)
    told = parser.parse_args()
    large(told.works)
    return 1 if small(told.shops) else 0


if __name__ == "__main__":
    raise SystemExit(main())
