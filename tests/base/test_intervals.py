"""Quantiles held against the tables of any statistics book."""

import pytest

from cutplan.base.intervals import chi_squared, students_t


@pytest.mark.parametrize(
    ("freedom", "t"),
    [(1, 12.706), (2, 4.303), (3, 3.182), (5, 2.571), (10, 2.228), (30, 2.042), (120, 1.980)],
)
def test_students_t_is_that_of_the_tables(freedom: int, t: float) -> None:
    """Two-sided 95 percent, Abramowitz and Stegun, table 26.10 (from memory)."""
    assert students_t(0.95, freedom) == pytest.approx(t, abs=6e-4)


@pytest.mark.parametrize(
    ("share", "freedom", "value"),
    [(0.025, 5, 0.831), (0.975, 5, 12.833), (0.025, 10, 3.247), (0.975, 10, 20.483), (0.975, 3, 9.348)],
)
def test_chi_squared_is_near_that_of_the_tables(share: float, freedom: int, value: float) -> None:
    """Abramowitz and Stegun, table 26.8 (from memory)."""
    assert chi_squared(share, freedom) == pytest.approx(value, rel=0.05)
