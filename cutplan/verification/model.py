"""The verdict on a program."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["FAULT_CODES", "Fault", "Verdict"]

# Every code that a fault can have, and what it stands for.
FAULT_CODES: dict[str, str] = {
    "syntax": "the text is not RS-274 as the standard has it",
    "inherited": "the result depends on what the control held before the program",
    "foreign": "a word that the dialect does not permit",
    "order": "words of one block that controls carry out in different orders",
    "not-restored": "a mode or offset is left changed at the end",
    "short-arc": "an arc whose ends are one place on the control's grid",
    "comment": "a comment that controls act on",
    "reading": "a form that controls read differently",
    "stop-while-lit": "the control waits for the operator while something burns",
    "lit-rapid": "a rapid with the torch on",
    "torch-left-on": "the torch is still on at the program's end",
    "marker-left-on": "the marker is still down at the program's end",
    "torch-on-twice": "the torch is switched on while it burns",
    "marker-with-torch": "the marker is on while the torch burns",
    "dwell-in-cut": "the torch stands still in the middle of a cut",
    "empty-cut": "a pierce without a cut",
    "pierce-on-part": "a pierce on a part, or on the edge of one",
    "pierce-clearance": "a pierce too near a part, the plate's edge or what was cut before",
    "pierce-on-freed": "a pierce on metal that is loose",
    "pierce-dwell": "the pierce dwell is not that of the cutting data",
    "preheat": "the preheating is not that of the cutting data",
    "flame": "the preheat flames are out when a cut begins, or left up where none is cut",
    "torches": "the number of torches that are lit is not the plan's",
    "feed": "a feed that the cutting data do not have",
    "height": "a torch height that the cutting data do not have",
    "off-plate": "the torch burns beside the plate",
    "keep-out": "the torch meets a clamp, or burns in a keep-out",
    "low-over-loose": "a low travel over a part that is loose",
    "off-margin": "a move too far beyond the plate",
    "off-table": "a move beyond the table's travel",
    "bite": "the kerf reaches into a finished part",
    "metal-left": "metal stays on a finished part",
    "too-narrow": "a slot, notch or hole that the jet does not fit into",
    "not-cut": "a contour is not cut",
    "cut-twice": "a contour is cut more than once",
    "extra-cut": "a cut that belongs to no contour",
    "not-free": "a part does not come loose, or not alone",
    "cut-on-freed": "a cut on metal that is loose",
    "mark-off-part": "a mark beside its part",
    "mark-on-freed": "a mark on a part that is loose",
    "mark-missing": "a drawn mark is not marked",
    "totals": "pierces or cut length differ from the plan's",
}


@dataclass(frozen=True)
class Fault:
    """One thing wrong with a program.

    Attributes
    ----------
    code : str
        One of `FAULT_CODES`.
    message : str
    line : int or None
        Line of the program.
    place : tuple of float or None
        mm, plate coordinates.
    part : str or None
    copy : int or None
    """

    code: str
    message: str
    line: int | None = None
    place: tuple[float, float] | None = None
    part: str | None = None
    copy: int | None = None


@dataclass(frozen=True)
class Verdict:
    """What the program really does, held against the drawings.

    Attributes
    ----------
    passed : bool
    faults : tuple of Fault
    worst_bite_mm : float
        Deepest cut into a finished part.
    worst_left_mm : float
        Thickest metal left on a finished part, the fillets of the round jet set aside; inf
        where a contour is not cut at all.
    worst_bite_at, worst_left_at : tuple of float or None
    parts_freed : int
    pierces : int
    cut_length_mm : float
    freed : tuple of (str, int, int)
        Part, copy, and line of the cut that frees it, in the order of coming loose.
    part_bite_mm, part_left_mm : tuple of float
        Worst values of each placement, in the sheet's order.
    """

    passed: bool
    faults: tuple[Fault, ...]
    worst_bite_mm: float
    worst_left_mm: float
    worst_bite_at: tuple[float, float] | None = None
    worst_left_at: tuple[float, float] | None = None
    parts_freed: int = 0
    pierces: int = 0
    cut_length_mm: float = 0.0
    freed: tuple[tuple[str, int, int], ...] = ()
    part_bite_mm: tuple[float, ...] = ()
    part_left_mm: tuple[float, ...] = ()
