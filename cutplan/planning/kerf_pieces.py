"""Test pieces that tell the kerf: a job that cuts and marks them, and the form for the readings."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from cutplan.base.errors import InputError
from cutplan.base.machine import Machine
from cutplan.drawing import Rectangle
from cutplan.planning.entries import PartEntry, PlateEntry
from cutplan.planning.job import Job
from cutplan.planning.sections import CuttingSection, MarkingSection
from cutplan.process import CuttingTable

__all__ = ["kerf_piece_job", "kerf_readings_form"]

LENGTH_MM, WIDTH_MM = 120.0, 80.0
"""Sides of a piece: long enough for callipers to find its straight middle."""
PLATE_MM = (1000.0, 500.0)
LETTERS_MM = 10.0
FORM_HEADINGS = ("piece", "thickness", "nominal", "measured", "side", "kerf_set")


def kerf_piece_job(
    table: CuttingTable, file: Path, thicknesses: Sequence[float], pieces: int, machine: Machine
) -> Job:
    """Return a job that cuts test pieces with a cutting-data file's own kerf, each marked.

    Parameters
    ----------
    table : CuttingTable
    file : Path
        That the table was read from.
    thicknesses : sequence of float
        mm; the table must reach them.
    pieces : int
        Of each thickness.
    machine : Machine
        Its marker writes the piece's name; without one the operator must.

    Returns
    -------
    Job

    Raises
    ------
    InputError
        If there is nothing to cut.
    """
    if not thicknesses or pieces < 1:
        raise InputError("no test pieces asked for", remedy="give a thickness and one piece or more")
    grade = f"any {table.material}"
    parts = tuple(
        PartEntry(
            name=_name(thickness, number), shape=Rectangle(length=LENGTH_MM, width=WIDTH_MM), quantity=1,
            thickness=thickness, grade=grade, material=table.material,
        )
        for thickness in thicknesses
        for number in range(1, pieces + 1)
    )  # fmt: skip
    plates = tuple(
        PlateEntry(
            id=f"KERF{thickness:g}", length=PLATE_MM[0], width=PLATE_MM[1], thickness=thickness, grade=grade,
            material=table.material, quantity=pieces,
        )
        for thickness in thicknesses
    )  # fmt: skip
    return Job(
        f"kerf test pieces, {table.setting}",
        parts,
        plates,
        machine=machine,
        cutting=CuttingSection(process=table.process, setting=table.setting, data=(str(file.resolve()),)),
        marking=MarkingSection(names=machine.marker, letters_mm=LETTERS_MM),
    )


def kerf_readings_form(table: CuttingTable, thicknesses: Sequence[float], pieces: int) -> str:
    """Return the CSV to write the callipers' readings into: two rows a piece, `measured` empty.

    Parameters
    ----------
    table : CuttingTable
    thicknesses : sequence of float
    pieces : int

    Returns
    -------
    str
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(FORM_HEADINGS)
    for thickness in thicknesses:
        kerf = f"{table.at(thickness).kerf:g}"
        for number in range(1, pieces + 1):
            for side in (LENGTH_MM, WIDTH_MM):
                writer.writerow(
                    (_name(thickness, number), f"{thickness:g}", f"{side:g}", "", "outside", kerf)
                )
    return text.getvalue()


def _name(thickness: float, number: int) -> str:
    return f"K{thickness:g}-{number}"
