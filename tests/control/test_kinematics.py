"""Times of single moves and arcs against closed forms of kinematics."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.control import Motions, block_lengths, block_times, read_program

A = 400.0  # mm/s²
DEVIATION = 0.05
Reader = Callable[[str], Motions]


def seconds(motions: Motions, *, feed: float = 40.0, a: float = A, deviation: float = DEVIATION) -> float:
    speeds = np.where(np.isnan(motions.feed_mm_min), feed * 60, motions.feed_mm_min) / 60
    return float(block_times(motions, speeds, a, deviation).sum())


def rest_to_rest(length: float, feed: float, a: float = A) -> float:
    """L/v + v/a where L ≥ v²/a, else 2·√(L/a) (kinematics)."""
    return length / feed + feed / a if length >= feed**2 / a else 2.0 * math.sqrt(length / a)


def ramp(length: float, feed: float, end: float, a: float = A) -> float:
    """From rest to `feed` and down to `end`, long enough for both."""
    ramps = feed**2 / (2 * a) + (feed**2 - end**2) / (2 * a)
    assert length >= ramps
    return feed / a + (feed - end) / a + (length - ramps) / feed


@pytest.mark.parametrize("length", [0.01, 1.0, 4.0, 4.001, 250.0])
def test_a_line_from_rest_to_rest(motions_of: Reader, length: float) -> None:
    motions = motions_of(f"G1 X{length} Y0 F2400")
    assert seconds(motions) == pytest.approx(rest_to_rest(length, 40.0), rel=1e-12)


def test_a_rapid_runs_at_its_own_speed(motions_of: Reader) -> None:
    assert seconds(motions_of("G0 X300 Y400"), feed=200.0) == pytest.approx(rest_to_rest(500, 200.0))


@pytest.mark.parametrize(("radius", "speed"), [(1.0, 20.0), (4.0, 40.0), (50.0, 40.0)])
def test_an_arc_is_limited_to_the_root_of_acceleration_times_radius(
    motions_of: Reader, radius: float, speed: float
) -> None:
    motions = motions_of(f"G2 X{2 * radius} Y0 I{radius} J0 F2400")
    assert block_lengths(motions).sum() == pytest.approx(math.pi * radius)
    assert seconds(motions) == pytest.approx(rest_to_rest(math.pi * radius, speed), rel=1e-9)


def test_a_full_circle_is_as_long_as_its_circumference(motions_of: Reader) -> None:
    motions = motions_of("G3 X0 Y0 I20 J0 F2400")
    assert seconds(motions) == pytest.approx(rest_to_rest(40 * math.pi, 40.0))


@pytest.mark.parametrize("angle_deg", [10.0, 45.0, 90.0, 135.0])
def test_a_corner_is_passed_as_fast_as_its_deviation_allows(motions_of: Reader, angle_deg: float) -> None:
    """The circle of radius R tangent to both legs passes the corner at R·(1/cos(φ/2) − 1)."""
    turn = math.radians(angle_deg)
    radius = DEVIATION / (1 / math.cos(turn / 2) - 1)
    corner = min(math.sqrt(A * radius), 40.0)
    x, y = 100 + 100 * math.cos(turn), 100 * math.sin(turn)
    motions = motions_of(f"G1 X100 Y0 F2400\nG1 X{x:.6f} Y{y:.6f}")
    assert seconds(motions) == pytest.approx(2 * ramp(100.0, 40.0, corner), rel=1e-4)


def test_turning_back_stops(motions_of: Reader) -> None:
    assert seconds(motions_of("G1 X100 F2400\nG1 X0")) == pytest.approx(2 * rest_to_rest(100, 40.0))


def test_with_no_deviation_allowed_every_corner_stops(motions_of: Reader) -> None:
    motions = motions_of("G1 X100 Y0 F2400\nG1 X100 Y100")
    assert seconds(motions, deviation=0.0) == pytest.approx(2 * rest_to_rest(100, 40.0))


def test_a_tangent_arc_does_not_slow_the_torch(motions_of: Reader) -> None:
    motions = motions_of("G1 X100 Y0 F2400\nG3 X110 Y10 I0 J10\nG1 X110 Y110")
    assert seconds(motions) == pytest.approx(rest_to_rest(200 + 5 * math.pi, 40.0), rel=1e-9)


def test_cutting_a_line_into_pieces_changes_nothing(motions_of: Reader) -> None:
    pieces = "\n".join(f"G1 X{x}" for x in (0.3, 0.9, 1.0, 5.0, 40.0, 41.0, 99.5, 100.0))
    assert seconds(motions_of("F2400\n" + pieces)) == pytest.approx(rest_to_rest(100, 40.0), rel=1e-9)


def test_short_blocks_are_braked_through_in_time(motions_of: Reader) -> None:
    """Blocks of 0.5 mm are shorter than the 2 mm it takes to brake from 40 mm/s."""
    blocks = "\n".join(f"G1 X{0.5 * i}" for i in range(1, 21))
    motions = motions_of("F2400\n" + blocks + "\nG4 P1\nG1 X50")
    assert seconds(motions) == pytest.approx(rest_to_rest(10, 40.0) + rest_to_rest(40, 40.0), rel=1e-9)


def test_a_curve_in_short_chords_is_as_slow_as_the_arc_itself(motions_of: Reader) -> None:
    """A circle of 2 mm radius in 720 chords: the speed must come from its curvature."""
    chords = "\n".join(
        f"G1 X{2 - 2 * math.cos(t):.6f} Y{2 * math.sin(t):.6f}" for t in np.linspace(0, 2 * math.pi, 721)[1:]
    )
    chorded, true = motions_of("F6000\n" + chords), motions_of("F6000\nG2 X0 Y0 I2 J0")
    assert seconds(chorded, feed=100.0) == pytest.approx(seconds(true, feed=100.0), rel=0.01)


def test_a_slower_block_is_entered_at_its_own_feed(motions_of: Reader) -> None:
    motions = motions_of("G1 X100 F2400\nG1 X200 F1200")
    expected = ramp(100.0, 40.0, 20.0) + 100 / 20 + 20 / (2 * A)
    assert seconds(motions) == pytest.approx(expected)


def test_dwells_and_switches_take_no_time_of_their_own_but_stop_the_machine(motions_of: Reader) -> None:
    motions = motions_of("G1 X100 F2400\nM5\nG1 X200")
    assert seconds(motions) == pytest.approx(2 * rest_to_rest(100, 40.0))


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50)).filter(lambda p: math.hypot(*p) > 0.01),
        min_size=1,
        max_size=12,
    ),
    st.integers(100, 6000),
)
def test_no_path_is_faster_than_its_feed_nor_than_more_acceleration(
    steps: list[tuple[float, float]], feed: int
) -> None:
    places = np.cumsum(np.round(np.array(steps), 3), axis=0)
    text = "\n".join(f"G1 X{x:.3f} Y{y:.3f}" for x, y in places)
    motions = read_program(f"G21 G90 G17 G40 G80 G94 F{feed}\n{text}\nM30\n")
    length = block_lengths(motions).sum()
    slow, fast = seconds(motions, a=200.0), seconds(motions, a=800.0)
    assert slow >= fast - 1e-9
    assert fast >= length / (feed / 60) - 1e-9
    # Stopping at every corner is the slowest a control can be.
    each = sum(rest_to_rest(float(b), feed / 60, 200.0) for b in block_lengths(motions) if b > 0)
    assert slow <= each + 1e-9
