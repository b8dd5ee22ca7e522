"""How many seeded faults the proof lets pass, and how many honest edits it refuses.

    python benchmarks/mutants.py [--each 40] [--honest 12] [--workers 2] [--only WORDS] [--keep FOLDER]

Every class of `tests/faults` makes different edits of the programs of every post-processor that
ships; `cutplan verify` answers each.  A fault is missed where its program is accepted though it is
wrong by construction, or does harm in a replay that shares no code with the package.  The table
shows each class; missed ones come first, with the first edit that was missed.  Exit code 1 where
a fault is missed or an honest edit refused.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from faults import FAULTS, HONEST, RECIPES, SHARED_FOLDER, case, trials
from faults.judging import leave

LONGEST_SHOWN = 150


@dataclass(frozen=True)
class Row:
    """What came of one class."""

    name: str
    wrong: str
    tried: int
    refused: int
    noted: int
    passed: int
    bad: int
    first: str


def examine(job: tuple[str, str, int, str]) -> Row:
    """Try the edits of one class."""
    book, name, count, keep = job
    classes = FAULTS.classes if book == "fault" else HONEST.classes
    fault = classes[name]
    found = list(trials(fault, tuple(RECIPES), count))
    bad = [trial for trial in found if (trial.missed if book == "fault" else trial.answer.refused)]
    first = ""
    if bad:
        told = "; ".join(bad[0].harms or ()) or " ".join(bad[0].answer.words.split())
        first = f"{bad[0].case}, seed {bad[0].seed}: {told[:LONGEST_SHOWN]}"
        if keep:
            leave(bad[0], Path(keep) / name.replace(" ", "-").replace("'", ""))
    codes = [trial.answer.code for trial in found]
    return Row(
        name,
        fault.wrong,
        len(found),
        sum(trial.answer.refused for trial in found),
        codes.count(1),
        codes.count(0),
        len(bad),
        first,
    )


def run(book: str, each: int, workers: int, only: str, keep: str) -> list[Row]:
    """Examine all classes of a book, or those whose names hold some words."""
    classes = FAULTS.classes if book == "fault" else HONEST.classes
    jobs = [(book, name, each, keep) for name in classes if only in name]
    if workers < 2:
        return [examine(job) for job in jobs]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(examine, jobs, chunksize=8))


def table(rows: Sequence[Row], bad: str) -> None:
    """Print the classes, the bad ones first."""
    print(f"| class | wrong | tried | refused | exit 1 | exit 0 | {bad} |\n|---|---|---|---|---|---|---|")
    for row in sorted(rows, key=lambda row: (-row.bad, row.name)):
        print(
            f"| {row.name} | {row.wrong} | {row.tried} | {row.refused} | {row.noted} | {row.passed} | {row.bad} |"
        )
    for row in rows:
        if row.bad:
            print(f"\n{bad}: {row.name}, {row.first}")


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--each", type=int, default=40, help="edits of each class of faults at most")
    parser.add_argument("--honest", type=int, default=12, help="edits of each class of honest ones at most")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", default="", help="classes whose names hold these words")
    parser.add_argument("--keep", default="", help="leave the first bad edit of each class in this folder")
    options = parser.parse_args()
    print(f"{time.strftime('%Y-%m-%d')}, {platform.machine()}, Python {platform.python_version()}")
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        os.environ[SHARED_FOLDER] = folder
        for name in RECIPES:
            case(name)
        faults = run("fault", options.each, options.workers, options.only, options.keep)
        honest = run("honest", options.honest, options.workers, options.only, options.keep)
    for told, rows, bad in (("faults", faults, "missed"), ("honest edits", honest, "refused wrongly")):
        tried, wrong = sum(row.tried for row in rows), sum(row.bad for row in rows)
        print(f"\n{tried} {told} in {len(rows)} classes, {wrong} {bad}\n")
        table(rows, bad)
    print(f"\n{time.perf_counter() - begun:.0f} s")
    return 1 if any(row.bad for row in (*faults, *honest)) else 0


if __name__ == "__main__":
    sys.exit(main())
