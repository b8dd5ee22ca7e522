"""Tabs where a person asks for them, and none where he wants none; the others as evenly as they go."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutplan.cutting.leads import Lead
from cutplan.cutting.tabs import SHAPES, choose_seats
from cutplan.cutting.torch import TorchContour
from cutplan.geometry import FloatArray, Pose, place_points, point_at

__all__ = ["Unmet", "seats_by_hand"]

REACH_MM = 25.0
"""A tab goes no further from the place asked for, and none comes nearer to a place without one."""
Spot = tuple[float, float]
Unmet = tuple[str, Spot]
"""Why a wish cannot be met, and the place it was for."""


def seats_by_hand(
    torch: TorchContour,
    clear: Sequence[Lead],
    count: int,
    wanted: Sequence[Spot],
    barred: Sequence[Spot],
    pose: Pose,
) -> tuple[list[list[Lead]], list[Unmet]]:
    """Return the clear leads behind tabs, in the order of travel, and which wishes cannot be met.

    Parameters
    ----------
    torch : TorchContour
    clear : sequence of Lead
    count : int
        How many tabs are wanted in all.
    wanted, barred : sequence of places
        On the plate, mm.
    pose : Pose
        Of the part.
    """
    told: list[Unmet] = []
    by_seat: dict[int, list[Lead]] = {}
    for lead in clear:
        by_seat.setdefault(lead.station // SHAPES, []).append(lead)
    seats = list(by_seat.values())
    places = _places(torch, seats, pose)
    taken: list[int] = []
    for at in wanted:
        away = np.hypot(*(places - np.array(at)).T) if len(seats) else np.empty(0)
        away[taken] = np.inf
        best = int(away.argmin()) if len(away) else -1
        if best < 0 or away[best] > REACH_MM:
            told.append(("finds no place for a tab near the one chosen", at))
        else:
            taken.append(best)
    off = [np.hypot(*(places - np.array(at)).T) <= REACH_MM for at in barred]
    free = [
        k for k in range(len(seats))
        if not any(near[k] for near in off) and all(_apart(torch, seats[k], seats[t], count) for t in taken)
    ]  # fmt: skip
    rest = count - len(taken)
    others = choose_seats(torch, [lead for k in free for lead in seats[k]], rest) if rest > 0 and free else []
    chosen = [*(seats[k] for k in taken), *others]
    return sorted(chosen, key=lambda leads: leads[0].at), told


def _places(torch: TorchContour, seats: Sequence[Sequence[Lead]], pose: Pose) -> FloatArray:
    if not seats:
        return np.zeros((0, 2))
    return place_points(point_at(torch.path, np.array([leads[0].at for leads in seats])), pose)


def _apart(torch: TorchContour, one: Sequence[Lead], other: Sequence[Lead], count: int) -> bool:
    """Return whether two seats lie at least half the even distance from each other."""
    along = abs(one[0].at - other[0].at)
    return min(along, torch.length - along) >= 0.5 * torch.length / max(count, 1)
