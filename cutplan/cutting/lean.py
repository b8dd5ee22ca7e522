"""How the torch leans on a run that bevels an edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Lean"]


@dataclass(frozen=True)
class Lean:
    """How the torch leans on a run that bevels an edge.

    Attributes
    ----------
    tilt_deg : float
        Of the jet from the plate's normal.
    left : bool
        As it goes down, the jet goes to the left of the travel; otherwise to the right.
    bevel : int
        Index of the preparation in its part.
    slope : {"upper", "lower"}
        Which of its slopes the run makes.
    """

    tilt_deg: float
    left: bool
    bevel: int
    slope: Literal["upper", "lower"]

    def towards_deg(self, direction_deg: float) -> float:
        """Return which way the jet goes as it goes down, degrees from X, where the torch travels so."""
        return direction_deg + (90.0 if self.left else -90.0)
