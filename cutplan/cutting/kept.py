"""Edges on which no cut should start: where they lie on a contour, and what is told where one starts there."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.base.findings import Finding
from cutplan.cutting.leads import KEPT_EDGE_PENALTY_S
from cutplan.cutting.model import LeadChoice, Made
from cutplan.drawing import EdgePreparation, KeptEdge, Part, stretch_of
from cutplan.geometry import Path

__all__ = ["kept_edges", "on_kept_edge"]


def kept_edges(part: Part, hole: int | None) -> tuple[Path, ...]:
    """Return the stretches of a contour on which no cut should start: those asked for, and those to be bevelled.

    Parameters
    ----------
    part : Part
    hole : int or None
        Index of the hole; None for the outside.

    Returns
    -------
    tuple of Path
        Closed where it is the whole contour.
    """
    edges: tuple[EdgePreparation | KeptEdge, ...] = (*part.kept, *part.bevels)
    return tuple(stretch_of(part, each) for each in edges if each.hole == hole)


def on_kept_edge(choices: Sequence[LeadChoice], made: Made) -> list[Finding]:
    """Return a warning where every start of a contour lies on an edge that is to be kept free of them."""
    if min(choice.penalty_s for choice in choices) < KEPT_EDGE_PENALTY_S:
        return []
    called = "the outside" if made.hole is None else f"hole {made.hole + 1}"
    told = f"{called} of '{made.part}' copy {made.copy} starts on an edge that is to be kept free of starts: "
    return [Finding("warning", told + "no other place is clear", choices[0].pierce)]
