"""How a drawing is to be read: units, layers, tolerances, what to leave out, and limits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from fnmatch import fnmatchcase
from typing import Annotated, Any, Literal, get_args

from pydantic import Field, model_validator
from pydantic.dataclasses import dataclass as checked_dataclass

from cutplan.base.errors import InputError
from cutplan.base.files import FILE_RULES
from cutplan.base.units import unit_named
from cutplan.drawing.wording import check_patterns

__all__ = ["COLOUR_NAMES", "Choice", "Limits", "ReadOptions", "Role"]

Role = Literal["cut", "mark", "bend", "bevel", "ignore"]

# Names of the first colour numbers (DXF reference, group code 62).
COLOUR_NAMES = {
    1: "red", 2: "yellow", 3: "green", 4: "cyan", 5: "blue", 6: "magenta", 7: "white", 8: "grey",
}  # fmt: skip


@checked_dataclass(frozen=True, config=FILE_RULES)
class Limits:
    """What reading one drawing may take; beyond it the drawing is refused, by name.

    Attributes
    ----------
    seconds : float
        Time to read a file.
    memory_mb : float
        Memory to read a file, MiB, where the system lets a process be held to that.
    file_mb : float
        Size of a file, MiB.
    entities : int
        Entities, block references unfolded.
    depth : int
        Contours that lie inside each other.
    """

    seconds: Annotated[float, Field(gt=0, le=86_400)] = 20.0
    memory_mb: Annotated[float, Field(ge=100, le=1e6)] = 2000.0
    file_mb: Annotated[float, Field(gt=0, le=1e5)] = 256.0
    entities: Annotated[int, Field(ge=1, le=10**8)] = 100_000
    depth: Annotated[int, Field(ge=1, le=10_000)] = 50


@checked_dataclass(frozen=True, config=FILE_RULES)
class Choice:
    """Which parts of a drawing are meant; all that is given must hold.

    Attributes
    ----------
    name, layer, text : str or None
        Patterns with ``*`` and ``?``, upper and lower case alike: the part's name, the layer of
        its outside, a text on it or beside it.
    at : tuple of float or None
        A place on the part, mm.
    within : tuple of float or None
        xmin, ymin, xmax, ymax that hold the part, mm.
    larger_than, smaller_than : float or None
        Bounds on the longer side of its box, mm.
    """

    name: str | None = None
    layer: str | None = None
    text: str | None = None
    at: tuple[float, float] | None = None
    within: tuple[float, float, float, float] | None = None
    larger_than: Annotated[float, Field(gt=0)] | None = None
    smaller_than: Annotated[float, Field(gt=0)] | None = None

    @model_validator(mode="after")
    def _names_something(self) -> Choice:
        if all(getattr(self, each.name) is None for each in fields(self)):
            raise ValueError(
                f"a choice of parts names nothing; give one of {', '.join(each.name for each in fields(self))}"
            )
        return self


@dataclass(frozen=True)
class ReadOptions:
    """How a drawing is to be read.

    Attributes
    ----------
    units : str or None
        Units of the coordinates, "mm", "cm", "m", "in" or "ft", or another word for one of
        them ("inch"); None takes what the header says.
    layers : mapping of role to patterns, or None
        Role ("cut", "mark", "bend", "bevel" or "ignore") to the names of layers that play it, with
        ``*`` and ``?`` as wildcards, upper and lower case alike.  They are tried in that
        order of roles before the defaults.
    colours : mapping of role to colours, or None
        Role to the colours that play it, by number or name ("red"), ``*`` for any; for drawings
        that tell edges apart by colour.  A layer that `layers` names goes first.
    gap : float
        Widest gap between ends that is closed, mm.
    tolerance : float
        How far lines and arcs may stray from a spline, an ellipse or a chorded arc that they
        stand for, mm.
    open : {"refuse", "leave out"}
        What becomes of strokes that close no contour.  One that touches or nearly closes a
        contour is refused in any case.
    frames : {"ask", "leave out", "cut"}
        What becomes of a sheet's border or a title block's frame.
    equal : {"one part", "apart"}
        Whether equal parts are one part, counted, or a part each.
    mirror : bool
        Whether a mirrored copy is an equal part.
    choose, leave_out : sequence of Choice
        Parts to take, all where nothing is named, and parts not to take.
    texts : mapping of meaning to patterns, or None
        Regular expressions that find a "quantity", "thickness", "grade" or "name" in a text, by
        their first group, in place of the usual ones.
    largest : float
        Longer side of the largest plate, mm: a larger part draws doubt on the units.
    limits : Limits

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
    colours: Mapping[str, Sequence[str | int]] | None = field(default=None, hash=False)
    open: Literal["refuse", "leave out"] = "refuse"
    frames: Literal["ask", "leave out", "cut"] = "ask"
    equal: Literal["one part", "apart"] = "one part"
    mirror: bool = False
    choose: Sequence[Choice] = ()
    leave_out: Sequence[Choice] = ()
    texts: Mapping[str, Sequence[str]] | None = field(default=None, hash=False)
    largest: float = 20_000.0
    limits: Limits = field(default_factory=Limits)

    def __post_init__(self) -> None:
        if self.units is not None:
            object.__setattr__(self, "units", unit_named(self.units))
        _check_roles("layer", self.layers)
        _check_roles("colour", self.colours)
        check_patterns(self.texts or {})
        for name in ("choose", "leave_out"):
            # As a plan's record holds them.
            given = tuple(
                each if isinstance(each, Choice) else Choice(**each) for each in getattr(self, name)
            )
            object.__setattr__(self, name, given)
        if not isinstance(self.limits, Limits):
            object.__setattr__(self, "limits", Limits(**self.limits))
        for name, allowed in (("open", ("refuse", "leave out")), ("frames", ("ask", "leave out", "cut")),
                              ("equal", ("one part", "apart"))):  # fmt: skip
            if getattr(self, name) not in allowed:
                raise InputError(
                    f"unknown value {getattr(self, name)!r} of {name}",
                    remedy=f"choose one of {', '.join(allowed)}",
                )
        if not (math.isfinite(self.gap) and self.gap >= 0.0):
            raise InputError(f"the gap tolerance must be zero or more, got {self.gap}")
        if not (math.isfinite(self.tolerance) and self.tolerance > 0.0):
            raise InputError(f"the drawing tolerance must be above zero, got {self.tolerance}")

    def colour_role(self, colour: int) -> Role | None:
        """Return the role that the job gives to a colour, None where it gives none."""
        names = {str(colour), COLOUR_NAMES.get(colour, str(colour))}
        roles: tuple[Role, ...] = ("cut", "mark", "bend", "bevel", "ignore")
        for role in roles:
            for pattern in (self.colours or {}).get(role, ()):
                if any(fnmatchcase(name, str(pattern).casefold()) for name in names):
                    return role
        return None


def _check_roles(what: str, roles: Mapping[str, Any] | None) -> None:
    for role, patterns in (roles or {}).items():
        if role not in get_args(Role):
            raise InputError(
                f"unknown {what} role {role!r}", remedy=f"choose one of {', '.join(get_args(Role))}"
            )
        if isinstance(patterns, str):
            raise InputError(f"the {what}s of role {role!r} must be a list of names or patterns")
