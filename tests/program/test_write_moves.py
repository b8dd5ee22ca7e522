"""Numbers and arcs as a control gets them: rounded once, true to the path, legal by the standard."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.base.errors import ProgramError
from cutplan.geometry import Path, arc, circle, contains, distance, join, polyline
from cutplan.program.numbers import NumberFormat
from cutplan.program.postfile import Arcs
from cutplan.program.rounding import Move, Side, rounded_moves

MM = NumberFormat()
INCH = NumberFormat(inch=True, decimals=4, centre_decimals=4)
few = settings(max_examples=150, derandomize=True, deadline=None)
places = st.floats(-500.0, 6000.0, allow_nan=False)


@pytest.mark.parametrize(
    ("form", "value", "text"),
    [
        (NumberFormat(), 12.0, "12"),
        (NumberFormat(), -0.0004, "0"),
        (NumberFormat(), 0.0625, "0.062"),
        (NumberFormat(), -0.5, "-0.5"),
        (NumberFormat(leading_zero=False), -0.5, "-.5"),
        (NumberFormat(leading_zero=False), 0.0, "0"),
        (NumberFormat(always_point=True), 12.0, "12."),
        (NumberFormat(trailing_zeros=True), 12.5, "12.500"),
        (NumberFormat(inch=True, decimals=4), 25.4, "1"),
        (NumberFormat(inch=True, decimals=4), 1.0, "0.0394"),
    ],
)
def test_a_length_is_written_in_the_control_s_own_form(form: NumberFormat, value: float, text: str) -> None:
    assert form.length(value) == text


def test_feeds_and_dwells_have_their_own_units() -> None:
    # 1 in/min = 25.4 mm/min, exact by definition of the inch.
    assert NumberFormat(inch=True, feed_decimals=1).feed(1800.0) == "70.9"
    assert NumberFormat(dwell_ms=True, dwell_decimals=0).dwell(0.6) == "600"
    assert NumberFormat(dwell_decimals=2).dwell(0.004) == ""


@given(st.floats(-9000.0, 9000.0, allow_nan=False))
@few
def test_a_written_length_reads_back_within_half_a_step(value: float) -> None:
    for form in (MM, INCH, NumberFormat(leading_zero=False, always_point=True)):
        read = float(form.length(value)) * form.unit_mm
        assert abs(read - value) <= form.step_mm * 0.5000001


def followed(moves: list[Move], start: tuple[int, int], numbers: NumberFormat) -> list[tuple[float, ...]]:
    """Each arc as a control sees it: radii at its two ends and its centre, program units."""
    here = start
    arcs = []
    for move in moves:
        if move.arc is not None:
            cx, cy = (value / 10**numbers.centre_decimals for value in move.arc.absolute)
            ends = [(x / 10**numbers.decimals, y / 10**numbers.decimals) for x, y in (here, (move.x, move.y))]
            arcs.append((*(math.hypot(x - cx, y - cy) for x, y in ends), cx, cy))
        here = (move.x, move.y)
    return arcs


@given(places, places, st.floats(0.05, 4000.0), st.floats(0.0, 6.28), st.floats(-6.2, 6.2))
@few
def test_radii_agree_as_the_standard_asks(x: float, y: float, r: float, start: float, sweep: float) -> None:
    """NISTIR 6556, 3.5.3.2: within 0.002 mm, or 0.0002 in, at the two ends of an arc."""
    if sweep == 0.0:
        return
    path = arc((x, y), r, start, sweep)
    for numbers, allowed in ((MM, 0.002), (INCH, 0.0002)):
        here = numbers.steps(path.start[0]), numbers.steps(path.start[1])
        moves = rounded_moves(path, here, numbers, Arcs(), "on")
        for before, after, *_ in followed(moves, here, numbers):
            assert abs(before - after) <= allowed + 1e-9


@given(places, places, st.floats(0.5, 800.0), st.floats(0.0, 6.28), st.floats(0.05, 6.2))
@few
def test_a_rounded_arc_stays_on_the_true_one(
    x: float, y: float, r: float, start: float, sweep: float
) -> None:
    path = arc((x, y), r, start, sweep)
    here = MM.steps(path.start[0]), MM.steps(path.start[1])
    moves = rounded_moves(path, here, MM, Arcs(), "on")
    turned = 0.0
    for move in moves:
        assert distance(path, [[move.x / 1000, move.y / 1000]])[0] <= 0.00072
        turned += 0.0 if move.arc is None else move.arc.sweep
    for before, after, cx, cy in followed(moves, here, MM):
        assert math.hypot(cx - x, cy - y) + abs(0.5 * (before + after) - r) <= 0.005 or r > 100.0
    if r * sweep > 0.2:
        assert turned == pytest.approx(sweep)
    assert (moves[-1].x, moves[-1].y) == (MM.steps(path.end[0]), MM.steps(path.end[1]))


def test_no_error_adds_up_over_ten_thousand_blocks() -> None:
    steps = np.full((10_000, 2), [0.01234567, 0.00456789])
    path = polyline(np.cumsum(steps, axis=0))
    here = MM.steps(path.start[0]), MM.steps(path.start[1])
    last = rounded_moves(path, here, MM, Arcs(), "on")[-1]
    assert abs(last.x / 1000 - path.end[0]) <= 0.0005
    assert abs(last.y / 1000 - path.end[1]) <= 0.0005


def test_a_block_shorter_than_a_step_is_left_out_and_a_flat_arc_becomes_a_line() -> None:
    path = join([polyline([(0, 0), (0.0002, 0.0), (10, 0)]), arc((10, 5), 5, -math.pi / 2, 0.003)])
    moves = rounded_moves(path, (0, 0), MM, Arcs(), "on")
    assert [(move.x, move.y) for move in moves] == [(10_000, 0), (10_015, 0)]
    assert all(move.arc is None for move in moves)


def test_a_circle_can_be_one_block_or_two_halves() -> None:
    whole = Path(np.vstack([circle((7, 8), 5).vertices, circle((7, 8), 5).vertices[:1]]), closed=False)
    one = rounded_moves(whole, (12_000, 8_000), MM, Arcs(full_circles=True), "on")
    two = rounded_moves(whole, (12_000, 8_000), MM, Arcs(), "on")
    assert [(move.x, move.y) for move in one] == [(12_000, 8_000)]
    assert [(move.x, move.y) for move in two] == [(2_000, 8_000), (12_000, 8_000)]
    assert one[0].arc is not None and one[0].arc.centre == (-5_000, 0)


@pytest.mark.parametrize(("sweep", "scrap", "outside"), [
    (5.0, "right", True), (5.0, "left", False), (-5.0, "left", True), (-5.0, "right", False),
])  # fmt: skip
def test_lines_in_place_of_an_arc_keep_to_the_scrap_s_side(sweep: float, scrap: Side, outside: bool) -> None:
    arcs = Arcs(form="lines", chord_tolerance_mm=0.02)
    path = arc((50, 50), 20, 0.3, sweep)
    here = MM.steps(path.start[0]), MM.steps(path.start[1])
    moves = rounded_moves(path, here, MM, arcs, scrap)
    corners = np.array([here, *((move.x, move.y) for move in moves)]) / 1000
    t = np.linspace(0, 1, 21)[:, None]
    points = np.vstack([a + t * (b - a) for a, b in itertools.pairwise(corners)])
    radii = np.hypot(*(points - 50).T) - 20.0
    slack = 0.0008
    assert radii.max() <= (0.02 if outside else 0.0) + slack
    assert radii.min() >= (0.0 if outside else -0.02) - slack
    assert not contains(circle((50, 50), 20 - 0.021), points).any()


def test_a_radius_form_arc_is_written_in_short_steps() -> None:
    path = arc((0, 0), 30, 0.0, 3.0)
    moves = rounded_moves(path, (30_000, 0), MM, Arcs(form="radius"), "on")
    assert len(moves) == 2
    assert all(move.arc is not None and move.arc.radius == 30_000 for move in moves)


def test_too_few_decimals_for_an_arc_are_an_error_with_its_place() -> None:
    coarse = NumberFormat(decimals=1, centre_decimals=1)
    with pytest.raises(ProgramError, match=r"radii differ.*mm; give the post-processor more") as caught:
        for k in range(50):
            path = arc((10.03 + 0.017 * k, 20.06), 7.77, 0.1 + 0.11 * k, 1.4)
            here = coarse.steps(path.start[0]), coarse.steps(path.start[1])
            rounded_moves(path, here, coarse, Arcs(), "on")
    assert caught.value.place is not None
