"""SVG drawings: paths and basic shapes become strokes, groups stand for layers.

Coordinates follow the SVG recommendation (W3C, SVG 1.1 chapters 7 to 9): y points down, transforms
nest, and the size of a user unit comes from the width, height and viewBox of the outermost element.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.base.findings import Finding
from cutplan.base.units import MM_PER_UNIT
from cutplan.drawing.fitting import conic_rows, spline_rows
from cutplan.drawing.frames import Frame
from cutplan.drawing.layers import asked_role, default_role
from cutplan.drawing.model import MarkText
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import ReadOptions, Role
from cutplan.drawing.splines import BSpline
from cutplan.drawing.strokes import Conic, Source, Stroke, check_points
from cutplan.drawing.texts import TextLine
from cutplan.drawing.units import Units
from cutplan.drawing.walk import Collected, TooMuchError
from cutplan.geometry import FloatArray

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["collect_svg", "open_svg", "svg_units"]

# Units of length that SVG knows (CSS 2.1), mm; pixels say nothing of a plate.
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72.0, "pc": 25.4 / 6.0}
_LENGTH = re.compile(r"\s*([-+]?[\d.]+(?:e[-+]?\d+)?)\s*([a-z%]*)\s*\Z", re.IGNORECASE)
_TRANSFORM = re.compile(r"(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
# Colours by the numbers that drawings elsewhere give them.
_COLOURS = {
    "red": 1, "#ff0000": 1, "#f00": 1, "yellow": 2, "#ffff00": 2, "lime": 3, "green": 3, "#00ff00": 3,
    "cyan": 4, "aqua": 4, "#00ffff": 4, "blue": 5, "#0000ff": 5, "#00f": 5, "magenta": 6, "fuchsia": 6,
    "#ff00ff": 6,
}  # fmt: skip
SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
UNSEEN = frozenset(
    {"defs", "symbol", "clipPath", "mask", "marker", "pattern", "metadata", "style", "title", "desc"}
)
DEEPEST = 200
DAMAGE = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)


@dataclass(frozen=True)
class _Around:
    """Where elements stand: the frame, the layer's name and role, and the style they inherit."""

    frame: Frame
    layer: str = "0"
    role: Role = "cut"
    asked: bool = False
    stroke: str = ""
    dashed: bool = False
    size: float = 16.0
    depth: int = 0


def open_svg(file: FilePath) -> Element:
    """Return the outermost element of an SVG file.

    Raises
    ------
    DrawingError
        If it is no sound XML, declares entities, or is no SVG.
    """
    from xml.etree import ElementTree

    content = file.read_bytes()
    if b"<!ENTITY" in content:
        raise DrawingError(
            "it declares entities, which are not read", where=str(file), remedy="save it as plain SVG"
        )
    try:
        root = ElementTree.fromstring(content)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise DrawingError(
            f"no sound SVG ({error})", where=str(file), remedy="save the drawing again"
        ) from error
    if _name(root) != "svg":
        raise DrawingError(
            f"an XML file of {_name(root)!r}, not SVG", where=str(file), remedy="ask for the DXF"
        )
    return root


def svg_units(root: Element, asked: str | None) -> Units:
    """Return the length of a user unit: as asked, or by the stated width, height and viewBox."""
    if asked is not None:
        return Units(asked, MM_PER_UNIT[asked], True)
    box = [float(n) for n in _NUMBER.findall(root.get("viewBox", ""))]
    for name, index in (("width", 2), ("height", 3)):
        stated = _LENGTH.match(root.get(name, ""))
        if stated and stated.group(2).lower() in _MM:
            unit = _MM[stated.group(2).lower()]
            size = float(stated.group(1)) * unit
            mm = size / box[index] if len(box) == 4 and box[index] > 0.0 else unit
            if mm > 0.0 and math.isfinite(mm):
                return Units(f"user units of {mm:g} mm" if mm != 1.0 else "mm", mm, True)
    message = "the file states no size in mm or inches; one unit was read as 1 mm"
    remedy = 'state units in the job, as units = "mm"'
    return Units("mm", 1.0, False, (Finding("question", message, None, remedy, "units"),))


def collect_svg(root: Element, options: ReadOptions, unit: float, notes: Notes) -> Collected:
    """Return all that an SVG draws, in mm, y upwards."""
    reader = _Reader(root, options, notes)
    reader.walk(root, _Around(Frame(xx=unit, yy=-unit)))
    return reader.collected


def _name(element: Element) -> str:
    return str(element.tag).rpartition("}")[2] if isinstance(element.tag, str) else ""


class _Reader:
    def __init__(self, root: Element, options: ReadOptions, notes: Notes) -> None:
        self.collected = Collected()
        self._options = options
        self._notes = notes
        self._by_id = {e.get("id"): e for e in root.iter() if e.get("id")}
        self._count = 0

    def walk(self, element: Element, around: _Around) -> None:
        """Take an element and what it holds."""
        kind = _name(element)
        self._count += 1
        if self._count > self._options.limits.entities or around.depth > DEEPEST:
            raise TooMuchError(
                f"it holds more than {self._options.limits.entities} elements, or nests them too deep",
                remedy="save the part alone in a file, or raise limits.entities in the job",
            )
        if kind in UNSEEN or not kind:
            return
        style = _style(element)
        if style.get("display") == "none" or style.get("visibility") == "hidden":
            self._leave(kind, around, "invisible")
            return
        try:
            around = self._inner(element, kind, style, around)
            self._take(element, kind, style, around)
        except TooMuchError:
            raise
        except (DrawingError, *DAMAGE) as error:
            words = error.message if isinstance(error, DrawingError) else "it is damaged and cannot be read"
            message = f"{self._source(element, kind, around)} cannot be used: {words}"
            place = around.frame.point(0.0, 0.0)
            self._notes.add("refused", "entities that cannot be used", message, place, "draw it again")

    def _inner(self, element: Element, kind: str, style: dict[str, str], around: _Around) -> _Around:
        frame = around.frame @ _transform(element.get("transform", ""))
        around = replace(
            around, frame=frame, depth=around.depth + 1, stroke=style.get("stroke", around.stroke)
        )
        if "stroke-dasharray" in style:
            around = replace(around, dashed=style["stroke-dasharray"] not in ("none", ""))
        if "font-size" in style:
            size = _LENGTH.match(style["font-size"])
            around = replace(around, size=float(size.group(1)) if size else around.size)
        name = element.get("id")
        if kind == "g" and name:
            asked = asked_role(name, self._options.layers)
            role = asked or default_role(name)
            around = replace(around, layer=name, role=role, asked=asked is not None)
        return around

    def _take(self, element: Element, kind: str, style: dict[str, str], around: _Around) -> None:
        if kind == "use":
            target = self._by_id.get((element.get("href") or element.get(_XLINK) or "").lstrip("#"))
            if target is None:
                raise DrawingError("it refers to nothing in the file")
            shift = Frame(x0=_number(element, "x"), y0=_number(element, "y"))
            inner = replace(around, frame=around.frame @ shift)
            for each in target if _name(target) == "symbol" else [target]:
                self.walk(each, inner)
        elif kind in SHAPES:
            self._shape(element, kind, around)
        elif kind == "text":
            self._text(element, around)
        elif kind in ("svg", "g", "a", "switch"):
            for child in element:
                self.walk(child, around)
        else:
            self._leave(kind, around, kind)

    def _shape(self, element: Element, kind: str, around: _Around) -> None:
        colour, role = _COLOURS.get(around.stroke.strip().lower(), 7), around.role
        if self._options.colours and not around.asked:
            role = self._options.colour_role(colour) or role
        if role == "ignore" or (role == "cut" and around.dashed and not around.asked):
            self._leave(kind, around, "dashed lines" if around.dashed else f"layer {around.layer}", colour)
            return
        source = self._source(element, kind, around)
        self.collected.tally[kind, around.layer, colour, True] += 1
        for rows, closed in _runs(element, kind, around.frame, self._options.tolerance):
            check_points(rows[:, :2])
            if len(rows) > 1:
                self.collected.strokes[role].append(Stroke(rows, closed, source, around.layer))

    def _text(self, element: Element, around: _Around) -> None:
        words = " ".join("".join(element.itertext()).split())
        if not words:
            return
        x, y = around.frame.point(_number(element, "x"), _number(element, "y"))
        along = around.frame.vector(1.0, 0.0)
        height = 0.7 * around.size * math.hypot(*along)
        text = MarkText(words, (x, y), max(height, 1e-3), math.degrees(math.atan2(along[1], along[0])))
        line = TextLine(text, around.layer, self._source(element, "text", around))
        self.collected.notes.append(line)
        wanted = around.role in ("mark", "bend")
        self.collected.tally["TEXT", around.layer, 7, wanted] += 1
        if wanted:
            self.collected.texts[around.role].append(line)

    def _leave(self, kind: str, around: _Around, reason: str, colour: int = 7) -> None:
        self._notes.ignored[reason] += 1
        self.collected.tally[kind, around.layer, colour, False] += 1

    def _source(self, element: Element, kind: str, around: _Around) -> Source:
        return Source(kind, element.get("id") or str(self._count), "", around.layer)


_XLINK = "{http://www.w3.org/1999/xlink}href"


def _style(element: Element) -> dict[str, str]:
    names = ("display", "visibility", "stroke", "stroke-dasharray", "font-size")
    style = {name: value for name in names if (value := element.get(name)) is not None}
    for pair in element.get("style", "").split(";"):
        name, _, value = pair.partition(":")
        if value:
            style[name.strip()] = value.strip()
    return style


def _number(element: Element, name: str, default: float = 0.0) -> float:
    stated = _LENGTH.match(element.get(name, ""))
    return float(stated.group(1)) if stated else default


def _transform(text: str) -> Frame:
    frame = Frame()
    for name, inside in _TRANSFORM.findall(text):
        v = [float(n) for n in _NUMBER.findall(inside)]
        if name == "matrix":
            step = Frame(v[0], v[2], v[1], v[3], v[4], v[5])
        elif name == "translate":
            step = Frame(x0=v[0], y0=v[1] if len(v) > 1 else 0.0)
        elif name == "scale":
            step = Frame(xx=v[0], yy=v[1] if len(v) > 1 else v[0])
        elif name == "rotate":
            c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
            x, y = (v[1], v[2]) if len(v) > 2 else (0.0, 0.0)
            step = Frame(c, -s, s, c, x - c * x + s * y, y - s * x - c * y)
        else:
            lean = math.tan(math.radians(v[0]))
            step = Frame(xy=lean) if name == "skewX" else Frame(yx=lean)
        frame = Frame(frame.xx, frame.xy, frame.yx, frame.yy, frame.x0, frame.y0) @ step
    return frame


Rows = tuple[FloatArray, bool]


def _runs(element: Element, kind: str, frame: Frame, tolerance: float) -> Iterator[Rows]:
    """Yield the vertices of a shape, and whether it closes."""
    if kind == "path":
        yield from _path_runs(element.get("d", ""), frame, tolerance)
    elif kind in ("circle", "ellipse"):
        rx, ry = (_number(element, n) for n in (("r", "r") if kind == "circle" else ("rx", "ry")))
        conic = Conic((_number(element, "cx"), _number(element, "cy")), (rx, 0.0), (0.0, ry))
        yield conic_rows(conic.mapped(frame), tolerance)
    elif kind == "rect":
        yield from _rectangle(element, frame, tolerance)
    elif kind == "line":
        ends = [
            [_number(element, "x1"), _number(element, "y1")],
            [_number(element, "x2"), _number(element, "y2")],
        ]
        yield _straight(np.array(ends), frame), False
    else:
        values = [float(n) for n in _NUMBER.findall(element.get("points", ""))]
        yield _straight(np.array(values[: len(values) // 2 * 2]).reshape(-1, 2), frame), kind == "polygon"


def _straight(points: FloatArray, frame: Frame) -> FloatArray:
    return np.column_stack([frame.points(points), np.zeros(len(points))])


def _rectangle(element: Element, frame: Frame, tolerance: float) -> Iterator[Rows]:
    x, y, w, h = (_number(element, name) for name in ("x", "y", "width", "height"))
    rx, ry = _number(element, "rx", -1.0), _number(element, "ry", -1.0)
    rx, ry = min(max(rx if rx >= 0 else ry, 0.0), w / 2), min(max(ry if ry >= 0 else rx, 0.0), h / 2)
    if rx == 0.0 or ry == 0.0:
        yield _straight(np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]), frame), True
        return
    turn = f"a{rx} {ry} 0 0 1"
    d = (
        f"M{x + rx} {y}H{x + w - rx}{turn} {rx} {ry}V{y + h - ry}{turn} {-rx} {ry}"
        f"H{x + rx}{turn} {-rx} {-ry}V{y + ry}{turn} {rx} {-ry}Z"
    )
    yield from _path_runs(d, frame, tolerance)


def _path_runs(d: str, frame: Frame, tolerance: float) -> Iterator[Rows]:
    """Yield the subpaths of a path's data."""
    from svg import path as svg_path

    pieces: list[FloatArray] = []
    for step in svg_path.parse_path(d):
        if isinstance(step, svg_path.Move):
            if pieces:
                yield _joined(pieces, False)
            pieces = []
            continue
        if abs(step.start - step.end) > 0.0 or not isinstance(step, svg_path.Line | svg_path.Close):
            pieces.append(_piece(step, frame, tolerance))
        if isinstance(step, svg_path.Close):
            if pieces:
                yield _joined(pieces, True)
            pieces = []
    if pieces:
        yield _joined(pieces, False)


def _piece(step: Any, frame: Frame, tolerance: float) -> FloatArray:
    from svg import path as svg_path

    ends = np.array([[step.start.real, step.start.imag], [step.end.real, step.end.imag]])
    if isinstance(step, svg_path.CubicBezier | svg_path.QuadraticBezier):
        middle = [step.control1, step.control2] if isinstance(step, svg_path.CubicBezier) else [step.control]
        points = np.array([ends[0], *((c.real, c.imag) for c in middle), ends[1]])
        degree = len(points) - 1
        knots = np.repeat([0.0, 1.0], degree + 1)
        return spline_rows(BSpline(degree, knots, frame.points(points)), tolerance)[0]
    if isinstance(step, svg_path.Arc) and step.radius.real and step.radius.imag:
        turn = math.radians(step.rotation)
        c, s = math.cos(turn), math.sin(turn)
        rx, ry = step.radius.real * step.radius_scale, step.radius.imag * step.radius_scale
        start, sweep = math.radians(step.theta), math.radians(step.delta)
        centre = (step.center.real, step.center.imag)
        rows, _ = conic_rows(
            Conic(centre, (rx * c, rx * s), (-ry * s, ry * c), start, sweep).mapped(frame), tolerance
        )
        rows[0, :2], rows[-1, :2] = frame.points(ends)
        return rows
    return _straight(ends, frame)


def _joined(pieces: list[FloatArray], closed: bool) -> Rows:
    rows = np.vstack([*(piece[:-1] for piece in pieces), pieces[-1][-1:]])
    if not closed:
        return rows, False
    # The closing line ends where the path began.
    near = len(rows) > 2 and np.hypot(*(rows[0, :2] - rows[-1, :2])) < 1e-9
    return (rows[:-1] if near else rows), True
