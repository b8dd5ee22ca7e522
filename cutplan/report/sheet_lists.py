"""What stands on a sheet, in the words of lists: parts with weights, cuts in their order.

Setup sheet, cut list and batch page read these rows; how they look is left to them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from cutplan.cutting import Tab, made_name
from cutplan.drawing import metal_area
from cutplan.geometry import bounds, length
from cutplan.record import PlannedSheet
from cutplan.sequencing import Step, shares_of

__all__ = ["SheetPart", "contour_name", "first_made", "program_files", "sheet_parts", "tab_lines"]


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
            for name, share in shares_of(step).items():
                cut_lengths[name] += sheet.torches * share * length(step.lead.path)  # type: ignore[assignment]
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
    """Return what a step cuts or marks: "outside", "hole 2", "mark", "drill mark 1", "rest cut"."""
    makes = step.cut.makes
    if not makes:
        return f"{step.cut.kind} cut"
    more = f" and {len(makes) - 1} more in one run" if len(makes) > 1 else ""
    stretch = ", a stretch" if makes[0].span is not None else ""
    return made_name(step.cut.kind, makes[0]) + stretch + more


def tab_lines(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what is to be broken on a sheet: by part and copy, widths and places.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
        Places are those of the first torch.
    """
    tabs: dict[tuple[str, int], list[Tab]] = {}
    for tab in sheet.tabs:
        tabs.setdefault((tab.part, tab.copy), []).append(tab)
    return tuple(
        f"Tabs to break on {part} copy {copy}, {own[0].width_mm:g} mm wide: "
        + ", ".join(_xy(tab.at) for tab in own)
        + "."
        for (part, copy), own in tabs.items()
    )


def apart_lines(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what of the plate itself is cut up, with the places where each cut begins and ends.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
    """
    told = {
        "rest": "The last cut parts the rest, which goes back to the rack",
        "skeleton": "The skeleton is cut",
    }
    return tuple(
        f"{told[step.cut.kind]}: from {_xy(step.lead.pierce)} to {_xy(step.lead.end)}."
        for step in sheet.order.steps
        if not step.cut.makes
    )


def _xy(place: tuple[float, float]) -> str:
    return f"x {place[0]:.0f} y {place[1]:.0f}"


def first_made(step: Step) -> tuple[str, int | None]:
    """Return part and copy that a step makes first; the plate where it makes none."""
    return (step.cut.makes[0].part, step.cut.makes[0].copy) if step.cut.makes else ("plate", None)


def program_files(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return the file names of a sheet's programs, in the order they run."""
    return tuple(file.file_name for program in sheet.programs for file in program.files)
