"""A table of cutting data: one process, material and torch or tip setting, by thickness.

Terminology
-----------
row : the data at one thickness; rows are counted from 1, as in the file.
column : one quantity over all rows, named with its unit unless that is mm.
role : what a gas is for: `cut`, `shield`, `fuel`, `preheat_oxygen`.

Between rows every quantity is interpolated monotonically; outside them nothing is guessed.
Reading tables from files is left to `datafile`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from cutplan.base.errors import DataError
from cutplan.geometry import FloatArray
from cutplan.process.interpolation import interpolate
from cutplan.process.model import CutData, GasFlow, Process, Rules
from cutplan.process.rules import RULE_NAMES, SquareSide, default_rules

__all__ = ["ISO_RANGE_WORST", "CuttingTable", "Handling"]

ISO_RANGE_WORST = 5
# Ranges of ISO 9013 are steps: between two rows the worse one holds.
STEP_COLUMNS = ("iso9013_range", "iso9013_tolerance_class")


@dataclass(frozen=True)
class Handling:
    """What a file says once for all its rows; the words are those of `CutData`."""

    pre_flow_s: float = 0.0
    transfer_s: float = 0.0
    post_flow_s: float = 0.0
    high_preheat: float = 1.0
    bleed_s: float = 0.0
    feed_trim: float = 0.1
    dwell_trim: float = 2.0
    height_trim: float = 0.25


@dataclass(frozen=True, eq=False)
class CuttingTable:
    """Cutting data by thickness.

    Attributes
    ----------
    process : {"plasma", "oxyfuel"}
    material : str
        Material group.
    setting : str
        Name of the torch or tip setting.
    source : str
        File it was read from.
    origin : str
        Where the values come from.
    columns : mapping of str to ndarray, shape (rows,)
        "thickness" strictly rising, "feed_mm_min", "kerf", … (see `datafile`).
    gases : mapping
        Kind of gas by role.
    pressures_bar : mapping
        Gauge pressure by role, where it is the same in all rows.
    recommended : tuple of float
        Thinnest and thickest plate the setting suits best, mm.
    pierce_limit : float
        Thickest plate it can pierce, mm.
    fine_beam : bool
        The plasma source constricts its arc to a fine beam: a squarer edge may be claimed.
    handling : Handling
        Gas before and after, trim, and what else holds for all rows.
    own : bool
        From a folder of the user's, not shipped.
    """

    process: Process
    material: str
    setting: str
    source: str
    origin: str
    columns: Mapping[str, FloatArray]
    gases: Mapping[str, str]
    recommended: tuple[float, float]
    pierce_limit: float
    pressures_bar: Mapping[str, float] = field(default_factory=dict)
    rules: Mapping[str, float] = field(default_factory=dict)
    square_side: SquareSide = "right"
    current_a: float = 0.0
    starts_per_set: float = 0.0
    hours_per_set: float = 0.0
    tolerance_class: int = 2
    water_feed: float = 1.0
    moving_pierce_feed: float = 1.0
    fine_beam: bool = False
    handling: Handling = Handling()
    own: bool = False

    @property
    def thinnest(self) -> float:
        """Thickness of the first row, mm."""
        return float(self.columns["thickness"][0])

    @property
    def thickest(self) -> float:
        """Thickness of the last row, mm."""
        return float(self.columns["thickness"][-1])

    def __len__(self) -> int:
        return len(self.columns["thickness"])

    def covers(self, thickness: float) -> bool:
        """Whether the rows reach a thickness."""
        return self.thinnest <= thickness <= self.thickest

    def at(self, thickness: float) -> CutData:
        """Return the cutting data at a thickness, interpolated between the rows.

        Raises
        ------
        DataError
            If the thickness lies outside the rows.
        """
        if not self.covers(thickness):
            raise DataError(
                f"{self.setting} on {self.material} has data for {self.thinnest:g} to "
                f"{self.thickest:g} mm, not for {thickness:g} mm",
                where=self.source,
                remedy="choose another setting, or add measured rows to the file",
            )
        value = {name: self.value_at(name, thickness) for name in self.columns}
        return CutData(
            process=self.process,
            material=self.material,
            thickness=float(thickness),
            setting=self.setting,
            source=self.source,
            kerf=value["kerf"],
            feed_mm_min=value["feed_mm_min"],
            pierce_height=value["pierce_height"],
            cut_height=value["cut_height"],
            pierce_s=value["pierce_s"],
            preheat_s=value.get("preheat_s", 0.0),
            edge_preheat_s=value.get("edge_preheat_s", value.get("preheat_s", 0.0)),
            gases=self._gas_flows(value),
            rules=self._rules_at(thickness, value),
            current_a=self.current_a,
            voltage_v=value.get("voltage_v", 0.0),
            starts_per_set=self.starts_per_set,
            hours_per_set=self.hours_per_set,
            iso9013_tolerance_class=int(value.get("iso9013_tolerance_class", self.tolerance_class)),
            iso9013_range=int(value.get("iso9013_range", ISO_RANGE_WORST)),
            moving_pierce_mm=value.get("moving_pierce_mm", 0.0),
            moving_pierce_feed=self.moving_pierce_feed,
            lowering_mm=value.get("lowering_mm", 0.0),
            preheat_height=value.get("preheat_height", value["cut_height"])
            if self.process == "oxyfuel"
            else 0.0,
            **vars(self.handling),
            water_feed=self.water_feed,
            origin=self.origin,
        )

    def _rules_at(self, thickness: float, value: Mapping[str, float]) -> Rules:
        """Return the rules at a thickness: leads are as long as the torch creeps or comes down."""
        overrides = dict(self.rules) | {name: value[name] for name in RULE_NAMES if name in value}
        rules = default_rules(
            self.process,
            thickness,
            value["kerf"],
            square_side=self.square_side,
            pierce_limit=self.pierce_limit,
            overrides=overrides,
        )
        least = max(value.get("moving_pierce_mm", 0.0), value.get("lowering_mm", 0.0))
        return replace(rules, lead_in=max(least, rules.lead_in))

    def value_at(self, name: str, thickness: float) -> float:
        """Return one column's value at a thickness: interpolated, or the worse step of ISO 9013."""
        rows = self.columns["thickness"]
        if name in STEP_COLUMNS:
            right = int(np.searchsorted(rows, thickness))
            left = right if rows[right] == thickness else right - 1
            return float(max(self.columns[name][left], self.columns[name][right]))
        # Six digits are finer than any table and hide the rounding of the interpolation.
        return float(f"{interpolate(rows, self.columns[name], thickness):.6g}")

    def _gas_flows(self, value: Mapping[str, float]) -> tuple[GasFlow, ...]:
        """Return the flows by phase; plasma and shield gas flow while piercing as while cutting."""
        cut = self.gases["cut"]
        if self.process == "oxyfuel":
            flows = [
                ("fuel", self.gases["fuel"], "preheat", value["fuel_m3_h"]),
                ("preheat_oxygen", "oxygen", "preheat", value["preheat_oxygen_m3_h"]),
                ("cut", cut, "pierce", value.get("pierce_m3_h", value["cut_m3_h"])),
                ("cut", cut, "cut", value["cut_m3_h"]),
            ]
        else:
            flows = [
                ("cut", cut, "pierce", value.get("pierce_m3_h", value["cut_m3_h"])),
                ("cut", cut, "cut", value["cut_m3_h"]),
            ]
            if "shield" in self.gases:
                flows += [
                    ("shield", self.gases["shield"], phase, value["shield_m3_h"])
                    for phase in ("pierce", "cut")
                ]
        return tuple(
            GasFlow(gas, phase, flow, value.get(f"{role}_bar", self.pressures_bar.get(role)))  # type: ignore[arg-type]
            for role, gas, phase, flow in flows
        )
