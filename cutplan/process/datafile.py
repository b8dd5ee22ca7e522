"""Reading cutting-data files: TOML, one file a process, material and torch or tip set.

The format
----------
A header of keys (`DataFile` below), the kinds of gas by role in `[gases]`, optional rules in
`[rules]`, and a `[table]` of `columns` and `rows`.  Lengths are mm, other units stand in the
name: `feed_mm_min`, `pierce_s`, `voltage_v`, `cut_m3_h` (at 15 °C and 1.013 bar), `cut_bar`
(gauge).  What is read is refused with its row where it has gaps or contradicts itself;
whether it also agrees with physics is left to `checks`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Literal

import numpy as np
from pydantic import Field, model_validator

from cutplan.base.errors import DataError
from cutplan.base.files import FileModel, read_toml, validate
from cutplan.geometry import FloatArray
from cutplan.process.gases import FUELS
from cutplan.process.model import GasName
from cutplan.process.row_checks import refuse_contradictions, refuse_open_holes, row_of
from cutplan.process.rules import RULE_NAMES
from cutplan.process.table import CuttingTable, Handling

__all__ = ["DataFile", "read_cutting_data"]

COMMON_COLUMNS = ("thickness", "feed_mm_min", "kerf", "pierce_height", "cut_height", "pierce_s")
PLASMA_COLUMNS = ("voltage_v", "cut_m3_h")
OXYFUEL_COLUMNS = ("preheat_s", "cut_m3_h", "fuel_m3_h", "preheat_oxygen_m3_h")
PLASMA_OPTIONAL = (
    "shield_m3_h",
    "pierce_m3_h",
    "cut_bar",
    "shield_bar",
    "moving_pierce_mm",
    "lowering_mm",
)
OXYFUEL_OPTIONAL = (
    "edge_preheat_s",
    "pierce_m3_h",
    "cut_bar",
    "fuel_bar",
    "preheat_oxygen_bar",
    "preheat_height",
    "moving_pierce_mm",
    "lowering_mm",
)
QUALITY_COLUMNS = ("iso9013_range", "iso9013_tolerance_class")
# What may be zero; every other column must lie above.
ZERO_ALLOWED = {
    "pierce_s",
    "moving_pierce_mm",
    "lowering_mm",
    "arc_off_before",
    "lead_out",
    "overburn",
    "corner_length",
    "shield_m3_h",
    "shield_bar",
}
FACTORS = {"small_hole_feed", "corner_feed"}
# The acetylene limit of the Compressed Gas Association's practice: 15 psig (from memory).
ACETYLENE_LIMIT_BAR = 1.03


class Gases(FileModel):
    """Kinds of gas by role: plasma takes `cut` and `shield`, oxy-fuel `cut` and `fuel`.

    Attributes
    ----------
    cut : str
        Plasma gas, or cutting oxygen.
    shield : str or None
        Shield gas; plasma.
    fuel : str or None
        Fuel gas; oxy-fuel.
    """

    cut: GasName
    shield: GasName | None = None
    fuel: GasName | None = None


class TableRows(FileModel):
    """Columns by name, and a row of numbers for each thickness.

    Attributes
    ----------
    columns : list of str
        Names, each with its unit unless that is mm.
    rows : list of list of float
        A row for each thickness, rising.
    """

    columns: list[str] = Field(min_length=1)
    rows: list[list[float]] = Field(min_length=1)


class DataFile(FileModel):
    """Header and table of a cutting-data file.

    Attributes
    ----------
    setting : str
        Name of the torch or tip setting, unique for a process and material.
    origin : str
        Where the values come from.
    current_a : float
        Arc current; plasma only.
    recommended : tuple of float
        Thinnest and thickest plate the setting suits best; all rows if left out.
    pierce_limit : float
        Thickest plate it can pierce; all rows if left out.
    water_feed : float
        Factor on the feed with the plate under water.
    moving_pierce_feed : float
        Factor on the feed while creeping over `moving_pierce_mm`.
    fine_beam : bool
        The plasma source constricts its arc to a fine beam; only then may range 1 or 2 of
        ISO 9013 be claimed for oxygen plasma without a remark.
    pre_flow_s, post_flow_s : float
        Gas flows this long before the arc is struck, and after it has gone out.
    transfer_s : float
        From the pilot arc until the arc has passed to the plate; no motion before.
    high_preheat : float
        Flow of the flame while it preheats, over that of the steady flame; oxy-fuel, 1 to 2.5.
    bleed_s : float
        Hoses are blown through this long at full flow, once a program.
    feed_trim : float
        Share by which an operator may trim the feed at the table; change it where your
        quality plan allows less.
    dwell_trim : float
        How many times the stated dwell an operator may let a pierce take.
    height_trim : float
        Share by which an operator may trim a torch height at the table.
    starts_per_set, hours_per_set : float
        Life of a set of electrode and nozzle, or of a tip.
    schema_ : str
        Form of the file, which this version reads: "cutplan.cutting-data/1".
    process : {"plasma", "oxyfuel"}
        What it cuts by.
    material : {"mild steel", "stainless", "aluminium"}
        Material group.
    square_side : str
        Side of the travel with the squarer edge, by the swirl of the plasma gas.
    iso9013_tolerance_class : int
        Class of ISO 9013 for the size that the setting keeps.
    gases : Gases
        Kinds of gas by role.
    pressures_bar : mapping
        Gauge pressure by role of gas, where it is one for all rows.
    rules : mapping
        Rules of leads, holes, gaps and corners that differ from those of the process.
    table : TableRows
        Columns and rows.
    """

    schema_: Literal["cutplan.cutting-data/1"] = Field(alias="schema")
    process: Literal["plasma", "oxyfuel"]
    material: Literal["mild steel", "stainless", "aluminium"]
    setting: str = Field(min_length=1)
    origin: str = Field(min_length=1)
    current_a: float = Field(0.0, ge=0)
    recommended: tuple[float, float] | None = None
    pierce_limit: float | None = Field(None, gt=0)
    square_side: Literal["right", "left", "both"] = "right"
    water_feed: float = Field(1.0, gt=0, le=1)
    moving_pierce_feed: float = Field(1.0, gt=0, le=1)
    fine_beam: bool = False
    pre_flow_s: float = Field(0.0, ge=0, le=10)
    post_flow_s: float = Field(0.0, ge=0, le=60)
    transfer_s: float = Field(0.0, ge=0, le=5)
    high_preheat: float = Field(1.0, ge=1, le=2.5)
    bleed_s: float = Field(0.0, ge=0, le=120)
    feed_trim: float = Field(0.1, ge=0, le=0.5)
    dwell_trim: float = Field(2.0, ge=1, le=5)
    height_trim: float = Field(0.25, ge=0, le=1)
    starts_per_set: float = Field(gt=0)
    hours_per_set: float = Field(gt=0)
    iso9013_tolerance_class: Literal[1, 2] = 2
    gases: Gases
    pressures_bar: Mapping[Literal["cut", "shield", "fuel", "preheat_oxygen"], float] = {}
    rules: Mapping[str, float] = {}
    table: TableRows

    @model_validator(mode="after")
    def _header_agrees(self) -> DataFile:
        if self.process == "plasma":
            if not self.current_a > 0.0:
                raise ValueError("plasma data need current_a above 0")
            if self.gases.fuel is not None or self.gases.cut in FUELS:
                raise ValueError(
                    "plasma cuts with oxygen, air, nitrogen, argon-hydrogen or nitrogen-hydrogen, without a fuel"
                )
        else:
            if self.material != "mild steel":
                raise ValueError(
                    f"oxy-fuel cuts carbon steel only: {self.material} does not burn away in oxygen"
                )
            if self.gases.cut != "oxygen" or self.gases.fuel not in FUELS:
                raise ValueError("oxy-fuel data need cut = 'oxygen' and a fuel gas in [gases]")
            if self.gases.shield is not None or self.current_a:
                raise ValueError("oxy-fuel has neither a shield gas nor an arc current")
            if self.fine_beam or self.transfer_s or self.pre_flow_s or self.post_flow_s:
                raise ValueError("fine_beam, transfer_s, pre_flow_s and post_flow_s are of plasma only")
        if self.process == "plasma" and (self.high_preheat != 1.0 or self.bleed_s):
            raise ValueError("high_preheat and bleed_s are of oxy-fuel only")
        if self.recommended is not None and not 0.0 < self.recommended[0] < self.recommended[1]:
            raise ValueError("recommended must be [thinnest, thickest]")
        return self


def read_cutting_data(file: Path, *, own: bool = True) -> CuttingTable:
    """Read a cutting-data file.

    Parameters
    ----------
    file : Path
    own : bool
        Whether it is the user's own rather than shipped.

    Raises
    ------
    DataError
        Naming the file, and the key or the row, that is missing, unknown, negative, not a
        number, or in contradiction to another.
    """
    data = validate(DataFile, read_toml(file, DataError), str(file), DataError)
    source = file.name if not own else str(file)
    columns = _columns(data, source)
    refuse_contradictions(columns, source)
    _refuse_wrong_rules(data, source)
    _refuse_wrong_pressures(data, columns, source)
    table = CuttingTable(
        process=data.process,
        material=data.material,
        setting=data.setting,
        source=source,
        origin=data.origin,
        columns=columns,
        gases={role: gas for role, gas in data.gases.model_dump().items() if gas},
        recommended=_recommended(data, columns["thickness"], source),
        pierce_limit=data.pierce_limit or float(columns["thickness"][-1]),
        pressures_bar={str(role): value for role, value in data.pressures_bar.items()},
        rules=dict(data.rules),
        square_side=data.square_side,
        current_a=data.current_a,
        starts_per_set=data.starts_per_set,
        hours_per_set=data.hours_per_set,
        tolerance_class=data.iso9013_tolerance_class,
        water_feed=data.water_feed,
        moving_pierce_feed=data.moving_pierce_feed,
        fine_beam=data.fine_beam,
        handling=Handling(**{f.name: getattr(data, f.name) for f in fields(Handling)}),
        own=own,
    )
    refuse_open_holes(table, source)
    return table


def _recommended(data: DataFile, thickness: FloatArray, source: str) -> tuple[float, float]:
    """Return what plate the setting suits best, from the file or from its rows."""
    recommended = data.recommended or (float(thickness[0]), float(thickness[-1]))
    if not thickness[0] <= recommended[0] < recommended[1] <= thickness[-1] and len(thickness) > 1:
        raise DataError(
            f"recommended {recommended[0]:g} to {recommended[1]:g} mm lies outside the rows, "
            f"{thickness[0]:g} to {thickness[-1]:g} mm",
            where=source,
            remedy="recommend only what has data",
        )
    return recommended


def _columns(data: DataFile, source: str) -> dict[str, FloatArray]:
    """Return the table by column, refusing wrong names, ragged rows and wrong numbers."""
    names, rows = data.table.columns, data.table.rows
    plasma = data.process == "plasma"
    needed = COMMON_COLUMNS + (PLASMA_COLUMNS if plasma else OXYFUEL_COLUMNS)
    needed += ("shield_m3_h",) if data.gases.shield else ()
    optional = PLASMA_OPTIONAL if plasma else OXYFUEL_OPTIONAL
    known = set(needed) | set(optional) | set(QUALITY_COLUMNS) | set(RULE_NAMES)
    for name in names:
        if name not in known:
            raise DataError(
                f"unknown column {name!r} for {data.process}",
                where=source,
                remedy=f"known columns: {', '.join(sorted(known))}",
            )
    if len(set(names)) < len(names):
        raise DataError("a column is given twice", where=source, remedy="name every column once")
    missing = [name for name in needed if name not in names]
    if missing:
        raise DataError(f"the table has no column {missing[0]!r}", where=source, remedy="add the column")
    for number, row in enumerate(rows, 1):
        if len(row) != len(names):
            raise DataError(
                f"{len(row)} values for {len(names)} columns",
                where=row_of(source, number, row[0] if row else None),
                remedy="give every column a value in every row",
            )
        for name, value in zip(names, row, strict=True):
            _refuse_wrong_value(name, value, row_of(source, number, row[names.index("thickness")]))
    table = np.array(rows, dtype=np.float64)
    return {name: np.ascontiguousarray(table[:, i]) for i, name in enumerate(names)}


def _refuse_wrong_value(name: str, value: float, where: str) -> None:
    if value < 0.0 or (value == 0.0 and name not in ZERO_ALLOWED):
        least = "not be negative" if name in ZERO_ALLOWED else "be above 0"
        raise DataError(f"{name} must {least}, got {value:g}", where=where, remedy="correct the value")
    if name in FACTORS and value > 1.0:
        raise DataError(
            f"{name} is a factor on the feed and must not pass 1, got {value:g}",
            where=where,
            remedy="give a share between 0 and 1",
        )
    top = {"iso9013_range": 5, "iso9013_tolerance_class": 2}.get(name)
    if top and value not in range(1, top + 1):
        raise DataError(
            f"{name} must be a whole number from 1 to {top}, got {value:g}",
            where=where,
            remedy="see ISO 9013",
        )


def _refuse_wrong_rules(data: DataFile, source: str) -> None:
    for name, value in data.rules.items():
        if name not in RULE_NAMES:
            raise DataError(
                f"unknown rule {name!r}",
                where=f"{source}, [rules]",
                remedy=f"known rules: {', '.join(RULE_NAMES)}",
            )
        _refuse_wrong_value(name, value, f"{source}, [rules]")


def _refuse_wrong_pressures(data: DataFile, columns: dict[str, FloatArray], source: str) -> None:
    for role, value in data.pressures_bar.items():
        if value < 0.0:
            raise DataError(
                f"the pressure of {role} must not be negative, got {value:g}",
                where=f"{source}, [pressures_bar]",
                remedy="give bar gauge",
            )
    if data.gases.fuel == "acetylene":
        fuel = columns.get("fuel_bar", np.array([data.pressures_bar.get("fuel", 0.0)]))
        if float(np.max(fuel)) > ACETYLENE_LIMIT_BAR:
            raise DataError(
                f"acetylene must never be used above {ACETYLENE_LIMIT_BAR} bar gauge: it can explode",
                where=source,
                remedy="set the fuel pressure of the tip's data sheet",
            )
