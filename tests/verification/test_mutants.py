"""Seeded faults: no mutant of a good program that changes metal passes the proof.

What changes metal is judged here without the room under test: both programs' lit paths are
widened to the kerf by shapely and compared as areas, run by run.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
import shapely.affinity
from sheets import DATA, DISC, GUSSET, KERF, MACHINE, Planned, planned, sheet_of

from cutplan.base.errors import ProgramError
from cutplan.control import DWELL, RAPID, SWITCH, Motions, read_program
from cutplan.drawing import Part, read_drawing
from cutplan.geometry import Pose, place_points, to_polygon
from cutplan.verification import Verdict, verify

MUTANTS_A_PLATE = 168
# Of the mutants that the proof refuses, every so many is looked at to see that it does harm.
LOOK_AT = 4
# Areas count as different where they differ by more than this across, mm: by the parts, and
# in scrap, where the drawings say nothing and a lead may lie a little beside the plan's.
THICK = 0.12
THICK_IN_SCRAP = 0.5


@cache
def plates() -> tuple[Planned, ...]:
    """Three plates with parts of the demo's drawings; a disc lies in the hole of one."""
    drawings = Path(__file__).parents[2] / "parts"

    def part(name: str) -> Part:
        return read_drawing(drawings / f"{name}.dxf").parts[0]

    return (
        planned(
            sheet_of((part("serial-plate"), Pose(20, 20)), (part("gusset"), Pose(265, 15)), size=(530, 240))
        ),
        planned(sheet_of((part("boss-ring"), Pose(20, 20)), (DISC, Pose(170, 170)), size=(340, 340))),
        planned(
            sheet_of(
                (part("spring-hanger"), Pose(20, 20)),
                (part("lashing-plate"), Pose(480, 20, mirrored=True)),
                size=(500, 290),
            )
        ),
    )


def judge(plan: Planned, text: str) -> Verdict:
    return verify(
        text,
        plan.sheet,
        plan.data,
        MACHINE,
        dialect=plan.dialect,
        planned=plan.cuts,
    )


# --- an independent view of what a program does -------------------------------------------


def lit_lines(m: Motions) -> list[shapely.Geometry]:
    """The lit runs as chorded lines, or points where the torch does not move."""
    runs: list[shapely.Geometry] = []
    points: list[tuple[float, float]] = []
    for row in range(len(m)):
        if not m.torch[row]:
            if points:
                runs.append(shapely.LineString(points) if len(set(points)) > 1 else shapely.Point(points[0]))
            points = []
            continue
        points.append((m.start[row, 0], m.start[row, 1]))
        if m.turns[row]:
            spoke = m.start[row, :2] - m.centre[row]
            angle = np.arctan2(spoke[1], spoke[0]) + np.linspace(0, m.turns[row], 60)[1:]
            arc = m.centre[row] + np.hypot(*spoke) * np.column_stack([np.cos(angle), np.sin(angle)])
            points += [(x, y) for x, y in arc.tolist()]
        points.append((m.end[row, 0], m.end[row, 1]))
    return runs


@cache
def by_parts(plan: Planned) -> shapely.Geometry:
    """The finished parts, and the scrap within a kerf of them."""
    placed = []
    for item in plan.sheet.placements:
        shape = to_polygon(item.part.outer, item.part.holes, tolerance=0.01)
        placed.append(shapely.transform(shape, lambda points, pose=item.pose: place_points(points, pose)))
    return shapely.union_all(placed).buffer(KERF)


class Effect:
    """What a program removes, in which order parts fall, and where it burns wrongly."""

    def __init__(self, plan: Planned, text: str) -> None:
        m = read_program(text, plan.dialect)
        self.by_parts = by_parts(plan)
        sweeps = [line.buffer(KERF / 2, quad_segs=16) for line in lit_lines(m)]
        self.removed = shapely.union_all(sweeps)
        moves = (m.start[:, :2] != m.end[:, :2]).any(axis=1)
        self.lit_rapids = int((m.torch & (m.kind == RAPID) & moves).sum())
        self.burning_s = float(m.dwell_s[m.torch & (m.kind == DWELL)].sum())
        self.starts = int(((m.kind == SWITCH) & m.torch).sum())
        self.on_loose = self._on_loose(plan, sweeps)

    @staticmethod
    def _on_loose(plan: Planned, sweeps: list[shapely.Geometry]) -> int:
        """How many runs burn on a part or slug that an earlier run has cut loose."""
        late = 0
        loose: list[shapely.Geometry] = []
        for sweep in sweeps:
            late += any(ring.intersection(sweep).area > 0.5 for ring in loose)
            shape = shapely.get_parts(sweep)
            loose += [
                shapely.Polygon(r).buffer(-0.01)
                for s in shape
                for r in s.interiors
                if shapely.Polygon(r).area > 1
            ]
        return late

    def differs_from(self, good: Effect) -> bool:
        changed = self.removed.symmetric_difference(good.removed)
        return (
            not changed.intersection(self.by_parts).buffer(-THICK / 2).is_empty
            or not changed.buffer(-THICK_IN_SCRAP / 2).is_empty
            or self.lit_rapids > 0
            or abs(self.burning_s - good.burning_s) > 0.1
            or self.on_loose > good.on_loose
        )


# --- mutations ----------------------------------------------------------------------------


def cut_blocks(lines: list[str]) -> list[tuple[int, int]]:
    starts = [i for i, line in enumerate(lines) if line.startswith("(cut ")]
    ends = [*starts[1:], next(i for i, line in enumerate(lines) if line == "G0 X0 Y0")]
    return list(zip(starts, ends, strict=True))


def changed_word(line: str, letters: str, change: object, chance: random.Random) -> str | None:
    words = [m for m in re.finditer(r"([A-Z])(-?[0-9.]+)", line) if m[1] in letters]
    if line.startswith("(") or not words:
        return None
    word = chance.choice(words)
    value = change(float(word[2]))  # type: ignore[operator]
    return f"{line[: word.start()]}{word[1]}{round(value, 3):g}{line[word.end() :]}"


def mutate(text: str, kind: str, chance: random.Random) -> str | None:
    """Return a mutant; None where the kind does not apply to the line drawn."""
    lines = text.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("G21"))
    at = chance.randrange(first, len(lines) - 1)
    line = lines[at]
    new: str | None = None
    if kind == "wrong sign":
        new = changed_word(line, "XYIJ", lambda v: -v, chance)
    elif kind == "wrong number":
        new = changed_word(line, "XYIJ", lambda v: v + chance.choice([-7, -1, -0.2, 0.2, 1, 7]), chance)
    elif kind == "inch for mm":
        new = (
            line.replace("G21", "G20")
            if "G21" in line
            else changed_word(line, "XYIJF", lambda v: v / 25.4, chance)
        )
    elif kind == "wrong feed":
        new = changed_word(line, "F", lambda v: v * chance.choice([0.1, 0.3, 1.5, 10]), chance)
    elif kind == "wrong dwell":
        new = changed_word(line, "P", lambda v: v * chance.choice([0, 3, 10]), chance)
    elif kind == "G2 for G3":
        new = (
            line.translate(str.maketrans("23", "32"))
            if line[:2] in ("G2", "G3") and line[2:3] == " "
            else None
        )
        new = line[:1] + new[1] + line[2:] if new else None
    elif kind == "feed for rapid":
        new = {"G0": "G1", "G1": "G0"}.get(line[:2], "") + line[2:] if line[:3] in ("G0 ", "G1 ") else None
    elif kind == "missing switch":
        new = "" if line in ("M3", "M5") else None
    elif kind == "swapped switch":
        new = {"M3": "M5", "M5": "M3"}.get(line)
    elif kind == "incremental":
        new = line.replace("G90", "G91") if "G90" in line else "G91 " + line if line[0] == "G" else None
    elif kind == "dropped word":
        words = line.split()
        if not line.startswith("(") and len(words) > 1:
            words.pop(chance.randrange(len(words)))
            new = " ".join(words)
    else:
        return mutate_blocks(lines, kind, at, chance)
    if new is None or new == line:
        return None
    return "\n".join([*lines[:at], new, *lines[at + 1 :]])


def mutate_blocks(lines: list[str], kind: str, at: int, chance: random.Random) -> str | None:
    lines = list(lines)
    if kind == "dropped line":
        del lines[at]
    elif kind == "doubled line":
        lines.insert(at, lines[at])
    elif kind == "swapped lines":
        lines[at], lines[at + 1] = lines[at + 1], lines[at]
    elif kind == "shifted origin":
        lines.insert(at, f"G92 X{chance.choice([-5, 0.3, 20])}")
    else:
        blocks = cut_blocks(lines)
        one, other = sorted(chance.sample(range(len(blocks)), 2))
        (a, b), (c, d) = blocks[one], blocks[other]
        if kind == "doubled cut":
            lines[d:d] = lines[a:b]
        elif kind == "dropped cut":
            del lines[a:b]
        else:
            lines[a:d] = [*lines[c:d], *lines[b:c], *lines[a:b]]
    return "\n".join(lines)


KINDS = (
    "wrong sign", "wrong number", "inch for mm", "wrong feed", "wrong dwell", "G2 for G3", "feed for rapid",
    "missing switch", "swapped switch", "incremental", "dropped word", "dropped line", "doubled line",
    "swapped lines", "shifted origin", "doubled cut", "dropped cut", "swapped cuts",
)  # fmt: skip


@pytest.mark.parametrize("number", [0, 1, 2])
def test_no_mutant_that_changes_metal_is_missed(number: int) -> None:
    plan = plates()[number]
    assert judge(plan, plan.text).passed
    good = Effect(plan, plan.text)
    chance = random.Random(9013 + number)
    made: Counter[str] = Counter()
    harmful = 0
    missed: list[tuple[str, str]] = []
    while sum(made.values()) < MUTANTS_A_PLATE:
        kind = KINDS[sum(made.values()) % len(KINDS)]
        text = mutate(plan.text, kind, chance)
        if text is None or text == plan.text:
            continue
        made[kind] += 1
        caught = not judge(plan, text).is_as_planned
        if caught and sum(made.values()) % LOOK_AT:
            continue
        try:
            harms = Effect(plan, text).differs_from(good)
        except ProgramError:
            assert caught, "a program that cannot be read passed"
            continue
        harmful += harms
        if harms and not caught:
            missed.append((kind, text))
    assert not missed, missed[0]
    assert harmful >= 8
    assert len(made) == len(KINDS)


@pytest.mark.parametrize("kerf", [1.4, 1.8, 2.2, 3.0])
def test_a_program_for_another_kerf_is_caught(kerf: float) -> None:
    plan = planned(sheet_of((GUSSET, Pose(20, 20)), size=(130, 120)))
    wrong = planned(plan.sheet, type(DATA)(**{**vars(DATA), "kerf": kerf}))
    codes = {fault.code for fault in judge(plan, wrong.text).faults}
    assert ("bite" if kerf < KERF else "metal-left") in codes


def test_metal_left_and_bites_agree_with_areas() -> None:
    """The exact measures against shapely's view of the same plate."""
    plan = planned(sheet_of((GUSSET, Pose(20, 20)), size=(130, 120)))
    verdict = judge(plan, plan.text)
    removed = Effect(plan, plan.text).removed
    part = GUSSET
    placed = shapely.affinity.translate(to_polygon(part.outer, part.holes, tolerance=0.001), 20, 20)
    assert shapely.intersection(removed, placed).buffer(-0.005).is_empty
    assert verdict.worst_bite_mm < 0.005 and verdict.worst_left_mm < 0.005
