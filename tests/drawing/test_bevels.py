"""Weld preparations: what notes order, which edge is meant, what faces and what volume that gives."""

from __future__ import annotations

import math
from typing import Any

import manifold3d
import numpy as np
import pytest

from cutplan.drawing import (
    BevelWords,
    EdgePreparation,
    Part,
    bevel_words,
    edge_at,
    faces_of,
    groove_mm3,
    make_part,
    preparation_name,
    prepared_length,
    refusals_of,
    remarks_on,
    stretch_between,
)
from cutplan.geometry import Path, circle, polygon

PLATE = make_part("plate", polygon([(0, 0), (200, 0), (200, 100), (0, 100)]))


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("BEVEL V 30 DEG, LAND 3", BevelWords("V", 30.0, 3.0, "top")),
        ("BEVEL 30° LAND 2 BOTTOM", BevelWords("Y", 30.0, 2.0, "bottom")),
        ("WELD PREP 60 DEG INCL. ROOT FACE 2 BOTH SIDES", BevelWords("double Y", 30.0, 2.0, "both")),
        ("bevel x 30 deg", BevelWords("X", 30.0, 0.0, "both")),
        ("FASE HV 45°, STEG 2,5 UNTEN", BevelWords("V", 45.0, 2.5, "bottom")),
        ("Nahtvorbereitung DHV 50 Grad beidseitig", BevelWords("K", 50.0, 0.0, "both")),
        ("FASE 35° UMLAUFEND", BevelWords("V", 35.0, 0.0, "top", all_round=True)),
        ("CHAMFER", BevelWords("V", None, 0.0, "top")),
    ],
)
def test_notes_order_bevels_in_english_and_german(text: str, wanted: BevelWords) -> None:
    assert bevel_words(text) == wanted


@pytest.mark.parametrize("text", ["2 OFF", "LAND 3", "GRIND EDGES", "V 30 DEG", "FASSADE 30°"])
def test_other_notes_order_none(text: str) -> None:
    assert bevel_words(text) is None


def test_an_edge_runs_from_corner_to_corner_however_it_is_drawn() -> None:
    """The bottom is drawn in three lines, and the plate begins in the middle of one."""
    part = make_part("plate", polygon([(60, 0), (120, 0), (200, 0), (200, 100), (0, 100), (0, 0), (30, 0)]))
    found = edge_at(part, (100.0, -2.0))
    assert found.hole is None and found.distance == pytest.approx(2.0)
    assert found.span is not None
    asked = EdgePreparation("V", 30.0, span=found.span)
    assert prepared_length(part, asked) == pytest.approx(200.0)


def test_a_round_hole_is_one_edge() -> None:
    part = make_part("plate", PLATE.outer, [circle((100, 50), 30)])
    assert edge_at(part, (131.0, 50.0))[:2] == (0, None)


def test_a_stretch_runs_between_two_places_by_way_of_a_third() -> None:
    found = stretch_between(PLATE, (100.0, 0.0), ((150.0, 0.0), (50.0, 0.0)))
    assert found.span == pytest.approx((50.0, 150.0))
    over = stretch_between(PLATE, (0.0, 50.0), ((0.0, 80.0), (40.0, 0.0)))
    assert prepared_length(PLATE, EdgePreparation("V", 30.0, span=over.span)) == pytest.approx(120.0)


def test_faces_fill_the_thickness() -> None:
    faces = faces_of(
        EdgePreparation("double Y", 30.0, land_mm=4.0, side="both", depth_mm=20.0, below_deg=45.0), 40.0
    )
    assert faces.upper is not None and faces.lower is not None
    assert faces.upper.depth + faces.land + faces.lower.depth == pytest.approx(40.0)
    assert faces.lower.setback == pytest.approx(16.0)
    assert faces.setback_at(0.0, 40.0) == pytest.approx(20.0 * math.tan(math.radians(30.0)))
    assert faces.setback_at(22.0, 40.0) == 0.0
    assert faces.setback_at(32.0, 40.0) == pytest.approx(8.0)


@pytest.mark.parametrize(
    ("asked", "thickness", "told"),
    [
        (EdgePreparation("Y", 30.0, land_mm=45.0), 40.0, "the land of 45 mm leaves nothing to bevel"),
        (EdgePreparation("V", 75.0), 40.0, "75° from the plate's normal is no bevel to cut"),
        (EdgePreparation("X", 30.0), 40.0, "X is a preparation of both sides"),
        (EdgePreparation("V", 30.0, side="both"), 40.0, "V is a preparation of the top or the bottom"),
        (EdgePreparation("Y", 30.0), 40.0, "a Y has a land"),
        (EdgePreparation("X", 30.0, side="both", depth_mm=40.0), 40.0, "leaves nothing for the slope below"),
        (EdgePreparation("X", 30.0, hole=0, side="both"), 80.0, "smaller than the jet's cone"),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(
    asked: EdgePreparation, thickness: float, told: str
) -> None:
    part = make_part("plate", PLATE.outer, [circle((100, 50), 20)])
    (error,) = refusals_of(part, asked, thickness)
    assert told in error.message and error.remedy and error.place is not None


def test_a_hole_wide_enough_for_the_cone_is_not_refused() -> None:
    part = make_part("plate", PLATE.outer, [circle((100, 50), 20)])
    assert not list(refusals_of(part, EdgePreparation("Y", 30.0, hole=0, land_mm=3.0), 40.0))


def test_what_the_standard_does_not_know_is_remarked() -> None:
    assert not list(remarks_on(EdgePreparation("Y", 30.0, land_mm=3.0), 20.0))
    (thick,) = remarks_on(EdgePreparation("V", 30.0), 30.0)
    assert "3 to 10 mm" in thick
    (steep,) = remarks_on(EdgePreparation("K", 20.0, side="both"), 30.0)
    assert "35° to 60°" in steep
    (thin,) = remarks_on(EdgePreparation("X", 30.0, side="both"), 8.0)
    assert "of 10 mm up, this one has 8 mm" in thin


def test_a_preparation_has_a_name() -> None:
    assert preparation_name(EdgePreparation("Y", 30.0, land_mm=3.0)) == "Y 30°, land 3 mm, top"


# Against solids: a mesh of the plate and of what stands over the slopes, by a general-purpose library.


def _extruded(part: Part, inset: float, low: float, high: float, taper: float) -> Any:
    """Return a round or square ring's solid between two heights, its outline shrinking with the height."""
    steps = 720
    if len(part.outer) == 2:
        radius = float(np.hypot(*(part.outer.points[0] - part.outer.points[1]))) / 2.0
        turn = 2.0 * math.pi * np.arange(steps) / steps
        unit = np.column_stack([np.cos(turn), np.sin(turn)])
        below, above = (radius - inset) * unit, (radius - inset - taper) * unit
        points = np.vstack(
            [np.column_stack([below, np.full(steps, low)]), np.column_stack([above, np.full(steps, high)])]
        )
        return manifold3d.Manifold.hull_points(points)
    raise AssertionError


@pytest.mark.parametrize(
    ("angle", "land", "thickness"), [(30.0, 3.0, 40.0), (45.0, 0.0, 25.0), (22.5, 8.0, 60.0)]
)
def test_the_groove_round_a_disc_is_that_of_its_solid(angle: float, land: float, thickness: float) -> None:
    """The volume by Pappus is that between cylinder and cone of a mesh, to the chords of the mesh."""
    disc = make_part("disc", circle((0, 0), 100))
    asked = EdgePreparation("Y" if land else "V", angle, land_mm=land)
    depth = thickness - land
    setback = depth * math.tan(math.radians(angle))
    whole = _extruded(disc, 0.0, land, thickness, 0.0)
    kept = _extruded(disc, 0.0, land, thickness, setback)
    volume = (whole - kept).volume()
    assert groove_mm3(disc, asked, thickness) == pytest.approx(volume, rel=1e-4)
    # In closed form: cylinder less frustum.
    small = 100.0 - setback
    closed = math.pi * depth * (100.0**2 - (100.0**2 + 100.0 * small + small**2) / 3.0)
    assert groove_mm3(disc, asked, thickness) == pytest.approx(closed, rel=1e-12)


def test_the_groove_in_a_hole_lies_outside_its_nose() -> None:
    part = make_part("plate", PLATE.outer, [circle((100, 50), 20)])
    asked = EdgePreparation("V", 30.0, hole=0)
    setback = 20.0 * math.tan(math.radians(30.0))
    closed = math.pi * 20.0 * (((20 + setback) ** 2 + (20 + setback) * 20 + 20**2) / 3.0 - 20**2)
    assert groove_mm3(part, asked, 20.0) == pytest.approx(closed, rel=1e-12)


def test_the_groove_of_a_straight_edge_is_a_prism() -> None:
    asked = EdgePreparation("X", 30.0, span=(0.0, 200.0), side="both")
    tan = math.tan(math.radians(30.0))
    assert groove_mm3(PLATE, asked, 40.0) == pytest.approx(2 * 0.5 * 20.0**2 * tan * 200.0)


def test_mirrored_outlines_keep_the_metal_on_the_left() -> None:
    """Holes run clockwise and outsides the other way, so that one formula serves both."""
    hole = Path(circle((0, 0), 10).vertices[::-1] * np.array([1, 1, 1]), closed=True)
    part = make_part("ring", circle((0, 0), 60), [hole])
    assert part.holes[0].segments.sweep.max() < 0.0 < part.outer.segments.sweep.min()
