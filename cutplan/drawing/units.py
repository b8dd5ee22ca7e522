"""Inch or millimetre: what speaks for a drawing's units, and when to ask.

Evidence: what the header says, what the texts say, whether the parts fit the plate, and whether
the holes have sizes that drills and bolts have in that unit.  The job's word ends the matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.base.findings import Finding
from cutplan.drawing.wording import stated_units

__all__ = ["LARGEST_PART", "Evidence", "Units", "doubt_units", "with_texts"]

# A part smaller than this, mm, over all is more likely drawn in another unit: little that
# small is cut by a torch.
SMALLEST_PART = 15.0
# No plate is longer than this, mm.
LARGEST_PART = 20_000.0
# Holes are ordinary in mm at multiples of half a millimetre, in inches at multiples of 1/32
# (common practice for drilled and bolted holes), within this, mm.
METRIC_STEP, INCH_STEP = 0.5, 25.4 / 32.0
ORDINARY = 0.005
# Larger holes, mm, are cut to any size and say nothing.
LARGEST_ORDINARY = 120.0


@dataclass(frozen=True)
class Units:
    """The units a drawing is read in.

    Attributes
    ----------
    name : str
    mm : float
        Length of one, mm.
    stated : bool
        The header or a text names them, so that nothing was guessed.
    doubts : tuple of Finding
    """

    name: str
    mm: float
    stated: bool
    doubts: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Evidence:
    """What a drawing shows of its units, as read: sizes in mm.

    Attributes
    ----------
    largest : tuple of float or None
        Width and height of the largest part.
    diameters : sequence of float
        Those of round holes.
    texts : sequence of str
    plate : float
        Longer side of the largest plate.
    """

    largest: tuple[float, float] | None
    diameters: Sequence[float]
    texts: Sequence[str]
    plate: float


def with_texts(units: Units, texts: Iterable[str]) -> Units:
    """Return the units that texts state where the header names none, else the header's."""
    said = {unit for unit in map(stated_units, texts) if unit is not None}
    if len(said) != 1:
        return units
    (name,) = said
    if units.stated or name == units.name:
        # A header that says so and a text that says otherwise are weighed later.
        return replace(units, stated=True, doubts=()) if name == units.name else units
    mm = {"mm": 1.0, "in": 25.4}[name]
    told = f"a text states the units: {name}; the header names none"
    return Units(name, mm, True, (Finding("taken", told, topic="units"),))


def doubt_units(units: Units, evidence: Evidence) -> Finding | None:
    """Return the question that a drawing's sizes and texts raise about its units, or None."""
    against = _against(units, evidence)
    if not against:
        return None
    other = "in" if units.name != "in" else "mm"
    size = ""
    if evidence.largest is not None:
        factor = {"in": 25.4, "mm": 1.0}[other] / units.mm
        width, height = evidence.largest
        size = (
            f"; its largest part measures {width:g} × {height:g} mm, "
            f"and would measure {width * factor:g} × {height * factor:g} mm in {other}"
        )
    message = f"read in {units.name}, but {' and '.join(against)}{size}"
    return Finding("question", message, None, f'set units = "{other}" or units = "{units.name}"', "units")


def _against(units: Units, evidence: Evidence) -> list[str]:
    """Return what speaks against the units a drawing was read in."""
    against = []
    said = {unit for unit in map(stated_units, evidence.texts) if unit is not None}
    if said and units.name not in said:
        against.append(f"a text says {' and '.join(sorted(said))}")
    if evidence.largest is not None:
        size = max(evidence.largest)
        elsewhere = size / units.mm * (25.4 if units.name != "in" else 1.0)
        fits = SMALLEST_PART <= elsewhere <= evidence.plate
        if size < SMALLEST_PART:
            against.append(f"no part is larger than {size:g} mm")
        elif size > LARGEST_PART or (size > evidence.plate and fits):
            against.append(f"a part is longer than any plate ({min(evidence.plate, LARGEST_PART):g} mm)")
    if not units.stated and not against:
        in_mm, in_inch = _ordinary(evidence.diameters, units)
        if in_inch and not in_mm:
            against.append("no hole has a metric size and all are parts of an inch")
    return against


def _ordinary(diameters: Sequence[float], units: Units) -> tuple[bool, bool]:
    """Return whether holes are ordinary in millimetres, and whether in inches."""
    drawn = np.unique(np.round(np.asarray(diameters, dtype=np.float64) / units.mm, 4))
    if len(drawn) == 0:
        return False, False
    inches = drawn * 25.4
    metric = np.abs(drawn / METRIC_STEP - np.round(drawn / METRIC_STEP)) * METRIC_STEP <= ORDINARY
    inch = np.abs(inches / INCH_STEP - np.round(inches / INCH_STEP)) * INCH_STEP <= ORDINARY
    return bool(metric.any()), bool(inch.all() and (inches < LARGEST_ORDINARY).all())
