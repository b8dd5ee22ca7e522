"""Bevels on paper: what runs when and how the torch is set, the volume to weld, and lines for pictures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from cutplan.drawing import (
    edge_points,
    faces_of,
    groove_mm3,
    preparation_name,
    prepared_edges,
    prepared_length,
)
from cutplan.geometry import FloatArray, place_points
from cutplan.record import PlannedSheet
from cutplan.stock import NestedPlate

__all__ = ["bevel_cautions", "bevel_lines", "slope_lines"]

BEVEL_CAUTION = (
    "Bevels: a leaning jet throws sparks, slag and light far to the side, and the torch stands lower on one side. "
    "Screen the place, look for what the torch may touch, and dry run each program that bevels. A test piece with its "
    "angle and land measured comes before the first part."
)
# Chords of slopes in pictures, mm.
CHORD = 0.5


def bevel_lines(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what is to be said of a sheet's bevels: the programs in their order, the edges with their welds.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
        Empty where no edge is prepared.
    """
    lines = []
    for made in sheet.bevels:
        asked, data = made.asked, made.data
        way = (
            "" if asked.towards_deg is None else f", the jet going down towards {asked.towards_deg:g}° from X"
        )
        lines.append(
            f"{made.program.file_name}, {asked.when} {sheet.name}: {len(made.order.steps)} {asked.slope} bevels, torch "
            f"{asked.tilt_deg:g}° from upright{way}; {data.thickness:.1f} mm along the jet, kerf {data.kerf:.2f} mm, feed "
            f"{data.feed_mm_min:.0f} mm/min."
        )
    thickness = sheet.nested.plate.thickness
    parts = {p.part.name: p.part for p in sheet.nested.placements}
    for name, part in parts.items():
        for edge in part.bevels:
            volume = groove_mm3(part, edge, thickness) * 1e-3
            where = "off the table" if edge.elsewhere else "here"
            lines.append(
                f"{name}: {preparation_name(edge)} over {prepared_length(part, edge):.0f} mm, made {where}; "
                f"{volume:.1f} cm³ to weld on this side."
            )
    return tuple(lines)


def bevel_cautions(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what to beware of where a sheet is bevelled.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
    """
    return (BEVEL_CAUTION,) if sheet.bevels else ()


def slope_lines(nested: NestedPlate) -> Iterator[FloatArray]:
    """Yield where the slopes of prepared edges meet the plate's faces, for pictures.

    Parameters
    ----------
    nested : NestedPlate

    Yields
    ------
    ndarray, shape (n, 2)
        Plate coordinates, mm.
    """
    thickness = nested.plate.thickness
    for placement in nested.placements:
        for asked in placement.part.bevels:
            faces = faces_of(asked, thickness)
            for slope in (faces.upper, faces.lower):
                if slope is None:
                    continue
                for edge in prepared_edges(placement.part, asked):
                    places = edge_points(edge.path, 0.0, chord=CHORD)
                    inner = places.points + slope.setback * places.inward
                    yield np.asarray(place_points(inner, placement.pose))
