"""A cut: one contour as the torch will run it, with every lead it could start from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutplan.base.errors import JobError
from cutplan.base.findings import Finding
from cutplan.base.machine import Machine
from cutplan.geometry import Path

__all__ = ["Contour", "CornerStyle", "Cut", "CuttingOptions", "FeedSpan", "LeadChoice", "SheetCuts"]

Contour = Literal["mark", "hole", "outer"]
CornerStyle = Literal["round", "loop", "plain"]


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
        at their centre for drilling, or refused.
    lead : {"arc", "straight"}
        Shape of lead-ins that join an edge away from its corners.
    candidates : int
        Starts offered for each contour, at most.
    torch_radius_mm : float
        Radius of the torch's body, which keeps off clamps.
    """

    corners: CornerStyle = "round"
    small_holes: Literal["cut", "mark", "refuse"] = "cut"
    lead: Literal["arc", "straight"] = "arc"
    candidates: int = 12
    torch_radius_mm: float = Machine.torch_radius_mm

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
    """

    path: Path
    pierce: tuple[float, float]
    end: tuple[float, float]
    lead_in_length: float
    lead_out_length: float
    spans: tuple[FeedSpan, ...] = ()
    edge_start: bool = False
    penalty_s: float = 0.0


@dataclass(frozen=True)
class Cut:
    """One contour to cut or mark, in plate coordinates.

    Attributes
    ----------
    part : str
    copy : int
    kind : {"mark", "hole", "outer"}
        A hole marked for drilling is a "mark" with its `hole` set.
    contour : Path
        The finished edge as drawn (or the line to mark), placed on the plate.
    choices : tuple of LeadChoice
        At least one.
    placement : int
        Index of the placement on its sheet.
    inside_of : int or None
        Index of the placement in whose hole this part lies, if any.
    hole : int or None
        Index of the hole in its part, for holes.
    starts_before : tuple of int
        Placements whose outside must be cut later: all starts of this cut lie where their
        kerf will be, or too near it.
    """

    part: str
    copy: int
    kind: Contour
    contour: Path
    choices: tuple[LeadChoice, ...]
    placement: int
    inside_of: int | None = None
    hole: int | None = None
    starts_before: tuple[int, ...] = ()


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
    """

    cuts: tuple[Cut, ...]
    findings: tuple[Finding, ...] = ()
