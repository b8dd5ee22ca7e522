"""Between two rows of a table nothing is invented that neither row would allow."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.process.interpolation import interpolate

THICKNESS = np.array([3.0, 6.0, 10.0, 12.0, 20.0, 25.0])
FEED = np.array([6800.0, 4250.0, 2780.0, 2120.0, 1040.0, 730.0])


def test_a_row_gives_its_own_value() -> None:
    for x, y in zip(THICKNESS, FEED, strict=True):
        assert interpolate(THICKNESS, FEED, float(x)) == y


@settings(max_examples=60, derandomize=True)
@given(
    st.lists(st.floats(0.5, 20.0), min_size=2, max_size=8),
    st.lists(st.floats(0.0, 900.0), min_size=8, max_size=8),
    st.floats(0.0, 1.0),
)
def test_falling_rows_fall_everywhere_between(steps: list[float], falls: list[float], share: float) -> None:
    """Fritsch and Carlson 1980: the interpolant of monotone data is monotone."""
    x = np.cumsum(steps)
    y = 8000.0 - np.cumsum(falls)[: len(x)]
    places = x[0] + (x[-1] - x[0]) * np.sort(np.append(np.linspace(0.0, 1.0, 80), share))
    values = np.array([interpolate(x, y, float(min(place, x[-1]))) for place in places])
    assert np.all(np.diff(values) <= 1e-9 * 8000.0)
    assert values.min() >= y[-1] - 1e-9 and values.max() <= y[0] + 1e-9


def test_a_straight_line_stays_one() -> None:
    x = np.array([1.0, 2.0, 5.0, 6.0])
    assert abs(interpolate(x, 3.0 * x + 1.0, 3.7) - 12.1) < 1e-12


def test_the_curve_has_no_kink_at_a_row() -> None:
    """Slopes on both sides of a row agree, as a cubic Hermite interpolant must have it."""
    h = 1e-5
    left = (FEED[2] - interpolate(THICKNESS, FEED, 10.0 - h)) / h
    right = (interpolate(THICKNESS, FEED, 10.0 + h) - FEED[2]) / h
    assert abs(left - right) < 0.02 * abs(left)
