"""What an operator is told of a process, a material and its gases, and of the water."""

import pytest

from cutplan.base.errors import DataError
from cutplan.process import CutData, GasFlow, Library, water_cautions
from cutplan.process.cautions import cautions_of

LIBRARY = Library.load()


def told(data: CutData) -> str:
    return " ".join(data.cautions)


def test_each_process_and_material_brings_its_own_cautions() -> None:
    acetylene = told(LIBRARY.choose("oxyfuel", "mild steel", 40.0, setting="acetylene"))
    propane = told(LIBRARY.choose("oxyfuel", "mild steel", 40.0, setting="propane"))
    stainless = told(LIBRARY.choose("plasma", "stainless", 10.0))
    aluminium = told(LIBRARY.choose("plasma", "aluminium", 10.0))
    mild = told(LIBRARY.choose("plasma", "mild steel", 10.0))
    assert "never above 1.03 bar" in acetylene and "never above 1.03 bar" not in propane
    assert "flashback" in acetylene and "flashback" in propane
    assert "chromium(VI)" in stainless and "ozone" in stainless and "displace air" in stainless
    assert "hydrogen" in aluminium and "displace air" in aluminium
    assert "oil and grease" in mild
    assert not any(word in mild for word in ("chromium", "hydrogen", "displace air", "flashback"))


def test_hydrogen_in_the_plasma_gas_is_warned_of() -> None:
    for gas in ("argon-hydrogen", "nitrogen-hydrogen"):
        words = " ".join(cautions_of("plasma", "stainless", [gas]))
        assert "hydrogen in the plasma gas burns" in words and "displace air" in words
    assert GasFlow("nitrogen-hydrogen", "cut", 2.0).gas == "nitrogen-hydrogen"


def test_under_water_is_praised_for_plasma_on_steel_only() -> None:
    steel = LIBRARY.choose("plasma", "mild steel", 10.0)
    aluminium = LIBRARY.choose("plasma", "aluminium", 10.0)
    flame = LIBRARY.choose("oxyfuel", "mild steel", 40.0)
    assert any("cut under water where you can" in text for text in water_cautions(steel, water_table=True))
    assert not any("where you can" in text for text in water_cautions(aluminium, water_table=True))
    (lower,) = water_cautions(flame, water_table=True)
    assert lower.startswith("lower the water") and "never cut under water" in lower
    for data in (steel, aluminium, flame):
        assert water_cautions(data, water_table=False) == ()


def test_oxyfuel_under_water_is_refused() -> None:
    with pytest.raises(DataError, match=r"oxy-fuel is not cut under water.*lower the water"):
        LIBRARY.choose("oxyfuel", "mild steel", 40.0, under_water=True)
    # Where the process is free, plasma cuts it under water as long as it pierces it.
    assert LIBRARY.choose("auto", "mild steel", 40.0, under_water=True).process == "plasma"
    with pytest.raises(DataError, match="70 mm takes oxy-fuel: oxy-fuel is not cut under water"):
        LIBRARY.choose("auto", "mild steel", 70.0, under_water=True)
