"""Reading a drawing from file to parts: the story of this room, told once.

Every problem of a drawing is gathered before it is refused, so that its drawer can mend all
of them in one go.
"""

from __future__ import annotations

import gc
import math
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Literal

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.base.findings import Finding, stopping
from cutplan.drawing.assemble import Box, Extras, assemble
from cutplan.drawing.bends import bend_lines
from cutplan.drawing.borders import frame_contours, question_frames
from cutplan.drawing.chain import Chain, chain_marks, chain_strokes
from cutplan.drawing.contours import Contours, sound_contours, with_arcs
from cutplan.drawing.copies import without_copies
from cutplan.drawing.edges import without_empty_edges
from cutplan.drawing.load import file_kind, header_units, open_document
from cutplan.drawing.model import BevelLine, Drawing, Note, Part, Sketch
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import COLOUR_NAMES, ReadOptions
from cutplan.drawing.overlap import without_overlaps
from cutplan.drawing.remarks import hand_out_notes
from cutplan.drawing.sorting import sort_parts
from cutplan.drawing.step_file import collect_step, open_step
from cutplan.drawing.strays import sort_strays
from cutplan.drawing.svg_file import collect_svg, open_svg, svg_units
from cutplan.drawing.units import LARGEST_PART, Evidence, Units, doubt_units, with_texts
from cutplan.drawing.walk import TEXTS, Collected, collect
from cutplan.geometry import Path

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

__all__ = ["inspect_document", "inspect_drawing", "read_drawing"]

# Units so long that a drawing of plate parts in them is out of the question.
LONG_UNIT = 300.0
# Refusals spelled out in an error; the rest are counted.
SPELLED_OUT = 4
# Arcs whose bulge is this near to 1 go half round.
HALF_TURN = 1e-6
# Lines kept for pictures of each sort.
MOST_SKETCHES = 2000

Draw = Callable[[float, Notes], Collected]
SketchState = Literal["counted", "left out", "question", "refused"]


def read_drawing(file: str | os.PathLike[str], options: ReadOptions = ReadOptions()) -> Drawing:
    """Return the parts that a drawing draws: a DXF file, an SVG file, or the flat plates of a STEP file.

    Parameters
    ----------
    file : path
        DXF of any version from R12 to R2018, text or binary.
    options : ReadOptions, optional

    Returns
    -------
    Drawing
        With parts in drawing coordinates, mm, and what was mended and warned of.

    Raises
    ------
    DrawingError
        If the file cannot be read, or anything in it that would be cut is not clear: the
        message names the entity, the place and the remedy, for the first few problems.

    See Also
    --------
    inspect_drawing : the same, with refusals as findings.
    """
    drawing = inspect_drawing(file, options)
    refused = stopping(drawing.findings)
    if len(refused) == 1:
        only = refused[0]
        raise DrawingError(only.message, where=drawing.source, place=only.place, remedy=only.remedy or None)
    if refused:
        listed = "; ".join(f"({n}) {finding}" for n, finding in enumerate(refused[:SPELLED_OUT], 1))
        more = len(refused) - SPELLED_OUT
        listed += f"; and {more} more" if more > 0 else ""
        raise DrawingError(f"{len(refused)} problems: {listed}", where=drawing.source)
    return drawing


def inspect_drawing(file: str | os.PathLike[str], options: ReadOptions = ReadOptions()) -> Drawing:
    """Return what a DXF file draws, with refusals among the findings.

    Parameters
    ----------
    file : path
    options : ReadOptions, optional

    Returns
    -------
    Drawing

    Raises
    ------
    DrawingError
        Only if the file itself cannot be read.
    """
    with _collector_at_rest():
        path = FilePath(file)
        kind = file_kind(path, options.limits.file_mb)
        if kind == "svg":
            root = open_svg(path)
            svg_drawn: Draw = lambda unit, notes: collect_svg(root, options, unit, notes)  # noqa: E731
            return _in_likely_units(svg_drawn, svg_units(root, options.units), path, options, ())
        if kind == "step":
            solids = open_step(path)
            step_drawn: Draw = lambda unit, notes: collect_step(solids, options, notes)  # noqa: E731
            return _in_likely_units(step_drawn, Units("mm", 1.0, True), path, options, ())
        document, mended = open_document(path)
        return inspect_document(document, path, options, mended)


@contextmanager
def _collector_at_rest() -> Iterator[None]:
    """Keep the garbage collector from combing through a large document time and again."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def inspect_document(
    document: Document, path: FilePath, options: ReadOptions, mended: Sequence[Finding] = ()
) -> Drawing:
    """Return what an opened document draws; `path` names it and its parts."""
    units = header_units(document, options.units)
    return _in_likely_units(
        lambda unit, notes: collect(document, options, unit, notes), units, path, options, mended
    )


def _in_likely_units(
    draw: Draw, units: Units, path: FilePath, options: ReadOptions, mended: Sequence[Finding]
) -> Drawing:
    """Return the drawing in the units its file states, or in those that make sense of it."""
    try:
        drawing, size, said = _in_units(draw, path, units, options, mended)
        if options.units is None and units.mm > LONG_UNIT and size > LARGEST_PART:
            message = (
                f"the header says {units.name}, which makes a part {size / 1000.0:.0f} m long; "
                "no plate is, so the drawing is read as millimetres"
            )
            doubt = Finding("warning", message, remedy="state units in the job", topic="units")
            return _in_units(draw, path, Units("mm", 1.0, True, (doubt,)), options, mended)[0]
        stated = with_texts(units, said) if options.units is None else units
        if stated != units:
            return _in_units(draw, path, stated, options, mended)[0]
        return drawing
    except DrawingError as error:
        raise DrawingError(error.message, where=str(path), place=error.place, remedy=error.remedy) from error


def _in_units(
    draw: Draw, path: FilePath, units: Units, options: ReadOptions, mended: Sequence[Finding]
) -> tuple[Drawing, float, list[str]]:
    """Return the drawing as read in the given units, the size of its largest part, mm, and its texts."""
    notes = Notes()
    notes.extend([*mended, *units.doubts])
    drawn = draw(units.mm, notes)
    placed, rest, sketches = _parts(drawn, path, units.mm, options, notes)
    if not placed and not notes.refusals:
        _refuse_nothing(notes)
    texts = [line.text.text for line in drawn.notes]
    if options.units is None and placed:
        largest = max((box for _, box in placed), key=_size)
        sides = (largest[2] - largest[0], largest[3] - largest[1])
        doubt = doubt_units(units, Evidence(sides, _diameters(placed), texts, options.largest))
        if doubt is not None:
            notes.extend([replace(doubt, place=(largest[0], largest[1]))])
    findings = notes.listed()
    parts = tuple(
        replace(part, findings=_concerning(box, findings) if len(placed) > 1 else findings)
        for part, box in placed
    )
    unused = _unused(drawn, rest, parts)
    ignored = dict(sorted(notes.ignored.items()))
    size = max((_size(box) for _, box in placed), default=0.0)
    return (
        Drawing(str(path), parts, units.name, findings, ignored, unused, rest, tuple(sketches)),
        size,
        texts,
    )


def _parts(
    drawn: Collected, path: FilePath, unit: float, options: ReadOptions, notes: Notes
) -> tuple[list[tuple[Part, Box]], tuple[Note, ...], list[Sketch]]:
    strokes = without_copies(without_empty_edges(drawn.strokes["cut"], notes), notes)
    strokes = without_overlaps(strokes, options.tolerance, notes)
    chains = chain_strokes(strokes, options.gap, notes)
    contours = with_arcs(Contours(chains.closed), options.tolerance, notes)
    contours, frames = _without_frames(contours, drawn, options, notes)
    left, faulty = sort_strays(
        chains, contours, frames if options.frames == "leave out" else [], options.gap, notes,
        leave_out=options.open == "leave out",
    )  # fmt: skip
    sound, unsound = sound_contours(contours, options, notes)
    marks = chain_marks(without_empty_edges(drawn.strokes["mark"], notes), options.gap)
    extras = Extras(
        marks=[Path(chain.rows, chain.closed) for chain in marks],
        texts=[line.text for line in drawn.texts["mark"]],
        bends=bend_lines(without_empty_edges(drawn.strokes["bend"], notes), drawn.texts["bend"], unit, notes),
        bevels=[
            BevelLine(Path(s.rows, s.closed), s.source.layer)
            for s in without_empty_edges(drawn.strokes["bevel"], notes)
        ],
    )
    drafts = assemble(sound, extras, notes)
    rest = hand_out_notes(drawn.notes, drafts, sound, options.texts)
    placed, copies = sort_parts(drafts, sound, (path.stem, str(path)), options, notes)
    framed: SketchState = "left out" if options.frames == "leave out" else "question"
    counted = [Sketch(path, "counted") for path in copies[:MOST_SKETCHES]]
    sketches = counted + _sketches(left, "left out") + _sketches(frames, framed)
    return placed, rest, sketches + _sketches([*faulty, *unsound], "refused")


def _sketches(chains: Sequence[Chain], state: SketchState) -> list[Sketch]:
    return [Sketch(Path(chain.rows, chain.closed), state) for chain in chains[:MOST_SKETCHES]]


def _without_frames(
    contours: Contours, drawn: Collected, options: ReadOptions, notes: Notes
) -> tuple[Contours, list[Chain]]:
    """Return the contours that are no frames of sheets or title blocks, and those that may be."""
    if options.frames == "cut":
        return contours, []
    used = {id(line) for lines in drawn.texts.values() for line in lines}
    texts = [line for line in drawn.notes if id(line) not in used]
    frames = frame_contours(contours, texts, drawn.annotations)
    question_frames(contours, frames, notes, ask=options.frames == "ask")
    return contours.without(set(frames)), [contours.chains[k] for k in frames]


def _diameters(placed: Sequence[tuple[Part, Box]]) -> list[float]:
    """Return the diameters of round holes, mm."""
    found = []
    for part, _ in placed:
        for hole in part.holes:
            if len(hole) == 2 and (np.abs(np.abs(hole.vertices[:, 2]) - 1.0) < HALF_TURN).all():
                (ax, ay, _), (bx, by, _) = hole.vertices.tolist()
                found.append(math.hypot(bx - ax, by - ay))
    return found


def _unused(drawn: Collected, rest: Sequence[Note], parts: Sequence[Part]) -> dict[str, int]:
    """Return what had no part in the result: layers and colours all of whose entities were left, and kinds."""
    left: dict[str, int] = {}
    tally = drawn.tally
    for what, index in (("layer", 1), ("colour", 2)):
        used = {key[index] for key in tally if key[3]}
        for key, count in tally.items():
            if key[index] not in used:
                name = COLOUR_NAMES.get(key[2], str(key[2])) if what == "colour" else key[1]
                left[f"{what} {name}"] = left.get(f"{what} {name}", 0) + count
    for (kind, _, _, used_), count in tally.items():
        if not used_ and kind not in TEXTS:
            left[kind] = left.get(kind, 0) + count
    silent = len(rest) + sum(not note.values for part in parts for note in part.notes)
    if silent:
        left["text"] = silent
    return dict(sorted(left.items()))


def _refuse_nothing(notes: Notes) -> None:
    left_out = ", ".join(f"{count} × {reason}" for reason, count in notes.ignored.most_common(6))
    message = "the drawing holds no contour to cut"
    if left_out:
        message += f"; left out were {left_out}"
    notes.add("refused", "nothing to cut", message, None, "name the layers to cut by layers.cut in the job")


def _size(box: Box) -> float:
    return max(box[2] - box[0], box[3] - box[1])


def _concerning(box: Box, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings that concern one of several parts: those within its box, or nowhere."""
    return tuple(
        finding
        for finding in findings
        if finding.place is None
        or (box[0] <= finding.place[0] <= box[2] and box[1] <= finding.place[1] <= box[3])
    )
