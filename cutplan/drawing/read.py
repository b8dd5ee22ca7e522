"""Reading a drawing from file to parts: the story of this room, told once.

Every problem of a drawing is gathered before it is refused, so that its drawer can mend all
of them in one go.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from cutplan.base.errors import DrawingError
from cutplan.base.findings import Finding
from cutplan.drawing.assemble import Box, Extras, assemble
from cutplan.drawing.bends import bend_lines
from cutplan.drawing.chain import chain_marks, chain_strokes
from cutplan.drawing.contours import Contours, sound_contours, with_arcs
from cutplan.drawing.edges import without_empty_edges
from cutplan.drawing.load import header_units, open_document
from cutplan.drawing.model import Drawing, Part
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import ReadOptions
from cutplan.drawing.overlap import without_overlaps
from cutplan.drawing.walk import TooMuchError, collect
from cutplan.geometry import Path

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

__all__ = ["inspect_document", "inspect_drawing", "read_drawing"]

# A part larger or smaller than this, mm, over all is more likely drawn in another unit: no
# plate is longer, and nothing smaller is cut by a torch.
LARGEST_PART = 20_000.0
SMALLEST_PART = 5.0
# Units so long that a drawing of plate parts in them is out of the question.
LONG_UNIT = 300.0
# Refusals spelled out in an error; the rest are counted.
SPELLED_OUT = 4


def read_drawing(file: str | os.PathLike[str], options: ReadOptions = ReadOptions()) -> Drawing:
    """Return the parts that a DXF file draws.

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
    refused = [finding for finding in drawing.findings if finding.kind == "refused"]
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

    Raises
    ------
    DrawingError
        Only if the file itself cannot be read.
    """
    with _collector_at_rest():
        document, mended = open_document(FilePath(file))
        return inspect_document(document, FilePath(file), options, mended)


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
    units, unit, doubts = header_units(document, options.units)
    drawing, size = _in_units(document, path, units, unit, options, [*mended, *doubts])
    if options.units is None and unit > LONG_UNIT and size > LARGEST_PART:
        message = (
            f"the header says {units}, which makes a part {size / 1000.0:.0f} m long; "
            "no plate is, so the drawing is read as millimetres"
        )
        doubt = Finding("warning", message, remedy="state units in the job")
        drawing, _ = _in_units(document, path, "mm", 1.0, options, [*mended, doubt])
    return drawing


def _in_units(
    document: Document, path: FilePath, units: str, unit: float, options: ReadOptions, before: list[Finding]
) -> tuple[Drawing, float]:
    """Return the drawing as read in the given units, and the size of its largest part, mm."""
    notes = Notes()
    notes.extend(before)
    try:
        placed = _parts(document, path, unit, options, notes)
    except TooMuchError as error:
        raise DrawingError(error.message, where=str(path), remedy=error.remedy) from error
    if not placed and not notes.refusals:
        _refuse_nothing(notes)
    for part, box in placed:
        _question_size(part, box, units, notes)
    findings = notes.listed()
    parts = tuple(
        replace(part, findings=_concerning(box, findings) if len(placed) > 1 else findings)
        for part, box in placed
    )
    size = max((_size(box) for _, box in placed), default=0.0)
    return Drawing(str(path), parts, units, findings, dict(sorted(notes.ignored.items()))), size


def _parts(
    document: Document, path: FilePath, unit: float, options: ReadOptions, notes: Notes
) -> list[tuple[Part, Box]]:
    drawn = collect(document, options, unit, notes)
    strokes = without_empty_edges(drawn.strokes["cut"], notes)
    strokes = without_overlaps(strokes, options.tolerance, notes)
    chains = chain_strokes(strokes, options.gap, notes)
    contours = with_arcs(Contours(chains), options.tolerance, notes)
    contours = sound_contours(contours, options.tolerance, notes)
    marks = chain_marks(without_empty_edges(drawn.strokes["mark"], notes), options.gap)
    extras = Extras(
        marks=[Path(chain.rows, chain.closed) for chain in marks],
        texts=[line.text for line in drawn.texts["mark"]],
        bends=bend_lines(without_empty_edges(drawn.strokes["bend"], notes), drawn.texts["bend"], unit, notes),
    )
    return assemble(contours, extras, path.stem, str(path), notes)


def _refuse_nothing(notes: Notes) -> None:
    left_out = ", ".join(f"{count} × {reason}" for reason, count in notes.ignored.most_common(6))
    message = "the drawing holds no contour to cut"
    if left_out:
        message += f"; left out were {left_out}"
    notes.add("refused", "nothing to cut", message, None, "name the layers to cut by layers.cut in the job")


def _size(box: Box) -> float:
    return max(box[2] - box[0], box[3] - box[1])


def _question_size(part: Part, box: Box, units: str, notes: Notes) -> None:
    """Doubt the units where a part's size makes sense in another one only."""
    if SMALLEST_PART <= _size(box) <= LARGEST_PART:
        return
    other = "mm" if units != "mm" else "in"
    message = f"part {part.name} read in {units} measures {box[2] - box[0]:g} × {box[3] - box[1]:g} mm"
    remedy = f'if it is drawn in {other}, set units = "{other}"'
    notes.add("warning", "units in doubt", message, (box[0], box[1]), remedy)


def _concerning(box: Box, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings that concern one of several parts: those within its box, or nowhere."""
    return tuple(
        finding
        for finding in findings
        if finding.place is None
        or (box[0] <= finding.place[0] <= box[2] and box[1] <= finding.place[1] <= box[3])
    )
