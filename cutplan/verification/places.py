"""Faults at a row of motion: the line and the place that belong to it."""

from __future__ import annotations

from cutplan.control import Motions
from cutplan.verification.model import Fault

__all__ = ["MOST_OF_A_KIND", "fault_at"]

MOST_OF_A_KIND = 20
"""Faults of a kind that are told; the rest would say the same."""


def fault_at(motions: Motions, row: int, code: str, message: str, *, trim: bool = False) -> Fault:
    """Return a fault with the line and the place of a row of motion."""
    x, y = motions.start[row, :2].tolist() if len(motions) else (0.0, 0.0)
    line = int(motions.line[row]) if len(motions) else None
    return Fault(code, message, line, (x, y), trim=trim)
