"""A cut: one run of the torch, and the stretches of contours that it makes.

Terminology
-----------
cut : one run of the torch (or the marker) from lighting it to putting it out.
made : a stretch of a part's contour that a cut makes, or the whole of it.
link : the way between two of them on which the torch burns on, through scrap.
divider : a stretch that two parts share, cut once for both.

A plain cut makes one whole contour.  A contour with tabs is made by several runs, each a
`Made` with its `span`, and none of them frees the part.  A chain is one run with several
`makes`, one after the other, links between them (`LeadChoice.along` says where on the path
each lies).  A divider has two `makes` over the same stretch of its path, one for each part.
A rest cut, and a cut through the skeleton, make no contour at all.

Whoever brings new kinds of runs sets `makes`, `frees` and each lead's `along`, and nothing
else: order, ways, program, proof, estimate, plan.json, pictures and lists go by these.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import JobError
from cutplan.base.findings import Finding
from cutplan.base.machine import Machine
from cutplan.cutting.lean import Lean
from cutplan.cutting.techniques import PLAIN, Techniques
from cutplan.geometry import FloatArray, Path, length

__all__ = [
    "ByHand",
    "CornerStyle",
    "Cut",
    "CutKind",
    "CuttingOptions",
    "FeedSpan",
    "LeadChoice",
    "Links",
    "Made",
    "SheetCuts",
    "Tab",
    "cut_name",
    "length_made",
    "made_name",
]

IntArray = NDArray[np.int64]
CutKind = Literal["mark", "hole", "outside", "rest", "skeleton", "bevel"]
CornerStyle = Literal["round", "loop", "plain"]


Spot = tuple[float, float]


@dataclass(frozen=True)
class ByHand:
    """What a person asks of single contours of a sheet; places are on the plate, mm.

    Attributes
    ----------
    starts : mapping of (int, int or None) to place
        By placement and hole (None for the outside), where the contour is to begin.
    tabs : mapping of int to tuple of places
        By placement, where its outside is to have tabs.
    no_tabs : mapping of int to tuple of places
        By placement, near which places there are to be none.
    untabbed : frozenset of int
        Placements that get none at all.
    """

    starts: Mapping[tuple[int, int | None], Spot] = field(default_factory=dict)
    tabs: Mapping[int, tuple[Spot, ...]] = field(default_factory=dict)
    no_tabs: Mapping[int, tuple[Spot, ...]] = field(default_factory=dict)
    untabbed: frozenset[int] = frozenset()


@dataclass(frozen=True)
class CuttingOptions:
    """What the shop may choose about its torch paths.

    Attributes
    ----------
    corners : {"round", "loop", "plain"}
        How the torch goes round a sharp outer corner of a part: on an arc about the corner,
        by a loop in the scrap, or along the edges' lines to where they meet.  A loop or a
        plain corner that would come too near another part falls back to round.
    small_holes : {"cut", "mark", "refuse"}
        What becomes of holes under the process's smallest hole: cut with a warning, marked
        at their centre for drilling, or refused.  A slot, which no drill makes, is cut where
        others are marked.
    marker : bool
        Whether the machine has a marker; without one a small hole is cut, not marked.
    lead : {"arc", "straight"}
        Shape of lead-ins that join an edge away from its corners.
    candidates : int
        Starts offered for each contour, at most.
    torch_radius_mm : float
        Radius of the torch's body, which keeps off clamps.
    table_mm : tuple of float
        Travel of the table in x and y, from the plate's origin.
    techniques : Techniques
        How parts are held, and cut together.
    of_parts : mapping of str to Techniques
        The same for parts that differ, by name.
    by_hand : ByHand
        What a person asks of single contours.
    """

    corners: CornerStyle = "round"
    small_holes: Literal["cut", "mark", "refuse"] = "mark"
    marker: bool = True
    lead: Literal["arc", "straight"] = "arc"
    candidates: int = 12
    torch_radius_mm: float = Machine.torch_radius_mm
    table_mm: tuple[float, float] = Machine.table
    techniques: Techniques = PLAIN
    of_parts: Mapping[str, Techniques] = field(default_factory=dict)
    by_hand: ByHand = ByHand()

    def __post_init__(self) -> None:
        if self.candidates < 1:
            raise JobError(f"a contour needs at least one start on offer, got {self.candidates}")


@dataclass(frozen=True)
class FeedSpan:
    """From `start` to `end` mm along the torch path the feed is multiplied by `factor`."""

    start: float
    end: float
    factor: float


@dataclass(frozen=True)
class LeadChoice:
    """One way to start and end a cut.

    Attributes
    ----------
    path : Path
        Torch path from pierce to torch-off: lead-in, compensated contour, over-burn, lead-out.
    pierce, end : tuple of float
        Its first and last point, mm, plate coordinates.
    lead_in_length, lead_out_length : float
        mm; the lead-out includes the over-burn.
    spans : tuple of FeedSpan
        Where the feed is lower than on the straight, along `path`.
    edge_start : bool
        Starts over the plate's edge, without a pierce.
    penalty_s : float
        Seconds the sequencing adds to discourage a poorer start.
    along : tuple of (float, float)
        From where to where on `path`, mm, each of the cut's `makes` is made, in their order;
        what lies between two of them is a link.  Empty where one is made, from the end of the
        lead-in to the start of the lead-out.
    over_run_mm : float
        Where a cut is taken up again: how far before the place where the torch stopped.
    again_mm : float
        How much of its contours was cut before, then: over-run and over-burn.
    """

    path: Path
    pierce: tuple[float, float]
    end: tuple[float, float]
    lead_in_length: float
    lead_out_length: float
    spans: tuple[FeedSpan, ...] = ()
    edge_start: bool = False
    penalty_s: float = 0.0
    along: tuple[tuple[float, float], ...] = ()
    over_run_mm: float = 0.0
    again_mm: float = 0.0

    @property
    def made_along(self) -> tuple[tuple[float, float], ...]:
        """From where to where on `path` each of the cut's `makes` is made, mm; of a cut that makes none, all."""
        return self.along or ((self.lead_in_length, float(length(self.path)) - self.lead_out_length),)

    @property
    def links(self) -> tuple[tuple[float, float], ...]:
        """From where to where on `path` the torch burns on between two `makes`, mm."""
        made = self.made_along
        between = [(one[1], other[0]) for one, other in itertools.pairwise(made)]
        return tuple((start, end) for start, end in between if start < end)


@dataclass(frozen=True)
class Made:
    """A contour, or a stretch of one, that a cut makes.

    Attributes
    ----------
    part : str
    copy : int
    placement : int
        Index of the placement on its sheet.
    contour : Path
        The whole finished edge as drawn (or the line to mark), placed on the plate.
    hole : int or None
        Index of the hole in its part; None for the outside.  A mark with its `hole` set is
        one for drilling.
    span : tuple of float or None
        From where to where along `contour`, mm from its first vertex in its own direction; the
        second is the smaller where the stretch runs over that vertex.  None for all of it.
    """

    part: str
    copy: int
    placement: int
    contour: Path
    hole: int | None = None
    span: tuple[float, float] | None = None


@dataclass(frozen=True)
class Tab:
    """A stretch of a part's outside that is left uncut, in plate coordinates.

    Attributes
    ----------
    part : str
    copy : int
    placement : int
        Index of the placement on its sheet.
    at : tuple of float
        Its middle, on the line of the torch's centre, mm.
    span : tuple of float
        From where to where along the finished outside the edge is not cut clean, as in `Made`.
    width_mm : float
        Of the metal left, where it is narrowest.
    """

    part: str
    copy: int
    placement: int
    at: tuple[float, float]
    span: tuple[float, float]
    width_mm: float


@dataclass(frozen=True)
class Cut:
    """One run of the torch or the marker, in plate coordinates.

    Attributes
    ----------
    kind : {"mark", "hole", "outside", "rest", "skeleton", "bevel"}
        All that one run makes is of one kind.
    makes : tuple of Made
        In the order made; empty for a rest cut and for one through the skeleton.
    choices : tuple of LeadChoice
        At least one.
    frees : tuple of int
        Placements that are loose when the cut ends, all that must precede it being done.
    inside_of : int or None
        Index of the placement in whose hole its parts lie, if any.
    starts_before : tuple of int
        Placements whose outside must be cut later: all starts of this cut lie where their
        kerf will be, or too near it.
    turn : int or None
        Runs of one placement that have a turn are cut in that order.
    lean : Lean or None
    """

    kind: CutKind
    makes: tuple[Made, ...]
    choices: tuple[LeadChoice, ...]
    frees: tuple[int, ...] = ()
    inside_of: int | None = None
    starts_before: tuple[int, ...] = ()
    turn: int | None = None
    lean: Lean | None = None

    @property
    def placements(self) -> tuple[int, ...]:
        """Placements that it makes something of, in the order of their first stretch."""
        return tuple(dict.fromkeys(made.placement for made in self.makes))

    @property
    def freed(self) -> tuple[Made, ...]:
        """What it makes last of the outside of each placement that it frees."""
        last = {made.placement: made for made in self.makes if made.hole is None}
        return tuple(last[placement] for placement in self.frees)


def made_name(kind: CutKind, made: Made) -> str:
    """Return what people call a contour: "outside", "hole 2", "mark", "drill mark 1".

    Parameters
    ----------
    kind : str
        Of the cut that makes it.
    made : Made

    Returns
    -------
    str
    """
    number = "" if made.hole is None else f" {made.hole + 1}"
    names = {"mark": ("drill mark", "mark"), "bevel": ("bevel of hole", "bevel")}
    of_hole, whole = names.get(kind, ("hole", "outside"))
    return f"{of_hole}{number}" if number else whole


def length_made(made: Made) -> float:
    """Return the length of a contour, or of the stretch of it, that a cut makes.

    Parameters
    ----------
    made : Made

    Returns
    -------
    float
        mm.
    """
    whole = float(length(made.contour))
    if made.span is None:
        return whole
    size = made.span[1] - made.span[0]
    return size if size > 0.0 else size + whole


def cut_name(cut: Cut) -> str:
    """Return what people call a cut: "hole 2 of gusset copy 1", and how many more contours it makes.

    Parameters
    ----------
    cut : Cut

    Returns
    -------
    str
    """
    if not cut.makes:
        return f"{cut.kind} cut"
    first = cut.makes[0]
    name = f"{made_name(cut.kind, first)} of {first.part} copy {first.copy}"
    return name if len(cut.makes) == 1 else f"{name} and {len(cut.makes) - 1} more in one run"


@dataclass(frozen=True, eq=False)
class Links:
    """The ways on which the torch may burn on from one outside to another, straight through scrap.

    Each leads from the end of one cut's choice to the beginning of another's.

    Attributes
    ----------
    first, then : ndarray of int64, shape (k,)
        The two cuts.
    first_choice, then_choice : ndarray of int64, shape (k,)
    length : ndarray, shape (k,)
        mm.
    most : ndarray of int64, shape (n,)
        For each cut, outsides in one run with it at the most; 1 where it has none.
    longest : ndarray, shape (n,)
        For each cut, way of a run with it at the most, mm; inf where nothing is asked.
    hottest_c : ndarray, shape (n,)
        For each cut, plate temperature above which a run does not go on to it; inf for any.
    """

    first: IntArray
    then: IntArray
    first_choice: IntArray
    then_choice: IntArray
    length: FloatArray
    most: IntArray
    longest: FloatArray
    hottest_c: FloatArray


@dataclass(frozen=True)
class SheetCuts:
    """Every cut of a sheet, and what a person should know about them.

    Attributes
    ----------
    cuts : tuple of Cut
        By placement: its marks, its holes, its outside.
    findings : tuple of Finding
        Places are in plate coordinates.  A "refused" contour has no cut: the sheet cannot
        be programmed as it is.
    tabs : tuple of Tab
        Stretches left uncut, by placement.
    links : Links or None
        Ways from outside to outside on which the torch may burn on, where the job asks for chains.
    """

    cuts: tuple[Cut, ...]
    findings: tuple[Finding, ...] = ()
    tabs: tuple[Tab, ...] = ()
    links: Links | None = None
