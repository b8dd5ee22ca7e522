"""How often a stated interval holds the truth: kerf, pierce times and machine factors, from synthetic readings.

    python benchmarks/fits.py [--trials 1000] [--seed 7]

Readings are drawn about a known truth; an interval that is to hold it 95 times of 100 is right
where it does so 93 to 97 times.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

import numpy as np

from cutplan.estimating import ACTIVITIES, Estimate, calibrate
from cutplan.process import Library, Readings, learn

TRUE = {"cutting": 1.08, "standing": 1.4, "moving": 0.9}
GROUPS = {"cutting": "cutting", "piercing": "standing", "travel": "moving", "raising": "moving"}
READINGS, PROGRAMS, SCATTER = 8, 24, 0.01


def learned(quantity: str, truth: float, spread: float, trials: int, seed: int) -> dict[str, int]:
    """Return how often mean and spread of a quantity lay in their intervals."""
    table = next(t for t in Library.load().tables if (t.current_a, t.material) == (120.0, "mild steel"))
    rng = np.random.default_rng(seed)
    held = {f"{quantity}, mean": 0, f"{quantity}, spread": 0}
    for _ in range(trials):
        values = rng.normal(truth, spread, READINGS)
        readings = Readings(quantity, "made up", np.full(READINGS, 10.0), values, tuple(range(READINGS)))
        (found,) = learn(readings, table)
        held[f"{quantity}, mean"] += found.low <= truth <= found.high
        held[f"{quantity}, spread"] += found.spread_low <= spread <= found.spread_high
    return held


def fitted(trials: int, seed: int) -> dict[str, int]:
    """Return how often each factor of a machine lay in its interval."""
    rng = np.random.default_rng(seed)
    estimates = {}
    for i in range(PROGRAMS):
        time_s = dict.fromkeys(ACTIVITIES, 0.0)
        time_s |= dict(zip(GROUPS, rng.uniform([200, 20, 50, 30], [900, 200, 300, 200]), strict=True))
        estimates[f"P{i}"] = Estimate({**time_s, "total": sum(time_s.values())}, {}, 0.0, 1, 1.0)
    true = {
        name: sum(TRUE[group] * e.time_s[activity] for activity, group in GROUPS.items())
        for name, e in estimates.items()
    }
    held = {f"factor on {group}": 0 for group in TRUE}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "measured.csv"
        for _ in range(trials):
            rows = [f"{n},{s / 60 * (1 + SCATTER * rng.normal()):.6f}" for n, s in true.items()]
            file.write_text("program,minutes\n" + "\n".join(rows) + "\n")
            for group, (low, high) in calibrate(file, estimates).intervals.items():
                held[f"factor on {group}"] += low <= TRUE[group] <= high
    return held


def main() -> None:
    """Print a line for each interval."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--trials", type=int, default=1000)
    options.add_argument("--seed", type=int, default=7)
    told = options.parse_args()
    held = learned("kerf", 2.2, 0.05, told.trials, told.seed)
    held |= learned("pierce_s", 0.5, 0.06, told.trials, told.seed)
    held |= fitted(told.trials, told.seed)
    for name, count in held.items():
        print(f"{name}: held {count} times of {told.trials}")


if __name__ == "__main__":
    main()
