"""The one currency from drawing to program: a path of lines and arcs.

Terminology
-----------
vertex : a point of the path and the bulge of the segment that leaves it.
bulge : tan(included angle / 4) of a segment, positive counter-clockwise, 0 for a line
    (DXF reference, group code 42).
segment : the line or arc from one vertex to the next; in a closed path the last vertex's
    segment returns to the first vertex.
contour : a closed path.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.base.errors import GeometryError

__all__ = ["FloatArray", "Path", "Segments", "arc", "circle", "join", "polygon", "polyline", "reverse"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Segments:
    """The segments of a path, a row each.

    Attributes
    ----------
    start, end : ndarray, shape (n, 2)
        End points, mm.
    bulge : ndarray, shape (n,)
        0 for lines.
    centre : ndarray, shape (n, 2)
        Arc centres; nan for lines.
    radius : ndarray, shape (n,)
        Arc radii; inf for lines.
    sweep : ndarray, shape (n,)
        Signed included angle, rad, positive counter-clockwise; 0 for lines.
    length : ndarray, shape (n,)
        Length along the segment, mm.
    """

    start: FloatArray
    end: FloatArray
    bulge: FloatArray
    centre: FloatArray
    radius: FloatArray
    sweep: FloatArray
    length: FloatArray

    @property
    def is_arc(self) -> NDArray[np.bool_]:
        """Which rows are arcs, shape (n,)."""
        return np.asarray(self.bulge != 0.0)

    def __len__(self) -> int:
        return len(self.bulge)


@dataclass(frozen=True, eq=False, repr=False)
class Path:
    """A path of lines and arcs.

    Parameters
    ----------
    vertices : array_like, shape (n, 3)
        x, y in mm and the bulge of the segment leaving the vertex.  In an open path the
        last bulge has no segment and is stored as 0.
    closed : bool
        Whether the last vertex is joined to the first.

    Raises
    ------
    GeometryError
        If the shape is wrong or a value is not finite.
    """

    vertices: FloatArray
    closed: bool = True

    def __post_init__(self) -> None:
        vertices = np.array(self.vertices, dtype=np.float64, order="C")
        if vertices.ndim != 2 or vertices.shape[1] != 3 or len(vertices) < 2:
            raise GeometryError(
                f"a path needs at least two vertices of x, y and bulge, got shape {vertices.shape}"
            )
        if not np.isfinite(vertices).all():
            raise GeometryError("a path holds a coordinate or bulge that is not a finite number")
        if not self.closed:
            vertices[-1, 2] = 0.0
        vertices.setflags(write=False)
        object.__setattr__(self, "vertices", vertices)

    def __len__(self) -> int:
        """Return the number of segments."""
        return len(self.vertices) if self.closed else len(self.vertices) - 1

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Path):
            return NotImplemented
        return self.closed == other.closed and np.array_equal(self.vertices, other.vertices)

    def __repr__(self) -> str:
        arcs, kind = int(np.count_nonzero(self.vertices[:, 2])), "closed" if self.closed else "open"
        (x, y) = self.start
        return f"<Path, {kind}: {len(self) - arcs} lines, {arcs} arcs from ({x:g}, {y:g}) mm>"

    def __hash__(self) -> int:
        return hash((self.closed, self.vertices.tobytes()))

    @property
    def points(self) -> FloatArray:
        """The vertices' places, shape (n, 2), mm."""
        return self.vertices[:, :2]

    @property
    def start(self) -> FloatArray:
        """First point, shape (2,), mm."""
        return self.vertices[0, :2]

    @property
    def end(self) -> FloatArray:
        """Last point, shape (2,), mm; the first point where the path is closed."""
        return self.vertices[0 if self.closed else -1, :2]

    @cached_property
    def segments(self) -> Segments:
        """The segments with their arc centres, radii, sweeps and lengths."""
        return _segments(self.vertices, self.closed)


def _segments(vertices: FloatArray, closed: bool) -> Segments:
    start = vertices[:, :2]
    end = np.roll(start, -1, axis=0)
    bulge = vertices[:, 2]
    if not closed:
        start, end, bulge = start[:-1], end[:-1], bulge[:-1]
    chord = end - start
    chord_length = np.hypot(chord[:, 0], chord[:, 1])
    is_arc = bulge != 0.0
    b = np.where(is_arc, bulge, 1.0)
    # The centre lies on the chord's perpendicular bisector, (1 − b²) / 4b chords to its left.
    offset = (1.0 - b * b) / (4.0 * b)
    normal = np.column_stack([-chord[:, 1], chord[:, 0]])
    centre = 0.5 * (start + end) + offset[:, None] * normal
    radius = chord_length * (1.0 + b * b) / (4.0 * np.abs(b))
    sweep = 4.0 * np.arctan(b)
    return Segments(
        start=start,
        end=end,
        bulge=bulge,
        centre=np.where(is_arc[:, None], centre, np.nan),
        radius=np.where(is_arc, radius, np.inf),
        sweep=np.where(is_arc, sweep, 0.0),
        length=np.where(is_arc, radius * np.abs(sweep), chord_length),
    )


def polygon(points: ArrayLike) -> Path:
    """Return the closed path of straight lines through points of shape (n, 2).

    Parameters
    ----------
    points : array_like, shape (n, 2)

    Returns
    -------
    Path
    """
    return Path(_with_bulge(points), closed=True)


def polyline(points: ArrayLike) -> Path:
    """Return the open path of straight lines through points of shape (n, 2).

    Parameters
    ----------
    points : array_like, shape (n, 2)

    Returns
    -------
    Path
    """
    return Path(_with_bulge(points), closed=False)


def _with_bulge(points: ArrayLike) -> FloatArray:
    array = np.asarray(points, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != 2:
        raise GeometryError(f"points must have shape (n, 2), got {array.shape}")
    return np.column_stack([array, np.zeros(len(array))])


def circle(centre: Sequence[float], radius: float, *, clockwise: bool = False, start: float = 0.0) -> Path:
    """Return a circle as two half circles.

    Parameters
    ----------
    centre : sequence of float
        Centre, mm.
    radius : float
        Radius, mm, above zero.
    clockwise : bool
        Direction of travel.
    start : float
        Angle of the first vertex, rad.

    Returns
    -------
    Path

    Raises
    ------
    GeometryError
        If the radius is not above zero.
    """
    if not radius > 0.0:
        raise GeometryError(f"a circle needs a radius above zero, got {radius}")
    dx, dy = radius * math.cos(start), radius * math.sin(start)
    bulge = -1.0 if clockwise else 1.0
    x, y = float(centre[0]), float(centre[1])
    return Path(np.array([[x + dx, y + dy, bulge], [x - dx, y - dy, bulge]]), closed=True)


def arc(centre: Sequence[float], radius: float, start: float, sweep: float) -> Path:
    """Return an open arc.

    Parameters
    ----------
    centre : sequence of float
        Centre, mm.
    radius : float
        Radius, mm.
    start : float
        Angle of the first point, rad.
    sweep : float
        Signed included angle, rad, at most a full turn; arcs over half a turn are split so
        that no bulge exceeds 1.

    Returns
    -------
    Path
    """
    pieces = max(1, math.ceil(abs(sweep) / math.pi - 1e-12))
    angles = start + sweep * np.arange(pieces + 1) / pieces
    vertices = np.column_stack(
        [
            centre[0] + radius * np.cos(angles),
            centre[1] + radius * np.sin(angles),
            np.full(pieces + 1, math.tan(sweep / pieces / 4.0)),
        ]
    )
    return Path(vertices, closed=False)


def reverse(path: Path) -> Path:
    """Return the path travelled the other way; a closed one keeps its first vertex.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Path
    """
    points = path.vertices[::-1, :2]
    if path.closed:
        points = np.roll(points, 1, axis=0)
        bulges = -path.vertices[::-1, 2]
    else:
        bulges = np.append(-path.vertices[-2::-1, 2], 0.0)
    return Path(np.column_stack([points, bulges]), closed=path.closed)


def join(paths: Iterable[Path], *, closed: bool = False) -> Path:
    """Return open paths laid end to end as one.

    Each must start where the one before it ends, to 1e-6 mm.

    Parameters
    ----------
    paths : iterable of Path
        Open, each beginning where the one before ends.
    closed : bool, optional
        The last ends where the first begins.

    Returns
    -------
    Path

    Raises
    ------
    GeometryError
        If there is a gap; the message gives the place.
    """
    rows: list[FloatArray] = []
    last: FloatArray | None = None
    for path in paths:
        if path.closed:
            raise GeometryError("only open paths can be joined")
        if last is not None and np.hypot(*(path.start - last)) > 1e-6:
            raise GeometryError("a gap between joined paths", place=(float(last[0]), float(last[1])))
        rows.append(path.vertices[:-1])
        last = path.end
    if last is None:
        raise GeometryError("no paths to join")
    if not closed:
        rows.append(np.array([[last[0], last[1], 0.0]]))
    elif np.hypot(*(rows[0][0, :2] - last)) > 1e-6:
        raise GeometryError("joined paths do not close", place=(float(last[0]), float(last[1])))
    return Path(np.vstack(rows), closed=closed)
