"""Spoiled input of every kind but drawings, seeded: nothing may end in a traceback, a hang or a full memory.

    python benchmarks/spoiled.py lists 10000
    python benchmarks/spoiled.py settings 10000
    python benchmarks/spoiled.py jobs 10000
    python benchmarks/spoiled.py programs 10000
    python benchmarks/spoiled.py databases 10000

Each prints how many were read, how many refused by name, the slowest, and the memory at most;
what was neither is listed with its seed, and the command then ends with 1.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from spoiled_lists import spoiled_list  # noqa: E402
from spoiled_programs import sound_program, spoiled_program  # noqa: E402
from spoiled_settings import spoiled_text  # noqa: E402

from cutplan.base.errors import CutplanError  # noqa: E402
from cutplan.control import read_program  # noqa: E402
from cutplan.estimating import load_prices  # noqa: E402
from cutplan.planning.job import load_job  # noqa: E402
from cutplan.planning.parts_list import read_part_list  # noqa: E402
from cutplan.process.datafile import read_cutting_data  # noqa: E402
from cutplan.program.catalogue import read_postprocessor  # noqa: E402
from cutplan.stock import Inventory, Piece, inventory_problems, read_stock_list, rescue_inventory  # noqa: E402

SLOWEST_S = 20.0
LARGEST_MB = 2000.0

EVERY_KIND = """[job]
name = "every kind"
[machine]
table = [3000, 1500]
[nesting]
gap = 8
[order]
marks = "part"
[stock]
inventory = "rack.db"
[drawings]
gap = 0.3
[drawings.limits]
seconds = 20
[[plate]]
id = "A"
length = 3000
width = 1500
thickness = 10
grade = "S355"
keepouts = [[0, 0, 100, 100]]
[[part]]
name = "strip"
quantity = 2
thickness = 10
grade = "S355"
shape = { kind = "rectangle", length = 200, width = 80 }
[[part]]
drawing = "plate.dxf"
quantity = 2
thickness = 10
grade = "S355"
from_text = ["name", "quantity"]
leave_out = [{ larger_than = 120 }]
rotations = [0, 90]
"""

Case = tuple[Path, Callable[[], object]]
"""The file that a refusal must name, and what reads it."""


def lists(folder: Path, count: int) -> Iterator[Case]:
    """Yield readings of spoiled parts lists and stock lists."""
    for seed in range(count):
        name, content = spoiled_list(seed)
        file = folder / name
        file.write_bytes(content)
        read = (read_part_list, read_stock_list)[seed % 2]
        yield file, lambda read=read, file=file: read(file)


def settings(folder: Path, count: int) -> Iterator[Case]:
    """Yield readings of spoiled jobs, prices, cutting data and post-processors."""
    sources: list[tuple[Path, Callable[[Path], object]]] = [
        (ROOT / "parts/dolly-batch.toml", load_job),
        (ROOT / "parts/prices.toml", load_prices),
        *((file, read_cutting_data) for file in sorted((ROOT / "cutplan/process/data").glob("*.toml"))),
        *((file, read_postprocessor) for file in sorted((ROOT / "postprocessors").glob("*.toml"))),
    ]
    texts = [source.read_text(encoding="utf-8") for source, _ in sources]
    for seed in range(count):
        number = seed % len(sources)
        file = folder / sources[number][0].name
        file.write_bytes(spoiled_text(texts[number], seed))
        yield file, lambda read=sources[number][1], file=file: read(file)


def jobs(folder: Path, count: int) -> Iterator[Case]:
    """Yield readings of spoiled jobs: the demo's, and one that holds every kind of entry."""
    shipped = ROOT / "parts/dolly-batch.toml"
    texts = [shipped.read_text(encoding="utf-8"), EVERY_KIND]
    for seed in range(count):
        file = folder / "spoiled.toml"
        file.write_bytes(spoiled_text(texts[seed % 2], seed))
        yield file, lambda file=file: load_job(file)


def programs(folder: Path, count: int) -> Iterator[Case]:
    """Yield readings of spoiled programs, as the proof and the estimate read them."""
    sound, file = sound_program(), folder / "spoiled.nc"
    for seed in range(count):
        text = spoiled_program(sound, seed)
        strict = seed % 2 == 0
        yield file, lambda text=text, strict=strict: read_program(text, name=file.name, strict=strict)


def databases(folder: Path, count: int) -> Iterator[Case]:
    """Yield readings, checks and rescues of spoiled inventories."""
    sound = folder / "sound.db"
    with Inventory(sound) as stock:
        stock.add([Piece(f"P{n}", 3000, 1500, 10, "S355", "mild steel", heat=f"H{n}") for n in range(40)])
        stock.reserve("first", ["P1", "P2"])
        stock.reserve("second", ["P3"], folder=folder / "out")
        stock.confirm_cut("first", "P1", "P1-1.nc", [(f"AB-{n}", "web", n) for n in range(30)], [])
    content = sound.read_bytes()
    for seed in range(count):
        dice, data = random.Random(seed), bytearray(content)
        for _ in range(dice.choice((1, 5, 200))):
            data[dice.randrange(len(data))] = dice.randrange(256)
        if seed % 4 == 0:
            del data[dice.randrange(len(data)) :]
        file = folder / "spoiled.db"
        file.write_bytes(data)
        yield file, lambda file=file: _ask_all(file)
        (folder / "saved.db").unlink(missing_ok=True)
        yield file, lambda file=file: _save(file)


def _ask_all(file: Path) -> None:
    with Inventory(file, make=False) as stock:
        pieces = stock.pieces()
        stock.pending(), stock.trace()
        for piece in pieces:
            stock.history(piece.label)


def _save(file: Path) -> None:
    inventory_problems(file)
    rescue_inventory(file, file.with_name("saved.db"))
    _ask_all(file.with_name("saved.db"))


KINDS = {"lists": lists, "settings": settings, "jobs": jobs, "programs": programs, "databases": databases}


def main(kind: str, count: int) -> int:
    """Run the cases of a kind and print what came of them."""
    warnings.simplefilter("ignore")
    outcome: Counter[str] = Counter()
    slowest, began = 0.0, time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        for number, (file, read) in enumerate(KINDS[kind](Path(folder), count)):
            start = time.perf_counter()
            try:
                read()
                outcome["read"] += 1
            except CutplanError as problem:
                named = file.name in str(problem) and str(problem).replace("\n", "").isprintable()
                outcome["refused by name" if named else f"refused without a name: {str(problem)[:90]}"] += 1
            except BaseException as problem:
                place = traceback.extract_tb(problem.__traceback__)[-1]
                outcome[f"{type(problem).__name__} in {Path(place.filename).name}:{place.lineno}"] += 1
                print(f"case {number}: {type(problem).__name__}: {str(problem)[:100]}")
            slowest = max(slowest, time.perf_counter() - start)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    for what, times in outcome.most_common():
        print(f"{times:7d} {what}")
    print(
        f"slowest {slowest:.2f} s, memory at most {memory:.0f} MB, in all {time.perf_counter() - began:.0f} s"
    )
    good = set(outcome) <= {"read", "refused by name"} and slowest < SLOWEST_S and memory < LARGEST_MB
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], int(sys.argv[2])))
