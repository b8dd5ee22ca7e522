"""Parts made in Python instead of drawn: the same checks and directions as for a drawing."""

from __future__ import annotations

from collections.abc import Iterable

from cutplan.base.errors import DrawingError
from cutplan.drawing.model import BendLine, MarkText, Part
from cutplan.geometry import Path, contains, crossings, is_simple, oriented

__all__ = ["make_part"]


def make_part(
    name: str,
    outer: Path,
    holes: Iterable[Path] = (),
    *,
    marks: Iterable[Path] = (),
    bends: Iterable[BendLine] = (),
    texts: Iterable[MarkText] = (),
) -> Part:
    """Return a part of contours given in any direction.

    Parameters
    ----------
    name : str
    outer : Path
        Outer contour, mm.
    holes : iterable of Path
        Contours inside it that do not meet.
    marks : iterable of Path
        Lines to mark, open or closed.
    bends : iterable of BendLine
    texts : iterable of MarkText

    Returns
    -------
    Part
        Its outer contour counter-clockwise, its holes clockwise.

    Raises
    ------
    DrawingError
        If a contour is open or crosses itself, or a hole is not inside or meets another.
    """
    holes = tuple(holes)
    for what, contour in [("outer contour", outer), *((f"hole {n}", h) for n, h in enumerate(holes, 1))]:
        if not contour.closed or not is_simple(contour):
            fault = "crosses itself" if contour.closed else "is open"
            raise _refusal(name, f"the {what} {fault}", contour)
    for number, hole in enumerate(holes, 1):
        if len(crossings(outer, hole)) or not _inside(hole, outer):
            raise _refusal(name, f"hole {number} is not inside the outer contour", hole)
        for other in holes[: number - 1]:
            if len(crossings(hole, other)) or _inside(other, hole) or _inside(hole, other):
                raise _refusal(name, f"hole {number} meets another", hole)
    clockwise = tuple(oriented(hole, counter_clockwise=False) for hole in holes)
    return Part(
        name,
        oriented(outer, counter_clockwise=True),
        clockwise,
        tuple(marks),
        tuple(bends),
        tuple(texts),
    )


def _inside(inner: Path, outer: Path) -> bool:
    return bool(contains(outer, [inner.start])[0])


def _refusal(name: str, message: str, contour: Path) -> DrawingError:
    x, y = contour.start
    return DrawingError(message, where=f"part {name}", place=(float(x), float(y)), remedy="mend the contour")
