"""Spoiled drawings read in processes of their own: each gives a result or one clean error, and in time.

    python benchmarks/drawings.py spoiled --count 10000 --seed 1
    python benchmarks/drawings.py bombs
    python benchmarks/drawings.py speed --parts 700
    python benchmarks/drawings.py samples --folder ezdxf-1.4.5/integration_tests/data

`spoiled` spoils sound drawings by the byte, by the line and by the entity, as the tests do with a
thousand of them.  `bombs` reads small files that unfold to much.  `speed` holds reading and
measuring, in processor time, against what ezdxf alone takes to load the file.  `samples` reads a
folder of drawings, as general-purpose libraries carry them in their source distributions, beside an
independent reading.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import ezdxf
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "drawing")]

from independent_faces import compare_with_faces  # noqa: E402
from test_mutations import flip_bytes, modern_drawing, mutate_entities, old_drawing, spoil_lines  # noqa: E402

from cutplan.base.errors import CutplanError  # noqa: E402
from cutplan.drawing import ReadOptions, measure_part, read_apart  # noqa: E402
from cutplan.drawing.read import inspect_drawing  # noqa: E402

# Drawings made before they are read, to keep the folder small.
BATCH = 500


def spoiled(count: int, seed: int) -> None:
    """Spoil drawings in three ways by turns, and tell what became of them."""
    outcomes: Counter[str] = Counter()
    slowest, began = 0.0, time.perf_counter()
    empty, sound = ezdxf.new("R2010", units=4), old_drawing()
    with tempfile.TemporaryDirectory() as folder:
        modern = Path(folder) / "modern.dxf"
        modern_drawing(empty, curves=True).saveas(modern)
        modern_text = modern.read_text(encoding="utf-8")
        for first in range(0, count, BATCH):
            files = []
            for k in range(first, min(first + BATCH, count)):
                random = np.random.default_rng([seed, k])
                file = Path(folder) / f"{k % BATCH}.dxf"
                if k % 4 == 0:
                    document = modern_drawing(empty, curves=k % 40 == 0)
                    mutate_entities(document, random)
                    try:
                        document.saveas(file)
                    except Exception:
                        # The library cannot write every entity that was spoiled in memory.
                        file.write_bytes(flip_bytes(sound, random))
                else:
                    text = modern_text if k % 4 == 1 else sound
                    spoil = spoil_lines if k % 2 else flip_bytes
                    file.write_bytes(spoil(text, random))
                files.append((file, ReadOptions(open="leave out") if k % 3 == 0 else ReadOptions()))
            start = time.perf_counter()
            for (file, _), reading in zip(files, read_apart(files, os.cpu_count() or 1), strict=True):
                outcomes[_outcome(reading, file)] += 1
            slowest = max(slowest, time.perf_counter() - start)
    print(f"{count} drawings, seed {seed}: {dict(outcomes)}")
    print(f"{time.perf_counter() - began:.0f} s in all, slowest batch of {BATCH} {slowest:.0f} s")


def _outcome(reading: object, file: Path) -> str:
    if isinstance(reading, CutplanError):
        text = str(reading)
        if file.name not in text:
            return "message without its file"
        for word, name in (
            ("crashed", "crash"),
            ("cannot be read (", "traceback"),
            ("more than 20 s", "stopped after 20 s"),
        ):
            if word in text:
                print(text)
                return name
        return "clean error"
    stops = any(finding.kind in ("refused", "question") for finding in reading.findings)  # type: ignore[attr-defined]
    return "refused or asked" if stops else "parts"


def _tags(*pairs: object) -> str:
    return "".join(f"{value}\n" for value in pairs)


def _file(entities: str, blocks: str = "") -> str:
    section = _tags(0, "SECTION", 2, "BLOCKS") + blocks + _tags(0, "ENDSEC") if blocks else ""
    return section + _tags(0, "SECTION", 2, "ENTITIES") + entities + _tags(0, "ENDSEC", 0, "EOF")


def _circle(x: float, y: float, radius: float) -> str:
    return _tags(0, "CIRCLE", 8, 0, 10, x, 20, y, 40, radius)


def _polyline(points: list[tuple[float, float]]) -> str:
    vertices = "".join(_tags(0, "VERTEX", 8, 0, 10, x, 20, y) for x, y in points)
    return _tags(0, "POLYLINE", 8, 0, 66, 1, 70, 1) + vertices + _tags(0, "SEQEND", 8, 0)


def _block(name: str, entities: str) -> str:
    return _tags(0, "BLOCK", 8, 0, 2, name, 70, 0, 10, 0, 20, 0) + entities + _tags(0, "ENDBLK", 8, 0)


def _insert(name: str, x: float = 0.0, y: float = 0.0, **more: float) -> str:
    return _tags(0, "INSERT", 8, 0, 2, name, 10, x, 20, y, *(v for k, n in more.items() for v in (k[1:], n)))


def bombs() -> dict[str, str]:
    """Return small files that unfold to much, by what they hold."""
    nested = "".join(_block(f"B{k}", _insert(f"B{k + 1}")) for k in range(1000)) + _block(
        "B1000", _circle(0, 0, 9)
    )
    doubling = "".join(_block(f"B{k}", _insert(f"B{k + 1}") * 2) for k in range(16))
    doubling += _block("B16", _tags(0, "LINE", 8, 0, 10, 0, 20, 0, 11, 90, 21, 0))
    array = {"_70": 300, "_71": 300, "_44": 30, "_45": 30}
    oval = [(100 * np.cos(k * 0.157), 70 * np.sin(k * 0.157)) for k in range(40)]
    star = [(500 * np.cos(k * 2.399), 500 * np.sin(k * 2.399)) for k in range(4000)]
    return {
        "coincident copies": _file(_insert("B0"), doubling),
        "500 equal contours": _file(_polyline(oval) * 500),
        "500 contours a hair apart": _file("".join(_circle(k * 1e-4, 0, 50) for k in range(500))),
        "3000 concentric circles": _file("".join(_circle(0, 0, 10 + 0.5 * k) for k in range(3000))),
        "1000 nested blocks": _file(_insert("B0"), nested),
        "array of inserts": _file(_insert("B", **array), _block("B", _circle(0, 0, 9))),
        "a block in itself": _file(_insert("B"), _block("B", _insert("B") + _circle(0, 0, 9))),
        "5000 crossing lines": _file(
            "".join(_tags(0, "LINE", 8, 0, 10, 0, 20, k, 11, 900, 21, 900 - k) for k in range(5000))
        ),
        "a polyline that crosses itself often": _file(_polyline(star)),
        "lines a hair apart": _file(
            "".join(_tags(0, "LINE", 8, 0, 10, 0, 20, k * 1e-3, 11, 900, 21, k * 1e-3) for k in range(3000))
        ),
    }


def explode() -> None:
    """Read each bomb and tell what it took."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in bombs().items():
            file = Path(folder) / "bomb.dxf"
            file.write_text(text)
            start = time.perf_counter()
            (reading,) = read_apart([(file, ReadOptions())])
            took = time.perf_counter() - start
            words = str(reading).replace(str(file), "bomb.dxf")
            print(
                f"{name}: {len(text) / 1000:.1f} kB, {took:.1f} s: {_outcome(reading, file)}: {words[:110]}"
            )


def speed(parts: int) -> None:
    """Time the reading and measuring of a drawing of many parts against ezdxf's own loading, best of five."""
    document = ezdxf.new("R2010", units=4)
    space, random = document.modelspace(), np.random.default_rng(1)
    for k in range(parts):
        x, y, w, h = 300.0 * (k % 30), 300.0 * (k // 30), *random.uniform(160, 250, 2)
        corners = [(x, y), (x + w, y), (x + w, y + 0.6 * h), (x + 0.5 * w, y + h), (x, y + h)]
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            space.add_line(a, b)
        for j in range(4):
            space.add_circle((x + 15 + 15 * j, y + 20), 5)
        space.add_arc((x + 0.3 * w, y + 0.4 * h), 12, 90, 270)
        space.add_arc((x + 0.3 * w + 20, y + 0.4 * h), 12, 270, 90)
        space.add_line((x + 0.3 * w, y + 0.4 * h + 12), (x + 0.3 * w + 20, y + 0.4 * h + 12))
        space.add_line((x + 0.3 * w, y + 0.4 * h - 12), (x + 0.3 * w + 20, y + 0.4 * h - 12))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "many.dxf"
        document.saveas(file)
        for part in inspect_drawing(ROOT / "parts" / "gusset.dxf").parts:
            measure_part(part)
        times = []
        for _ in range(5):
            # Each clears away what it left, or the second would pay for the first one's document.
            gc.collect()
            marks = [time.process_time()]
            ezdxf.readfile(file)
            gc.collect()
            marks.append(time.process_time())
            drawing = inspect_drawing(file)
            gc.collect()
            marks.append(time.process_time())
            for part in drawing.parts:
                measure_part(part)
            marks.append(time.process_time())
            times.append(np.diff(marks))
    load, read, measure = np.min(times, axis=0)
    print(f"{parts} parts ({len(drawing.parts)} kinds): ezdxf alone {load:.2f} s of processor time")
    print(f"reading {read / load:.2f} times that, with measures {(read + measure) / load:.2f} times")


def samples(folder: Path) -> None:
    """Read every DXF of a folder beside an independent reading, and tell what differs."""
    outcomes: Counter[str] = Counter()
    for file in sorted(each for each in folder.rglob("*") if each.suffix.lower() == ".dxf"):
        compared = compare_with_faces(file)
        wrong = [name for name, ours, theirs, allowed in compared.areas if abs(ours - theirs) > allowed]
        outcomes["files with parts" if compared.areas else "files without"] += 1
        outcomes["parts"] += len(compared.areas)
        outcomes["parts that differ"] += len(wrong)
        outcomes["unclean"] += not compared.clean
        if wrong or not compared.clean:
            print(f"{file.name}: {wrong or compared.said}")
    print(dict(outcomes))


def main() -> None:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["spoiled", "bombs", "speed", "samples"])
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--parts", type=int, default=700)
    parser.add_argument("--folder", type=Path, default=Path())
    asked = parser.parse_args()
    if asked.what == "spoiled":
        spoiled(asked.count, asked.seed)
    elif asked.what == "bombs":
        explode()
    elif asked.what == "samples":
        samples(asked.folder)
    else:
        speed(asked.parts)


if __name__ == "__main__":
    main()
