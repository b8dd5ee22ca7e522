"""Opening DXF files: text or binary, whole or damaged; nothing here looks at entities."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from cutplan.base.errors import DrawingError
from cutplan.base.findings import Finding, FindingKind
from cutplan.base.units import MM_PER_UNIT
from cutplan.drawing.units import Units

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

__all__ = ["file_kind", "header_units", "model_space", "open_document"]

# Repairs listed one by one; the rest are counted.
REPAIRS_LISTED = 8

# Bytes read at a time in search of the header's end.
HEAD = 2**16

# What a file that is not a DXF gives away by its first bytes.
OTHER_KINDS = (
    (b"AC10", "a DWG file", "save it as DXF"),
    (b"%PDF", "a PDF file", "ask for the DXF"),
    (b"PK\x03\x04", "a ZIP archive", "unpack it first"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"\x89PNG", "a picture", "ask for the DXF"),
    (b"\xff\xd8\xff", "a picture", "ask for the DXF"),
)

# Header variable $INSUNITS (DXF reference): code to name and millimetres.
INSERTION_UNITS = {
    1: ("in", 25.4),
    2: ("ft", 304.8),
    3: ("mile", 1609344.0),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    7: ("km", 1e6),
    8: ("microinch", 25.4e-6),
    9: ("mil", 0.0254),
    10: ("yd", 914.4),
    11: ("angstrom", 1e-7),
    12: ("nm", 1e-6),
    13: ("µm", 1e-3),
    14: ("dm", 100.0),
    15: ("dam", 1e4),
    16: ("hm", 1e5),
    21: ("US survey ft", 1200.0 / 3937.0 * 1000.0),
    22: ("US survey in", 100.0 / 3937.0 * 1000.0),
    23: ("US survey yd", 3600.0 / 3937.0 * 1000.0),
}

# The library reports what it skips to its log; what matters here comes back as findings.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def file_kind(file: Path, most_mb: float) -> Literal["dxf", "svg", "step"]:
    """Return what kind of drawing a file is, by its first bytes.

    Raises
    ------
    DrawingError
        If the file is missing, too large, or known to be something else.
    """
    head = _check_file(file, most_mb)
    if head.startswith(b"ISO-10303"):
        return "step"
    # A text marked up by elements: a DXF file begins with a number.
    return "svg" if head.startswith(b"<") else "dxf"


def open_document(file: Path) -> tuple[Document, list[Finding]]:
    """Return the document in a DXF file, and what had to be mended to read it.

    Raises
    ------
    DrawingError
        If the file is not a DXF, or damaged beyond recovery.
    """
    import ezdxf

    # A damaged file can bring the parser down in any way, so whatever it raises sends the
    # file on to recovery.
    findings: list[Finding] = []
    try:
        document = ezdxf.readfile(file)
    except Exception:
        document, findings = _recover(file)
    _forget_defaults(document, file)
    return document, findings


def model_space(document: Document) -> Any:
    """Return the layout that holds what is drawn.

    Raises
    ------
    DrawingError
        If there is none: a damaged file may call it by another name.
    """
    try:
        return document.modelspace()
    except KeyError as problem:
        raise DrawingError("the file has no model space", remedy="save the drawing as DXF again") from problem


def _forget_defaults(document: Document, file: Path) -> None:
    """Take out the units that the library assumes where the file itself has none."""
    content = _head(file)
    for name in ("$INSUNITS", "$MEASUREMENT"):
        if name.encode() not in content and name in document.header:
            del document.header[name]


def _head(file: Path) -> bytes:
    """Return a file up to the end of its header, or all of it where it has none."""
    head = b""
    with file.open("rb") as stream:
        for piece in iter(lambda: stream.read(HEAD), b""):
            head += piece
            if b"ENDSEC" in head.partition(b"HEADER")[2]:
                break
    return head


def _check_file(file: Path, most_mb: float) -> bytes:
    where = str(file)
    try:
        if not file.exists():
            raise DrawingError("the drawing does not exist", where=where, remedy="check its path")
        if not file.is_file():
            raise DrawingError("the drawing is not a file", where=where, remedy="check its path")
        size = file.stat().st_size
        with file.open("rb") as stream:
            head = stream.read(512).lstrip(b"\xef\xbb\xbf \t\r\n")
    except OSError as error:
        raise DrawingError(
            f"the drawing cannot be read ({error.strerror or error})",
            where=where,
            remedy="check its permissions",
        ) from error
    if size == 0:
        raise DrawingError("the drawing is an empty file", where=where, remedy="ask for it again")
    if size > most_mb * 2**20:
        raise DrawingError(
            f"the drawing has {size / 2**20:.1f} MiB, more than {most_mb:g}",
            where=where,
            remedy="save the part alone in a file, or raise limits.file_mb in the job",
        )
    for magic, kind, remedy in OTHER_KINDS:
        if head.startswith(magic):
            raise DrawingError(f"not a DXF but {kind}", where=where, remedy=remedy)
    return head


def _recover(file: Path) -> tuple[Document, list[Finding]]:
    from ezdxf import recover

    try:
        document, auditor = recover.readfile(file)
    except Exception as error:
        raise DrawingError(
            "not a DXF file, or damaged beyond recovery",
            where=str(file),
            remedy="save the drawing as DXF again",
        ) from error
    findings = [Finding("mended", "the file is damaged and was read through recovery")]
    findings += _listed("mended", (entry.message for entry in auditor.fixes))
    findings += _listed("warning", (entry.message for entry in auditor.errors))
    return document, findings


def _listed(kind: FindingKind, messages: Iterable[str]) -> list[Finding]:
    distinct = list(dict.fromkeys(messages))
    findings = [Finding(kind, f"in the file's structure: {text}") for text in distinct[:REPAIRS_LISTED]]
    if len(distinct) > REPAIRS_LISTED:
        findings.append(Finding(kind, f"{len(distinct) - REPAIRS_LISTED} more of that kind"))
    return findings


def header_units(document: Document, asked: str | None) -> Units:
    """Return the units of a drawing, and doubts about them.

    The job's word goes first, then ``$INSUNITS``, then, where the file has no such variable,
    ``$MEASUREMENT``, then millimetres.
    """
    if asked is not None:
        return Units(asked, MM_PER_UNIT[asked], True)
    code = document.header.get("$INSUNITS", None)
    if code in INSERTION_UNITS:
        return Units(*INSERTION_UNITS[code], True)
    if code is None and document.header.get("$MEASUREMENT", None) == 0:
        message = "the header names no unit but says that it is imperial; read as inches"
        return Units("in", 25.4, False, (_stated("warning", message),))
    message = "the header names no unit; read as millimetres"
    return Units("mm", 1.0, False, (_stated("warning", message),))


def _stated(kind: FindingKind, message: str) -> Finding:
    return Finding(kind, message, remedy="state units in the job", topic="units")
