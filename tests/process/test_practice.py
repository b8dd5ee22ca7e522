"""Every shipped row lies inside the bands of common practice, and rows that do not are found.

The bands are those a foreman would name, common practice unless another source stands beside
them; each is repeated here so that a change of the package's own bands is noticed.
"""

import re
import runpy
from pathlib import Path

import pytest

import cutplan.process
from cutplan.process import CutData, Library, check_cutting_data, load_cutting_data

SHIPPED = Path(cutplan.process.__file__).parent / "data"
LIBRARY = Library.load()
PLASMA = [table for table in LIBRARY.tables if table.process == "plasma"]
OXYFUEL = [table for table in LIBRARY.tables if table.process == "oxyfuel"]


def plasma(thickness: float, current_a: float) -> CutData:
    return LIBRARY.choose("plasma", "mild steel", thickness, current_a=current_a)


def oxyfuel(thickness: float, fuel: str) -> CutData:
    return LIBRARY.choose("oxyfuel", "mild steel", thickness, setting=fuel)


def test_400_a_pierces_40_and_50_mm_in_3_to_5_s_from_15_mm_or_higher() -> None:
    """Common practice."""
    for thickness in (40.0, 50.0):
        data = plasma(thickness, 400)
        assert 3.0 <= data.pierce_s <= 5.0
        assert data.pierce_height >= 15.0


def test_300_a_pierces_38_mm_in_2_to_4_s() -> None:
    """Common practice."""
    assert 2.0 <= plasma(38.0, 300).pierce_s <= 4.0


def test_120_a_pierces_to_about_20_mm_and_200_a_to_about_25() -> None:
    """Common practice."""
    assert plasma(10.0, 120).rules.edge_start_above == pytest.approx(20.0, abs=2.0)
    assert plasma(10.0, 200).rules.edge_start_above == pytest.approx(25.0, abs=3.0)


@pytest.mark.parametrize("table", PLASMA, ids=lambda t: f"{t.setting}, {t.material}")
def test_a_plasma_pierce_keeps_12_to_15_mm_off_a_part_of_25_mm(table) -> None:  # type: ignore[no-untyped-def]
    """Common practice."""
    if table.covers(25.0):
        assert 12.0 <= table.at(25.0).rules.pierce_clearance <= 15.0


@pytest.mark.parametrize("current_a", [40, 60, 80])
def test_air_plasma_reaches_range_4_to_5_from_8_mm_up(current_a: float) -> None:
    """ISO 9013 perpendicularity, common practice."""
    (table,) = [t for t in PLASMA if t.current_a == current_a and t.material == "mild steel"]
    for thickness in table.columns["thickness"]:
        if thickness >= 8.0:
            assert table.at(float(thickness)).iso9013_range in (4, 5)


@pytest.mark.parametrize("current_a", [120, 200, 300, 400])
def test_oxygen_plasma_without_a_fine_beam_reaches_range_3_to_4(current_a: float) -> None:
    """ISO 9013 perpendicularity, common practice."""
    (table,) = [t for t in PLASMA if t.current_a == current_a and t.material == "mild steel"]
    assert not table.fine_beam
    assert {table.at(float(t)).iso9013_range for t in table.columns["thickness"]} <= {3, 4}


@pytest.mark.parametrize("fuel", ["acetylene", "propane", "natural gas"])
@pytest.mark.parametrize(
    ("thickness", "height", "clearance"),
    [
        (40.0, (15.0, 20.0), (15.0, 20.0)),
        (60.0, (20.0, 25.0), (20.0, 25.0)),
        (100.0, (25.0, 35.0), (30.0, 40.0)),
    ],
)
def test_oxyfuel_pierces_high_and_clear_of_the_part(
    fuel: str, thickness: float, height: tuple[float, float], clearance: tuple[float, float]
) -> None:
    """Common practice."""
    data = oxyfuel(thickness, fuel)
    assert height[0] <= data.pierce_height <= height[1]
    assert clearance[0] <= data.rules.pierce_clearance <= clearance[1]


@pytest.mark.parametrize(
    ("fuel", "thickness", "least", "most"),
    [
        ("acetylene", 100.0, 50.0, 90.0),
        ("propane", 40.0, 25.0, 45.0),
        ("propane", 100.0, 90.0, 120.0),
        ("natural gas", 40.0, 35.0, 60.0),
        ("natural gas", 100.0, 100.0, 150.0),
    ],
)
def test_preheats_last_as_long_as_the_handbooks_say(
    fuel: str, thickness: float, least: float, most: float
) -> None:
    """Handbook ranges, from memory."""
    assert least <= oxyfuel(thickness, fuel).preheat_s <= most


def test_acetylene_pierces_100_mm_in_10_to_15_s() -> None:
    """Handbook range, from memory."""
    assert 10.0 <= oxyfuel(100.0, "acetylene").pierce_s <= 15.0


def test_thick_plate_is_pierced_moving() -> None:
    """Common practice: a standing pierce of thick plate throws its metal up at the torch."""
    assert plasma(50.0, 400).moving_pierce_mm > 0.0 and plasma(50.0, 400).moving_pierce_feed < 1.0
    for table in OXYFUEL:
        for thickness in (80.0, 100.0):
            assert table.at(thickness).moving_pierce_mm > 0.0
        assert table.at(40.0).moving_pierce_mm == 0.0


def test_oxyfuel_preheats_low_pierces_high_and_comes_down_on_the_move() -> None:
    """Common practice."""
    for table in OXYFUEL:
        for thickness in table.columns["thickness"]:
            data = table.at(float(thickness))
            assert data.preheat_height < data.pierce_height > data.cut_height
            assert 0.0 < data.lowering_mm <= data.rules.lead_in
            assert 1.5 <= data.high_preheat <= 2.0
        assert table.at(40.0).bleed_s > 0.0


# File, thickness, what its row held once, and what the check has to say of it.
DOUBTFUL = [
    ("plasma-mild-steel-400a-oxygen", 40, {"pierce_s": 1.67}, "a pierce of 1.67 s; usual is 3 to 5 s"),
    (
        "plasma-mild-steel-400a-oxygen",
        40,
        {"pierce_height": 10.8},
        "a pierce height of 10.8 mm; usual is 15 or",
    ),
    (
        "plasma-mild-steel-400a-oxygen",
        50,
        {"moving_pierce_mm": 0, "pierce_s": 2.5},
        "a pierce of 2.5 s; usual is 3",
    ),
    (
        "plasma-mild-steel-400a-oxygen",
        50,
        {"moving_pierce_mm": 0, "pierce_height": 12},
        "a pierce height of 12 mm",
    ),
    ("plasma-mild-steel-400a-oxygen", 50, {"moving_pierce_mm": 0}, "a standing pierce of 50 mm"),
    ("plasma-mild-steel-300a-oxygen", 38, {"pierce_s": 1.64}, "a pierce of 1.64 s; usual is 2 to 4 s"),
    ("plasma-mild-steel-120a-oxygen", 10, {"pierce_limit": 25}, "a pierce limit of 25 mm; usual is 0 to 22"),
    ("plasma-mild-steel-200a-oxygen", 10, {"pierce_limit": 32}, "a pierce limit of 32 mm; usual is 0 to 28"),
    (
        "plasma-mild-steel-200a-oxygen",
        25,
        {"pierce_clearance": 7.25},
        "a pierce clearance of 7.25 mm; usual is 12",
    ),
    ("plasma-mild-steel-060a-air", 8, {"iso9013_range": 3}, "range of ISO 9013 of 3; usual is 4 to 5"),
    ("plasma-mild-steel-080a-air", 8, {"iso9013_range": 3}, "range of ISO 9013 of 3; usual is 4 to 5"),
    ("plasma-mild-steel-080a-air", 12, {"iso9013_range": 3}, "range of ISO 9013 of 3; usual is 4 to 5"),
    ("plasma-mild-steel-120a-oxygen", 10, {"iso9013_range": 2}, "of 2 by oxygen plasma; without a fine beam"),
    ("plasma-mild-steel-200a-oxygen", 20, {"iso9013_range": 2}, "of 2 by oxygen plasma; without a fine beam"),
    ("plasma-mild-steel-300a-oxygen", 25, {"iso9013_range": 2}, "of 2 by oxygen plasma; without a fine beam"),
    ("plasma-mild-steel-400a-oxygen", 60, {"iso9013_range": 5}, "of 5 by oxygen plasma; usual is 3 to 4"),
    *[
        (f"oxyfuel-mild-steel-{fuel}", thickness, {quantity: value}, said)
        for fuel in ("acetylene", "propane", "natural-gas")
        for thickness, quantity, value, said in (
            (40, "pierce_height", 12.9, "a pierce height of 12.9 mm; usual is 15 to 20"),
            (60, "pierce_height", 14.7, "a pierce height of 14.7 mm; usual is 20 to 25"),
            (100, "pierce_height", 18.6, "a pierce height of 18.6 mm; usual is 25 to 35"),
            (40, "pierce_clearance", 8.0, "a pierce clearance of 8 mm; usual is 15 to 20"),
            (60, "pierce_clearance", 11.0, "a pierce clearance of 11 mm; usual is 20 to 25"),
            (100, "pierce_clearance", 17.0, "a pierce clearance of 17 mm; usual is 30 to 40"),
            (100, "moving_pierce_mm", 0, "a standing pierce of 100 mm"),
        )
    ],
    (
        "oxyfuel-mild-steel-acetylene",
        100,
        {"preheat_s": 40},
        "a preheat of 40 s; usual is 50 to 90 s (handbook",
    ),
    ("oxyfuel-mild-steel-acetylene", 100, {"pierce_s": 8}, "a pierce of 8 s; usual is 10 to 15 s (handbook"),
    ("oxyfuel-mild-steel-propane", 40, {"preheat_s": 23}, "a preheat of 23 s; usual is 25 to 45 s"),
    ("oxyfuel-mild-steel-propane", 100, {"preheat_s": 54}, "a preheat of 54 s; usual is 90 to 120 s"),
    ("oxyfuel-mild-steel-natural-gas", 40, {"preheat_s": 27}, "a preheat of 27 s; usual is 35 to 60 s"),
    ("oxyfuel-mild-steel-natural-gas", 100, {"preheat_s": 64}, "a preheat of 64 s; usual is 100 to 150 s"),
]


def with_row(folder: Path, name: str, thickness: float, changes: dict[str, float]) -> Path:
    """Copy a shipped file with values of one row, or of its header, changed."""
    text = (SHIPPED / f"{name}.toml").read_text()
    head, table = text.split("[table]")
    columns = re.findall(r'"(\w+)"', table.split("rows")[0])
    lines = re.findall(r"\[([\d., ]+)\]", table.split("rows")[1])
    rows = [dict(zip(columns, map(float, line.split(",")), strict=True)) for line in lines]
    for key, value in changes.items():
        if key == "pierce_limit":
            head = re.sub(r"pierce_limit = \d+", f"pierce_limit = {value}", head)
        elif key in columns:
            next(row for row in rows if row["thickness"] == thickness)[key] = value
        else:
            head = head.replace("[gases]", f"[rules]\n{key} = {value}\n\n[gases]")
    body = "\n".join(f"{list(row.values())}," for row in rows)
    file = folder / f"{name}.toml"
    file.write_text(f"{head}[table]\ncolumns = {columns}\nrows = [\n{body}\n]\n")
    return file


@pytest.mark.parametrize(("name", "thickness", "changes", "said"), DOUBTFUL)
def test_the_check_objects_to_a_doubtful_row(
    tmp_path: Path, name: str, thickness: float, changes: dict[str, float], said: str
) -> None:
    findings = check_cutting_data(load_cutting_data(with_row(tmp_path, name, thickness, changes)))
    assert any(f.thickness == thickness and said in f.message for f in findings)
    # A shop's own trials go first: the row is remarked on, not refused.
    assert all(f.kind == "warning" for f in findings)


def test_a_row_that_was_not_changed_draws_no_remark(tmp_path: Path) -> None:
    for name in {name for name, *_ in DOUBTFUL}:
        assert check_cutting_data(load_cutting_data(with_row(tmp_path, name, 0, {}))) == ()


def test_a_fine_beam_may_claim_the_finer_range(tmp_path: Path) -> None:
    file = with_row(tmp_path, "plasma-mild-steel-120a-oxygen", 10, {"iso9013_range": 2})
    assert len(check_cutting_data(load_cutting_data(file))) == 1
    file.write_text(file.read_text().replace("current_a =", "fine_beam = true\ncurrent_a ="))
    assert check_cutting_data(load_cutting_data(file)) == ()


def test_the_plasma_tables_are_what_their_script_makes() -> None:
    """Feeds follow from the energy balance: the files are made by the script beside them."""
    made = runpy.run_path(str(SHIPPED / "make_tables.py"))
    files = {setting.file: made["text_of"](setting) for setting in made["SETTINGS"]}
    assert files == {file.name: file.read_text() for file in SHIPPED.glob("plasma-*.toml")}
