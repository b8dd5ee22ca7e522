"""A shop's own file is read as written, and refused with its row when it cannot be true."""

from pathlib import Path

import pytest

from cutplan.base.errors import DataError
from cutplan.process import CuttingTable, check_cutting_data, load_cutting_data

HEADER = """
schema = "cutplan.cutting-data/1"
process = "plasma"
material = "mild steel"
setting = "100 A oxygen"
origin = "measured on our table"
current_a = 100
starts_per_set = 500
hours_per_set = 3
"""
GASES = '[gases]\ncut = "oxygen"\nshield = "air"\n'
COLUMNS = [
    "thickness", "feed_mm_min", "kerf", "voltage_v", "pierce_height", "cut_height", "pierce_s",
    "cut_m3_h", "shield_m3_h",
]  # fmt: skip
ROWS = [
    [6.0, 3400.0, 1.9, 120.0, 5.0, 2.5, 0.3, 2.0, 5.0],
    [10.0, 2000.0, 2.1, 126.0, 5.5, 2.8, 0.5, 2.0, 5.0],
    [15.0, 1200.0, 2.3, 134.0, 6.0, 3.0, 0.8, 2.0, 5.0],
]


def plasma_file(
    folder: Path,
    *,
    row: int | None = None,
    header: str = "",
    gases: str = GASES,
    extra: str = "",
    rows: list[list[float]] | None = None,
    columns: list[str] | None = None,
    **changes: float,
) -> Path:
    """Write a file, with values of one row (counted from 1) changed by column name."""
    columns = columns or COLUMNS
    table = [list(values) for values in rows or ROWS]
    if row is not None:
        for name, value in changes.items():
            table[row - 1][columns.index(name)] = value
    text = HEADER + header + gases + extra + "[table]\ncolumns = " + str(columns) + "\nrows = " + str(table)
    file = folder / "own.toml"
    file.write_text(text)
    return file


def read(folder: Path, **changes: object) -> CuttingTable:
    return load_cutting_data(plasma_file(folder, **changes))  # type: ignore[arg-type]


def test_a_shop_writes_its_own_file(tmp_path: Path) -> None:
    table = read(tmp_path, header="recommended = [8, 15]\npierce_limit = 12\n")
    data = table.at(10.0)
    assert (data.feed_mm_min, data.kerf, data.current_a, data.voltage_v) == (2000.0, 2.1, 100.0, 126.0)
    assert {(g.gas, g.phase): g.flow_m3_h for g in data.gases} == {
        ("oxygen", "pierce"): 2.0,
        ("oxygen", "cut"): 2.0,
        ("air", "pierce"): 5.0,
        ("air", "cut"): 5.0,
    }
    assert data.rules.edge_start_above == 12.0
    assert data.origin == "measured on our table"
    assert table.own


def test_between_rows_the_feed_lies_between_theirs(tmp_path: Path) -> None:
    assert 1200.0 < read(tmp_path).at(12.0).feed_mm_min < 2000.0


def test_rules_of_the_file_replace_the_defaults_in_the_header_or_by_thickness(tmp_path: Path) -> None:
    default = read(tmp_path).at(10.0).rules
    table = read(
        tmp_path,
        extra="[rules]\npart_gap = 12\n",
        columns=[*COLUMNS, "lead_in"],
        rows=[[*row, 2.0 * row[0]] for row in ROWS],
    )
    assert (table.at(10.0).rules.part_gap, table.at(10.0).rules.lead_in) == (12.0, 20.0)
    assert table.at(12.5).rules.lead_in == pytest.approx(25.0)
    assert table.at(10.0).rules.edge_gap == default.edge_gap


def test_an_arc_may_not_go_out_before_the_hole_is_closed(tmp_path: Path) -> None:
    table = read(tmp_path, columns=[*COLUMNS, "arc_off_before"], rows=[[*row, row[0] / 6.0] for row in ROWS])
    assert table.at(12.0).rules.arc_off_before == pytest.approx(2.0)
    assert read(tmp_path).at(12.0).rules.arc_off_before == 0.0
    with pytest.raises(
        DataError, match=r"row 3 \(15 mm\).*arc_off_before of 3.6 mm is longer than the over-burn"
    ):
        read(tmp_path, extra="[rules]\narc_off_before = 3.6\noverburn = 4\n",
             columns=[*COLUMNS, "overburn"], rows=[[*row, 10.0 - 0.5 * row[0]] for row in ROWS])  # fmt: skip


def test_a_moving_pierce_carries_its_length_and_feed(tmp_path: Path) -> None:
    table = read(
        tmp_path,
        header="moving_pierce_feed = 0.4\n",
        columns=[*COLUMNS, "moving_pierce_mm"],
        rows=[[*row, 8.0] for row in ROWS],
    )
    data = table.at(6.0)
    assert (data.moving_pierce_mm, data.moving_pierce_feed) == (8.0, 0.4)
    # The creep happens on the lead-in, which is made long enough for it.
    assert read(tmp_path).at(6.0).rules.lead_in < data.rules.lead_in == 8.0


def test_outside_its_rows_a_table_refuses_with_its_range(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="data for 6 to 15 mm, not for 20 mm"):
        read(tmp_path).at(20.0)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"row": 2, "cut_m3_h": -2.0}, r"row 2 \(10 mm\): cut_m3_h must be above 0, got -2"),
        ({"row": 2, "shield_m3_h": -1.0}, r"row 2 \(10 mm\): shield_m3_h must not be negative"),
        ({"row": 1, "kerf": 0.0}, r"row 1 \(6 mm\): kerf must be above 0"),
        ({"row": 3, "feed_mm_min": 2500.0}, r"row 3 \(15 mm\): the feed rises from 2000 to 2500"),
        ({"row": 2, "thickness": 6.0}, r"row 2 \(6 mm\): thickness does not rise"),
        ({"row": 3, "thickness": 40.0}, r"row 3 \(40 mm\): a gap from 10 to 40 mm is too wide"),
        ({"row": 1, "cut_height": 9.0}, r"row 1 \(6 mm\): pierce_height below cut_height"),
        ({"rows": [ROWS[0], ROWS[1][:-1]]}, r"row 2 \(10 mm\): 8 values for 9 columns"),
        ({"columns": [*COLUMNS[:-1], "shield_flow"]}, "unknown column 'shield_flow' for plasma.*shield_m3_h"),
        ({"columns": [*COLUMNS[:-1], "kerf"]}, "a column is given twice"),
        ({"columns": COLUMNS[:-1], "rows": [r[:-1] for r in ROWS]}, "the table has no column 'shield_m3_h'"),
        ({"columns": COLUMNS[1:], "rows": [r[1:] for r in ROWS]}, "the table has no column 'thickness'"),
        ({"header": "recommended = [2, 10]\n"}, "recommended 2 to 10 mm lies outside the rows, 6 to 15 mm"),
        ({"header": "recommended = [12, 10]\n"}, r"recommended must be \[thinnest, thickest\]"),
        ({"header": "water_feed = 1.2\n"}, "water_feed"),
        ({"header": "kerf_width = 2\n"}, "kerf_width: unknown key"),
        ({"extra": "[rules]\nlead = 3\n"}, "unknown rule 'lead'"),
        ({"extra": "[rules]\nlead_in = -3\n"}, "lead_in must be above 0"),
        ({"extra": "[rules]\ncorner_feed = 1.5\n"}, "corner_feed is a factor on the feed"),
        ({"extra": "[pressures_bar]\ncut = -5\n"}, "the pressure of cut must not be negative"),
        ({"gases": '[gases]\ncut = "propane"\n'}, "plasma cuts with oxygen, air, nitrogen"),
        ({"gases": '[gases]\ncut = "helium"\n'}, r"\[gases\] cut"),
    ],
)
def test_a_wrong_file_is_refused_where_it_is_wrong(
    tmp_path: Path, changes: dict[str, object], message: str
) -> None:
    with pytest.raises(DataError, match=message) as caught:
        read(tmp_path, **changes)
    assert "own.toml" in str(caught.value)


@pytest.mark.parametrize("value", ["nan", "inf"])
def test_not_a_number_is_refused(tmp_path: Path, value: str) -> None:
    file = plasma_file(tmp_path)
    file.write_text(file.read_text().replace("2000.0", value))
    with pytest.raises(DataError, match=r"own\.toml"):
        load_cutting_data(file)


def test_a_missing_or_broken_file_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="no such file"):
        load_cutting_data(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("process = \n")
    with pytest.raises(DataError, match=r"not valid TOML.*line 1"):
        load_cutting_data(broken)


OXYFUEL = """
schema = "cutplan.cutting-data/1"
process = "oxyfuel"
material = "mild steel"
setting = "tip 2"
origin = "test"
starts_per_set = 500
hours_per_set = 40
[gases]
cut = "oxygen"
fuel = "acetylene"
[pressures_bar]
fuel = 0.5
[table]
columns = ["thickness", "feed_mm_min", "kerf", "pierce_height", "cut_height", "pierce_s", "preheat_s",
    "cut_m3_h", "fuel_m3_h", "preheat_oxygen_m3_h"]
rows = [
    [20, 400, 1.8, 10, 6, 1, 10, 3.3, 0.29, 0.32],
    [25, 350, 2.0, 11, 7, 2, 12, 3.6, 0.29, 0.32],
]
"""


def oxyfuel(folder: Path, old: str = "", new: str = "") -> CuttingTable:
    file = folder / "oxy.toml"
    assert old in OXYFUEL
    file.write_text(OXYFUEL.replace(old, new, 1))
    return load_cutting_data(file)


def test_oxyfuel_data_for_stainless_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="oxy-fuel cuts carbon steel only"):
        oxyfuel(tmp_path, '"mild steel"', '"stainless"')


def test_acetylene_above_its_limit_is_refused(tmp_path: Path) -> None:
    """Never above 15 psig, 1.03 bar (Compressed Gas Association practice, from memory)."""
    with pytest.raises(DataError, match=r"never be used above 1\.03 bar"):
        oxyfuel(tmp_path, "fuel = 0.5", "fuel = 1.4")


@pytest.mark.parametrize(
    ("old", "new", "kind", "message"),
    [
        ("2, 12, 3.6", "2, 12, 0.9", "refused", "times what burns"),
        ("2, 12, 3.6", "2, 12, 36.0", "refused", "times what burns"),
        ("3.6, 0.29, 0.32", "3.6, 0.29, 1.2", "refused", "no neutral flame"),
        ("[25, 350", "[25, 400", "warning", "the same feed"),
        ("2, 12, 3.6", "2, 5, 3.6", "warning", "preheat time falls from 10 to 5"),
        ("11, 7, 2", "7.5, 7, 2", "warning", "pierce height 7.5 mm"),
    ],
)
def test_the_check_names_the_row_that_chemistry_or_practice_contradicts(
    tmp_path: Path, old: str, new: str, kind: str, message: str
) -> None:
    assert check_cutting_data(oxyfuel(tmp_path)) == ()
    (finding,) = check_cutting_data(oxyfuel(tmp_path, old, new))
    assert (finding.row, finding.thickness, finding.kind) == (2, 25.0, kind)
    assert message in finding.message


def test_the_check_refuses_more_heat_than_the_arc_has(tmp_path: Path) -> None:
    assert check_cutting_data(read(tmp_path)) == ()
    (finding,) = check_cutting_data(read(tmp_path, row=3, kerf=6.5))
    assert finding.kind == "refused" and "too fast" in finding.message and finding.row == 3
    (finding,) = check_cutting_data(read(tmp_path, row=3, feed_mm_min=300.0))
    assert finding.kind == "refused" and "too slow" in finding.message


def test_oxygen_plasma_may_gain_some_heat_from_burning_iron_but_air_may_not(tmp_path: Path) -> None:
    (finding,) = check_cutting_data(read(tmp_path, row=3, kerf=4.5))
    assert finding.kind == "warning" and "burning iron" in finding.message
    air = GASES.replace('"oxygen"', '"air"')
    (finding,) = check_cutting_data(read(tmp_path, row=3, kerf=4.5, gases=air))
    assert finding.kind == "refused"


def test_what_holds_for_all_rows_stands_in_the_header(tmp_path: Path) -> None:
    data = read(
        tmp_path,
        header="pre_flow_s = 0.4\npost_flow_s = 5\ntransfer_s = 0.3\n"
        "feed_trim = 0.05\ndwell_trim = 1.5\nheight_trim = 0.1\n",
    ).at(10.0)
    assert (data.pre_flow_s, data.post_flow_s, data.transfer_s) == (0.4, 5.0, 0.3)
    assert (data.feed_trim, data.dwell_trim, data.height_trim) == (0.05, 1.5, 0.1)
    usual = read(tmp_path).at(10.0)
    assert (usual.feed_trim, usual.dwell_trim, usual.pre_flow_s) == (0.1, 2.0, 0.0)


def test_oxyfuel_says_how_high_its_flame_burns_and_how_the_torch_comes_down(tmp_path: Path) -> None:
    data = oxyfuel(tmp_path, "hours_per_set = 40", "hours_per_set = 40\nhigh_preheat = 1.8\nbleed_s = 12").at(
        20.0
    )
    assert (data.high_preheat, data.bleed_s) == (1.8, 12.0)
    # Without a height of its own the torch preheats where it cuts, and comes down standing.
    assert (data.preheat_height, data.lowering_mm) == (6.0, 0.0)
    with pytest.raises(DataError, match="are of plasma only"):
        oxyfuel(tmp_path, "hours_per_set = 40", "hours_per_set = 40\ntransfer_s = 0.2")
    with pytest.raises(DataError, match="are of oxy-fuel only"):
        read(tmp_path, header="high_preheat = 1.5\n")
