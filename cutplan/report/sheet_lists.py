"""What stands on a sheet, in the words of lists: parts with weights, cuts in their order.

Setup sheet, cut list and batch page read these rows; how they look is left to them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from cutplan.drawing import metal_area
from cutplan.geometry import bounds, length
from cutplan.record import PlannedSheet
from cutplan.sequencing import Step

__all__ = ["SheetPart", "contour_name", "program_files", "sheet_parts"]


@dataclass(frozen=True)
class SheetPart:
    """One kind of part on a sheet.

    Attributes
    ----------
    number : int
        The number it bears in the sheet's picture.
    name : str
    quantity : int
        Copies on this sheet.
    weight_kg : float
        Of one copy, holes taken out.
    cut_length_mm : float
        Torch paths of all its copies, leads included, marks left out.
    size_mm : tuple of float
        Length and width of the box about it as drawn.
    """

    number: int
    name: str
    quantity: int
    weight_kg: float
    cut_length_mm: float
    size_mm: tuple[float, float]

    @property
    def total_kg(self) -> float:
        """Weight of all copies."""
        return self.quantity * self.weight_kg


def sheet_parts(sheet: PlannedSheet) -> tuple[SheetPart, ...]:
    """Return the parts on a sheet, numbered as in its picture: in order of placement.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of SheetPart
    """
    parts = {p.part.name: p.part for p in sheet.nested.placements}
    quantities = Counter(p.part.name for p in sheet.nested.placements)
    cut_lengths: Counter[str] = Counter()
    for step in sheet.order.steps:
        if step.cut.kind != "mark":
            cut_lengths[step.cut.part] += sheet.torches * length(step.lead.path)  # type: ignore[assignment]
    rows = []
    for number, (name, part) in enumerate(parts.items(), start=1):
        x0, y0, x1, y1 = bounds(part.outer)
        rows.append(
            SheetPart(
                number=number,
                name=name,
                quantity=quantities[name],
                weight_kg=sheet.nested.plate.mass_kg(metal_area(part)),
                cut_length_mm=float(cut_lengths[name]),
                size_mm=(x1 - x0, y1 - y0),
            )
        )
    return tuple(rows)


def contour_name(step: Step) -> str:
    """Return what a step cuts or marks: "outside", "hole 2", "mark", "drill mark 1"."""
    cut = step.cut
    number = "" if cut.hole is None else f" {cut.hole + 1}"
    if cut.kind == "outer":
        return "outside"
    if cut.kind == "hole":
        return f"hole{number}"
    return f"drill mark{number}" if number else "mark"


def program_files(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return the file names of a sheet's program, in the order they run."""
    return tuple(file.file_name for file in sheet.program.files)
