"""Words for a head that turns: where its axes stand at the end of each move of a run."""

from __future__ import annotations

import math

import numpy as np

from cutplan.control import Head, head_angles, rotary_letters
from cutplan.cutting import Lean
from cutplan.geometry import Path, direction_at, length
from cutplan.program.postfile import Arcs
from cutplan.program.rounding import Move

__all__ = ["HeadWords", "arcs_of_head", "heading_deg"]

ANGLE_DECIMALS = 3
# Between the ends of a move the axes turn evenly.  Where the way that the torch leans is an axis of
# its own that is exact; otherwise moves are so short that it strays by 0.03 degrees at most.
WIDEST_ARC_DEG = 5.0


def heading_deg(path: Path, s: float) -> float:
    """Return the direction of a path at an arc-length, degrees from X."""
    inside = min(max(s, 1e-6), float(length(path)) - 1e-6)
    x, y = direction_at(path, np.array([inside]))[0].tolist()
    return math.degrees(math.atan2(y, x))


def arcs_of_head(arcs: Arcs, head: Head) -> Arcs:
    """Return how arcs are written where a head turns along with them."""
    if head != "AB":
        return arcs
    return arcs.model_copy(update={"largest_sweep_deg": WIDEST_ARC_DEG, "full_circles": False})


class HeadWords:
    """The rotary words of one run, those only that change.

    Parameters
    ----------
    head : {"fixed", "hand", "AB", "BC"}
    lean : Lean or None
        None for a torch that stands upright.
    """

    def __init__(self, head: Head) -> None:
        self._head = head
        self._letters = rotary_letters(head)
        self._told: dict[str, float] = {}
        self._towards: float | None = None

    def forget(self) -> None:
        """Say all axes again."""
        self._told = {}

    def upright(self) -> list[str]:
        """Return the words that set the torch upright; the way it leaned stays."""
        return self._words(0.0, self._towards or 0.0)

    def along(self, lean: Lean, direction_deg: float) -> list[str]:
        """Return the words for a run where the torch travels in a direction, degrees from X."""
        towards = lean.towards_deg(direction_deg)
        if self._towards is not None:
            # The shorter way round: the head turns on, and never back through a full turn.
            towards += 360.0 * round((self._towards - towards) / 360.0)
        self._towards = towards
        return self._words(lean.tilt_deg, towards)

    def after(
        self, lean: Lean, move: Move, here: tuple[float, float], direction_deg: float
    ) -> tuple[list[str], float]:
        """Return the words at the end of a move, and the direction of travel there, degrees.

        Parameters
        ----------
        lean : Lean
        move : Move
        here : tuple of float
            Where the move begins, in the control's steps.
        direction_deg : float
            The direction of travel there; that of an arc goes on from it.
        """
        if move.arc is None:
            ahead = math.degrees(math.atan2(move.y - here[1], move.x - here[0]))
            direction_deg += (ahead - direction_deg + 180.0) % 360.0 - 180.0
        else:
            direction_deg += math.degrees(move.arc.sweep)
        return self.along(lean, direction_deg), direction_deg

    def _words(self, tilt_deg: float, towards_deg: float) -> list[str]:
        values = dict(zip("ABC", head_angles(self._head, tilt_deg, towards_deg), strict=True))
        words = []
        for letter in self._letters:
            value = round(values[letter], ANGLE_DECIMALS) + 0.0
            if self._told.get(letter) != value:
                self._told[letter] = value
                text = f"{value:.{ANGLE_DECIMALS}f}".rstrip("0").rstrip(".")
                words.append(f"{letter}{text}")
        return words
