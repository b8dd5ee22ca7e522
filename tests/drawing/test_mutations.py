"""Drawings that went wrong in every way: each gives a result or a clean error, and in time.

A thousand mutants of small drawings, by fixed seeds: bytes flipped, lines of the file lost,
doubled or swapped, entities dropped, shuffled, doubled, scaled, moved by a hair, and their
numbers spoiled.  CUTPLAN_FUZZ sets another number.
"""

import functools
import math
import os
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import numpy as np
import pytest

from cutplan.base.errors import CutplanError
from cutplan.drawing import Drawing, ReadOptions, inspect_drawing, measure_part
from cutplan.drawing.read import inspect_document
from cutplan.geometry import area

MUTANTS = int(os.environ.get("CUTPLAN_FUZZ", "1000"))
BATCHES = 10
# One in so many mutants holds curves, which take longer to fit, and is measured as well.
CURVED = 10
SPOILED = ["nan", "inf", "1e300", "-1e9", "0", "", "ten", "-0.0", "1e-12", "99999999999999999999"]

Random = np.random.Generator


def tags(*pairs: object) -> str:
    return "".join(f"{value}\n" for value in pairs)


def old_drawing() -> str:
    """A small file of the oldest form: entities alone, with a block reference and a polyline."""
    line = [("0", "0", "90", "0"), ("90", "0", "90", "60"), ("90", "60", "20", "60"), ("0", "40", "0", "0")]
    entities = "".join(tags(0, "LINE", 8, "CUT", 10, x0, 20, y0, 11, x1, 21, y1) for x0, y0, x1, y1 in line)
    entities += tags(0, "ARC", 8, "CUT", 10, 20, 20, 40, 40, 20, 50, 90, 51, 180)
    entities += tags(0, "CIRCLE", 8, "HOLES", 10, 60, 20, 20, 40, 8, 210, 0, 220, 0, 230, 1)
    entities += tags(0, "INSERT", 8, "0", 2, "SLOT", 10, 30, 20, 30, 41, 1, 42, 1, 50, 15)
    entities += tags(0, "TEXT", 8, "MARK", 10, 50, 20, 45, 40, 6, 1, "B12")
    entities += tags(0, "LINE", 8, "BEND", 10, 45, 20, 0, 11, 45, 21, 60)
    polyline = tags(0, "POLYLINE", 8, "0", 66, 1, 70, 1)
    for x, y, bulge in [(-8, -4, 0), (8, -4, 1), (8, 4, 0), (-8, 4, 1)]:
        polyline += tags(0, "VERTEX", 8, "0", 10, x, 20, y, 42, bulge)
    polyline += tags(0, "SEQEND", 8, "0")
    block = tags(0, "BLOCK", 8, "0", 2, "SLOT", 70, 0, 10, 0, 20, 0) + polyline + tags(0, "ENDBLK", 8, "0")
    header = tags(0, "SECTION", 2, "HEADER", 9, "$ACADVER", 1, "AC1009", 0, "ENDSEC")
    return (
        header
        + tags(0, "SECTION", 2, "BLOCKS")
        + block
        + tags(0, "ENDSEC", 0, "SECTION", 2, "ENTITIES")
        + entities
        + tags(0, "ENDSEC", 0, "EOF")
    )


def modern_drawing(document: Any, *, curves: bool) -> Any:
    """Draw edges of many kinds into the model space, in place of what is there."""
    m = document.modelspace()
    m.delete_all_entities()
    if "B" not in document.blocks:
        document.blocks.new("B").add_circle((0, 0), 4)
    m.add_lwpolyline([(0, 0, 0), (200, 0, 0.2), (200, 100, 0), (0, 100, 0)], format="xyb", close=True)
    m.add_circle((120, 30), 12)
    m.add_line((170, 60), (130, 60))
    m.add_arc((150, 60), 20, 0, 180)
    if curves:
        m.add_ellipse((50, 30), (20, 0), 0.5)
        m.add_open_spline([(20, 60, 0), (40, 95, 0), (80, 95, 0), (90, 70, 0)])
        m.add_spline(fit_points=[(90, 70), (60, 65), (20, 60)])
    m.add_blockref("B", (180, 80), dxfattribs={"xscale": 1.5, "rotation": 20})
    m.add_text("UP 90", height=4, dxfattribs={"layer": "BEND", "insert": (101, 4)})
    m.add_line((100, 0), (100, 100), dxfattribs={"layer": "BEND"})
    return document


def flip_bytes(text: str, random: Random) -> bytes:
    content = bytearray(text.encode())
    for _ in range(random.integers(1, 9)):
        content[random.integers(len(content))] = random.integers(256)
    return bytes(content)


def spoil_lines(text: str, random: Random) -> bytes:
    lines = text.splitlines()
    for _ in range(random.integers(1, 4)):
        k, other = random.integers(len(lines), size=2)
        how = random.integers(5)
        if how == 0:
            del lines[k]
        elif how == 1:
            lines.insert(k, lines[k])
        elif how == 2:
            lines[k], lines[other] = lines[other], lines[k]
        elif how == 3:
            lines[k] = str(random.choice(SPOILED))
        else:
            del lines[k:]
            lines.append("0")
    return "\n".join(lines).encode()


def mutate_entities(document: Any, random: Random) -> None:
    """Drop, double, shuffle, scale, move or spoil entities of the model space."""
    m = document.modelspace()
    for _ in range(random.integers(1, 4)):
        entities = list(m)
        if not entities:
            return
        entity = entities[random.integers(len(entities))]
        how = random.integers(6)
        if how == 0:
            m.delete_entity(entity)
        elif how == 1:
            m.add_entity(entity.copy())
        elif how == 2:
            m.entity_space.entities = [entities[k] for k in random.permutation(len(entities))]
        elif how == 3:
            factor = float(random.choice([1e-6, 0.5, -1, 3, 1e7]))
            entity.scale_uniform(factor)
        elif how == 4:
            entity.translate(*random.normal(0, float(random.choice([1e-5, 0.05, 3])), 2), 0)
        else:
            spoil_attribute(entity, random)


def spoil_attribute(entity: Any, random: Random) -> None:
    names = [k for k, v in entity.dxfattribs().items() if isinstance(v, int | float) and k != "owner"]
    if names:
        value = float(random.choice([math.nan, math.inf, 0, -1, 1e9, 1e-9]))
        entity.dxf.__dict__[str(random.choice(names))] = value


def outcome(read: Callable[[], Drawing], *, measured: bool = True) -> str:
    """Return "parts", "refused" or "error"; anything but a clean error is the test's failure."""
    try:
        drawing = read()
    except CutplanError as error:
        assert str(error)
        return "error"
    refused = [finding for finding in drawing.findings if finding.kind == "refused"]
    assert drawing.parts or refused
    for part in drawing.parts:
        assert area(part.outer) > 0.0
    if measured and not refused:
        for part in drawing.parts:
            assert measure_part(part).thinnest_web.value > 0.0
    return "refused" if refused else "parts"


def tally(results: list[str]) -> None:
    """Most mutants of a sound drawing still tell something: not all may end in one way."""
    assert len(set(results)) >= 2


@pytest.mark.parametrize("mutate", [flip_bytes, spoil_lines])
@pytest.mark.parametrize("batch", range(BATCHES // 2))
def test_spoiled_files_give_a_result_or_a_clean_error(
    folder: FilePath, mutate: Callable[[str, Random], bytes], batch: int
) -> None:
    text, file, results = old_drawing(), folder / "mutant.dxf", []
    for seed in range(batch * MUTANTS // 20, (batch + 1) * MUTANTS // 20):
        file.write_bytes(mutate(text, np.random.default_rng([1, seed])))
        results.append(outcome(lambda: inspect_drawing(file), measured=seed % CURVED == 0))
    tally(results)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_spoiled_entities_give_a_result_or_a_clean_error(batch: int) -> None:
    empty, results = ezdxf.new("R2010", units=4), []
    for seed in range(batch * MUTANTS // 20, (batch + 1) * MUTANTS // 20):
        document = modern_drawing(empty, curves=seed % CURVED == 0)
        mutate_entities(document, np.random.default_rng([2, seed]))
        read = functools.partial(inspect_document, document, FilePath("mutant.dxf"), ReadOptions())
        results.append(outcome(read, measured=seed % CURVED == 0))
    tally(results)


def test_the_drawings_that_are_spoiled_are_sound_to_begin_with(folder: FilePath) -> None:
    file = folder / "sound.dxf"
    file.write_text(old_drawing())
    assert outcome(lambda: inspect_drawing(file)) == "parts"
    document = modern_drawing(ezdxf.new("R2010", units=4), curves=True)
    assert outcome(lambda: inspect_document(document, FilePath("sound.dxf"), ReadOptions())) == "parts"
