"""ISO 9013's formulas and tables, what a part may expect, and what is too much to ask."""

from dataclasses import replace

import pytest

from cutplan.base.errors import DataError
from cutplan.process import (
    Library,
    carbon_equivalent,
    expected_quality,
    limit_deviation_mm,
    perpendicularity_mm,
    preheat_advice,
    preheat_advice_for_grade,
    quality_shortfalls,
    roughness_um,
)

PLASMA_10 = Library.load().choose("plasma", "mild steel", 10.0)
OXYFUEL_40 = Library.load().choose("oxyfuel", "mild steel", 40.0)


@pytest.mark.parametrize(
    ("range_", "u_20", "rz_20"),
    # ISO 9013:2017 (from memory) at 20 mm: u = 0.05 + 0.003a, 0.15 + 0.007a, 0.4 + 0.01a, 0.8 + 0.02a,
    # 1.2 + 0.035a; Rz5 = 10 + 0.6a, 40 + 0.8a, 70 + 1.2a, 110 + 1.8a.
    [(1, 0.11, 22.0), (2, 0.29, 56.0), (3, 0.6, 94.0), (4, 1.2, 146.0), (5, 1.9, None)],
)
def test_ranges_follow_the_formulas_of_the_standard(range_: int, u_20: float, rz_20: float | None) -> None:
    assert perpendicularity_mm(range_, 20.0) == pytest.approx(u_20)
    if rz_20 is not None:
        assert roughness_um(range_, 20.0) == pytest.approx(rz_20)


@pytest.mark.parametrize(
    ("tolerance_class", "thickness", "dimension", "deviation"),
    # Tables of ISO 9013:2017; a thickness belongs to the row up to and including its bound.
    [
        (1, 5.0, 2.0, 0.20),
        (1, 6.3, 500.0, 0.40),
        (1, 10.0, 500.0, 0.45),
        (1, 10.1, 500.0, 0.55),
        (1, 40.0, 1500.0, 1.6),
        (1, 150.0, 7999.0, 6.3),
        (2, 10.0, 5.0, 1.0),
        (2, 10.0, 500.0, 1.5),
        (2, 16.0, 1999.0, 3.0),
        (1, 10.0, 2.0, None),
        (1, 30.0, 5.0, None),
        (1, 2.0, 50.0, None),
        (2, 40.0, 500.0, None),
        (1, 10.0, 9000.0, None),
    ],
)
def test_limit_deviations_are_read_from_the_table(
    tolerance_class: int, thickness: float, dimension: float, deviation: float | None
) -> None:
    assert limit_deviation_mm(tolerance_class, thickness, dimension) == deviation


def test_a_ten_millimetre_plasma_part_expects_class_2_and_its_range() -> None:
    quality = expected_quality(PLASMA_10, 500.0)
    assert (quality.tolerance_class, quality.deviation_mm) == (2, 1.5)
    assert quality.range == 3 and quality.u_mm == pytest.approx(0.5)
    assert quality.rz5_um == pytest.approx(82.0)
    assert quality.notes == ()


def test_where_the_table_is_not_held_here_the_standard_is_named() -> None:
    quality = expected_quality(OXYFUEL_40, 500.0)
    assert quality.deviation_mm is None
    assert "see ISO 9013 (wider than the ±1 mm of class 1)" in quality.notes[0]


def test_thickness_outside_the_standards_scope_is_said() -> None:
    quality = expected_quality(replace(PLASMA_10, thickness=160.0), 500.0)
    assert any("outside the scope" in note for note in quality.notes)
    assert expected_quality(replace(PLASMA_10, iso9013_range=5), 500.0).rz5_um is None


def test_a_part_that_asks_for_more_than_the_process_gives_is_flagged() -> None:
    usual = expected_quality(PLASMA_10, 500.0)
    assert quality_shortfalls(usual, range_=3, tolerance_class=2, deviation_mm=1.5) == ()
    flags = quality_shortfalls(usual, range_=2, tolerance_class=1, deviation_mm=0.5)
    assert [text.split(" of ")[0].split(",")[0] for text in flags] == [
        "asks for range 2",
        "asks for tolerance class 1",
        "asks for ±0.5 mm",
    ]
    unknown = expected_quality(OXYFUEL_40, 500.0)
    assert len(quality_shortfalls(unknown, deviation_mm=1.0)) == 1


@pytest.mark.parametrize("call", [lambda: perpendicularity_mm(6, 10), lambda: roughness_um(5, 10)])
def test_a_range_the_standard_does_not_have_is_refused(call) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(DataError, match="ISO 9013 has"):
        call()
    with pytest.raises(DataError, match="classes 1 and 2"):
        limit_deviation_mm(3, 10.0, 100.0)


def test_the_carbon_equivalent_is_that_of_the_welding_institute() -> None:
    """CEV = C + Mn/6 + (Cr+Mo+V)/5 + (Ni+Cu)/15, by hand for two steels."""
    assert carbon_equivalent({"C": 0.18, "Mn": 1.50, "Si": 0.35}) == pytest.approx(0.43)
    high = {"C": 0.17, "Mn": 1.2, "Cr": 0.5, "Mo": 0.25, "V": 0.05, "Ni": 0.6, "Cu": 0.3}
    assert carbon_equivalent(high) == pytest.approx(0.17 + 0.2 + 0.16 + 0.06)


def test_a_higher_grade_is_warmed_before_flame_cutting_and_the_data_sheet_decides() -> None:
    assert preheat_advice(0.40, 40.0).temperature_c is None
    mild, high = preheat_advice(0.48, 40.0), preheat_advice(0.65, 40.0)
    assert mild.temperature_c is not None and high.temperature_c is not None
    assert mild.temperature_c < high.temperature_c
    assert preheat_advice(0.48, 12.0).temperature_c is None
    for advice in (mild, high, preheat_advice(0.40, 40.0)):
        assert "data sheet" in advice.text


def test_a_grade_is_advised_on_by_the_most_its_standard_allows() -> None:
    """EN 10025-2 allows S355 0.47 above 30 mm, EN 10025-6 allows S690 0.65 (from memory)."""
    structural, quenched = (
        preheat_advice_for_grade("S355J2+N", 40.0),
        preheat_advice_for_grade("S690QL", 40.0),
    )
    assert structural is not None and (structural.cev, structural.temperature_c) == (0.47, None)
    assert quenched is not None and (quenched.cev, quenched.temperature_c) == (0.65, 150.0)
    assert preheat_advice_for_grade("A36", 40.0) is None
    assert preheat_advice_for_grade("of our own", 40.0) is None


@pytest.mark.parametrize("wrong", [{"Mn": 1.5}, {"C": -0.1}, {"C": float("nan")}, {"C": 0.2, "Mn": 140.0}])
def test_a_composition_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(DataError):
        carbon_equivalent(wrong)
