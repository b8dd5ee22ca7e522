"""A sheet stopped at every cut and at random places, taken up again, proved, and replayed.

    python benchmarks/restarts.py --places 200
    python benchmarks/restarts.py JOB.toml --sheet PL10-2 --post rs274-heights --places 50 --every 10

By default the demo's plate with the most cuts.  Each restart passes the package's proof together
with what ran before it (or the command raises), and is then held by the replay of the tests, which
shares no code with the package: every later run as planned, the one that is taken up begun the
stated over-run before the place and run to its end.  Prints how many were right, the longest
over-run and the seconds; ends with 1 where one was not.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from restart_replay import Run, runs_of, wrongs  # noqa: E402

from cutplan.base.errors import CutplanError  # noqa: E402
from cutplan.planning import RestartWishes, load_job, plan_job, restart_program, write_files  # noqa: E402


def planned(job_file: Path, post: str | None, out: Path) -> None:
    """Plan a job, through a post-processor of its own or the job's."""
    job = load_job(job_file)
    if post is not None:
        job = replace(job, machine=replace(job.machine, postprocessor=post, postprocessor_oxyfuel=post))
    write_files(plan_job(replace(job, prices=None)), out)


def case(out: Path, sheet: Any, runs: list[Run], number: int, way: float | None, *, reorder: bool) -> Any:
    """Return a restart where the torch stopped a way along a run, and what is wrong with it."""
    program, plan = out / sheet["programs"][0]["file"], out / "plan.json"
    name = f"{sheet['id']}-{sheet['sheet']}"
    at = None if way is None else runs[number - 1].at(way)
    wishes = RestartWishes(number, at=at, reorder=reorder)
    done = restart_program(program, plan, wishes, sheet=name)
    stop = done.sheet.stopped
    if way is not None and done.passes_twice_mm and abs((stop.until_mm or way) - way) > 0.5:
        done = restart_program(program, plan, replace(wishes, later=True), sheet=name)
        stop = done.sheet.stopped
    new = runs_of([file.text for file in done.sheet.program.files], sheet["dialect"])
    if reorder:
        # In the plan's order again, by where each ends.
        ends = [run.points[-1] for run in runs]
        new = sorted(
            new, key=lambda run: min(range(len(ends)), key=lambda k: _apart(ends[k], run.points[-1]))
        )
    first, place = (stop.cuts, None) if stop.until is None else (stop.cuts - 1, stop.until_mm)
    chord = 0.02 if sheet["postprocessor"] == "rs274-lines-only" else 0.0
    offset = sheet["dialect"].get("compensation_radius_mm") or 0.0
    return done, wrongs(runs, new, first, place, done.over_run_mm, chord, offset)


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return abs(one[0] - other[0]) + abs(one[1] - other[1])


def main() -> int:
    """Run the cases and print what came of them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("job", nargs="?", type=Path, default=ROOT / "parts" / "dolly-batch.toml")
    parser.add_argument("--plan", type=Path, help="a folder with a plan, instead of planning the job")
    parser.add_argument("--sheet", help="by default the one with the most cuts")
    parser.add_argument("--post")
    parser.add_argument("--places", type=int, default=200)
    parser.add_argument("--every", type=int, default=1, help="from every cut, or every so many")
    parser.add_argument("--reorder", action="store_true")
    told = parser.parse_args()
    dice, refused, right, bad, longest = random.Random(18), Counter[str](), 0, 0, 0.0
    with tempfile.TemporaryDirectory() as folder:
        out = told.plan or Path(folder)
        if told.plan is None:
            planned(told.job, told.post, out)
        sheets = {f"{s['id']}-{s['sheet']}": s for s in json.loads((out / "plan.json").read_text())["plates"]}
        name = told.sheet or max(sheets, key=lambda key: len(sheets[key]["cuts"]))
        sheet = sheets[name]
        runs = runs_of([(out / each["file"]).read_text() for each in sheet["programs"]], sheet["dialect"])
        cases: list[tuple[int, float | None]] = [(n, None) for n in range(1, len(runs) + 1, told.every)]
        for _ in range(told.places):
            number = dice.randrange(len(runs)) + 1
            cases.append((number, dice.random() * runs[number - 1].length))
        began = time.process_time()
        for number, way in cases:
            try:
                done, wrong = case(out, sheet, runs, number, way, reorder=told.reorder)
            except CutplanError as problem:
                refused[str(problem)[:110]] += 1
                continue
            longest = max(longest, done.over_run_mm)
            right, bad = right + (not wrong), bad + bool(wrong)
            if wrong:
                print(f"cut {number}, {way} mm: {wrong[:3]}", flush=True)
    seconds = time.process_time() - began
    print(
        f"{name}: {len(runs)} cuts; {len(cases) - told.places} restarts from a cut, {told.places} from a place"
    )
    print(f"right {right}, wrong {bad}, longest over-run {longest:.2f} mm")
    for why, count in refused.most_common():
        print(f"refused {count}: {why}")
    print(f"{seconds:.0f} s of one processor, {seconds / len(cases):.2f} s each")
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
