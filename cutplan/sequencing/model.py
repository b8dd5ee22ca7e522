"""The order of cutting: which cut next, from which pierce, and how the torch gets there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import BeforeValidator, Field
from pydantic.dataclasses import dataclass as checked_dataclass

from cutplan.base.files import FILE_RULES
from cutplan.cutting import Cut, LeadChoice, cut_name
from cutplan.geometry import FloatArray

if TYPE_CHECKING:
    from cutplan.sequencing.clamps import Clamps

__all__ = [
    "AMBIENT_C",
    "CutKey",
    "Kept",
    "Order",
    "OrderHeat",
    "OrderWishes",
    "Pin",
    "SequenceOptions",
    "Step",
    "Travel",
    "Which",
    "shares_of",
]


AMBIENT_C = 20.0
"""A shop, and the water of its table, unless told otherwise; °C."""
Count = Annotated[int, Field(ge=1)]


def _called_now(kind: Any) -> Any:
    """Return what a kind of cut is called now: job files once said "outer" for an outside."""
    return "outside" if kind == "outer" else kind


@checked_dataclass(frozen=True, config=FILE_RULES)
class Which:
    """Names cuts of a sheet; a field left at None matches all.

    Attributes
    ----------
    part : str or None
        Name of the part.
    copy : int or None
        Number of its copy.
    kind : {"mark", "hole", "outside"} or None
        What is cut: "mark", "hole" or "outside" ("outer" is taken as well).
    hole : int or None
        Number of the hole in its part, from 1 as on paper.
    """

    part: str | None = None
    copy: Count | None = None
    kind: Annotated[Literal["mark", "hole", "outside"], BeforeValidator(_called_now)] | None = None
    hole: Count | None = None

    def matches(self, cut: Cut) -> bool:
        """Whether the cut makes one of the contours named, or a stretch of it."""
        return self.kind in (None, cut.kind) and any(
            self.part in (None, made.part)
            and self.copy in (None, made.copy)
            # Inside, holes are counted from 0.
            and (self.hole is None or self.hole - 1 == made.hole)
            for made in cut.makes
        )


@checked_dataclass(frozen=True, config=FILE_RULES)
class Pin:
    """All cuts named by `first` come before all named by `then`.

    Attributes
    ----------
    first, then : Which
    """

    first: Which
    then: Which


@checked_dataclass(frozen=True, config=FILE_RULES)
class OrderWishes:
    """What the shop wishes of the order of cutting: the [order] section of a job.

    Attributes
    ----------
    pin : tuple of Pin
        Orders the user insists on.
    marks : {"sheet", "part"}
        Mark the whole sheet before the first cut (heat has moved nothing yet), or each part
        before its own cuts.
    open_parts : int
        Parts that may be begun and not finished at once, over all torches, so that a plate that
        shifts spoils no more than these; one at least under each torch.  Where heat, a pin or a
        band asks for more, the plan says how many they are.
    parts_together : bool
        Finish the contours of a part before the next part is begun.
    low_travel : bool
        Let the torch travel low, at the machine's `low_travel_height_mm`, where nothing loose and
        no clamp lies in the way, and rise fully only over those.  Only a program that writes
        heights can ask for it; for others it is left out with a warning.
    hottest_start_c : float or None
        Plate temperature above which no cut should start.
    heat_weight_s : float
        Seconds that a start 100 K above the ambient temperature counts longer; it grows with
        the square, so that heat is spread about.
    towards : {"x+", "x-", "y+", "y-"} or None
        Work from one end of the plate towards the other, so that the metal that holds the
        parts stays stiff in front of the torch.
    narrow_webs_last : bool
        Free parts beside narrow webs after the others (within their band).
    effort : float
        Multiplies the usual work of the search.
    """

    pin: tuple[Pin, ...] = ()
    marks: Literal["sheet", "part"] = "sheet"
    open_parts: Count = 5
    parts_together: bool = False
    low_travel: bool = False
    hottest_start_c: Annotated[float, Field(gt=AMBIENT_C)] | None = None
    heat_weight_s: Annotated[float, Field(ge=0)] = 0.0
    towards: Literal["x+", "x-", "y+", "y-"] | None = None
    narrow_webs_last: bool = False
    effort: Annotated[float, Field(gt=0, le=100)] = 1.0


@checked_dataclass(frozen=True, config=FILE_RULES)
class SequenceOptions(OrderWishes):
    """What the order of cutting should look after: the shop's wishes, and what the planner adds.

    Attributes
    ----------
    return_home : bool
        Count the way back to the machine's start.
    crossing_weight_s : float
        Seconds by which a raised travel over a freed part counts longer: a tipped part stands up.
    heat : bool
        Run the heat model and report the hottest start and the greatest difference.
    ambient_c : float
        Temperature of plate and air (or water) before the first cut.
    band_mm : float or None
        Width of the bands in which the work moves on; the default fits the parts.
    narrow_web_mm : float or None
        Web under which a part counts as beside a narrow web; default twice the thickness.
    low_lift_s : float
        Time to rise from a cut to low travel and sink to the next, s; it is part of the raise
        and the descent of raised travel.
    torch_shifts : tuple of float
        How far each torch that burns stands from the first, mm in y; the heat of all is reported.
    marker_feed_mm_min : float
        At which marks are run.
    fixed_leads : bool
        Every cut has one lead, as what is left of a program has: what a start must come before
        is a demand on the order.
    """

    return_home: bool = True
    crossing_weight_s: float = 0.5
    heat: bool = True
    ambient_c: float = AMBIENT_C
    band_mm: float | None = None
    narrow_web_mm: float | None = None
    low_lift_s: float = 0.0
    torch_shifts: tuple[float, ...] = (0.0,)
    marker_feed_mm_min: float = 5000.0
    fixed_leads: bool = False

    @property
    def most_open(self) -> int:
        """Parts that may be begun and not finished at once under each torch."""
        return max(1, self.open_parts // len(self.torch_shifts))


CutKey = tuple[str, int, str, int]
"""Part, copy, what is cut ("hole 2") and which run of it: names a cut of a sheet however it is numbered."""


@dataclass(frozen=True)
class Kept:
    """An order that is kept instead of searched.

    Attributes
    ----------
    keys : tuple of CutKey
        Cuts in their order; those that are not on the sheet are left out, those that are not
        named come where they lie near.
    exactly : bool
        Refuse the order where something must be cut otherwise, instead of moving what must move.
    """

    keys: tuple[CutKey, ...]
    exactly: bool = False


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


@dataclass(frozen=True, repr=False)
class Step:
    """One cut of the order.

    Attributes
    ----------
    cut : Cut
    choice : int
        The lead chosen, as an index into `cut.choices`.
    travel : Travel
        The way to it.
    start_s, run_s : float
        Seconds that the torch stands at its start, and then moves.
    """

    cut: Cut
    choice: int
    travel: Travel
    start_s: float = 0.0
    run_s: float = 0.0

    @property
    def lead(self) -> LeadChoice:
        """The lead chosen."""
        return self.cut.choices[self.choice]

    def __repr__(self) -> str:
        x, y = self.lead.pierce
        return f"<Step {cut_name(self.cut)}, pierced at ({x:.1f}, {y:.1f}) mm>"


def shares_of(step: Step) -> dict[str, float]:
    """Return the parts that a step makes something of, each with its share of the length made.

    Parameters
    ----------
    step : Step

    Returns
    -------
    dict of str to float
        They sum to 1; empty for a cut that makes no part.
    """
    made: dict[str, float] = {}
    if not step.cut.makes:
        return made
    for each, (start, end) in zip(step.cut.makes, step.lead.made_along, strict=True):
        made[each.part] = made.get(each.part, 0.0) + end - start
    if len(made) == 1:
        return dict.fromkeys(made, 1.0)
    whole = sum(made.values())
    return {part: size / whole for part, size in made.items()}


@dataclass(frozen=True)
class OrderHeat:
    """How an order warms its plate, by the heat model: what a playback of the cutting shows.

    Attributes
    ----------
    start_c : tuple of float
        Temperature of the plate where each cut starts, before it starts; empty where the model
        was not run.
    ambient_c : float
        Before the first cut.
    joule_mm : float
        Heat that a millimetre of cut leaves in the plate.
    conductance_w_k : float
        Conductivity times thickness.
    diffusivity_mm2_s : float
    loss_per_s : float
        Share of the heat that leaves through the faces in a second.
    """

    start_c: tuple[float, ...] = ()
    ambient_c: float = AMBIENT_C
    joule_mm: float = 0.0
    conductance_w_k: float = 1.0
    diffusivity_mm2_s: float = 1.0
    loss_per_s: float = 0.0


@dataclass(frozen=True, repr=False)
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
    open_parts : int
        Parts begun and not finished at once, under each torch, at the most.
    statistics : mapping
    heat : OrderHeat
    clamps : Clamps or None
        What raised travel goes round, for the ways to and from the machine's start.
    """

    steps: tuple[Step, ...]
    travel_s: float
    bound_s: float
    hottest_start_c: float | None = None
    greatest_difference_c: float | None = None
    crossings: int = 0
    open_parts: int = 0
    statistics: Mapping[str, float] = field(default_factory=dict)
    heat: OrderHeat = OrderHeat()
    clamps: Clamps | None = None

    def way(self, start: tuple[float, float], end: tuple[float, float]) -> FloatArray:
        """Return the raised way between two places, shape (k, 2), mm."""
        if self.clamps is None:
            return np.array([start, end], dtype=np.float64)
        return self.clamps.way(start, end)

    def __repr__(self) -> str:
        return (
            f"<Order of {len(self.steps)} cuts: travel {self.travel_s:.0f} s, at least {self.bound_s:.0f} s>"
        )
