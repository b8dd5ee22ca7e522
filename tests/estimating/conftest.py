"""Programs and data that the tests of this room share."""

from collections.abc import Callable

import pytest

from cutplan.base.machine import Machine
from cutplan.control import Motions, read_program
from cutplan.geometry import polygon
from cutplan.process import CutData, GasFlow, Rules
from cutplan.stock import Plate

START = "G21 G90 G17 G40 G80 G94\n"

RULES = Rules(
    part_gap=9,
    edge_gap=9,
    lead_in=6,
    lead_out=3,
    pierce_clearance=4,
    overburn=3,
    smallest_hole=10,
    small_hole=25,
)


@pytest.fixture
def motions_of() -> Callable[[str], Motions]:
    """Read the blocks of a program, its usual first and last lines added."""
    return lambda text: read_program(START + text + "\nM30\n")


@pytest.fixture
def machine() -> Machine:
    return Machine(rapid_mm_min=12000, acceleration_mm_s2=400, raise_s=1.0, lower_s=2.0, ignition_s=0.5)


@pytest.fixture
def plasma() -> CutData:
    """Round figures: 2400 mm/min is 40 mm/s, 100 A at 150 V is 15 kW."""
    return CutData(
        process="plasma",
        material="mild steel",
        thickness=10,
        setting="100 A oxygen",
        source="test",
        kerf=2.0,
        feed_mm_min=2400,
        pierce_height=5,
        cut_height=2.5,
        pierce_s=0.5,
        preheat_s=0,
        gases=(
            GasFlow("oxygen", "pierce", 1.8),
            GasFlow("oxygen", "cut", 1.8),
            GasFlow("air", "pierce", 5.4),
            GasFlow("air", "cut", 5.4),
        ),
        rules=RULES,
        current_a=100,
        voltage_v=150,
        starts_per_set=500,
        hours_per_set=4,
    )


@pytest.fixture
def oxyfuel() -> CutData:
    """240 mm/min is 4 mm/s."""
    return CutData(
        process="oxyfuel",
        material="mild steel",
        thickness=40,
        setting="acetylene",
        source="test",
        kerf=2.5,
        feed_mm_min=240,
        pierce_height=12,
        cut_height=8,
        pierce_s=3,
        preheat_s=17,
        edge_preheat_s=7,
        gases=(
            GasFlow("acetylene", "preheat", 0.36),
            GasFlow("oxygen", "preheat", 0.396),
            GasFlow("oxygen", "pierce", 2.4),
            GasFlow("oxygen", "cut", 4.0),
        ),
        rules=RULES,
        starts_per_set=1000,
        hours_per_set=40,
    )


@pytest.fixture
def plate() -> Plate:
    return Plate("PL10", polygon([(0, 0), (1000, 0), (1000, 500), (0, 500)]), 10, "S355", "mild steel")
