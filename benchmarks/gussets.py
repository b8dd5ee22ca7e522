"""How much of a batch of small parts in thin plate is travel, and how few of its parts are open at once.

    python benchmarks/gussets.py [--quantity 200]

A gusset with two slots and a hole in 6 mm, as `tests/gusset_jobs.py` draws it, is planned for a
control whose programs write heights: with `[order] low_travel`, and always raised.
`tests/replay_ways.py`, which shares no code with the package, holds each pierce against what was cut
and pierced before and counts the parts that are begun and not finished.  Exit code 1 where travel
and raising take a quarter of the time or more, a pierce lies too near, or more than five are open.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from gusset_jobs import write_gusset_job
from replay_ways import begun_at_once, faults_of_sheet

from cutplan.planning import load_job, plan_job
from cutplan.record import plan_json

PLATE = (3000.0, 1500.0)
PLATES = 4
MOST_TRAVEL = 0.25
MOST_OPEN = 5


def figures(job: Path) -> dict[str, Any]:
    """Plan a job and return what the estimate and the replay say of it."""
    worked = time.process_time()
    plan = plan_job(load_job(job))
    worked = time.process_time() - worked
    record = json.loads(plan_json(plan))
    times = plan.total.time_s
    sheets = list(zip(record["plates"], (sheet.program.text for sheet in plan.sheets), strict=True))
    return {
        "time_s": times["total"] - times["handling"],
        "travel": times["travel"] + times["raising"],
        "raising": times["raising"],
        "cuts": sum(len(sheet["cuts"]) for sheet, _ in sheets),
        "raised": sum(cut["raised"] for sheet, _ in sheets for cut in sheet["cuts"]),
        "faults": [fault for sheet, text in sheets for fault in faults_of_sheet(text, sheet, record)],
        "open": max(begun_at_once(text, sheet, record) for sheet, text in sheets),
        "processor_s": worked,
    }


def main() -> None:
    """Plan the batch in both ways and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quantity", type=int, default=200)
    quantity = parser.parse_args().quantity
    print(f"{platform.machine()}, Python {platform.python_version()}, {quantity} gussets")
    missed = False
    for low in (True, False):
        with tempfile.TemporaryDirectory() as folder:
            job = write_gusset_job(Path(folder), quantity, PLATES, PLATE)
            if not low:
                job.write_text(job.read_text().replace("low_travel = true", "low_travel = false"))
            found = figures(job)
        share = found["travel"] / found["time_s"]
        print(
            f"{'low where safe' if low else 'always raised'}: {share:.1%} of {found['time_s']:.0f} s travels or raises "
            f"({found['raising']:.0f} s raises), {found['raised']} of {found['cuts']} ways raised, "
            f"{found['open']} parts open at most, {len(found['faults'])} pierces too near, "
            f"processor {found['processor_s']:.0f} s",
            flush=True,
        )
        missed |= low and (share >= MOST_TRAVEL or found["open"] > MOST_OPEN or bool(found["faults"]))
    if missed:
        sys.exit("a limit was missed")


if __name__ == "__main__":
    main()
