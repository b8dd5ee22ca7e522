"""Which process and setting a plate gets, and the reason a foreman reads."""

from pathlib import Path

import pytest

import cutplan.process
from cutplan.base.errors import DataError
from cutplan.process import Library

SHIPPED = Path(cutplan.process.__file__).parent / "data"


@pytest.fixture(scope="module")
def library() -> Library:
    return Library.load()


def own_copy(folder: Path, name: str, *changes: tuple[str, str]) -> Path:
    text = (SHIPPED / name).read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file = folder / name
    file.write_text(text)
    return file


def test_auto_cuts_thin_mild_steel_by_plasma_and_thick_by_oxyfuel(library: Library) -> None:
    thin, thick = library.choose("auto", "mild steel", 10.0), library.choose("auto", "mild steel", 40.0)
    assert (thin.process, thin.setting) == ("plasma", "120 A oxygen")
    assert thin.reason.startswith("plasma: it pierces 10 mm") and "recommended for 8 to 16 mm" in thin.reason
    assert thick.process == "oxyfuel"
    assert "oxy-fuel: 40 mm mild steel, over 30 mm" in thick.reason


def test_auto_never_starts_at_an_edge_what_the_other_process_can_pierce(library: Library) -> None:
    for thickness in (1.0, 5.0, 12.0, 29.0, 30.0, 31.0, 60.0, 99.0):
        data = library.choose("auto", "mild steel", thickness)
        assert data.thickness <= data.rules.edge_start_above


def test_the_limit_of_auto_is_the_shops_to_set(library: Library) -> None:
    assert library.choose("auto", "mild steel", 40.0, auto_limit_mm=45.0).process == "plasma"
    assert library.choose("auto", "mild steel", 10.0, auto_limit_mm=8.0).process == "oxyfuel"


@pytest.mark.parametrize("material", ["stainless", "aluminium"])
def test_stainless_and_aluminium_are_cut_by_plasma_only(library: Library, material: str) -> None:
    data = library.choose("auto", material, 40.0)
    assert data.process == "plasma"
    assert f"oxy-fuel does not cut {material}" in data.reason
    assert "start at an edge" in data.reason
    with pytest.raises(DataError, match=f"oxy-fuel cuts carbon steel only: {material}.*use plasma"):
        library.choose("oxyfuel", material, 10.0)


def test_aluminium_warns_of_hydrogen_and_oxyfuel_of_its_gases(library: Library) -> None:
    assert any("hydrogen" in text for text in library.choose("auto", "aluminium", 10.0).cautions)
    assert any("flashback" in text for text in library.choose("auto", "mild steel", 50.0).cautions)


def test_a_current_or_a_setting_can_be_asked_for(library: Library) -> None:
    assert library.choose("plasma", "mild steel", 10.0, current_a=200).setting == "200 A oxygen"
    assert library.choose("auto", "mild steel", 35.0, current_a=300).current_a == 300
    propane = library.choose("oxyfuel", "mild steel", 40.0, setting="propane")
    assert "propane" in {gas.gas for gas in propane.gases}
    assert "as asked for" in propane.reason


def test_a_smaller_power_source_gets_the_setting_it_can_give(library: Library) -> None:
    assert library.choose("auto", "mild steel", 10.0, max_current_a=100).current_a == 80
    # What 100 A does not pierce goes to oxy-fuel.
    assert library.choose("auto", "mild steel", 18.0, max_current_a=100).process == "oxyfuel"


def test_a_finer_edge_asks_for_another_setting(library: Library, tmp_path: Path) -> None:
    usual = library.choose("plasma", "mild steel", 9.0, max_current_a=100)
    better = library.choose("plasma", "mild steel", 9.0, quality=3)
    assert usual.iso9013_range == 4 and usual.setting == "80 A air"
    assert better.iso9013_range == 3 and "reaches range 3 of ISO 9013" in better.reason
    # Range 2 takes a fine beam, which no shipped file assumes.
    with pytest.raises(DataError, match="with range 2 of ISO 9013"):
        library.choose("plasma", "mild steel", 9.0, quality=2)
    own_copy(
        tmp_path, "plasma-mild-steel-120a-oxygen.toml",
        ('"120 A oxygen"', '"fine beam"'), ("current_a", "fine_beam = true\ncurrent_a"), ("5.8, 3]", "5.8, 2]"),
    )  # fmt: skip
    fine = Library.load([tmp_path]).choose("plasma", "mild steel", 9.0, quality=2)
    assert fine.setting == "fine beam"
    with pytest.raises(DataError, match="with range 1 of ISO 9013"):
        library.choose("plasma", "mild steel", 20.0, quality=1)


def test_nothing_fits_names_the_ranges_on_offer(library: Library) -> None:
    with pytest.raises(DataError, match=r"plasma data for mild steel of 90 mm.*400 A oxygen 12 to 80 mm"):
        library.choose("plasma", "mild steel", 90.0)
    with pytest.raises(DataError, match="with 500 A; on offer for mild steel: 40 A air 1 to 8 mm"):
        library.choose("plasma", "mild steel", 10.0, current_a=500)
    with pytest.raises(DataError, match=r"oxy-fuel data .* of 2 mm.*propane 3 to 150 mm"):
        library.choose("oxyfuel", "mild steel", 2.0)
    with pytest.raises(DataError, match="add a cutting-data file for bronze"):
        library.choose("plasma", "bronze", 10.0)


@pytest.mark.parametrize("thickness", [0.0, -3.0, float("nan"), float("inf")])
def test_a_plate_without_thickness_is_refused(library: Library, thickness: float) -> None:
    with pytest.raises(DataError, match="a thickness above 0 mm"):
        library.choose("auto", "mild steel", thickness)


def test_an_unknown_process_is_refused(library: Library) -> None:
    with pytest.raises(DataError, match="unknown process 'laser'; use plasma, oxyfuel or auto"):
        library.choose("laser", "mild steel", 10.0)  # type: ignore[arg-type]


def test_under_water_the_feed_is_lower(library: Library) -> None:
    dry = library.choose("plasma", "mild steel", 10.0)
    wet = library.choose("plasma", "mild steel", 10.0, under_water=True)
    assert wet.feed_mm_min == pytest.approx(dry.water_feed * dry.feed_mm_min)
    assert dry.water_feed < 1.0 and "under water" in wet.reason


def test_the_users_own_table_takes_the_place_of_the_shipped_one(tmp_path: Path) -> None:
    own_copy(tmp_path, "plasma-mild-steel-120a-oxygen.toml", ("2600", "2500"))
    library = Library.load([tmp_path])
    assert len(library.tables) == len(Library.load().tables)
    data = library.choose("auto", "mild steel", 10.0)
    assert data.feed_mm_min == 2500.0
    assert data.source == str(tmp_path / "plasma-mild-steel-120a-oxygen.toml")


def test_the_users_own_table_is_preferred_and_a_single_file_will_do(tmp_path: Path) -> None:
    file = own_copy(
        tmp_path, "plasma-mild-steel-080a-air.toml", ('"80 A air"', '"bay 2"'), ("[5, 10]", "[5, 8]")
    )
    assert Library.load([file]).choose("auto", "mild steel", 10.0).setting == "bay 2"


def test_own_folders_are_searched_in_their_order(tmp_path: Path) -> None:
    for name, feed in (("first", "2500"), ("second", "2600")):
        (tmp_path / name).mkdir()
        own_copy(tmp_path / name, "plasma-mild-steel-120a-oxygen.toml", ("2600", feed))
    library = Library.load([tmp_path / "first", tmp_path / "second"])
    assert library.choose("plasma", "mild steel", 10.0).feed_mm_min == 2500.0


def test_two_files_for_one_setting_contradict_each_other(tmp_path: Path) -> None:
    file = own_copy(tmp_path, "plasma-mild-steel-120a-oxygen.toml")
    (tmp_path / "zzz.toml").write_text(file.read_text())
    with pytest.raises(DataError, match="setting '120 A oxygen' for mild steel stands in plasma-mild"):
        Library.load([tmp_path])


def test_a_missing_folder_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="no such folder of cutting data"):
        Library.load([tmp_path / "none"])


def test_default_gaps_are_narrow_on_thin_plate_and_wide_on_hot_thick_work(library: Library) -> None:
    """Common practice: not less than the larger of thickness and 10 mm on hot heavy work, less
    on thin plate."""

    def gap(process: str, thickness: float) -> float:
        return library.choose(process, "mild steel", thickness).rules.part_gap  # type: ignore[arg-type]

    assert gap("plasma", 3.0) < 6.0
    assert 8.0 <= gap("plasma", 10.0) <= 10.0
    assert 15.0 <= gap("oxyfuel", 40.0) <= 20.0
    assert gap("oxyfuel", 100.0) >= 100.0


def test_plasma_holes_are_as_wide_as_the_plate_is_thick_and_slower(library: Library) -> None:
    # Common practice: never under 1.5 kerfs, about 60 percent of the feed, square edge on the right.
    rules = library.choose("plasma", "mild steel", 12.0).rules
    assert rules.smallest_hole == 12.0
    assert rules.small_hole_feed == 0.6
    assert rules.square_side == "right"
    assert library.choose("plasma", "mild steel", 1.0).rules.smallest_hole == pytest.approx(1.575)
