"""Which plate may serve where another grade is asked; the order of qualities is EN 10025's (from memory)."""

import pytest

from cutplan.stock import shortfall


@pytest.mark.parametrize(
    ("stocked", "asked"),
    [
        ("S355J2+N", "S355"), ("S355JR", "S355"), ("S355NL", "S355"), ("S355K2+N", "S355J2"),
        ("S355J2+N", "S355J0"), ("S355 J2 + N", "s355j2"), ("S355J2C+N", "S355J2"), ("A572 Gr 50", "A572-50"),
        ("S355", "S355"), ("1.4404", "1.4404"), ("S690QL", "S690Q"), ("S355J2+N", "S355J2+N"),
        ("MY-GRADE", "my grade"),
    ],
)  # fmt: skip
def test_a_plate_that_promises_as_much_or_more_serves(stocked: str, asked: str) -> None:
    assert shortfall(stocked, asked) is None


@pytest.mark.parametrize(
    ("stocked", "asked", "why"),
    [
        ("S355", "S355J2", "no impact quality is stated, J2 is asked"),
        ("S355JR", "S355J2", "below J2"),
        ("S355J2", "S355J2+N", r"\+N is asked"),
        ("S235JR", "S355", "another steel"),
        ("S460N", "S355", "another steel"),
        ("S355J2W", "S355J2", "weathering steel, which is not asked"),
        ("S355J2", "S355J2W", "no weathering steel"),
        ("S355N", "S355NL", "not of quality NL"),
        ("S355J2", "S355J2C", "C is asked"),
        ("S355J2+N", "S355J2+Z25", r"\+Z25 is asked"),
        ("A572 Gr 42", "A572 Gr 50", "not of"),
        ("1.4301", "1.4404", "another steel"),
        ("MY-GRADE", "YOUR-GRADE", "another steel"),
    ],
)
def test_a_plate_that_promises_less_or_something_else_does_not(stocked: str, asked: str, why: str) -> None:
    import re

    found = shortfall(stocked, asked)
    assert found is not None and re.search(why, found), found
