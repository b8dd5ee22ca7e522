"""How random jobs fare: planned, proved, and replayed by code that shares nothing with the package.

    python benchmarks/replays.py [--jobs 300] [--first 0]

Each job is drawn, planned and written as `tests/random_jobs.py` makes it; `tests/replay_ways.py` then
holds every pierce against parts, edges and what was cut before, and every move against the clamps.
A job may end in an error where its parts do not fit (counted); a pierce too near, a clamp met or a
proof that fails is a failure, and exit code 1.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from random_jobs import write_random_job
from replay_ways import faults_of_sheet

from cutplan.base.errors import CutplanError, ProofError
from cutplan.planning import load_job, plan_job
from cutplan.record import plan_json

PROGRESS = 10
"""Jobs between two lines of progress."""


def run(seed: int, folder: Path, counts: Counter[str]) -> list[str]:
    """Plan and replay one job; return what is wrong."""
    job = write_random_job(folder, seed)
    try:
        plan = plan_job(load_job(job))
    except ProofError as error:
        return [f"the proof failed: {error}"]
    except CutplanError as error:
        counts["ended in an error"] += 1
        print(f"job {seed}: {error}", flush=True)
        return []
    record = json.loads(plan_json(plan))
    wrong = []
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        wrong += faults_of_sheet(planned.program.text, sheet, record)
        counts["sheets"] += 1
        counts[f"{sheet['process']} sheets"] += 1
        counts["sheets with clamps"] += bool(sheet["plate"]["keepouts"])
        counts["sheets of several torches"] += sheet["torches"] > 1
        counts["pierces"] += sum(cut["contour"] != "mark" for cut in sheet["cuts"])
        counts["marks"] += sum(cut["contour"] == "mark" for cut in sheet["cuts"])
    counts["jobs planned"] += 1
    counts["copies not placed"] += sum(item["quantity"] for item in record["unplaced"])
    return wrong


def main() -> int:
    """Run the jobs and print what came of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    counts: Counter[str] = Counter()
    failed, began = 0, time.perf_counter()
    for seed in range(asked.first, asked.first + asked.jobs):
        with tempfile.TemporaryDirectory() as folder:
            wrong = run(seed, Path(folder), counts)
        failed += bool(wrong)
        if (seed - asked.first + 1) % PROGRESS == 0:
            print(f"{seed - asked.first + 1} jobs, {failed} failed", flush=True)
        for told in wrong[:5]:
            print(f"job {seed}: {told}", flush=True)
    print(f"{platform.machine()}, Python {platform.python_version()}")
    for what, count in sorted(counts.items()):
        print(f"{what}: {count}")
    print(f"jobs with a pierce too near, a clamp met or a failed proof: {failed}")
    print(f"{time.perf_counter() - began:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
