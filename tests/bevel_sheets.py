"""Sheets with bevelled parts, and their programs by each head, for tests of runs, proof and faults."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cutplan.base.machine import Machine
from cutplan.cutting import BevelCuts, BevelHead, bevel_angles, bevel_cuts
from cutplan.drawing import EdgePreparation, Part, make_part
from cutplan.geometry import Path, Pose, polygon
from cutplan.process import CutData, Library
from cutplan.program import PostProcessor, Program, find_postprocessor, write_program
from cutplan.record import planned_of
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.stock import ONE_TORCH, NestedPlate, Placement, Plate
from cutplan.verification import PlannedBevels, Verdict, verify_bevels

LIBRARY = Library.load()
MACHINE = Machine()
HEADS = {"hand": "rs274-bevel-hand", "BC": "rs274-bevel-head", "AB": "rs274-bevel-gimbal"}


def tilted(part: Part, thickness: float, process: str = "plasma") -> dict[float, CutData]:
    """Return cutting data by tilt."""
    return {
        angle: LIBRARY.choose(process, "mild steel", thickness / math.cos(math.radians(angle)))  # type: ignore[arg-type]
        for angle in bevel_angles(part, thickness)
    }


def rectangle(*bevels: EdgePreparation) -> Part:
    """Return a plate of 200 × 100 mm, its first edge along the bottom, with bevels."""
    outline = polygon([(0, 0), (200, 0), (200, 100), (0, 100)])
    return replace(make_part("lug", outline), bevels=bevels)


def round_nosed(*bevels: EdgePreparation) -> Part:
    """Return a plate whose right end is a half circle of radius 80, in three edges: straight, round, straight."""
    outline = Path([[0, 0, 0], [150, 0, 1], [150, 160, 0], [0, 160, 0]], closed=True)
    return replace(make_part("nose", outline), bevels=bevels)


@dataclass(frozen=True)
class Made:
    """A program that bevels, with all that its proof asks for."""

    sheet: NestedPlate
    runs: BevelCuts
    post: PostProcessor
    program: Program
    asked: PlannedBevels

    def verdict(self, text: str | None = None) -> Verdict:
        """Return the verdict on the program, or on another text in its place."""
        return verify_bevels(
            self.program.text if text is None else text, self.sheet, self.runs.data, MACHINE, self.asked,
            dialect=self.post.dialect_for(self.runs.data),
        )  # fmt: skip


def sheet_of(
    part: Part, thickness: float, rotation_deg: float = 0.0, more: tuple[Placement, ...] = ()
) -> NestedPlate:
    """Return a plate with a part in its middle."""
    outline = polygon([(0, 0), (900, 0), (900, 700), (0, 700)])
    plate = Plate("A", outline, thickness, "S355", "mild steel")
    placed = Placement(part, 1, Pose(300.0, 250.0, rotation_deg, False))
    return NestedPlate(plate, 1, (placed, *more))


def programs(
    part: Part, thickness: float, head: str = "BC", *, process: str = "plasma", square: str = "last",
    rotation_deg: float = 0.0,
) -> list[Made]:  # fmt: skip
    """Return the programs that bevel a part on a sheet of its own."""
    sheet = sheet_of(part, thickness, rotation_deg)
    post = find_postprocessor(HEADS[head])
    leaning = BevelHead(head != "hand", 45.0)
    made = []
    sets = bevel_cuts(sheet, tilted(part, thickness, process), leaning, square)  # type: ignore[arg-type]
    for n, runs in enumerate(sets, start=1):
        order = sequence(runs.cuts, MACHINE, runs.data, sheet.plate, options=SequenceOptions())
        program = write_program(order, sheet, runs.data, MACHINE, post, name=f"A-1-bevel-{n}")
        planned = planned_of(order.steps, ONE_TORCH)
        asked = PlannedBevels(runs.when, runs.slope, runs.tilt_deg, runs.towards_deg, planned)
        made.append(Made(sheet, runs, post, program, asked))
    return made
