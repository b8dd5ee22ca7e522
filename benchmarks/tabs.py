"""How wide the tabs of random jobs are, beside the width asked for.

    python benchmarks/tabs.py [--jobs 30]

Random jobs as `tests/random_jobs.py` writes them are planned with tabs of several widths.  Each tab is
measured twice in the program's own text: by the proof, and by the replay in `tests/replay.py`, which
shares no code with the package, with shapely.  Exit code 1 where a tab is more than 0.1 mm off.
"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
from pathlib import Path

import numpy as np
import shapely
from shapely.ops import substring

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from random_jobs import write_random_job
from replay import replay

from cutplan.planning import load_job, plan_job
from cutplan.record import PlannedSheet, planned_of
from cutplan.stock import first_lane
from cutplan.verification import tab_widths

ASKED = (1.5, 2.5, 4.0, 6.0)
MOST_OFF = 0.1


def by_replay(sheet: PlannedSheet) -> list[float]:
    """Return the distance of the two ends at each tab, less a kerf: chords of the replayed runs, by shapely."""
    lines = [shapely.LineString(run) for run in replay(sheet.program.text) if len(run) > 1]
    found = []
    for tab in sheet.tabs:
        at, far = shapely.Point(tab.at), 2.0 * (tab.width_mm + sheet.data.kerf)
        ending = min(lines, key=lambda line: at.distance(shapely.get_point(line, -1)))
        # A run begins on the edge at its second point, where its straight way in ends.
        beginning = min(lines, key=lambda line: at.distance(shapely.get_point(line, 1)))
        lead = shapely.get_point(beginning, 0).distance(shapely.get_point(beginning, 1))
        last = substring(ending, ending.length - far, ending.length)
        found.append(last.distance(substring(beginning, 0.0, lead + far)) - sheet.data.kerf)
    return found


def main() -> None:
    """Plan the jobs and print how far the tabs are off."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--jobs", type=int, default=30)
    jobs = parser.parse_args().jobs
    off: dict[str, list[float]] = {"proof": [], "replay": []}
    for seed in range(jobs):
        asked = ASKED[seed % len(ASKED)]
        with tempfile.TemporaryDirectory() as folder:
            file = write_random_job(Path(folder), seed)
            words = f"[techniques]\ntabs = {{ count = {1 + seed % 3}, width_mm = {asked} }}\n[marking]"
            file.write_text(file.read_text().replace("[marking]", words))
            plan = plan_job(load_job(file))
        for sheet in plan.sheets:
            run = first_lane(sheet.nested, sheet.lanes)
            assert run is not None
            texts = [each.text for each in sheet.program.files]
            planned = planned_of(sheet.cuts, sheet.lanes, sheet.tabs)
            proof = tab_widths(texts, run, sheet.data, planned, dialect=sheet.program.dialect)
            off["proof"] += [width - tab.width_mm for width, tab in zip(proof, sheet.tabs, strict=True)]
            off["replay"] += [w - tab.width_mm for w, tab in zip(by_replay(sheet), sheet.tabs, strict=True)]
    print(f"{platform.machine()}, Python {platform.python_version()}, {jobs} jobs, {len(off['proof'])} tabs")
    for name, values in off.items():
        worst = float(np.abs(values).max(initial=0.0))
        print(f"{name}: at most {worst:.4f} mm off, mean {np.mean(values):+.4f} mm")
    sys.exit(int(max(float(np.abs(v).max(initial=0.0)) for v in off.values()) > MOST_OFF))


if __name__ == "__main__":
    main()
