"""One function for each kind of entity that draws an edge: DXF attributes to strokes.

Coordinates and extrusions follow the DXF reference: LINE, ELLIPSE and SPLINE live in world
coordinates, ARC, CIRCLE and the flat polylines in object coordinates under their extrusion.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.drawing.fitting import conic_rows, spline_rows
from cutplan.drawing.frames import Frame, object_frame, similarity
from cutplan.drawing.splines import BSpline
from cutplan.drawing.strokes import (
    FARTHEST,
    WHOLE_TURN,
    Conic,
    arc_rows,
    check_numbers,
    check_points,
    polyline_rows,
    segment_conic,
    split_wide,
)
from cutplan.geometry import FloatArray

__all__ = ["READERS", "SOLIDS", "Context"]

# Heights that differ by less than this, mm, are one height.
FLAT = 1e-3
# Bits of a POLYLINE's flags and of its vertices' (DXF reference, group code 70).
CLOSED, POLYLINE_3D, MESH, POLYFACE = 1, 8, 16, 64
FRAME_VERTEX = 16
QUADRATIC = 5
# Fit points that a spline is laid through: the effort grows with their square.
MOST_FIT_POINTS = 1000

Rows = tuple[FloatArray, bool]

# Entities with depth: they stand for a shape in space and are not read as an outline.
SOLIDS = frozenset(
    {"3DFACE", "3DSOLID", "BODY", "REGION", "MESH", "SURFACE", "EXTRUDEDSURFACE", "LOFTEDSURFACE",
     "REVOLVEDSURFACE", "SWEPTSURFACE", "PLANESURFACE", "HELIX", "MLINE"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Context:
    """Where an entity stands.

    Attributes
    ----------
    frame : Frame
        From the entity's surroundings to the drawing, mm.
    unit : float
        Length of a drawing unit, mm.
    tolerance : float
        For curves replaced by arcs, mm.
    """

    frame: Frame
    unit: float
    tolerance: float


def _required(entity: Any, *names: str) -> Sequence[Any]:
    """Return attributes that an entity must have; the library would put a default in their place."""
    values = list(map(vars(entity.dxf).get, names))
    for value in values:
        if value is None:
            missing = [name for name, value in zip(names, values, strict=True) if value is None]
            raise DrawingError(f"it lacks its {' and '.join(missing)}", remedy="draw it again")
    return values


def _flat(heights: Iterable[float], context: Context) -> None:
    values = list(heights)
    rise = (max(values) - min(values)) * context.unit if values else 0.0
    if not rise <= FLAT:
        raise DrawingError(
            f"it rises by {rise:.3f} mm out of the plane", remedy="draw it flat in the xy plane"
        )


def read_line(entity: Any, context: Context) -> list[Rows]:
    """Read a LINE."""
    a, b = _required(entity, "start", "end")
    if a.z != b.z:
        _flat((a.z, b.z), context)
    (x0, y0), (x1, y1) = context.frame.point(a.x, a.y), context.frame.point(b.x, b.y)
    # The sum is a quick look: it is too large, or no number, wherever one of them is.
    if not abs(x0) + abs(y0) + abs(x1) + abs(y1) <= FARTHEST:
        check_numbers(x0, y0, x1, y1)
    return [(np.array([[x0, y0, 0.0], [x1, y1, 0.0]]), False)]


def read_circle(entity: Any, context: Context) -> list[Rows]:
    """Read a CIRCLE."""
    centre, radius = _required(entity, "center", "radius")
    return [_round(entity, context, centre, radius, 0.0, 2.0 * math.pi)]


def read_arc(entity: Any, context: Context) -> list[Rows]:
    """Read an ARC; angles that differ by a whole turn make a full circle."""
    centre, radius, start, end = _required(entity, "center", "radius", "start_angle", "end_angle")
    sweep = (end - start) % 360.0
    if sweep == 0.0 and start != end:
        sweep = 360.0
    return [_round(entity, context, centre, radius, math.radians(start), math.radians(sweep))]


def _round(entity: Any, context: Context, centre: Any, radius: float, start: float, sweep: float) -> Rows:
    radius, frame = abs(radius), _own_frame(entity, context)
    alike = similarity(frame)
    if alike is None:
        conic = Conic((centre.x, centre.y), (radius, 0.0), (0.0, radius), start, sweep)
        return conic_rows(conic.mapped(frame), context.tolerance)
    scale, turn, sense = alike
    x, y = frame.point(centre.x, centre.y)
    check_numbers(x, y, scale * radius, start, sweep)
    return arc_rows((x, y), scale * radius, turn + sense * start, sense * sweep), sweep >= WHOLE_TURN


def _own_frame(entity: Any, context: Context) -> Frame:
    extrusion = entity.dxf.get("extrusion")
    return context.frame if extrusion is None else context.frame @ object_frame(extrusion)


def read_ellipse(entity: Any, context: Context) -> list[Rows]:
    """Read an ELLIPSE: its minor axis is extrusion × major axis × ratio."""
    centre, major, ratio = _required(entity, "center", "major_axis", "ratio")
    object_frame(entity.dxf.extrusion)
    _flat((0.0, major.z), context)
    side = 1.0 if entity.dxf.extrusion.z > 0.0 else -1.0
    start, end = float(entity.dxf.start_param), float(entity.dxf.end_param)
    sweep = (end - start) % (2.0 * math.pi)
    if sweep < 1e-9 and start != end:
        sweep = 2.0 * math.pi
    minor = (-side * abs(ratio) * major.y, side * abs(ratio) * major.x)
    conic = Conic((centre.x, centre.y), (major.x, major.y), minor, start, sweep)
    return [conic_rows(conic.mapped(context.frame), context.tolerance)]


def read_lwpolyline(entity: Any, context: Context) -> list[Rows]:
    """Read an LWPOLYLINE with its bulges."""
    values = np.asarray(entity.lwpoints.values, dtype=np.float64)
    rows = np.ascontiguousarray(values[:, [0, 1, 4]])
    return _bulged(rows, bool(entity.dxf.flags & CLOSED), _own_frame(entity, context), context)


def read_polyline(entity: Any, context: Context) -> list[Rows]:
    """Read a POLYLINE: flat with bulges, curve-fit or spline-fit, or 3D at one height."""
    flags = int(entity.dxf.flags)
    if flags & (MESH | POLYFACE):
        raise DrawingError("it is a mesh in space", remedy="draw the flat outline of the part")
    drawn = [v for v in entity.vertices if not int(v.dxf.flags) & FRAME_VERTEX]
    if not drawn and entity.vertices:
        return _frame_spline(entity, context)
    places = [_required(vertex, "location")[0] for vertex in drawn]
    _flat((place.z for place in places), context)
    flat = not flags & POLYLINE_3D
    rows = np.array(
        [
            (p.x, p.y, float(v.dxf.get("bulge", 0.0)) if flat else 0.0)
            for p, v in zip(places, drawn, strict=True)
        ]
    ).reshape(-1, 3)
    frame = _own_frame(entity, context) if flat else context.frame
    return _bulged(rows, bool(flags & CLOSED), frame, context)


def _frame_spline(entity: Any, context: Context) -> list[Rows]:
    """Return the B-spline of a spline-fit polyline that holds its control frame alone."""
    closed = bool(int(entity.dxf.flags) & CLOSED)
    degree = 2 if int(entity.dxf.get("smooth_type", 6)) == QUADRATIC else 3
    places = [vertex.dxf.location for vertex in entity.vertices]
    _flat((place.z for place in places), context)
    points = _own_frame(entity, context).points(np.array([(p.x, p.y) for p in places]))
    check_points(points)
    if closed:
        points = np.vstack([points, points[:degree]])
        knots = np.arange(len(points) + degree + 1, dtype=np.float64)
    else:
        inner = np.arange(1.0, len(points) - degree)
        knots = np.concatenate([np.zeros(degree + 1), inner, np.full(degree + 1, len(inner) + 1.0)])
    return [spline_rows(BSpline(degree, knots, points), context.tolerance)]


def _bulged(rows: FloatArray, closed: bool, frame: Frame, context: Context) -> list[Rows]:
    if len(rows) < 2:
        raise DrawingError("it has fewer than two vertices", remedy="delete it or draw it again")
    check_points(rows)
    check_points(frame.points(rows[:, :2]))
    if not rows[:, 2].any() or similarity(frame) is not None:
        return [(split_wide(polyline_rows(rows, frame), closed), closed)]
    ends = np.roll(rows, -1, axis=0)
    pieces = []
    for row, end in zip(rows, ends, strict=True) if closed else zip(rows[:-1], ends, strict=False):
        if row[2] == 0.0:
            pieces.append(polyline_rows(np.array([[row[0], row[1], 0.0]]), frame))
        else:
            pieces.append(conic_rows(segment_conic(row, end).mapped(frame), context.tolerance)[0][:-1])
    if not closed:
        pieces.append(polyline_rows(np.array([[rows[-1][0], rows[-1][1], 0.0]]), frame))
    return [(np.vstack(pieces), closed)]


def read_spline(entity: Any, context: Context) -> list[Rows]:
    """Read a SPLINE by its control points, or through its fit points where it has no others."""
    control = np.asarray(entity.control_points, dtype=np.float64).reshape(-1, 3)
    if len(control) == 0:
        return _through_fit_points(entity, context)
    _flat(control[:, 2], context)
    points = context.frame.points(control[:, :2])
    check_points(points)
    weights = entity.weights if len(entity.weights) else None
    curve = BSpline(int(entity.dxf.degree), entity.knots, points, weights)
    return [spline_rows(curve, context.tolerance)]


def _through_fit_points(entity: Any, context: Context) -> list[Rows]:
    """Return the cubic spline through fit points, by chord lengths, as drawing programs do."""
    from ezdxf.math import fit_points_to_cad_cv

    fit = np.asarray(entity.fit_points, dtype=np.float64).reshape(-1, 3)
    if not 2 <= len(fit) <= MOST_FIT_POINTS:
        raise DrawingError(f"it has {len(fit)} fit points and no control points", remedy="draw it again")
    _flat(fit[:, 2], context)
    check_points(context.frame.points(fit[:, :2]))
    tangents = None
    if entity.dxf.hasattr("start_tangent") and entity.dxf.hasattr("end_tangent"):
        tangents = [entity.dxf.start_tangent, entity.dxf.end_tangent]
    round_about = 0
    if entity.closed:
        # The points once more on both sides make a natural spline periodic in the middle.
        ring = fit[:-1] if np.array_equal(fit[0], fit[-1]) else fit
        round_about = len(ring)
        fit, tangents = np.vstack([ring, ring, ring, ring[:1]]), None
    curve = fit_points_to_cad_cv([tuple(p) for p in fit], tangents=tangents)
    points = context.frame.points(np.array([(p.x, p.y) for p in curve.control_points]))
    knots = list(curve.knots())
    domain = (knots[3 + round_about], knots[3 + 2 * round_about]) if round_about else None
    return [spline_rows(BSpline(curve.degree, knots, points, domain=domain), context.tolerance)]


READERS: dict[str, Callable[[Any, Context], list[Rows]]] = {
    "LINE": read_line,
    "CIRCLE": read_circle,
    "ARC": read_arc,
    "ELLIPSE": read_ellipse,
    "LWPOLYLINE": read_lwpolyline,
    "POLYLINE": read_polyline,
    "SPLINE": read_spline,
}
