"""A cut: one contour as the torch will run it, with every lead it could start from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutplan.geometry import Path

__all__ = ["Cut", "FeedSpan", "LeadChoice"]

Contour = Literal["mark", "hole", "outer"]


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
    """

    part: str
    copy: int
    kind: Contour
    contour: Path
    choices: tuple[LeadChoice, ...]
    placement: int
    inside_of: int | None = None
    hole: int | None = None
