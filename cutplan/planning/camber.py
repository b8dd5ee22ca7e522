"""Warns of long parts that the heat of one side bows."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from cutplan.base.findings import Finding
from cutplan.cutting import CuttingOptions, camber_mm, is_slender
from cutplan.process import CutData
from cutplan.sequencing import heat_per_mm
from cutplan.stock import NestedPlate

__all__ = ["camber_told"]

LEAST_CAMBER = 2.0
"""A camber below this is not worth a word, mm."""


def camber_told(
    sheet: NestedPlate, data: CutData, options: CuttingOptions, tabbed: Collection[str]
) -> Iterator[Finding]:
    """Yield a warning for each kind of part on a sheet that its own heat may bow.

    Parameters
    ----------
    sheet : NestedPlate
    data : CutData
    options : CuttingOptions
        With what the job asks of slender parts.
    tabbed : collection of str
        Names of the parts that tabs hold.
    """
    heat = heat_per_mm(data)
    for name, part in {p.part.name: p.part for p in sheet.placements}.items():
        asked = options.of_parts.get(name, options.techniques)
        if asked.slender != "warn" or name in tabbed or not is_slender(part):
            continue
        camber = camber_mm(part, sheet.plate.thickness, heat)
        if camber >= LEAST_CAMBER:
            told = f"'{name}' is long and slender: the heat of one side may bow it by up to {camber:.0f} mm; "
            yield Finding(
                "warning",
                told + 'slender = "tabs" under [techniques] holds it and cuts its sides in turns',
            )
