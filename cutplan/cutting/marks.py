"""The ways to run along a line to mark; which lines those are is left to `drawing`."""

from __future__ import annotations

from cutplan.cutting.model import LeadChoice
from cutplan.geometry import Path, length, reverse, subpath

__all__ = ["mark_choices"]

# Starts offered for a closed line.
CLOSED_STARTS = 4


def mark_choices(line: Path) -> tuple[LeadChoice, ...]:
    """Return the ways to run along a line to mark: from both ends, or round from several places."""
    if line.closed:
        total = length(line)
        places = [total * k / CLOSED_STARTS for k in range(CLOSED_STARTS)]
        ways = [subpath(line, s, s + total) for s in places]
    else:
        ways = [line, reverse(line)]
    return tuple(
        LeadChoice(
            path=way,
            pierce=(float(way.start[0]), float(way.start[1])),
            end=(float(way.end[0]), float(way.end[1])),
            lead_in_length=0.0,
            lead_out_length=0.0,
        )
        for way in ways
    )
