"""A random history of real, tiny plans over a rack, beside what a clerk with a pencil writes down.

Each step plans what the job still owes, books out a sheet, books a part as spoilt, or takes a
change back, by the command line.  After each, nothing is lost or invented: every mark that a plan
gave is planned, cut, spoilt or dropped, once; what is cut was planned, and no more than is wanted,
but for parts that were booked as spoilt, planned anew, and found sound after all; plates are in the rack,
held or cut, once, and the plate that a remnant came of is cut.

    python tests/plan_history.py FOLDER STEPS [FIRST]
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import threading
from collections import Counter
from pathlib import Path

from typer.testing import CliRunner

from cutplan.base.errors import CutplanError
from cutplan.cli.commands import app
from cutplan.stock import Inventory, Piece

BACK = ("taken back", "spoilt")
WANTED = {"strip": 5, "tag": 3}
PLATES = 40
JOB = """
[job]
name = "tiny"
[machine]
table = [3000, 1500]
[cutting]
process = "plasma"
[order]
effort = 0.01
[stock]
inventory = true
reopen = true
[[part]]
name = "strip"
quantity = 5
thickness = 10
grade = "S355"
shape = { kind = "rectangle", length = 120, width = 50 }
[[part]]
name = "tag"
quantity = 3
thickness = 10
grade = "S355"
shape = { kind = "rectangle", length = 60, width = 40 }
"""


def begun(folder: Path) -> Path:
    """Set up a rack and a job in a folder; returns the inventory's file."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "stock.db"
    os.environ["CUTPLAN_STOCK"], os.environ["CUTPLAN_AUTHOR"] = str(file), "clerk"
    if not file.exists():
        (folder / "job.toml").write_text(JOB)
        # Another author: what is taken back is the clerk's own.
        with Inventory(file, author="keeper") as stock:
            stock.add([Piece(f"P{n}", 260.0, 180.0, 10.0, "S355", "mild steel") for n in range(PLATES)])
    else:
        # What a killed process left half done is mended by the plan that comes next.
        done("plan", str(folder / "job.toml"), "--out", str(folder / "out0"))
    return file


def killed_after(folder: Path, steps: int, first: int, wait: float) -> tuple[int, int]:
    """Take steps in a process of its own and kill it; returns the step to go on with, and what it ended with.

    Parameters
    ----------
    folder : Path
    steps, first : int
    wait : float
        Seconds after its first step; a process that is through by then ends by itself.
    """
    words = [sys.executable, __file__, str(folder), str(steps), str(first)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        lines = [run.stdout.readline()]
        killer = threading.Timer(wait, run.kill)
        killer.start()
        lines += run.stdout.readlines()
        killer.cancel()
    told = [line for line in lines if line.endswith("\n")]
    # A step that was killed is taken anew.
    return (int(told[-1].split()[0]) + 1 if told else first), run.returncode


def done(*words: str) -> bool:
    """Run a command; whether it did what it was asked for, or refused by name."""
    result = CliRunner().invoke(app, list(words))
    if result.exception is None or isinstance(result.exception, SystemExit):
        return result.exit_code in (0, 1)
    if isinstance(result.exception, CutplanError):
        return False
    raise result.exception


def step(folder: Path, dice: random.Random) -> str:
    """Take one step; returns what it was."""
    kind = dice.choices(("plan", "cut", "spoil", "undo", "release"), (5, 4, 3, 2, 1))[0]
    with Inventory(folder / "stock.db") as stock:
        marks = stock.marks(job="tiny")
    good = sorted(mark.mark for mark in marks if mark.state in ("planned", "cut"))
    plans = sorted(path.parent.name for path in folder.glob("out*/plan.json"))
    out = folder / f"out{dice.randint(0, 3)}"
    if kind == "plan":
        did = done("plan", str(folder / "job.toml"), "--out", str(out))
    elif kind == "cut" and plans:
        did = done("stock", "cut", str(folder / dice.choice(plans) / "plan.json"), "--keep", "100x60")
    elif kind == "spoil" and good:
        did = done("stock", "spoil", dice.choice(good), "--why", "bent")
    elif kind == "release" and plans:
        did = done(
            "stock", "release", json.loads((folder / dice.choice(plans) / "plan.json").read_text())["plan"]
        )
    else:
        kind, did = "undo", done("stock", "undo")
    return kind if did else f"{kind} refused"


def wrongs(folder: Path) -> list[str]:
    """Return what is lost or invented; empty where nothing is."""
    with Inventory(folder / "stock.db") as stock:
        pieces, marks = stock.pieces(), stock.marks(job="tiny")
        owing = {each.part: each for each in stock.owings("tiny")}
        again = [c.detail["mark"] for c in stock.changes() if (c.act, c.detail.get("was")) == BACK]
    # A part that was no scrap after all may have been planned anew meanwhile: one too many each.
    sound = Counter(next(mark.part for mark in marks if mark.mark == each) for each in again)
    found = []
    labels = Counter(piece.label for piece in pieces)
    found += [f"{label} is there {count} times" for label, count in labels.items() if count > 1]
    found += [f"P{n} is lost" for n in range(PLATES) if f"P{n}" not in labels]
    states = {piece.label: piece.state for piece in pieces}
    found += [
        f"{label} is of a plate that is {states.get(label.rsplit('-R', 1)[0])}"
        for label, state in states.items()
        if "-R" in label and state == "in rack" and states.get(label.rsplit("-R", 1)[0]) != "cut"
    ]
    seen = Counter((mark.plan, mark.mark) for mark in marks)
    found += [f"{mark} is known {count} times" for mark, count in seen.items() if count > 1]
    for part, wanted in WANTED.items():
        count = Counter(mark.state for mark in marks if mark.part == part)
        if part in owing and (owing[part].planned, owing[part].cut, owing[part].spoilt) != (
            count["planned"], count["cut"], count["spoilt"],
        ):  # fmt: skip
            found.append(f"{part} is counted otherwise than it is marked")
        if count["planned"] + count["cut"] > wanted + sound[part]:
            found.append(f"{count['planned']} {part} planned and {count['cut']} cut, {wanted} wanted")
    return found


def main() -> None:
    """Take steps, one line each, and end at the first that loses or invents something."""
    folder, steps = Path(sys.argv[1]), int(sys.argv[2])
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    begun(folder)
    for seed in range(first, first + steps):
        told = step(folder, random.Random(seed))
        wrong = wrongs(folder)
        print(seed, told, *wrong, flush=True)
        if wrong:
            raise SystemExit(1)


if __name__ == "__main__":
    main()
