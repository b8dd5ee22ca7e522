"""Which direction of a part must lie along the rolling of its plate."""

from __future__ import annotations

import math

from cutplan.base.errors import JobError
from cutplan.drawing import Part
from cutplan.planning.entries import WantedEntry

__all__ = ["rolling_direction"]


def rolling_direction(entry: WantedEntry, part: Part) -> float | None:
    """Return the drawing direction, degrees, that must lie along the rolling of the plate.

    Parameters
    ----------
    entry : WantedEntry
    part : Part

    Returns
    -------
    float or None
        None where it does not matter.

    Raises
    ------
    JobError
        If it is to be across bends and the part has none.
    """
    wish = entry.rolling_direction
    if wish is None or isinstance(wish, float | int):
        return wish
    if wish != "across bends":
        return {"x": 0.0, "y": 90.0}[wish]
    if not part.bends:
        raise JobError(
            f"part {part.name!r} asks for rolling across its bends but its drawing has no bend line",
            where=part.source,
            remedy="draw bend lines on the bend layer, or leave rolling_direction out",
        )
    (x0, y0), (x1, y1) = part.bends[0].start, part.bends[0].end
    return (math.degrees(math.atan2(y1 - y0, x1 - x0)) + 90.0) % 180.0
