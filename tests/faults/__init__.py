"""Seeded faults and honest edits, to examine the proof with; each class says why it is one."""

from faults import (
    arc_off,
    binding,
    burning,
    contours,
    flame_heights,
    flames,
    foreign,
    heights,
    honest,
    honest_writing,
    marking,
    meanings,
    modes,
    order,
    readings,
    slips,
    ways,
)
from faults.cases import RECIPES, SHARED_FOLDER, case
from faults.judging import Trial, prove, seeded, trials
from faults.model import CONSTRUCTION, FAULTS, HONEST, REPLAY, Edit, Fault

CHAPTERS = (
    arc_off, binding, burning, contours, flame_heights, flames, foreign, heights, honest, honest_writing, marking, meanings,
    modes, order, readings, slips, ways,
)  # fmt: skip
"""The modules that enter classes into the books."""

__all__ = [
    "CHAPTERS",
    "CONSTRUCTION",
    "FAULTS",
    "HONEST",
    "RECIPES",
    "REPLAY",
    "SHARED_FOLDER",
    "Edit",
    "Fault",
    "Trial",
    "case",
    "prove",
    "seeded",
    "trials",
]
