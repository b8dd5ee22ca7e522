"""Grades of public standards fall into the material group that decides how they are cut."""

import pytest

from cutplan.base.errors import StockError
from cutplan.stock.grades import density_of, grade_of, material_of

# Designations as EN 10025, EN 10149, EN 10028, ASTM, JIS and GB/T write them (from memory).
STRUCTURAL = (
    "S235, S235JR, S235JR+AR, S275J0, S355, S355J2+N, s355 j2+n, S355J2G3, S355J2C+N, "
    "S355K2+N, S355NL, S355ML, S355J2W+N, S460ML, S690QL, S960QL, EN 10025-2 S355J2, "
    "S355MC, S420MC, S700MC, P265GH, P355NL1, St37-2, St52-3, Fe510D1, A36, ASTM A36, "
    "A572 Gr 50, A572-50, A572 Grade 50, A516 Gr.70, A514, A514 Gr F, A588, A709-50W, "
    "SS400, SM490B, Q235B, Q355D, AH36"
)


@pytest.mark.parametrize(
    "grade",
    STRUCTURAL.split(", "),
)
def test_structural_steels_are_mild_steel(grade: str) -> None:
    assert material_of(grade) == "mild steel"
    assert density_of(grade) == 7850.0  # 7.85 kg a square metre and millimetre


@pytest.mark.parametrize(
    ("grade", "density"),
    # EN 10088-1 gives 7.7, 7.9, 8.0 and 7.8 kg/dm³ for these (from memory).
    [
        ("1.4016", 7700),
        ("1.4301", 7900),
        ("304", 7900),
        ("AISI 304L", 7900),
        ("X5CrNi18-10", 7900),
        ("EN 1.4307", 7900),
        ("1.4404", 8000),
        ("316L", 8000),
        ("316Ti", 8000),
        ("1.4571", 8000),
        ("1.4462", 7800),
    ],
)
def test_chromium_steels_are_stainless_with_the_density_of_their_family(grade: str, density: float) -> None:
    assert material_of(grade) == "stainless"
    assert density_of(grade) == density


@pytest.mark.parametrize(
    "grade",
    [
        "EN AW-5083",
        "EN AW-5083-H111",
        "5083 H116",
        "AW-5754",
        "AlMg3",
        "6082-T6",
        "EN AW 6061-T651",
        "1050A",
        "7075-T6",
    ],
)
def test_wrought_alloys_are_aluminium(grade: str) -> None:
    assert material_of(grade) == "aluminium"
    assert 2600 < density_of(grade) < 2850


@pytest.mark.parametrize("grade", ["", "S35", "S355X", "C3PO", "304Z", "50832", "plate", "A", "EN", "1.9999"])
def test_an_unknown_grade_asks_for_its_material(grade: str) -> None:
    with pytest.raises(StockError, match=r"unknown grade.*material: mild steel, stainless, aluminium"):
        material_of(grade)


def test_a_job_adds_grades_of_its_own_and_they_come_first() -> None:
    extra = {"Shop 400": "mild steel", "1.4301": "aluminium"}
    assert material_of("SHOP-400", extra) == "mild steel"
    assert density_of("shop 400", extra) == 7850.0
    assert material_of("1.4301", extra) == "aluminium"


def test_a_grade_of_ones_own_needs_a_material_there_is_data_for() -> None:
    with pytest.raises(StockError, match=r"unknown material 'bronze' for grade 'B1'"):
        material_of("S355", {"B1": "bronze"})


def test_the_carbon_equivalent_a_standard_allows_rises_with_thickness() -> None:
    # EN 10025-2: 0.45 for S355 up to 30 mm, 0.47 above (from memory).
    s355 = grade_of("S355J2+N")
    assert s355.highest_cev(20.0) == 0.45
    assert s355.highest_cev(40.0) == 0.47
    assert s355.highest_cev(400.0) is None
    assert grade_of("A36").highest_cev(10.0) is None
