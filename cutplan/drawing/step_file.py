"""STEP files: flat plates, whose outline and thickness are those of the solid.

A solid is a plate where two equal, parallel flat faces bound it and every other face stands square
between them; its volume is then their area times their distance.  Anything else - a fold, a bevel,
a countersink - is refused with its place: a flat pattern is never guessed.

Solids come from the Open CASCADE kernel, which the extra `step` installs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.drawing.fitting import conic_rows, spline_rows
from cutplan.drawing.model import MarkText
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import ReadOptions
from cutplan.drawing.splines import BSpline
from cutplan.drawing.strokes import Conic, Source, Stroke
from cutplan.drawing.texts import TextLine
from cutplan.drawing.walk import Collected
from cutplan.geometry import FloatArray

__all__ = ["collect_step", "open_step"]

# Directions count as parallel or square within this, and areas and volumes as equal within this share.
SKEW = 1e-6
EQUAL = 1e-6
# Plates of one file are laid beside each other with this much room between, mm.
ROOM = 50.0
# Height of the text that states a solid's thickness, mm.
NOTE_HEIGHT = 1.0


@dataclass(frozen=True)
class _Face:
    """A face with what is asked of it: its normal where it is flat, its area."""

    face: Any
    normal: FloatArray | None
    origin: FloatArray
    area: float


def open_step(file: FilePath) -> list[Any]:
    """Return the solids of a STEP file, in mm.

    Raises
    ------
    DrawingError
        If the kernel is not installed, or the file holds no solid.
    """
    try:
        from OCP.IFSelect import IFSelect_ReturnStatus
        from OCP.STEPControl import STEPControl_Reader
        from OCP.TopAbs import TopAbs_ShapeEnum
        from OCP.TopExp import TopExp_Explorer
        from OCP.TopoDS import TopoDS
    except ImportError:
        raise DrawingError(
            "STEP files need the extra 'step'",
            where=str(file),
            remedy="install cutplan[step], or ask for the flat outline as DXF",
        ) from None
    reader = STEPControl_Reader()
    if reader.ReadFile(str(file)) != IFSelect_ReturnStatus.IFSelect_RetDone or not reader.TransferRoots():
        raise DrawingError("no sound STEP file", where=str(file), remedy="save it again")
    explorer = TopExp_Explorer(reader.OneShape(), TopAbs_ShapeEnum.TopAbs_SOLID)
    solids = []
    while explorer.More():
        solids.append(_cast(TopoDS, "Solid", explorer.Current()))
        explorer.Next()
    if not solids:
        raise DrawingError(
            "it holds no solid", where=str(file), remedy="export the solid, or the outline as DXF"
        )
    return solids


def _cast(topods: Any, name: str, shape: Any) -> Any:
    # The binding names static methods with an ending, in some of its versions.
    return getattr(topods, f"{name}_s" if hasattr(topods, f"{name}_s") else name)(shape)


def collect_step(solids: list[Any], options: ReadOptions, notes: Notes) -> Collected:
    """Return the outlines of plates, laid side by side, each with a text that states its thickness."""
    collected, x = Collected(), 0.0
    for number, solid in enumerate(solids, start=1):
        source = Source("SOLID", str(number), "", "0")
        collected.tally["SOLID", "0", 7, True] += 1
        try:
            runs, thickness = _plate(solid, options.tolerance)
        except DrawingError as error:
            message = f"{source} cannot be used: {error.message}"
            notes.add("refused", "solids that are no plates", message, error.place, error.remedy or "")
            continue
        points = np.vstack([rows[:, :2] for rows, _ in runs])
        shift = np.array([x - points[:, 0].min(), -points[:, 1].min(), 0.0])
        x += float(np.ptp(points[:, 0])) + ROOM
        for rows, closed in runs:
            collected.strokes["cut"].append(Stroke(rows + shift, closed, source, "0"))
        start = runs[0][0][0, :2] + shift[:2]
        text = MarkText(f"solid t={thickness:g}", (float(start[0]), float(start[1])), NOTE_HEIGHT)
        collected.notes.append(TextLine(text, "0", source))
    return collected


def _plate(solid: Any, tolerance: float) -> tuple[list[tuple[FloatArray, bool]], float]:
    """Return the outline of a solid that is a flat plate, and its thickness, mm."""
    faces = list(_faces(solid))
    flat = sorted((face for face in faces if face.normal is not None), key=lambda face: -face.area)
    if len(flat) < 2:
        raise DrawingError("it has no two flat faces", remedy="ask for the flat pattern as DXF")
    top = flat[0]
    assert top.normal is not None
    against = [f for f in flat[1:] if f.normal is not None and float(f.normal @ top.normal) < -1.0 + SKEW]
    bottom = max(against, key=lambda face: face.area, default=None)
    if bottom is None or abs(bottom.area - top.area) > EQUAL * top.area:
        raise DrawingError(
            "its two faces differ: it is folded, bevelled or countersunk",
            remedy="ask for the flat pattern as DXF, and enter the edge preparation in the job",
        )
    thickness = abs(float((bottom.origin - top.origin) @ top.normal))
    for face in faces:
        if face.face not in (top.face, bottom.face) and not _square_to(face, top.normal):
            raise DrawingError(
                "a face does not stand square to the plate", remedy="ask for the flat pattern as DXF"
            )
    volume = _volume(solid)
    if abs(volume - top.area * thickness) > 1e-5 * volume:
        raise DrawingError("its volume is not that of a flat plate", remedy="ask for the flat pattern as DXF")
    return _outline(top, tolerance), round(thickness, 6)


def _faces(solid: Any) -> Iterator[_Face]:
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepGProp import BRepGProp
    from OCP.GeomAbs import GeomAbs_SurfaceType
    from OCP.GProp import GProp_GProps
    from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    explorer = TopExp_Explorer(solid, TopAbs_ShapeEnum.TopAbs_FACE)
    while explorer.More():
        face = _cast(TopoDS, "Face", explorer.Current())
        explorer.Next()
        surface, properties = BRepAdaptor_Surface(face), GProp_GProps()
        BRepGProp.SurfaceProperties_s(face, properties)
        normal, origin = None, np.zeros(3)
        if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Plane:
            plane = surface.Plane()
            normal = _vector(plane.Axis().Direction())
            if not plane.Position().Direct():
                normal = -normal
            if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
                normal = -normal
            origin = _vector(plane.Location())
        yield _Face(face, normal, origin, float(properties.Mass()))


def _vector(thing: Any) -> FloatArray:
    return np.array([thing.X(), thing.Y(), thing.Z()])


def _volume(solid: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, properties)
    return abs(float(properties.Mass()))


def _square_to(face: _Face, normal: FloatArray) -> bool:
    """Return whether a face stands square to a plate: flat, round about its normal, or drawn along it."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_SurfaceType

    if face.normal is not None:
        return abs(float(face.normal @ normal)) < SKEW
    surface = BRepAdaptor_Surface(face.face)
    if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Cylinder:
        axis = _vector(surface.Cylinder().Axis().Direction())
    elif surface.GetType() == GeomAbs_SurfaceType.GeomAbs_SurfaceOfExtrusion:
        axis = _vector(surface.Direction())
    else:
        return False
    return abs(float(axis @ normal)) > 1.0 - SKEW


def _outline(face: _Face, tolerance: float) -> list[tuple[FloatArray, bool]]:
    """Return the edges of a flat face in its own plane, seen from outside the solid."""
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    assert face.normal is not None
    across = np.eye(3)[int(np.argmin(np.abs(face.normal)))]
    right = np.cross(across, face.normal)
    right /= np.linalg.norm(right)
    axes = np.array([right, np.cross(face.normal, right)])
    runs = []
    explorer = TopExp_Explorer(face.face, TopAbs_ShapeEnum.TopAbs_EDGE)
    while explorer.More():
        curve = BRepAdaptor_Curve(_cast(TopoDS, "Edge", explorer.Current()))
        explorer.Next()
        runs.append(_edge(curve, axes, tolerance))
    return runs


def _edge(curve: Any, axes: FloatArray, tolerance: float) -> tuple[FloatArray, bool]:
    from OCP.GeomAbs import GeomAbs_CurveType

    first, last = curve.FirstParameter(), curve.LastParameter()
    kind = curve.GetType()
    if kind == GeomAbs_CurveType.GeomAbs_Line:
        ends = np.array([axes @ _vector(curve.Value(t)) for t in (first, last)])
        return np.column_stack([ends, np.zeros(2)]), False
    if kind in (GeomAbs_CurveType.GeomAbs_Circle, GeomAbs_CurveType.GeomAbs_Ellipse):
        round_ = kind == GeomAbs_CurveType.GeomAbs_Circle
        conic = curve.Circle() if round_ else curve.Ellipse()
        radii = (conic.Radius(),) * 2 if round_ else (conic.MajorRadius(), conic.MinorRadius())
        a = radii[0] * (axes @ _vector(conic.XAxis().Direction()))
        b = radii[1] * (axes @ _vector(conic.YAxis().Direction()))
        centre = axes @ _vector(conic.Location())
        flat = Conic(_pair(centre), _pair(a), _pair(b), first, min(last - first, math.tau))
        return conic_rows(flat, tolerance)
    if kind in (GeomAbs_CurveType.GeomAbs_BSplineCurve, GeomAbs_CurveType.GeomAbs_BezierCurve):
        return spline_rows(_spline(curve, axes, first, last), tolerance)
    raise DrawingError(
        "an edge is a curve of a kind that is not read", remedy="ask for the flat outline as DXF"
    )


def _pair(v: FloatArray) -> tuple[float, float]:
    return float(v[0]), float(v[1])


def _spline(curve: Any, axes: FloatArray, first: float, last: float) -> BSpline:
    from OCP.GeomAbs import GeomAbs_CurveType

    bezier = curve.GetType() == GeomAbs_CurveType.GeomAbs_BezierCurve
    own = curve.Bezier() if bezier else curve.BSpline()
    count = own.NbPoles()
    points = np.array([axes @ _vector(own.Pole(k)) for k in range(1, count + 1)])
    weights = [own.Weight(k) for k in range(1, count + 1)] if own.IsRational() else None
    if bezier:
        knots = np.repeat([0.0, 1.0], own.Degree() + 1)
    else:
        knots = np.concatenate([[own.Knot(k)] * own.Multiplicity(k) for k in range(1, own.NbKnots() + 1)])
    return BSpline(own.Degree(), knots, points, weights, domain=(first, last))
