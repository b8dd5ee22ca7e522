"""The shop's cutting data together: which process and setting suits a plate, and why."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Literal, get_args

from cutplan.base.errors import DataError
from cutplan.process.cautions import cautions_of
from cutplan.process.model import CutData, Process
from cutplan.process.table import CuttingTable

__all__ = ["AUTO_PLASMA_LIMIT_MM", "Library", "load_cutting_data"]

SHIPPED = Path(__file__).parent / "data"
AUTO_PLASMA_LIMIT_MM = 30.0
"""Thickest mild steel that `auto` gives to plasma; above it oxy-fuel with several torches
cuts as fast and squarer (common practice)."""

Choice = Literal["plasma", "oxyfuel", "auto"]
UNDER_WATER = "oxy-fuel is not cut under water"
UNDER_WATER_REMEDY = "lower the water below the plate, and leave [cutting] under_water out"
NAMES = {"plasma": "plasma", "oxyfuel": "oxy-fuel"}

_Key = tuple[str, str, str]


def _key(table: CuttingTable) -> _Key:
    return (table.process, table.material, table.setting)


def load_cutting_data(file: str | Path) -> CuttingTable:
    """Read one cutting-data file.

    Parameters
    ----------
    file : str or Path
        The file.

    Returns
    -------
    CuttingTable

    Raises
    ------
    DataError
        If the file is missing or wrong; names the key or the row.
    """
    from cutplan.process.datafile import read_cutting_data

    return read_cutting_data(Path(file))


@lru_cache(maxsize=1)
def _shipped_tables() -> tuple[CuttingTable, ...]:
    from cutplan.process.datafile import read_cutting_data

    return tuple(read_cutting_data(file, own=False) for file in sorted(SHIPPED.glob("*.toml")))


@dataclass(frozen=True, eq=False)
class Library:
    """Cutting-data tables to choose from.

    Attributes
    ----------
    tables : tuple of CuttingTable
        The user's own first, then those that ship; a table of the user's own takes the place
        of a shipped one with the same process, material and setting.
    """

    tables: tuple[CuttingTable, ...]

    @classmethod
    def load(cls, extra_dirs: Iterable[str | Path] = ()) -> Library:
        """Return the shipped tables, and before them those of the user's own folders.

        Parameters
        ----------
        extra_dirs : iterable of str or Path
            Folders searched for ``*.toml``, or single files; the first has precedence.

        Raises
        ------
        DataError
            If a folder is missing or a file is wrong.
        """
        tables: dict[_Key, CuttingTable] = {}
        for place in map(Path, extra_dirs):
            if not place.exists():
                raise DataError("no such folder of cutting data", where=str(place), remedy="check the path")
            seen: dict[_Key, CuttingTable] = {}
            for file in sorted(place.glob("*.toml")) if place.is_dir() else [place]:
                table = load_cutting_data(file)
                key = _key(table)
                if key in seen:
                    raise DataError(
                        f"the setting {table.setting!r} for {table.material} stands in "
                        f"{Path(seen[key].source).name} too",
                        where=str(file),
                        remedy="give each file a setting of its own",
                    )
                seen[key] = table
            for key, table in seen.items():
                tables.setdefault(key, table)
        for table in _shipped_tables():
            tables.setdefault(_key(table), table)
        return cls(tuple(tables.values()))

    def choose(
        self,
        process: Choice,
        material: str,
        thickness: float,
        *,
        current_a: float | None = None,
        setting: str | None = None,
        quality: int | None = None,
        max_current_a: float | None = None,
        under_water: bool = False,
        auto_limit_mm: float = AUTO_PLASMA_LIMIT_MM,
    ) -> CutData:
        """Return the data of the process and setting that suit a plate best.

        Among the settings that reach the thickness: first those that can pierce it, then the
        user's own, then those recommended for it, then the fastest.

        Parameters
        ----------
        process : {"plasma", "oxyfuel", "auto"}
            "auto" takes plasma up to `auto_limit_mm` where it can pierce, and oxy-fuel on
            thicker mild steel.
        material : str
            Material group.
        thickness : float
            mm.
        current_a : float, optional
            Ask for one arc current.
        setting : str, optional
            Ask for one setting by name.
        quality : int, optional
            Perpendicularity range of ISO 9013 that must be reached; 1 is the finest.
        max_current_a : float, optional
            What the power source gives at most.
        under_water : bool
            Whether the plate lies under water: the feed is lowered by the data's factor.
        auto_limit_mm : float
            Thickest mild steel that "auto" gives to plasma.

        Raises
        ------
        DataError
            With the ranges on offer, when nothing fits.
        """
        if process not in get_args(Choice):
            raise DataError(f"unknown process {process!r}", remedy="use plasma, oxyfuel or auto")
        if not (math.isfinite(thickness) and thickness > 0.0):
            raise DataError(f"a plate needs a thickness above 0 mm, got {thickness}")
        if process == "oxyfuel" and material != "mild steel":
            raise DataError(
                f"oxy-fuel cuts carbon steel only: {material} does not burn away in oxygen",
                remedy="use plasma",
            )
        if process == "oxyfuel" and under_water:
            raise DataError(UNDER_WATER, remedy=UNDER_WATER_REMEDY)
        wish = _Wish(material, float(thickness), current_a, setting, quality, max_current_a)
        if process == "auto":
            # Under water there is only plasma.
            process, why = self._auto(wish, math.inf if under_water else auto_limit_mm)
            if process == "oxyfuel" and under_water:
                raise DataError(f"{thickness:g} mm takes oxy-fuel: {UNDER_WATER}", remedy=UNDER_WATER_REMEDY)
        else:
            why = f"{NAMES[process]} as asked for"
        table, setting_why = self._best(process, wish)
        return _finish(table, wish, f"{why}; {setting_why}", under_water)

    def _auto(self, wish: _Wish, limit: float) -> tuple[Process, str]:
        if wish.current_a is not None:
            return "plasma", "plasma: an arc current was asked for"
        plasma = [table for table in self._fitting("plasma", wish) if wish.thickness <= table.pierce_limit]
        if wish.material != "mild steel":
            return "plasma", f"plasma: oxy-fuel does not cut {wish.material}"
        oxyfuel = self._fitting("oxyfuel", wish)
        if plasma and (wish.thickness <= limit or not oxyfuel):
            return "plasma", f"plasma: it pierces {wish.thickness:g} mm, and is faster up to {limit:g} mm"
        if oxyfuel:
            over = f"over {limit:g} mm" if plasma else "plasma data do not reach or pierce it"
            return "oxyfuel", f"oxy-fuel: {wish.thickness:g} mm mild steel, {over}"
        return "plasma", "plasma: no oxy-fuel data reach this thickness"

    def _fitting(self, process: Process, wish: _Wish) -> list[CuttingTable]:
        return [table for table in self.tables if table.process == process and wish.met_by(table)]

    def _best(self, process: Process, wish: _Wish) -> tuple[CuttingTable, str]:
        fitting = self._fitting(process, wish)
        if not fitting:
            raise self._nothing_fits(process, wish)
        t = wish.thickness

        def rank(table: CuttingTable) -> tuple[bool, bool, bool, float]:
            low, high = table.recommended
            return (
                t > table.pierce_limit,
                not table.own,
                not low <= t <= high,
                -table.at(t).feed_mm_min,
            )

        best = min(fitting, key=rank)
        return best, _why(best, wish, len(fitting))

    def _nothing_fits(self, process: Process, wish: _Wish) -> DataError:
        offers = [
            f"{table.setting} {table.thinnest:g} to {table.thickest:g} mm"
            for table in self.tables
            if table.process == process and table.material == wish.material
        ]
        asked = wish.described()
        return DataError(
            f"no {NAMES[process]} data for {wish.material} of {wish.thickness:g} mm{asked}",
            remedy=f"on offer for {wish.material}: {', '.join(offers)}"
            if offers
            else f"add a cutting-data file for {wish.material}",
        )


@dataclass(frozen=True)
class _Wish:
    material: str
    thickness: float
    current_a: float | None
    setting: str | None
    quality: int | None
    max_current_a: float | None

    def met_by(self, table: CuttingTable) -> bool:
        return (
            table.material == self.material
            and table.covers(self.thickness)
            and (self.setting is None or table.setting == self.setting)
            and (self.current_a is None or table.process != "plasma" or table.current_a == self.current_a)
            and (self.max_current_a is None or table.current_a <= self.max_current_a)
            and (self.quality is None or table.at(self.thickness).iso9013_range <= self.quality)
        )

    def described(self) -> str:
        words = []
        if self.setting is not None:
            words.append(f"setting {self.setting!r}")
        if self.current_a is not None:
            words.append(f"{self.current_a:g} A")
        if self.max_current_a is not None:
            words.append(f"at most {self.max_current_a:g} A")
        if self.quality is not None:
            words.append(f"range {self.quality} of ISO 9013")
        return f" with {', '.join(words)}" if words else ""


def _why(table: CuttingTable, wish: _Wish, fitting: int) -> str:
    low, high = table.recommended
    words = [table.setting]
    if wish.setting is not None or wish.current_a is not None:
        words.append("as asked for")
    elif low <= wish.thickness <= high:
        words.append(f"recommended for {low:g} to {high:g} mm")
    elif fitting == 1:
        words.append("the only setting that reaches this thickness")
    else:
        words.append(f"the fastest of {fitting} settings that reach this thickness")
    if wish.quality is not None:
        words.append(f"reaches range {wish.quality} of ISO 9013")
    if wish.thickness > table.pierce_limit:
        words.append(f"start at an edge: no pierce above {table.pierce_limit:g} mm")
    return ", ".join(words)


def _finish(table: CuttingTable, wish: _Wish, reason: str, under_water: bool) -> CutData:
    data = table.at(wish.thickness)
    cautions = cautions_of(table.process, table.material, (gas.gas for gas in data.gases))
    if under_water and table.water_feed < 1.0:
        data = replace(data, feed_mm_min=data.feed_mm_min * table.water_feed)
        reason += f", feed lowered to {table.water_feed:.0%} under water"
    return replace(data, reason=reason, cautions=cautions)
