"""Heights that a program gives: where the torch comes down while it moves, and what cannot be said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutplan.base.errors import ProgramError
from cutplan.process import CutData
from cutplan.program.numbers import NumberFormat
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.rounding import Move
from cutplan.program.stretches import Stretch

__all__ = ["heights_along", "refuse_wrong_heights"]


def heights_along(
    piece: Stretch, moves: Sequence[Move], here: tuple[int, int], numbers: NumberFormat
) -> list[int | None]:
    """Return the height behind each move of a stretch, in steps: even along the way.

    Parameters
    ----------
    piece : Stretch
    moves : sequence of Move
        Its moves.
    here : tuple of int
        Where they begin, in steps.
    numbers : NumberFormat

    Returns
    -------
    list of int or None
        None where the height stays as it is.
    """
    if piece.heights is None:
        return [None] * len(moves)
    first, last = piece.heights
    ways = []
    for move in moves:
        ways.append(move.length(here))
        here = (move.x, move.y)
    done = np.cumsum(ways) / sum(ways) if moves else ()
    return [numbers.steps(first + float(share) * (last - first)) for share in done]


def refuse_wrong_heights(data: CutData, post: PostProcessor) -> None:
    """Refuse cutting data whose heights a post-processor cannot say.

    Raises
    ------
    ProgramError
        The torch pierces above its travel height, or preheats at a height that the program
        knows nothing of.
    """
    heights = post.settings.heights
    if heights is None:
        return
    highest = max(data.pierce_height, data.preheat_height)
    if highest > heights.travel_mm:
        raise ProgramError(
            f"{data.title} at {data.thickness:g} mm starts {highest:g} mm high, above the torch's travel "
            f"at {heights.travel_mm:g} mm",
            where=post.source,
            remedy="raise heights.travel_mm",
        )
    if data.process == "oxyfuel" and not post.preheats_apart and data.preheat_height != data.pierce_height:
        raise ProgramError(
            f"{data.title} preheats at {data.preheat_height:g} mm and pierces at {data.pierce_height:g} mm, "
            "and the post-processor knows no height for preheating",
            where=post.source,
            remedy="put {preheat_height} into lines.lower_torch, and {pierce_height} behind the preheat",
        )
