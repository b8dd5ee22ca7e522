"""Travel goes round clamps, or over those known to be low enough."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from disc_sheets import disc_cut, plasma_data, steel_plate

from cutplan.base.errors import SequencingError
from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.geometry import polygon
from cutplan.sequencing import Order, SequenceOptions, sequence
from cutplan.stock import Keepout

RADIUS = 25.0
MACHINE = Machine(table=(3000, 1500), torch_radius_mm=RADIUS, travel_height_mm=30.0, low_travel_height_mm=8.0)
CLAMP = polygon([(480, 300), (520, 300), (520, 700), (480, 700)])


def ordered(height: float | None, machine: Machine = MACHINE, **options: object) -> Order:
    """Discs left and right of a long clamp, so that some travel must pass it."""
    cuts = [
        disc_cut((x, y), 60, placement=k) for k, (x, y) in enumerate([(300, 400), (300, 600), (700, 500)])
    ]
    plate = replace(steel_plate(1000, 1000), keepouts=(Keepout(CLAMP, height),))
    return sequence(
        cuts,
        machine,
        plasma_data(),
        plate,
        options=SequenceOptions(**options),
        stop=MaxIterations(500),  # type: ignore[arg-type]
    )


def nearest(order: Order) -> float:
    """How near any travel, the way home included, comes to the clamp."""
    ways = [step.travel.points for step in order.steps]
    ways.append(order.way(order.steps[-1].lead.end, MACHINE.start))
    zone = shapely.Polygon(CLAMP.points)
    return min(shapely.distance(zone, shapely.linestrings(way)) for way in ways)


@pytest.mark.parametrize("height", [None, 26.0, 400.0])
def test_travel_goes_round_a_clamp_that_is_high_or_of_unknown_height(height: float | None) -> None:
    assert nearest(ordered(height)) >= RADIUS


@pytest.mark.parametrize("height", [0.0, 25.0])
def test_raised_travel_passes_over_what_is_low_enough(height: float) -> None:
    assert nearest(ordered(height)) == 0.0


def test_low_travel_has_a_height_of_its_own() -> None:
    order = ordered(25.0, low_travel=True)
    zone = shapely.Polygon(CLAMP.points)
    low = [step.travel for step in order.steps if not step.travel.raised]
    assert low
    assert all(shapely.distance(zone, shapely.linestrings(travel.points)) >= RADIUS for travel in low)


def test_a_way_round_takes_longer_and_the_order_says_so() -> None:
    assert ordered(None).travel_s > ordered(10.0).travel_s


def test_a_clamp_at_the_machines_start_is_an_error_with_the_place() -> None:
    with pytest.raises(SequencingError, match=r"nearer than the torch's radius at \(490.*\) mm"):
        ordered(None, replace(MACHINE, start=(490.0, 290.0)))
