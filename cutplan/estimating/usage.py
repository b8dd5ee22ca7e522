"""What a torch does, as one record that adds up and scales; figures are made of it elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np

from cutplan.estimating.model import ACTIVITIES
from cutplan.geometry import FloatArray

__all__ = ["CutParts", "Owner", "Usage", "added", "by_name", "scaled"]

HANDLING = ACTIVITIES.index("handling")
Owner = tuple[tuple[str, float], ...]
"""Parts that own something together, each with its share."""
CutParts = Sequence[str | Mapping[str, float]]
"""Of each cut its part, or the share of each part that it makes something of."""


@dataclass(frozen=True, eq=False)
class Usage:
    """What one torch does over a program, or over a part's share of it.

    Every field adds up: a whole is the sum of its shares.

    Attributes
    ----------
    seconds : ndarray, shape (len(ACTIVITIES),)
    flame_s : float
        Time that preheat flames burn.
    unlit_s : float
        Part of the piercing or preheating in which nothing stands yet: no power, no wear.
    starts : float
        Starts of the torch.
    cut_length_mm : float
    programs : float
        Programs begun: hoses are bled once for each.
    """

    seconds: FloatArray = field(default_factory=lambda: np.zeros(len(ACTIVITIES)))
    flame_s: float = 0.0
    unlit_s: float = 0.0
    starts: float = 0.0
    cut_length_mm: float = 0.0
    programs: float = 0.0

    def __add__(self, other: Usage) -> Usage:
        """Return the sum, field by field."""
        return Usage(**{f.name: getattr(self, f.name) + getattr(other, f.name) for f in fields(self)})

    def share(self, part: float) -> Usage:
        """Return a share of everything, as 0.25 for a quarter."""
        return Usage(**{f.name: getattr(self, f.name) * part for f in fields(self)})


def added(usages: Iterable[Usage]) -> Usage:
    """Return the sum of usages; no usages sum to nothing."""
    return sum(usages, Usage())


def scaled(usage: Usage, factors: Sequence[float]) -> Usage:
    """Return a usage with the seconds of each activity multiplied; the flames follow the sum."""
    seconds = usage.seconds * np.asarray(factors)
    before = usage.seconds.sum() - usage.seconds[HANDLING]
    after = seconds.sum() - seconds[HANDLING]
    flame = usage.flame_s * float(after / before) if before > 0.0 else usage.flame_s
    return replace(usage, seconds=seconds, flame_s=flame)


def by_name(owners: Sequence[Owner], usages: Sequence[Usage]) -> tuple[list[str], list[Usage]]:
    """Return the names of all parts, and the usage of each, then of the way home.

    Parameters
    ----------
    owners : sequence of Owner
    usages : sequence of Usage
        Of each owner, then of the way home.
    """
    *own, home = usages
    shares = [
        (name, usage.share(share)) for owner, usage in zip(owners, own, strict=True) for name, share in owner
    ]
    names = sorted({name for name, _ in shares})
    return names, [*(added(usage for of, usage in shares if of == name) for name in names), home]
