"""Wrong edits of programs that bevel, and how many of them the proof refuses.

    python benchmarks/bevels.py [--mutants N] [--seed S]

Programs of straight and round edges, one slope and two, by each head and process; each is proved
honest first, and each mutant changes one thing: angle, sign, side, land, ends, a pass, feed, setting.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.bevel_faults import EDITS, honest_programs


def main() -> int:
    """Try mutants of every program in turn until so many were tried; returns 1 where one passes."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--mutants", type=int, default=500)
    reader.add_argument("--seed", type=int, default=1)
    asked = reader.parse_args()
    began = time.perf_counter()
    honest = list(honest_programs())
    for made in honest:
        verdict = made.verdict()
        if not verdict.passed:
            print(f"an honest program is refused: {verdict.faults[0]}")
            return 1
    chance = random.Random(asked.seed)
    tried, refused = Counter[str](), Counter[str]()
    while sum(tried.values()) < asked.mutants:
        for made in honest:
            edit = chance.choice(EDITS)
            text = edit(made.program.text, chance)
            if text is None or text == made.program.text or sum(tried.values()) >= asked.mutants:
                continue
            tried[edit.__name__] += 1
            verdict = made.verdict(text)
            if verdict.passed:
                print(
                    f"passed: {edit.__name__} by {made.post.name}, {made.asked.slope} {made.asked.tilt_deg:g}"
                )
            else:
                refused[edit.__name__] += 1
    for name in tried:
        print(f"{name:14} {refused[name]:4} of {tried[name]:4} refused")
    whole = sum(tried.values())
    print(
        f"{sum(refused.values())} of {whole} refused, {len(honest)} honest programs proved, {time.perf_counter() - began:.0f} s"
    )
    return int(sum(refused.values()) < whole)


if __name__ == "__main__":
    raise SystemExit(main())
