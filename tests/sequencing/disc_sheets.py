"""Small sheets of discs with round holes, for the tests of the order."""

from __future__ import annotations

import math

import numpy as np

from cutplan.cutting import Cut, LeadChoice, Made
from cutplan.geometry import arc, circle, join, polygon, polyline
from cutplan.process import CutData, Rules
from cutplan.stock import Plate

LEAD = 6.0
OVERBURN = 2.0
HALF_KERF = 1.0


def disc_cut(
    centre: tuple[float, float],
    radius: float,
    *,
    kind: str = "outside",
    placement: int = 0,
    hole: int | None = None,
    inside_of: int | None = None,
    choices: int = 4,
    part: str = "disc",
) -> Cut:
    """Return the cut of a circle with radial lead-ins at even spacing."""
    inward = kind == "hole"
    run = radius - HALF_KERF if inward else radius + HALF_KERF
    foot = run - LEAD if inward else run + LEAD
    leads = []
    for i in range(choices):
        turn = 2.0 * math.pi * i / choices
        unit = np.array([math.cos(turn), math.sin(turn)])
        pierce = np.asarray(centre) + foot * unit
        sweep = (2.0 * math.pi + OVERBURN / run) * (1.0 if inward else -1.0)
        around = arc(centre, run, turn, sweep)
        path = join([polyline([pierce, around.start]), around])
        leads.append(
            LeadChoice(
                path=path,
                pierce=(float(pierce[0]), float(pierce[1])),
                end=(float(path.end[0]), float(path.end[1])),
                lead_in_length=LEAD,
                lead_out_length=OVERBURN,
            )
        )
    made = Made(part, placement + 1, placement, circle(centre, radius, clockwise=inward), hole)
    return Cut(
        kind=kind,  # type: ignore[arg-type]
        makes=(made,),
        choices=tuple(leads),
        frees=() if inward else (placement,),
        inside_of=inside_of,
    )


def sheet_of_discs(
    parts: int, holes: int = 2, *, choices: int = 4, seed: int = 0, pitch: float = 200.0
) -> list[Cut]:
    """Return discs on a loose grid, each with up to `holes` round holes on a pitch circle."""
    random = np.random.default_rng(seed)
    columns = max(1, math.ceil(math.sqrt(2.0 * parts)))
    cuts: list[Cut] = []
    for number in range(parts):
        row, column = divmod(number, columns)
        radius = pitch * float(random.uniform(0.25, 0.42))
        slack = pitch * 0.46 - radius
        x, y = (np.array([column + 0.6, row + 0.6]) * pitch + random.uniform(-slack, slack, 2)).tolist()
        count = int(random.integers(0, holes + 1))
        for i in range(count):
            turn = 2.0 * math.pi * i / count
            where = (x + 0.55 * radius * math.cos(turn), y + 0.55 * radius * math.sin(turn))
            cuts.append(disc_cut(where, 0.2 * radius, kind="hole", placement=number, hole=i, choices=choices))
        cuts.append(disc_cut((x, y), radius, placement=number, choices=choices))
    return cuts


def plasma_data(thickness: float = 10.0) -> CutData:
    """Return plausible plasma data for mild steel."""
    return CutData(
        process="plasma",
        material="mild steel",
        thickness=thickness,
        setting="120 A oxygen",
        source="test",
        kerf=2.0 * HALF_KERF,
        feed_mm_min=2500.0,
        pierce_height=6.0,
        cut_height=3.0,
        pierce_s=0.5,
        preheat_s=0.0,
        gases=(),
        rules=Rules(10.0, 10.0, 6.0, 3.0, 6.0, 2.0, 10.0, 25.0),
        current_a=120.0,
        voltage_v=125.0,
    )


def steel_plate(length: float = 3000.0, width: float = 1500.0, thickness: float = 10.0) -> Plate:
    """Return a rectangular plate of structural steel."""
    outline = polygon([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])
    return Plate(id="PL", outline=outline, thickness=thickness, grade="S355", material="mild steel")
