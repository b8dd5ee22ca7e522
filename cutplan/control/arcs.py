"""Centres and turns of RS-274 arcs, in both of the standard's forms.

After NISTIR 6556, section 3.5.3 (G2 and G3).  Places are in mm, in the plane of the arc.
"""

from __future__ import annotations

import math

from cutplan.control.words import BlockError

__all__ = ["arc_by_radius", "arc_turn", "check_radii", "chord_steps", "radius_tolerance_mm"]

Point = tuple[float, float]

RADIUS_TOLERANCE_MM = 0.002  # NISTIR 6556, 3.5.3.2
RADIUS_TOLERANCE_IN = 0.0002
MM_PER_INCH = 25.4
# Arcs outside the plate's plane are rare and are handed on as chords this close.
CHORD_TOLERANCE_MM = 0.001
MOST_CHORDS = 20_000


def radius_tolerance_mm(inch: bool) -> float:
    """Return how far the radii at an arc's two ends may differ, in mm."""
    return RADIUS_TOLERANCE_IN * MM_PER_INCH if inch else RADIUS_TOLERANCE_MM


def arc_turn(start: Point, end: Point, centre: Point, clockwise: bool) -> float:
    """Return the signed included angle of an arc; a full turn where it ends at its start."""
    before = math.atan2(start[1] - centre[1], start[0] - centre[0])
    after = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = (before - after if clockwise else after - before) % (2.0 * math.pi)
    if turn == 0.0 or start == end:
        turn = 2.0 * math.pi
    return -turn if clockwise else turn


def check_radii(start: Point, end: Point, centre: Point, tolerance: float, column: int) -> None:
    """Check an arc given by its centre.

    Raises
    ------
    BlockError
        If the radius is zero, or differs between the two ends by more than the tolerance.
    """
    before = math.hypot(start[0] - centre[0], start[1] - centre[1])
    after = math.hypot(end[0] - centre[0], end[1] - centre[1])
    if before == 0.0 or after == 0.0:
        raise BlockError("the arc's radius is zero", column, "check I and J")
    if abs(before - after) > tolerance:
        raise BlockError(
            f"the arc's radius is {before:.4f} mm at its start and {after:.4f} mm at its end",
            column,
            f"the standard allows them to differ by {tolerance:g} mm; check I, J and the end point",
        )


def arc_by_radius(
    start: Point, end: Point, radius: float, clockwise: bool, tolerance: float, column: int
) -> Point:
    """Return the centre of an arc given by its radius, negative for more than half a turn.

    Raises
    ------
    BlockError
        If the arc ends where it starts, or the radius does not reach.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord == 0.0:
        raise BlockError(
            "an arc in radius form ends where it starts", column, "write full circles with a centre"
        )
    half, size = 0.5 * chord, abs(radius)
    if half - size > tolerance:
        raise BlockError(
            f"the radius {size:.4f} mm does not reach an end point {chord:.4f} mm away",
            column,
            "check R and the end point",
        )
    height = math.sqrt(max(0.0, size * size - half * half))
    # The centre of the shorter arc lies to the left of the chord for a counter-clockwise turn.
    side = height if clockwise == (radius < 0.0) else -height
    return (
        0.5 * (start[0] + end[0]) - side * dy / chord,
        0.5 * (start[1] + end[1]) + side * dx / chord,
    )


def chord_steps(radius: float, turn: float, column: int) -> int:
    """Return into how many chords an arc outside the plate's plane is cut.

    Raises
    ------
    BlockError
        If it would take more than `MOST_CHORDS`.
    """
    if radius <= CHORD_TOLERANCE_MM:
        return 1
    step = 2.0 * math.acos(1.0 - CHORD_TOLERANCE_MM / radius)
    steps = math.ceil(abs(turn) / step) if step > 0.0 else MOST_CHORDS + 1
    if steps > MOST_CHORDS:
        raise BlockError("the arc is too long to follow in chords", column, "check its radius")
    return steps
