"""Walking through a document: what is drawn on which layer, block references followed.

Entities become strokes and texts by role; nothing here joins them.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from cutplan.base.errors import DrawingError
from cutplan.drawing.entities import READERS, SOLIDS, Context
from cutplan.drawing.frames import Frame, object_frame, placement, scaling
from cutplan.drawing.layers import Layer, Layers, is_construction_linetype
from cutplan.drawing.load import model_space
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import COLOUR_NAMES, ReadOptions, Role
from cutplan.drawing.strokes import Source, Stroke
from cutplan.drawing.texts import TextLine, read_mtext, read_text

__all__ = ["Collected", "collect"]

# How deep block references may be nested.
DEEPEST_NESTING = 24
# Entities that speak about parts rather than draw them.
ANNOTATIONS = frozenset(
    {"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "TOLERANCE",
     "ACAD_TABLE"}
)  # fmt: skip
TEXTS = ("TEXT", "ATTRIB", "MTEXT")
# Attributes that decide how an edge is taken.
TELLING = ("layer", "color", "linetype", "invisible")
# Colour numbers that stand for the block's and the layer's (DXF reference, group code 62).
BY_BLOCK, BY_LAYER = 0, 256
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
    """What a document draws, by role.

    Attributes
    ----------
    strokes : mapping of role to strokes
    texts : mapping of role to lines of text
        Those to mark, and those that speak of bends.
    notes : list of TextLine
        All texts that are to be seen, whatever their layer.
    annotations : list of tuple
        Places of dimensions, leaders and the like.
    tally : Counter
        Entities by kind, layer, colour, and whether they were used.
    """

    strokes: dict[Role, list[Stroke]] = field(
        default_factory=lambda: {"cut": [], "mark": [], "bend": [], "bevel": []}
    )
    texts: dict[Role, list[TextLine]] = field(default_factory=lambda: {"mark": [], "bend": []})
    notes: list[TextLine] = field(default_factory=list)
    annotations: list[tuple[float, float]] = field(default_factory=list)
    tally: Counter[tuple[str, str, int, bool]] = field(default_factory=Counter)


@dataclass(frozen=True)
class _Surroundings:
    """Where entities stand: the frame, and what layer "0" and BYBLOCK stand for.

    Of a drawing's form only the words are read.
    """

    frame: Frame
    layer: Layer | None = None
    linetype: str = "CONTINUOUS"
    blocks: tuple[str, ...] = ()
    colour: int = 7
    form: bool = False


class _Style(NamedTuple):
    """How edges of one layer, colour and linetype are taken, and whether their colour may tell more."""

    layer: Layer
    colour: int
    telling: bool


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

    Raises
    ------
    DrawingError
        If the file has no model space.
    """
    walker = _Walker(document, options, unit, notes)
    walker.walk(model_space(document), _Surroundings(scaling(unit)))
    walker.question_colours()
    return walker.collected


class _Walker:
    def __init__(self, document: Any, options: ReadOptions, unit: float, notes: Notes) -> None:
        self.collected = Collected()
        self._layers = Layers(document.layers, options.layers)
        self._blocks = document.blocks
        self._options = options
        self._most = options.limits.entities
        self._tolerance = options.tolerance
        self._unit = unit
        self._notes = notes
        self._count = 0
        self._construction: dict[str, bool] = {}
        self._sizes: dict[str, int] = {}
        self._coloured: dict[str, Counter[int]] = defaultdict(Counter)

    def walk(self, entities: Iterable[Any], around: _Surroundings) -> None:
        """Take every entity of a layout or block."""
        context = Context(around.frame, self._unit, self._tolerance)
        # Drawings hold thousands of edges in a handful of styles.
        styles: dict[tuple[Any, ...], _Style | None] = {}
        for entity in entities:
            self._count_in(1)
            kind = entity.dxftype()
            try:
                if kind in READERS:
                    key = tuple(map(vars(entity.dxf).get, TELLING))
                    style = (
                        styles[key] if key in styles else styles.setdefault(key, self._style(entity, around))
                    )
                    if style is not None:
                        self._edge(kind, entity, style, context, around)
                        continue
                self._take(kind, entity, around)
            except TooMuchError:
                raise
            except DrawingError as error:
                self._refuse(kind, entity, around, error)
            except DAMAGE:
                damaged = DrawingError("it is damaged and cannot be read", remedy="draw it again")
                self._refuse(kind, entity, around, damaged)

    def _count_in(self, more: int) -> None:
        self._count += more
        if self._count > self._most:
            raise TooMuchError(
                f"it unfolds to more than {self._most} entities",
                remedy="save the part alone in a file, or raise limits.entities in the job",
            )

    def _unfolded(self, name: str, depth: int = 0) -> int:
        """Return how many entities a block unfolds to; beyond all bounds it does not matter how many."""
        if name not in self._sizes:
            block = self._blocks.get(name)
            if block is None or depth > DEEPEST_NESTING:
                return 0
            self._sizes[name] = 0
            total = 0
            for entity in block:
                total += 1
                if entity.dxftype() == "INSERT":
                    total += _copies(entity) * self._unfolded(str(entity.dxf.get("name", "")), depth + 1)
            self._sizes[name] = total
        return self._sizes[name]

    def _style(self, entity: Any, around: _Surroundings) -> _Style | None:
        """Return how an edge is taken by its layer, colour and linetype; None where it is left."""
        dxf = entity.dxf
        layer = self._layer(dxf, around)
        colour = self._colour(dxf, layer, around)
        role = self._role(layer, colour)
        if dxf.get("invisible", 0) or layer.frozen or layer.off or around.form or role == "ignore":
            return None
        if role != layer.role:
            layer = replace(layer, role=role, asked=True)
        by_itself = role == "cut" and not layer.asked
        if by_itself and self._is_construction(self._linetype(entity, layer, around)):
            return None
        return _Style(layer, colour, by_itself and not self._options.colours)

    def _layer(self, dxf: Any, around: _Surroundings) -> Layer:
        layer = self._layers[dxf.layer]
        return around.layer if around.layer is not None and layer.name == "0" else layer

    def _role(self, layer: Layer, colour: int) -> Role:
        if self._options.colours and not layer.asked:
            return self._options.colour_role(colour) or layer.role
        return layer.role

    def _take(self, kind: str, entity: Any, around: _Surroundings) -> None:
        """Take an entity that draws no edge, or one that is left out."""
        dxf = entity.dxf
        layer = self._layer(dxf, around)
        colour = self._colour(dxf, layer, around)
        if dxf.get("invisible", 0):
            self._leave(kind, layer, colour, "invisible")
        elif kind == "INSERT":
            self._insert(entity, layer, colour, around)
        elif layer.frozen or layer.off:
            self._leave(kind, layer, colour, f"layer {layer.name} ({'frozen' if layer.frozen else 'off'})")
        elif kind in TEXTS:
            self._text(kind, entity, layer, colour, around)
        elif around.form:
            self.collected.tally[kind, layer.name, colour, False] += 1
        else:
            self._leave_out(kind, entity, layer, colour, around)

    def _leave_out(self, kind: str, entity: Any, layer: Layer, colour: int, around: _Surroundings) -> None:
        role = self._role(layer, colour)
        if kind in ANNOTATIONS:
            place = _some_place(entity, around.frame)
            if place is not None:
                self.collected.annotations.append(place)
            self._leave(kind, layer, colour, kind if role != "ignore" else f"layer {layer.name}")
        elif role == "ignore":
            self._leave(
                kind, layer, colour, f"layer {layer.name}" if layer.role == role else f"colour {colour}"
            )
        elif kind in READERS:
            self._leave(kind, layer, colour, f"linetype {self._linetype(entity, layer, around)}")
        elif kind in SOLIDS:
            raise DrawingError(
                "it is no flat outline", remedy="draw the part's outline with lines and arcs (explode it)"
            )
        else:
            self._leave(kind, layer, colour, kind)

    def _leave(self, kind: str, layer: Layer, colour: int, reason: str) -> None:
        self._notes.ignored[reason] += 1
        self.collected.tally[kind, layer.name, colour, False] += 1

    def _colour(self, dxf: Any, layer: Layer, around: _Surroundings) -> int:
        own = dxf.get("color", BY_LAYER)
        return layer.colour if own == BY_LAYER else around.colour if own == BY_BLOCK else int(own)

    def _text(self, kind: str, entity: Any, layer: Layer, colour: int, around: _Surroundings) -> None:
        read = read_mtext if kind == "MTEXT" else read_text
        source = _source(kind, entity, layer, around)
        wanted = layer.role in ("mark", "bend") and not around.form
        try:
            lines = [TextLine(text, layer.name, source) for text in read(entity, around.frame)]
        except (DrawingError, *DAMAGE):
            if wanted:
                raise
            lines = []
        self.collected.notes += lines
        self.collected.tally[kind, layer.name, colour, wanted] += 1
        if wanted:
            self.collected.texts[layer.role] += lines
        elif not around.form:
            self._notes.ignored[kind if layer.role != "ignore" else f"layer {layer.name}"] += 1

    def question_colours(self) -> None:
        """Ask what is meant where edges on one layer differ in colour, which may tell cut from mark."""
        for layer, colours in self._coloured.items():
            if len(colours) < 2:
                continue
            shown = ", ".join(f"{COLOUR_NAMES.get(c, c)} ({n})" for c, n in sorted(colours.items()))
            message = f"edges to cut on layer {layer!r} come in several colours: {shown}"
            remedy = 'say which are cut, marked or left out, as in colours = {cut = ["*"]} for all of them'
            self._notes.add("question", "colours", message, None, remedy)

    def _edge(self, kind: str, entity: Any, style: _Style, context: Context, around: _Surroundings) -> None:
        layer, colour, telling = style
        if telling:
            self._coloured[layer.name][colour] += 1
        source = _source(kind, entity, layer, around)
        self.collected.tally[kind, layer.name, colour, True] += 1
        strokes = self.collected.strokes[layer.role]
        for rows, closed in READERS[kind](entity, context):
            strokes.append(Stroke(rows, closed, source, layer.name))

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

    def _insert(self, entity: Any, layer: Layer, colour: int, around: _Surroundings) -> None:
        name = str(entity.dxf.get("name", ""))
        if layer.frozen:
            self._leave("INSERT", layer, colour, f"layer {layer.name} (frozen)")
            return
        form = around.form or layer.role == "ignore" or (_FORM.search(name) is not None and not layer.asked)
        if form and not around.form:
            self._leave(
                "INSERT", layer, colour, f"layer {layer.name}" if layer.role == "ignore" else f"block {name}"
            )
        block = self._blocks.get(name)
        if form and (block is None or name in around.blocks or len(around.blocks) >= DEEPEST_NESTING):
            return
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
        if not form and _is_clipped(entity):
            raise DrawingError(
                f"the block {name!r} is shown clipped, and what is cut away cannot be told",
                remedy="explode it and trim what is not wanted",
            )
        if name in around.blocks or len(around.blocks) >= DEEPEST_NESTING:
            raise DrawingError(f"the block {name!r} holds itself, or is nested too deep", remedy="explode it")
        if not around.blocks and self._count + _copies(entity) * self._unfolded(name) > self._most:
            self._count_in(self._most + 1)
        linetype = self._linetype(entity, layer, around)
        base = (header.base_point.x, header.base_point.y)
        for frame in _placements(entity, around.frame, base):
            self.walk(block, _Surroundings(frame, layer, linetype, (*around.blocks, name), colour, form))
        self.walk(entity.attribs, around)

    def _refuse(self, kind: str, entity: Any, around: _Surroundings, error: DrawingError) -> None:
        place = _some_place(entity, around.frame)
        message = f"{_source(kind, entity, None, around)} cannot be used: {error.message}"
        self._notes.add("refused", "entities that cannot be used", message, place, error.remedy or "")


def _source(kind: str, entity: Any, layer: Layer | None, around: _Surroundings) -> Source:
    block = around.blocks[-1] if around.blocks else ""
    return Source(kind, entity.dxf.handle, block, layer.name if layer else "")


def _is_clipped(entity: Any) -> bool:
    """Return whether a block reference shows a part of its block only (DXF reference, SPATIAL_FILTER)."""
    return entity.has_extension_dict and "ACAD_FILTER" in entity.get_extension_dict()


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
        for name in ("start", "center", "insert", "location", "text_midpoint", "defpoint"):
            if carrier.dxf.is_supported(name) and carrier.dxf.hasattr(name):
                point = carrier.dxf.get(name)
                return frame.point(point.x, point.y)
    # A leader's vertices are points, a polyline's entities, and some entities' a method.
    names = ("control_points", "lwpoints", *(("vertices",) if entity.dxftype() == "LEADER" else ()))
    for points in (getattr(entity, name, ()) for name in names):
        for first in points:
            return frame.point(float(first[0]), float(first[1]))
    return None
