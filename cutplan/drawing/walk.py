"""Walking through a document: what is drawn on which layer, block references followed.

Entities become strokes and texts by role; nothing here joins them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from cutplan.base.errors import DrawingError
from cutplan.drawing.entities import READERS, SOLIDS, Context
from cutplan.drawing.frames import Frame, object_frame, placement, scaling
from cutplan.drawing.layers import Layer, Layers, is_construction_linetype
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import ReadOptions, Role
from cutplan.drawing.strokes import Source, Stroke
from cutplan.drawing.texts import TextLine, read_mtext, read_text

__all__ = ["Collected", "collect"]

# Bounds on what block references may unfold to.
MOST_ENTITIES = 300_000
DEEPEST_NESTING = 24
# Block type flag of an external reference (DXF reference, group code 70).
EXTERNAL = 4
# Blocks that carry the drawing's form rather than a part; common practice.
_FORM = re.compile(r"title|border|\blogo\b|\blegend\b|\bbom\b|revision", re.IGNORECASE)
# What a damaged entity can bring about in the library or in arithmetic on its values.
DAMAGE = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)


class TooMuchError(DrawingError):
    """The drawing is beyond all bounds, and reading on is no use."""


@dataclass
class Collected:
    """What a document draws, by role."""

    strokes: dict[Role, list[Stroke]] = field(default_factory=lambda: {"cut": [], "mark": [], "bend": []})
    texts: dict[Role, list[TextLine]] = field(default_factory=lambda: {"mark": [], "bend": []})


@dataclass(frozen=True)
class _Surroundings:
    """Where entities stand: the frame, and what layer "0" and BYBLOCK stand for."""

    frame: Frame
    layer: Layer | None = None
    linetype: str = "CONTINUOUS"
    blocks: tuple[str, ...] = ()


def collect(document: Any, options: ReadOptions, unit: float, notes: Notes) -> Collected:
    """Return all that the document's model space draws.

    Parameters
    ----------
    document : ezdxf document
    options : ReadOptions
    unit : float
        Length of a drawing unit, mm.
    notes : Notes
        Takes what was ignored and refused.
    """
    walker = _Walker(document, options, unit, notes)
    walker.walk(document.modelspace(), _Surroundings(scaling(unit)))
    return walker.collected


class _Walker:
    def __init__(self, document: Any, options: ReadOptions, unit: float, notes: Notes) -> None:
        self.collected = Collected()
        self._layers = Layers(document.layers, options.layers)
        self._blocks = document.blocks
        self._tolerance = options.tolerance
        self._unit = unit
        self._notes = notes
        self._count = 0
        self._construction: dict[str, bool] = {}
        self._sizes: dict[str, int] = {}

    def walk(self, entities: Iterable[Any], around: _Surroundings) -> None:
        """Take every entity of a layout or block."""
        context = Context(around.frame, self._unit, self._tolerance)
        for entity in entities:
            self._count += 1
            if self._count > MOST_ENTITIES:
                raise TooMuchError(
                    f"it unfolds to more than {MOST_ENTITIES} entities",
                    remedy="save the part alone in a file",
                )
            kind = entity.dxftype()
            try:
                self._take(kind, entity, context, around)
            except TooMuchError:
                raise
            except DrawingError as error:
                self._refuse(kind, entity, around, error)
            except DAMAGE:
                damaged = DrawingError("it is damaged and cannot be read", remedy="draw it again")
                self._refuse(kind, entity, around, damaged)

    def _count_in(self, more: int) -> None:
        self._count += more
        if self._count > MOST_ENTITIES:
            raise TooMuchError(
                f"it unfolds to more than {MOST_ENTITIES} entities", remedy="save the part alone in a file"
            )

    def _unfolded(self, name: str, outer: tuple[str, ...] = ()) -> int:
        """Return how many entities a block unfolds to; one that holds itself counts once."""
        if name not in self._sizes and name not in outer and self._blocks.get(name) is not None:
            total = 0
            for entity in self._blocks.get(name):
                total += 1
                if entity.dxftype() == "INSERT":
                    total += _copies(entity) * self._unfolded(str(entity.dxf.get("name", "")), (*outer, name))
            self._sizes[name] = total
        return self._sizes.get(name, 0)

    def _take(self, kind: str, entity: Any, context: Context, around: _Surroundings) -> None:
        dxf = entity.dxf
        layer = self._layers[dxf.layer]
        if around.layer is not None and layer.name == "0":
            layer = around.layer
        if dxf.get("invisible", 0):
            self._notes.ignored["invisible"] += 1
        elif kind == "INSERT":
            self._insert(entity, layer, around)
        elif layer.frozen or layer.off:
            self._notes.ignored[f"layer {layer.name} ({'frozen' if layer.frozen else 'off'})"] += 1
        elif layer.role == "ignore":
            self._notes.ignored[f"layer {layer.name}"] += 1
        elif kind in READERS:
            self._edge(kind, entity, layer, context, around)
        elif kind in ("TEXT", "ATTRIB", "MTEXT") and layer.role in ("mark", "bend"):
            read = read_mtext if kind == "MTEXT" else read_text
            source = _source(kind, entity, around)
            texts = [TextLine(text, layer.name, source) for text in read(entity, around.frame)]
            self.collected.texts[layer.role] += texts
        elif kind in SOLIDS:
            raise DrawingError(
                "it is no flat outline", remedy="draw the part's outline with lines and arcs (explode it)"
            )
        else:
            self._notes.ignored[kind] += 1

    def _edge(self, kind: str, entity: Any, layer: Layer, context: Context, around: _Surroundings) -> None:
        if layer.role == "cut" and not layer.asked:
            linetype = self._linetype(entity, layer, around)
            if self._is_construction(linetype):
                self._notes.ignored[f"linetype {linetype}"] += 1
                return
        source = _source(kind, entity, around)
        for rows, closed in READERS[kind](entity, context):
            self.collected.strokes[layer.role].append(Stroke(rows, closed, source, layer.name))

    def _linetype(self, entity: Any, layer: Layer, around: _Surroundings) -> str:
        own = entity.dxf.get("linetype")
        if own is None or own.upper() == "BYLAYER":
            return layer.linetype
        return around.linetype if own.upper() == "BYBLOCK" else str(own)

    def _is_construction(self, linetype: str) -> bool:
        known = self._construction.get(linetype)
        if known is None:
            known = self._construction[linetype] = is_construction_linetype(linetype)
        return known

    def _insert(self, entity: Any, layer: Layer, around: _Surroundings) -> None:
        name = str(entity.dxf.get("name", ""))
        if layer.frozen or layer.role == "ignore":
            self._notes.ignored[f"layer {layer.name}{' (frozen)' if layer.frozen else ''}"] += 1
            return
        if _FORM.search(name) and not layer.asked:
            self._notes.ignored[f"block {name}"] += 1
            return
        block = self._blocks.get(name)
        if block is None:
            raise DrawingError(
                f"the block {name!r} is not in the file", remedy="bind or explode it and save again"
            )
        header = block.block.dxf
        if int(header.get("flags", 0)) & EXTERNAL:
            place = around.frame.point(entity.dxf.insert.x, entity.dxf.insert.y)
            message = f"block {name!r} stands for another file, which is not read"
            self._notes.add("warning", "external references", message, place, "bind it if it holds edges")
            return
        if name in around.blocks or len(around.blocks) >= DEEPEST_NESTING:
            raise DrawingError(f"the block {name!r} holds itself, or is nested too deep", remedy="explode it")
        if not around.blocks and self._count + _copies(entity) * self._unfolded(name) > MOST_ENTITIES:
            self._count_in(MOST_ENTITIES)
        linetype = self._linetype(entity, layer, around)
        base = (header.base_point.x, header.base_point.y)
        for frame in _placements(entity, around.frame, base):
            self.walk(block, _Surroundings(frame, layer, linetype, (*around.blocks, name)))
        self.walk(entity.attribs, around)

    def _refuse(self, kind: str, entity: Any, around: _Surroundings, error: DrawingError) -> None:
        place = _some_place(entity, around.frame)
        message = f"{_source(kind, entity, around)} cannot be used: {error.message}"
        self._notes.add("refused", "entities that cannot be used", message, place, error.remedy or "")


def _source(kind: str, entity: Any, around: _Surroundings) -> Source:
    return Source(kind, entity.dxf.handle, around.blocks[-1] if around.blocks else "")


def _grid(entity: Any) -> tuple[int, int]:
    """Return rows and columns of a block reference; copies on top of each other count once."""
    dxf = entity.dxf
    rows = int(dxf.get("row_count", 1)) if dxf.get("row_spacing", 0.0) else 1
    columns = int(dxf.get("column_count", 1)) if dxf.get("column_spacing", 0.0) else 1
    return max(rows, 1), max(columns, 1)


def _copies(entity: Any) -> int:
    rows, columns = _grid(entity)
    return rows * columns


def _placements(entity: Any, outer: Frame, base: tuple[float, float]) -> Iterable[Frame]:
    """Yield a frame for each copy in a block reference; an array's grid turns but does not scale."""
    dxf = entity.dxf
    insert, own = dxf.insert, object_frame(dxf.extrusion)
    rows, columns = _grid(entity)
    step_y, step_x = float(dxf.get("row_spacing", 0.0)), float(dxf.get("column_spacing", 0.0))
    rotation = float(dxf.get("rotation", 0.0))
    scale = (float(dxf.get("xscale", 1.0)), float(dxf.get("yscale", 1.0)))
    turn = placement((insert.x, insert.y), rotation, (1.0, 1.0), (0.0, 0.0))
    for row in range(rows):
        for column in range(columns):
            spot = turn.point(column * step_x, row * step_y)
            yield outer @ own @ placement(spot, rotation, scale, base)


def _some_place(entity: Any, frame: Frame) -> tuple[float, float] | None:
    """Return a place on a refused entity, where it has one."""
    carriers = [entity, *(entity.vertices[:1] if entity.dxftype() == "POLYLINE" else ())]
    for carrier in carriers:
        for name in ("start", "center", "insert", "location"):
            if carrier.dxf.is_supported(name) and carrier.dxf.hasattr(name):
                point = carrier.dxf.get(name)
                return frame.point(point.x, point.y)
    for points in (getattr(entity, "control_points", ()), getattr(entity, "lwpoints", ())):
        for first in points:
            return frame.point(float(first[0]), float(first[1]))
    return None
