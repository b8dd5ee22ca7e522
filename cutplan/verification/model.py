"""The verdict on a program."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = [
    "FAULT_CODES",
    "Before",
    "Done",
    "Fault",
    "Planned",
    "PlannedBevels",
    "PlannedCut",
    "PlannedMake",
    "PlannedTab",
    "Verdict",
]

LISTED = 20
"""Faults that are listed and drawn one by one; more would hide the plate."""

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
    "edge-start": "a cut begins beside the plate where none is planned to",
    "flame": "the preheat flames are out when a cut begins, or left up where none is cut",
    "gas-flow": "gas flows too short before or behind a cut",
    "torches": "the number of torches that are lit, or their distance, is not the plan's",
    "feed": "a feed that the cutting data do not have, or not at that place",
    "square-side": "the part lies on the bevelled side of the kerf",
    "over-burn": "a hole's cut does not run past its start as far as the cutting data ask",
    "height": "a torch height that the cutting data do not have",
    "height-control": "the height control is on where it misleads the torch, or off where it must be on",
    "bound": "the program was not made for this plan, or the plan was changed since",
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
    "extra-cut": "a cut that belongs to no contour, or to none that it is planned to make",
    "link": "on its way from one contour to the next, lit, the torch runs into another kerf",
    "not-free": "a part does not come loose, or not alone",
    "tab": "a tab is missing, cut through, or not as wide as planned, or does not hold its part",
    "cut-on-freed": "a cut on metal that is loose",
    "mark-off-part": "a mark beside its part",
    "mark-on-freed": "a mark on a part that is loose",
    "mark-missing": "a wanted mark, letter or drill cross is not marked",
    "mark-stray": "the marker runs where nothing is to be marked",
    "mark-run": "the marker stands still, rapids or runs at a wrong feed while it is down",
    "scrap-cut": "a cut through the plate leaves its planned way, or does not part what it is to part",
    "totals": "pierces or cut length differ from the plan's",
    "bevel-angle": "a bevelled face is more than half a degree off the drawing's angle",
    "bevel-land": "the land at a bevelled edge is more than 0.3 mm off the drawing's",
    "bevel-face": "a bevelled face lies elsewhere than the drawing has it",
    "bevel-missing": "an edge, or a stretch of one, is not bevelled",
    "bevel-bite": "the leaning jet runs into a part",
    "bevel-setting": "how the torch is to be set is not said, or is not what the plan has",
    "bevel-frees": "the bevels alone cut a part loose before its square cut",
    "bevel-start": "a square cut begins where a bevel has been cut",
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
    trim : bool
        A feed, dwell or height within what an operator may trim: the metal is right.
    """

    code: str
    message: str
    line: int | None = None
    place: tuple[float, float] | None = None
    part: str | None = None
    copy: int | None = None
    trim: bool = False


@dataclass(frozen=True)
class PlannedMake:
    """A contour, or a stretch of one, that a planned cut makes.

    Attributes
    ----------
    part : str
    copy : int
    hole : int or None
        Counted from 0; None for the outside and for marks.
    span : tuple of float or None
        From where to where along the drawn contour, mm from its first vertex; the second is the
        smaller where the stretch runs over that vertex.  None for all of it.
    """

    part: str
    copy: int
    hole: int | None = None
    span: tuple[float, float] | None = None


@dataclass(frozen=True)
class PlannedCut:
    """A run of the torch or the marker as the plan has it.

    Attributes
    ----------
    kind : str
        "hole", "outside", "mark", "rest" or "skeleton".
    place : tuple of float
        Where it begins, mm, plate coordinates.
    length_mm : float
        Of its path, leads included.
    end : tuple of float or None
        Where it ends; None where that is not held.
    makes : tuple of PlannedMake
        In the order made; empty for a rest cut and for one through the skeleton, and where it
        is not held.
    edge_start : bool
        It begins beside the plate.
    raised : bool
        The torch travels raised to it.
    over_run_mm : float
        Where a run is taken up again: how far before the place where the torch stopped it begins.
    again_mm : float
        How much of its contours was cut before, then: over-run and over-burn.
    way : tuple of (x, y, bulge)
        The torch's path, mm, of a cut that makes no contour; empty for others.
    """

    kind: str
    place: tuple[float, float]
    length_mm: float
    edge_start: bool = False
    raised: bool = True
    end: tuple[float, float] | None = None
    makes: tuple[PlannedMake, ...] = ()
    over_run_mm: float = 0.0
    again_mm: float = 0.0
    way: tuple[tuple[float, float, float], ...] = ()

    @property
    def in_scrap(self) -> bool:
        """Whether it cuts up the plate itself and makes no part."""
        return self.kind in ("rest", "skeleton")


@dataclass(frozen=True)
class PlannedTab:
    """A stretch of a part's outside that the plan leaves uncut.

    Attributes
    ----------
    part : str
    copy : int
    span : tuple of float
        From where to where along the drawn outside the edge is not cut clean, as in `PlannedMake`.
    width_mm : float
        Of the metal left, where it is narrowest.
    """

    part: str
    copy: int
    span: tuple[float, float]
    width_mm: float


@dataclass(frozen=True)
class Planned:
    """What a plan says of a program beside the plate, the data and the machine.

    Attributes
    ----------
    cuts : tuple of PlannedCut
        In their order.
    torches : int
        How many burn together, each as the first does.
    spacing_mm : float or None
        Their distance, where there are several.
    tabs : tuple of PlannedTab
        A part with tabs is not cut loose.
    """

    cuts: tuple[PlannedCut, ...] = ()
    torches: int = 1
    spacing_mm: float | None = None
    tabs: tuple[PlannedTab, ...] = ()

    @property
    def shifts(self) -> tuple[float, ...]:
        """How far each torch stands from the first, mm across the plate."""
        return tuple(k * (self.spacing_mm or 0.0) for k in range(self.torches))

    @property
    def burns(self) -> tuple[PlannedCut, ...]:
        """The cuts without the marks."""
        return tuple(cut for cut in self.cuts if cut.kind != "mark")


@dataclass(frozen=True)
class Before:
    """A program that ran on the plate before, up to a cut or to a place on one.

    Attributes
    ----------
    texts : tuple of str
        Its files.
    cuts : tuple of PlannedCut
        Those that it made, marks too, in their order; the last may have been left half way.
    until : tuple of float or None
        Where the torch stopped in the last, mm; None where that was made whole.
    until_mm : float
        How far along the last that is.
    """

    texts: tuple[str, ...]
    cuts: tuple[PlannedCut, ...]
    until: tuple[float, float] | None = None
    until_mm: float = 0.0


@dataclass(frozen=True)
class PlannedBevels:
    """What a plan says of a program that bevels edges.

    Attributes
    ----------
    when : {"before", "after"}
        The square cut.
    slope : {"upper", "lower"}
    tilt_deg : float
    towards_deg : float or None
        Which way the jet goes as it goes down, degrees from X, where the torch is set by hand.
    planned : Planned
        Its runs.
    square_starts : tuple of places
        Where the square cuts begin, where these come behind.
    """

    when: Literal["before", "after"]
    slope: Literal["upper", "lower"]
    tilt_deg: float
    towards_deg: float | None
    planned: Planned
    square_starts: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Done:
    """What other programs did before, so that this one is not asked for it.

    Attributes
    ----------
    contours : frozenset of (str, int, int or None)
        Part, copy and hole (counted from 0; None for the outside) of contours cut.
    marks : tuple of PlannedCut
        Strokes that the marker has made.
    before : tuple of Before
        Programs whose texts are known, in the order they ran: what they burnt and freed is
        followed together with this one.
    """

    contours: frozenset[tuple[str, int, int | None]] = frozenset()
    marks: tuple[PlannedCut, ...] = ()
    before: tuple[Before, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """What the program really does, held against the drawings.

    Attributes
    ----------
    passed : bool
        There is no fault; what was trimmed does not count.
    faults : tuple of Fault
        In metal or safety.
    trims : tuple of Fault
        Feeds, dwells and heights that differ from the cutting data within what may be trimmed.
    notes : tuple of str
        What is written or done otherwise than planned and does no harm, each said once.
    tolerance_mm : float
        Bites and metal left up to this were allowed.
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
    trims: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    tolerance_mm: float = 0.0

    @property
    def is_read(self) -> bool:
        """Whether the text could be read at all, so that the figures say something."""
        return not any(fault.code == "syntax" for fault in self.faults)

    @property
    def labelled(self) -> tuple[tuple[str, Fault], ...]:
        """Faults as they are listed and drawn: F1, F2, …; what was trimmed T1, T2, … by its kind."""
        kinds = list(dict.fromkeys(fault.code for fault in self.trims))
        faults = [(f"F{number}", fault) for number, fault in enumerate(self.faults[:LISTED], start=1)]
        trims = [(f"T{1 + kinds.index(fault.code)}", fault) for fault in self.trims]
        return (*faults, *trims)

    @property
    def is_as_planned(self) -> bool:
        """Whether there is neither a fault nor anything trimmed."""
        return self.passed and not self.trims
