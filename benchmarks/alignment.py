"""Programs of the demo, and of any job, turned to crooked plates through every post-processor, and replayed.

    python benchmarks/alignment.py --count 1000
    python benchmarks/alignment.py JOB.toml --count 200 --post rs274-metric

Each case lays a sheet at random, up to 2 degrees turned and 30 mm shifted, aligns its program and
replays both with the replay of the tests, which shares no code with the package: every lit move
must end within 0.01 mm of its place on the plate, or the command must refuse by name.  Prints how
many landed and how many were refused and why, the worst miss, and the seconds; ends with 1 where
one did neither.
"""

from __future__ import annotations

import argparse
import json
import math
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

from replay import run  # noqa: E402

from cutplan.base.errors import CutplanError  # noqa: E402
from cutplan.geometry import Pose  # noqa: E402
from cutplan.planning import align_program, load_job, plan_job, write_files  # noqa: E402
from cutplan.program import list_postprocessors  # noqa: E402

MOST_MISS_MM = 0.01
MOST_DEG, MOST_SHIFT_MM = 2.0, 30.0


def planned(job_file: Path, post: str, out: Path) -> Path:
    """Plan a job through a post-processor into a folder."""
    job = load_job(job_file)
    # How well parts and cuts lie is no matter here.
    job = replace(job, order=replace(job.order, effort=0.01), nesting=replace(job.nesting, seconds=5.0))
    machine = replace(job.machine, postprocessor=post, postprocessor_oxyfuel=post)
    write_files(plan_job(replace(job, machine=machine, prices=None)), out)
    return out


def back(pose: Pose, point: Any) -> tuple[float, float]:
    """Return a place on the crooked plate in the plate's own coordinates."""
    turn, x, y = math.radians(pose.rotation_deg), point[0] - pose.x, point[1] - pose.y
    return x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)


def lit(texts: list[str], dialect: Any) -> list[Any]:
    """Return the lit moves of a program."""
    return [row for row in run(texts, dialect) if row.moves and (row.torch or row.marker)]


def case(out: Path, sheet: Any, before: list[Any], dice: random.Random) -> float | str:
    """Return the worst miss of one random skew, mm, or why it was refused."""
    turn = math.radians(dice.uniform(-MOST_DEG, MOST_DEG))
    dx, dy = (dice.uniform(-MOST_SHIFT_MM, MOST_SHIFT_MM) for _ in range(2))
    length = sheet["length_mm"]
    found = [(dx, dy), (dx + length * math.cos(turn), dy + length * math.sin(turn))]
    name = f"{sheet['id']}-{sheet['sheet']}"
    try:
        aligned = align_program(out / sheet["programs"][0]["file"], out / "plan.json", found, sheet=name)
    except CutplanError as problem:
        return str(problem).split(":")[1 if problem.where else 0].strip()[:60]
    after = lit(list(aligned.sheet.texts), sheet["dialect"])
    if len(after) != len(before):
        return math.inf
    pose = aligned.lie.pose
    return max(
        max(math.dist(old.start[:2], back(pose, new.start)), math.dist(old.end[:2], back(pose, new.end)))
        for old, new in zip(before, after, strict=True)
    )


def main() -> int:
    """Run the cases and print what came of them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("job", nargs="?", type=Path, default=ROOT / "parts" / "dolly-batch.toml")
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--post", action="append")
    told = parser.parse_args()
    posts = told.post or [post.name for post in list_postprocessors()]
    dice, refused, worst, landed, wrong = random.Random(1), Counter[str](), 0.0, 0, 0
    began = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        for n, post in enumerate(posts):
            try:
                out = planned(told.job, post, Path(folder) / post)
            except CutplanError as problem:
                print(f"{post}: the job cannot be planned through it: {str(problem)[:120]}")
                continue
            sheets = json.loads((out / "plan.json").read_text())["plates"]
            texts = [[(out / each["file"]).read_text() for each in sheet["programs"]] for sheet in sheets]
            ways = [lit(text, sheet["dialect"]) for text, sheet in zip(texts, sheets, strict=True)]
            share = told.count // len(posts) + (n < told.count % len(posts))
            for k in range(share):
                which = k % len(sheets)
                result = case(out, sheets[which], ways[which], dice)
                if isinstance(result, str):
                    refused[result] += 1
                else:
                    landed, worst, wrong = landed + 1, max(worst, result), wrong + (result > MOST_MISS_MM)
            print(f"{post}: {share} skews of {len(sheets)} sheets", flush=True)
    print(f"landed {landed}, worst miss {worst:.4f} mm, beyond {MOST_MISS_MM} mm: {wrong}")
    for why, number in refused.most_common():
        print(f"refused {number}: {why}")
    print(f"{time.process_time() - began:.0f} s of one processor")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
