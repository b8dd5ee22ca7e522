"""The order of cutting: which cut next, from which pierce, and how the torch gets there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cutplan.cutting import Cut, LeadChoice
from cutplan.geometry import FloatArray

__all__ = ["Order", "Step", "Travel"]


@dataclass(frozen=True, eq=False)
class Travel:
    """How the torch gets to the next pierce.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        From where the torch stands to the pierce point, mm; n ≥ 2.
    raised : bool
        Whether the torch is lifted to travel height.
    seconds : float
        Time for lifting, moving and lowering.
    """

    points: FloatArray
    raised: bool
    seconds: float


@dataclass(frozen=True)
class Step:
    """One cut of the order: the cut, the lead chosen (index into `cut.choices`), the way to it."""

    cut: Cut
    choice: int
    travel: Travel

    @property
    def lead(self) -> LeadChoice:
        """The lead chosen."""
        return self.cut.choices[self.choice]


@dataclass(frozen=True)
class Order:
    """The whole order for one sheet.

    Attributes
    ----------
    steps : tuple of Step
    travel_s : float
        Sum of the travel, including the way home.
    bound_s : float
        No order of these cuts travels for less.
    hottest_start_c, greatest_difference_c : float or None
        Highest plate temperature where a cut starts, and the greatest temperature difference
        across a part, by the heat model; None where it was not run.
    crossings : int
        Travels with the torch low that pass over a freed part.
    statistics : mapping
    """

    steps: tuple[Step, ...]
    travel_s: float
    bound_s: float
    hottest_start_c: float | None = None
    greatest_difference_c: float | None = None
    crossings: int = 0
    statistics: Mapping[str, float] = field(default_factory=dict)
