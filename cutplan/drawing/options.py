"""How a drawing is to be read: units, layers, tolerances."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from cutplan.base.errors import InputError
from cutplan.base.units import unit_named

__all__ = ["ReadOptions", "Role"]

Role = Literal["cut", "mark", "bend", "ignore"]


@dataclass(frozen=True)
class ReadOptions:
    """How a drawing is to be read.

    Attributes
    ----------
    units : str or None
        Units of the coordinates, "mm", "cm", "m", "in" or "ft", or another word for one of
        them ("inch"); None takes what the header says.
    layers : mapping of role to patterns, or None
        Role ("cut", "mark", "bend" or "ignore") to the names of layers that play it, with
        ``*`` and ``?`` as wildcards, upper and lower case alike.  They are tried in that
        order of roles before the defaults.
    gap : float
        Widest gap between ends that is closed, mm.
    tolerance : float
        How far lines and arcs may stray from a spline, an ellipse or a chorded arc that they
        stand for, mm.

    Raises
    ------
    InputError
        If a unit or role is unknown, or a tolerance is out of range.
    """

    units: str | None = None
    # A mapping cannot be hashed, but the parts that were read with it are.
    layers: Mapping[str, Sequence[str]] | None = field(default=None, hash=False)
    gap: float = 0.1
    tolerance: float = 0.01

    def __post_init__(self) -> None:
        if self.units is not None:
            object.__setattr__(self, "units", unit_named(self.units))
        for role, patterns in (self.layers or {}).items():
            if role not in get_args(Role):
                raise InputError(
                    f"unknown layer role {role!r}", remedy=f"choose one of {', '.join(get_args(Role))}"
                )
            if isinstance(patterns, str):
                raise InputError(f"the layers of role {role!r} must be a list of names or patterns")
        if not (math.isfinite(self.gap) and self.gap >= 0.0):
            raise InputError(f"the gap tolerance must be zero or more, got {self.gap}")
        if not (math.isfinite(self.tolerance) and self.tolerance > 0.0):
            raise InputError(f"the drawing tolerance must be above zero, got {self.tolerance}")
