"""Quality of thermal cuts by ISO 9013:2017: ranges, roughness, limit deviations.

Formulas and tables from memory, as far as they are given here; the standard itself decides.
It covers oxy-fuel from 3 to 300 mm and plasma from 0.5 to 150 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutplan.base.errors import DataError
from cutplan.process.model import CutData

__all__ = [
    "Quality",
    "expected_quality",
    "limit_deviation_mm",
    "perpendicularity_mm",
    "quality_shortfalls",
    "roughness_um",
]

# Perpendicularity or angularity tolerance u = constant + slope × thickness, mm, ranges 1 to 5.
PERPENDICULARITY = ((0.05, 0.003), (0.15, 0.007), (0.4, 0.01), (0.8, 0.02), (1.2, 0.035))
# Mean height of the profile Rz5 = constant + slope × thickness, µm, ranges 1 to 4.
ROUGHNESS = ((10.0, 0.6), (40.0, 0.8), (70.0, 1.2), (110.0, 1.8))

# Upper bounds of the nominal dimensions, mm; the columns of the tables below.
DIMENSIONS = (3.0, 10.0, 35.0, 125.0, 315.0, 1000.0, 2000.0, 4000.0, 6000.0, 8000.0)
_NONE = math.nan
# Limit deviations ± mm of tolerance class 1: above and up to a thickness, then by dimension.
CLASS_1 = (
    (3.15, 6.3, (0.20, 0.20, 0.25, 0.25, 0.30, 0.40, 0.45, 0.70, 1.10, 1.90)),
    (6.3, 10.0, (_NONE, 0.25, 0.30, 0.30, 0.35, 0.45, 0.55, 0.75, 1.25, 2.20)),
    (10.0, 15.0, (_NONE, 0.30, 0.35, 0.40, 0.45, 0.55, 0.65, 0.85, 1.50, 2.50)),
    (15.0, 20.0, (_NONE, 0.40, 0.40, 0.45, 0.55, 0.75, 0.85, 1.20, 1.90, 2.80)),
    (20.0, 25.0, (_NONE, 0.45, 0.50, 0.60, 0.70, 0.90, 1.10, 1.60, 2.40, 3.25)),
    (25.0, 32.0, (_NONE, _NONE, 0.70, 0.70, 0.80, 1.0, 1.6, 2.25, 3.00, 4.00)),
    (32.0, 50.0, (_NONE, _NONE, 0.7, 0.7, 0.8, 1.0, 1.6, 2.5, 3.8, 5.0)),
    (50.0, 100.0, (_NONE, _NONE, 1.3, 1.3, 1.4, 1.7, 2.2, 3.1, 4.4, 5.6)),
    (100.0, 150.0, (_NONE, _NONE, 1.9, 2.0, 2.1, 2.3, 2.9, 3.8, 5.1, 6.3)),
)
# Of tolerance class 2 only these thicknesses are held here.
CLASS_2 = (
    (6.3, 10.0, (_NONE, 1.0, 1.1, 1.3, 1.4, 1.5, 1.6, 1.7, 1.9, 2.0)),
    (10.0, 20.0, (_NONE, 1.8, 1.8, 1.8, 1.9, 2.3, 3.0, 4.2, 4.3, 4.5)),
)


@dataclass(frozen=True)
class Quality:
    """What a process usually reaches on a part, in the terms of ISO 9013.

    Attributes
    ----------
    thickness, dimension : float
        mm; the dimension is the part's largest.
    range : int
        Perpendicularity range, 1 (finest) to 5.
    u_mm : float
        Perpendicularity or angularity tolerance.
    rz5_um : float or None
        Mean height of the profile; None in range 5, which sets none.
    tolerance_class : int
    deviation_mm : float or None
        Limit deviation, ±; None where the tables here have none.
    notes : tuple of str
    """

    thickness: float
    dimension: float
    range: int
    u_mm: float
    rz5_um: float | None
    tolerance_class: int
    deviation_mm: float | None
    notes: tuple[str, ...] = ()


def perpendicularity_mm(range_: int, thickness: float) -> float:
    """Return the perpendicularity or angularity tolerance u of a range, mm.

    Parameters
    ----------
    range_ : int
        1 to 5, the finest first.
    thickness : float
        mm.

    Returns
    -------
    float
        mm.

    Raises
    ------
    DataError
        If there is no such range.
    """
    if range_ not in range(1, len(PERPENDICULARITY) + 1):
        raise DataError(f"ISO 9013 has perpendicularity ranges 1 to 5, not {range_}")
    constant, slope = PERPENDICULARITY[range_ - 1]
    return constant + slope * thickness


def roughness_um(range_: int, thickness: float) -> float:
    """Return the mean height of the profile Rz5 of a range, µm.

    Parameters
    ----------
    range_ : int
        1 to 4, the finest first.
    thickness : float
        mm.

    Returns
    -------
    float
        µm.

    Raises
    ------
    DataError
        If there is no such range.
    """
    if range_ not in range(1, len(ROUGHNESS) + 1):
        raise DataError(f"ISO 9013 has roughness ranges 1 to 4, not {range_}")
    constant, slope = ROUGHNESS[range_ - 1]
    return constant + slope * thickness


def limit_deviation_mm(tolerance_class: int, thickness: float, dimension: float) -> float | None:
    """Return the limit deviation ± mm of a nominal dimension.

    Parameters
    ----------
    tolerance_class : int
        1 or 2.
    thickness : float
        mm.
    dimension : float
        Nominal, mm.

    Returns
    -------
    float or None
        None where the table gives none, or is not held here.

    Raises
    ------
    DataError
        If there is no such class.
    """
    if tolerance_class not in (1, 2):
        raise DataError(f"ISO 9013 has tolerance classes 1 and 2, not {tolerance_class}")
    table = CLASS_1 if tolerance_class == 1 else CLASS_2
    for above, up_to, deviations in table:
        if above < thickness <= up_to:
            for bound, deviation in zip(DIMENSIONS, deviations, strict=True):
                if dimension < bound:
                    return None if math.isnan(deviation) else deviation
    return None


def expected_quality(data: CutData, part_dimension: float) -> Quality:
    """Return the edge and the tolerance a part may expect of its cutting data.

    Parameters
    ----------
    data : CutData
    part_dimension : float
        Largest dimension of the part, mm.

    Returns
    -------
    Quality
    """
    notes = []
    deviation = limit_deviation_mm(data.iso9013_tolerance_class, data.thickness, part_dimension)
    if deviation is None:
        finest = limit_deviation_mm(1, data.thickness, part_dimension)
        text = f"limit deviation of class {data.iso9013_tolerance_class}: see ISO 9013"
        if finest is not None and data.iso9013_tolerance_class == 2:
            text += f" (wider than the ±{finest:g} mm of class 1)"
        notes.append(text)
    least, most = (0.5, 150.0) if data.process == "plasma" else (3.0, 300.0)
    if not least <= data.thickness <= most:
        notes.append(f"{data.thickness:g} mm lies outside the scope of ISO 9013")
    return Quality(
        thickness=data.thickness,
        dimension=part_dimension,
        range=data.iso9013_range,
        u_mm=perpendicularity_mm(data.iso9013_range, data.thickness),
        rz5_um=roughness_um(data.iso9013_range, data.thickness)
        if data.iso9013_range <= len(ROUGHNESS)
        else None,
        tolerance_class=data.iso9013_tolerance_class,
        deviation_mm=deviation,
        notes=tuple(notes),
    )


def quality_shortfalls(
    expected: Quality,
    *,
    range_: int | None = None,
    tolerance_class: int | None = None,
    deviation_mm: float | None = None,
) -> tuple[str, ...]:
    """Return what a part asks for beyond what its process usually gives, a sentence each.

    Parameters
    ----------
    expected : Quality
    range_ : int, optional
        Perpendicularity range asked for.
    tolerance_class : int, optional
        Tolerance class asked for.
    deviation_mm : float, optional
        Deviation ± asked for.

    Returns
    -------
    tuple of str
    """
    remedy = "choose a finer process or setting, or leave metal for machining"
    found = []
    if range_ is not None and range_ < expected.range:
        asked = perpendicularity_mm(range_, expected.thickness)
        found.append(
            f"asks for range {range_} of ISO 9013 (u {asked:.2f} mm), usual is range "
            f"{expected.range} (u {expected.u_mm:.2f} mm); {remedy}"
        )
    if tolerance_class is not None and tolerance_class < expected.tolerance_class:
        found.append(
            f"asks for tolerance class {tolerance_class} of ISO 9013, usual is class "
            f"{expected.tolerance_class}; {remedy}"
        )
    if deviation_mm is not None:
        if expected.deviation_mm is None:
            found.append(f"asks for ±{deviation_mm:g} mm, and no usual deviation is known here; {remedy}")
        elif deviation_mm < expected.deviation_mm:
            found.append(
                f"asks for ±{deviation_mm:g} mm, usual on {expected.dimension:g} mm is "
                f"±{expected.deviation_mm:g} mm; {remedy}"
            )
    return tuple(found)
