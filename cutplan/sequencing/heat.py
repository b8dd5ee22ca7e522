"""Where the plate is hot: instantaneous line sources spreading in a thin plate.

Each piece of a cut is a line source through the plate's thickness, laid down when the torch
passes.  After a time τ it raises the temperature at a distance r by

    Q·ds / (4π·k·t·τ) · exp(−r² / (4·α·τ)) · exp(−τ/τc)

with Q the heat left in the plate a length of cut, k the conductivity, t the thickness, α the
diffusivity and τc the time constant of the loss from both faces (Carslaw and Jaeger 1959,
"Conduction of heat in solids"); far from its ends a cut gives Rosenthal's moving source (1941).
The plate is taken as endless and whole: edges and finished kerfs hold heat back, so near them
it is hotter than this model says.  A starting value for planning, not a measurement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutplan.base.compiled import njit
from cutplan.cutting import Cut, CutTime, LeadChoice
from cutplan.geometry import FloatArray, length, point_at
from cutplan.process import CutData
from cutplan.stock import Plate

__all__ = ["PlateHeat", "Sources", "heat_per_mm", "pieces_of", "plate_heat", "temperature_rise"]

CONDUCTIVITY_W_MK = {"mild steel": 45.0, "stainless": 16.0, "aluminium": 130.0}
"""Near room temperature; handbook values from memory, aluminium for the 5000 alloys."""
DIFFUSIVITY_MM2_S = {"mild steel": 12.0, "stainless": 4.2, "aluminium": 53.0}
"""Near room temperature; handbook values from memory."""
LOSS_AIR_W_M2K = 25.0
"""Convection and radiation from one face at 100 to 300 °C; order of magnitude, from memory."""
LOSS_WATER_W_M2K = 1000.0
"""One face in or on a water table, below boiling; order of magnitude, from memory."""
PLASMA_SHARE = 0.2
"""Share of the arc's power that stays in the plate beside the kerf; common practice."""
OXIDATION_J_KG = 6.7e6
"""Heat of burning iron to Fe3O4: 1120 kJ for 3 mol of iron, 167.5 g."""
BURNT_SHARE = 0.65
"""Share of the kerf's iron that burns (welding handbooks, from memory: 30 to 40 percent does not)."""
OXYFUEL_SHARE = 0.25
"""Share of the heat of oxidation that stays in the plate beside the kerf; common practice."""
DENSITY_KG_MM3 = 7.85e-6

PIECE_MM = 20.0
"""Longest piece of a cut treated as one source."""
FORGET_K = 0.005
"""A piece is forgotten once it raises no point by more than this; some hundred of them make a degree."""


@dataclass(frozen=True)
class PlateHeat:
    """How heat spreads in and leaves the plate.

    Attributes
    ----------
    thickness : float
        mm.
    conductivity : float
        W/(mm·K).
    diffusivity : float
        mm²/s.
    loss_time_s : float
        Time after which loss to air or water has taken all but 1/e; inf for none.
    """

    thickness: float
    conductivity: float
    diffusivity: float
    loss_time_s: float


@dataclass(frozen=True, eq=False)
class Sources:
    """Pieces of cuts as sources, in the order of time.

    Attributes
    ----------
    place : float64, shape (m, 2)
        mm.
    time : float64, shape (m,)
        When each is laid down, s.
    energy : float64, shape (m,)
        J.
    """

    place: FloatArray
    time: FloatArray
    energy: FloatArray


def plate_heat(plate: Plate, data: CutData, *, water_table: bool) -> PlateHeat:
    """Return how heat spreads in a plate while it is cut.

    A plate cut by plasma on a water table lies in the water; for oxy-fuel the water is let down,
    since it would put out the preheating (common practice).

    Parameters
    ----------
    plate : Plate
    data : CutData
    water_table : bool
        The plate lies in or on water.

    Returns
    -------
    PlateHeat
    """
    conductivity = CONDUCTIVITY_W_MK[plate.material] * 1e-3
    diffusivity = DIFFUSIVITY_MM2_S[plate.material]
    below = LOSS_WATER_W_M2K if water_table and data.process == "plasma" else LOSS_AIR_W_M2K
    loss_w_mm2_k = (LOSS_AIR_W_M2K + below) * 1e-6
    heat_capacity = conductivity / diffusivity * plate.thickness
    return PlateHeat(plate.thickness, conductivity, diffusivity, heat_capacity / loss_w_mm2_k)


def heat_per_mm(data: CutData) -> float:
    """Return the heat that a cut leaves in the plate, J/mm of cut at the feed on the straight.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    float
        J/mm.
    """
    if data.process == "plasma":
        power_w = data.current_a * data.voltage_v
        return PLASMA_SHARE * power_w / (data.feed_mm_min / 60.0)
    burnt_kg_mm = data.kerf * data.thickness * DENSITY_KG_MM3 * BURNT_SHARE
    return OXYFUEL_SHARE * burnt_kg_mm * OXIDATION_J_KG


def pieces_of(
    cut: Cut, lead: LeadChoice, time: CutTime, data: CutData
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the pieces of one cut: their middles, when they are laid down, and their heat.

    Times count from the start signal over the pierce point.  Marks leave no heat.
    """
    size = length(lead.path)
    count = max(1, math.ceil(size / PIECE_MM))
    middle = (np.arange(count) + 0.5) * size / count
    energy = 0.0 if cut.kind == "mark" else heat_per_mm(data) * size / count
    return point_at(lead.path, middle), time.start_s + time.run.at(middle), np.full(count, energy)


def temperature_rise(heat: PlateHeat, sources: Sources, places: FloatArray, times: FloatArray) -> FloatArray:
    """Return the temperature rise at places and times, K.

    Parameters
    ----------
    heat : PlateHeat
    sources : Sources
    places : float64, shape (k, 2)
        mm.
    times : float64, shape (k,)
        s; sources laid down later do not count yet.

    Returns
    -------
    float64, shape (k,)
    """
    upto = np.searchsorted(sources.time, times, side="left").astype(np.int64)
    rises = np.zeros(len(places))
    _add_rises(
        np.array([heat.thickness * heat.conductivity, heat.diffusivity, 1.0 / heat.loss_time_s]),
        np.ascontiguousarray(sources.place),
        np.ascontiguousarray(sources.time),
        np.ascontiguousarray(sources.energy),
        np.ascontiguousarray(places, dtype=np.float64),
        np.ascontiguousarray(times, dtype=np.float64),
        upto,
        rises,
    )
    return rises


@njit
def _add_rises(
    plate: Any, place: Any, time: Any, energy: Any, at: Any, when: Any, upto: Any, rises: Any
) -> Any:
    for i in range(at.shape[0]):
        rise = 0.0
        for j in range(upto[i] - 1, -1, -1):
            age = when[i] - time[j]
            height = energy[j] / (4.0 * math.pi * plate[0] * age)
            if height <= FORGET_K:
                continue
            dx, dy = at[i, 0] - place[j, 0], at[i, 1] - place[j, 1]
            fall = (dx * dx + dy * dy) / (4.0 * plate[1] * age) + age * plate[2]
            if fall < 20.0:
                rise += height * math.exp(-fall)
        rises[i] = rise
    return 0
