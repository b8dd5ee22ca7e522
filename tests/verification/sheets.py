"""Small plates planned by the rooms before the proof, and written as the plain post-processor has it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from cutplan.base.machine import Machine
from cutplan.control import Dialect
from cutplan.cutting import Cut, CuttingOptions, LeadChoice, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, chord_points, circle, length, polygon, polyline, reverse
from cutplan.process import CutData, Rules
from cutplan.program import find_postprocessor, write_program
from cutplan.sequencing import Order, Step, Travel
from cutplan.stock import NestedPlate, Placement, Plate
from cutplan.verification import Planned as PlannedCuts
from cutplan.verification import PlannedCut, PlannedMake

KERF = 2.0
RULES = Rules(
    part_gap=8, edge_gap=8, lead_in=5, lead_out=3, pierce_clearance=4, overburn=2, smallest_hole=8,
    small_hole=15, small_hole_feed=0.6, corner_feed=0.7, corner_length=5,
)  # fmt: skip
DATA = CutData(
    process="plasma", material="mild steel", thickness=10, setting="by hand", source="by hand", kerf=KERF,
    feed_mm_min=1800, pierce_height=6, cut_height=3, pierce_s=0.6, preheat_s=0, gases=(), rules=RULES,
)  # fmt: skip
MACHINE = Machine(table=(3000.0, 1500.0), marker=True)


def hole(x: float, y: float, radius: float) -> Path:
    return circle((x, y), radius, clockwise=True)


GUSSET = Part(
    "gusset",
    polygon([(0, 0), (90, 0), (90, 25), (35, 30), (30, 80), (0, 80)]),
    (hole(15, 60, 7), hole(70, 12, 5)),
    (polyline([(10, 20), (25, 20)]),),
)
RING = Part("ring", circle((0, 0), 55), (hole(0, 0, 38),))
DISC = Part("disc", circle((0, 0), 22), (hole(0, 0, 6),))
LINK = Part(
    "link",
    Path(np.array([[0, 0, 0], [60, 0, 1], [60, 36, 0], [0, 36, 1]])),
    (reverse(Path(np.array([[10, 12, 0], [50, 12, 1], [50, 24, 0], [10, 24, 1]]))),),
)


def sheet_of(*placements: tuple[Part, Pose], size: tuple[float, float] = (330.0, 200.0)) -> NestedPlate:
    """A plate with parts on it."""
    x, y = size
    plate = Plate("PL10", polygon([(0, 0), (x, 0), (x, y), (0, y)]), 10, "S355", "mild steel")
    counts: dict[str, int] = {}
    placed = []
    for part, pose in placements:
        counts[part.name] = counts.get(part.name, 0) + 1
        placed.append(Placement(part, counts[part.name], pose))
    return NestedPlate(plate, 1, tuple(placed))


def in_order(cuts: tuple[Cut, ...], sheet: NestedPlate) -> Order:
    """Parts in holes first, then marks, holes and outside of each, the plate last; every travel straight."""
    hosts = {cut.inside_of for cut in cuts}
    rank = {"mark": 0, "hole": 1, "outside": 2, "skeleton": 3, "rest": 4}

    def place_of(cut: Cut) -> tuple[bool, int, int]:
        placement = cut.makes[0].placement if cut.makes else len(sheet.placements)
        return not cut.makes or placement in hosts, placement, rank[cut.kind]

    ordered = sorted(cuts, key=place_of)
    steps: list[Step] = []
    here = MACHINE.start
    for cut in ordered:
        choice = next((k for k, lead in enumerate(cut.choices) if _clear(lead, steps)), 0)
        lead = cut.choices[choice]
        steps.append(Step(cut, choice, Travel(np.array([here, lead.pierce]), True, 1.0)))
        here = lead.end
    return Order(tuple(steps), 1.0, 1.0)


def _clear(lead: LeadChoice, steps: list[Step]) -> bool:
    """Whether a lead's pierce keeps its clearance from all that is cut before."""
    cut = [shapely.LineString(chord_points(s.lead.path, 0.05)) for s in steps if s.cut.kind != "mark"]
    reach = RULES.pierce_clearance + 0.5 * KERF + 0.1
    return not any(shapely.dwithin(line, shapely.Point(lead.pierce), reach) for line in cut)


@dataclass(frozen=True)
class Planned:
    """A sheet, its program, and the totals that the plan states."""

    sheet: NestedPlate
    data: CutData
    text: str
    dialect: Dialect
    cuts: PlannedCuts


def planned(
    sheet: NestedPlate, data: CutData = DATA, *, post: str = "rs274-metric", corners: str = "round"
) -> Planned:
    """Plan a sheet and write its program."""
    made = make_cuts(sheet, data, CuttingOptions(corners=corners))
    assert not [f for f in made.findings if f.kind == "refused"], made.findings
    order = in_order(made.cuts, sheet)
    voice = find_postprocessor(post)
    program = write_program(order, sheet, data, MACHINE, voice, name="proof")
    cuts = tuple(
        PlannedCut(
            step.cut.kind,
            step.lead.pierce,
            length(step.lead.path),
            step.lead.edge_start,
            step.travel.raised,
            step.lead.end,
            tuple(PlannedMake(made.part, made.copy, made.hole, made.span) for made in step.cut.makes),
        )
        for step in order.steps
    )
    return Planned(sheet, data, program.text, voice.dialect_for(data), PlannedCuts(cuts))


def mixed() -> NestedPlate:
    """A gusset, a ring with a disc in its hole, a link turned over."""
    return sheet_of(
        (GUSSET, Pose(20, 20)),
        (RING, Pose(180, 80)),
        (DISC, Pose(180, 80, 30)),
        (LINK, Pose(300, 150, 90, mirrored=True)),
        (GUSSET, Pose(120, 190, 180)),
    )
