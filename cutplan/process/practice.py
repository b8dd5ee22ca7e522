"""What common practice expects of a row: bands for pierces, heights, preheats and edges.

The bands are common practice or handbook figures from memory, each with its source beside
it; a shop's own trials go first, so a row outside them draws a remark and is not refused.
Physics, which no trial can overrule, is left to `checks`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from cutplan.process.model import CutData
from cutplan.process.table import CuttingTable

__all__ = ["BANDS", "Band", "practice_remarks"]

COMMON = "common practice"
HANDBOOK = "handbook ranges, from memory"


@dataclass(frozen=True)
class Band:
    """What a quantity should be over a span of thickness.

    Attributes
    ----------
    quantity : str
        In words, as the remark says it.
    value : callable
        The quantity of a row's data.
    least, most : float
    thickness : tuple of float
        Thinnest and thickest plate it holds for, mm.
    applies : callable
        Whether it holds for a row's data.
    source : str
    unit : str
    """

    quantity: str
    value: Callable[[CutData], float]
    least: float
    most: float
    thickness: tuple[float, float]
    applies: Callable[[CutData], bool]
    source: str = COMMON
    unit: str = "mm"

    def remark(self, data: CutData) -> str | None:
        """Return what is unusual about a row, or None."""
        low, high = self.thickness
        if not (low <= data.thickness <= high and self.applies(data)):
            return None
        value = self.value(data)
        if self.least <= value <= self.most:
            return None
        span = _span(self.least, self.most, self.unit)
        return f"{self.quantity} of {value:g} {self.unit}".rstrip() + f"; usual is {span} ({self.source})"


def _span(least: float, most: float, unit: str) -> str:
    words = f"{least:g} or more" if most == float("inf") else f"{least:g} to {most:g}"
    return f"{words} {unit}".rstrip()


def _plasma(low_a: float, high_a: float) -> Callable[[CutData], bool]:
    """Standing pierces of mild steel by plasma of a span of currents."""

    def applies(data: CutData) -> bool:
        return (
            data.process == "plasma"
            and data.material == "mild steel"
            and low_a <= data.current_a < high_a
            and data.thickness <= data.rules.edge_start_above
            and data.moving_pierce_mm == 0.0
        )

    return applies


def _cuts_with(gas: str) -> Callable[[CutData], bool]:
    def applies(data: CutData) -> bool:
        return data.process == "plasma" and data.material == "mild steel" and _cutting_gas(data) == gas

    return applies


def _cutting_gas(data: CutData) -> str:
    return next(flow.gas for flow in data.gases if flow.phase == "cut")


def _burns(fuel: str | None = None) -> Callable[[CutData], bool]:
    def applies(data: CutData) -> bool:
        return data.process == "oxyfuel" and (fuel is None or any(flow.gas == fuel for flow in data.gases))

    return applies


def _pierce_s(data: CutData) -> float:
    return data.pierce_s


def _pierce_height(data: CutData) -> float:
    return data.pierce_height


def _preheat_s(data: CutData) -> float:
    return data.preheat_s


def _clearance(data: CutData) -> float:
    return data.rules.pierce_clearance


def _pierce_limit(data: CutData) -> float:
    return data.rules.edge_start_above


def _iso_range(data: CutData) -> float:
    return data.iso9013_range


INF = float("inf")
PIERCE, HEIGHT, PREHEAT = "a pierce", "a pierce height", "a preheat"
CLEARANCE = "a pierce clearance"
LIMIT, EDGE = "a pierce limit", "a perpendicularity range of ISO 9013"

BANDS: tuple[Band, ...] = (
    # Currents stand for a span: each band is that of the nearest of the round steps.
    Band(PIERCE, _pierce_s, 3.0, 5.0, (40.0, 50.0), _plasma(340.0, INF), unit="s"),
    Band(HEIGHT, _pierce_height, 15.0, INF, (40.0, 50.0), _plasma(340.0, INF)),
    Band(PIERCE, _pierce_s, 2.0, 4.0, (38.0, 38.0), _plasma(240.0, 340.0), unit="s"),
    Band(
        LIMIT,
        _pierce_limit,
        0.0,
        22.0,
        (0.0, INF),
        lambda d: d.process == "plasma" and 100 <= d.current_a < 160,
    ),
    Band(
        LIMIT,
        _pierce_limit,
        0.0,
        28.0,
        (0.0, INF),
        lambda d: d.process == "plasma" and 160 <= d.current_a < 240,
    ),
    Band(CLEARANCE, _clearance, 12.0, 15.0, (25.0, 25.0), lambda d: d.process == "plasma"),
    Band(EDGE, _iso_range, 4.0, 5.0, (8.0, INF), _cuts_with("air"), unit=""),
    Band(HEIGHT, _pierce_height, 15.0, 20.0, (40.0, 40.0), _burns()),
    Band(HEIGHT, _pierce_height, 20.0, 25.0, (60.0, 60.0), _burns()),
    Band(HEIGHT, _pierce_height, 25.0, 35.0, (100.0, 100.0), _burns()),
    Band(CLEARANCE, _clearance, 15.0, 20.0, (40.0, 40.0), _burns()),
    Band(CLEARANCE, _clearance, 20.0, 25.0, (60.0, 60.0), _burns()),
    Band(CLEARANCE, _clearance, 30.0, 40.0, (100.0, 100.0), _burns()),
    Band(PREHEAT, _preheat_s, 50.0, 90.0, (100.0, 100.0), _burns("acetylene"), HANDBOOK, "s"),
    Band(PIERCE, _pierce_s, 10.0, 15.0, (100.0, 100.0), _burns("acetylene"), HANDBOOK, "s"),
    Band(PREHEAT, _preheat_s, 25.0, 45.0, (40.0, 40.0), _burns("propane"), HANDBOOK, "s"),
    Band(PREHEAT, _preheat_s, 90.0, 120.0, (100.0, 100.0), _burns("propane"), HANDBOOK, "s"),
    Band(PREHEAT, _preheat_s, 35.0, 60.0, (40.0, 40.0), _burns("natural gas"), HANDBOOK, "s"),
    Band(PREHEAT, _preheat_s, 100.0, 150.0, (100.0, 100.0), _burns("natural gas"), HANDBOOK, "s"),
)
"""What the check holds rows against; see each for its span of thickness and its source."""

# Above these a standing pierce throws its metal up at the torch: common practice is to creep.
MOVING_PIERCE_ABOVE_MM = {"plasma": 50.0, "oxyfuel": 80.0}
FINE_BEAM_RANGE, PLAIN_BEAM_WORST = 2, 4


def practice_remarks(table: CuttingTable, data: CutData) -> list[str]:
    """Return what common practice would not expect of a row.

    Parameters
    ----------
    table : CuttingTable
    data : CutData
        Of one of its rows.

    Returns
    -------
    list of str
        Empty when nothing is unusual.
    """
    return [*filter(None, (band.remark(data) for band in BANDS)), *_others(table, data)]


def _others(table: CuttingTable, data: CutData) -> Iterator[str]:
    oxygen = data.process == "plasma" and _cutting_gas(data) == "oxygen"
    if oxygen and data.iso9013_range <= FINE_BEAM_RANGE and not table.fine_beam:
        yield (
            f"{EDGE} of {data.iso9013_range} by oxygen plasma; without a fine beam usual is 3 to 4 ({COMMON}); "
            "where the source has one, say fine_beam = true"
        )
    if oxygen and data.iso9013_range > PLAIN_BEAM_WORST and "iso9013_range" in table.columns:
        yield f"{EDGE} of {data.iso9013_range} by oxygen plasma; usual is 3 to 4 ({COMMON})"
    thick = data.thickness >= MOVING_PIERCE_ABOVE_MM[data.process]
    pierces = data.thickness <= data.rules.edge_start_above
    if thick and pierces and data.moving_pierce_mm == 0.0:
        yield f"a standing pierce of {data.thickness:g} mm; usual is a moving one: give moving_pierce_mm ({COMMON})"
