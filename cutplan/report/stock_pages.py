"""The inventory on paper: what is in the rack, and where marked parts came from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from cutplan.geometry import bounds
from cutplan.report.pages import render
from cutplan.report.svg import path_data
from cutplan.stock import Owing, PartMark, Piece, detail_words

if TYPE_CHECKING:
    from markupsafe import Markup

__all__ = ["History", "owing_html", "rack_html", "trace_html"]

History = Sequence[tuple[str, str, Mapping[str, Any]]]
"""What happened to a piece: time (UTC), event, detail; oldest first."""


def rack_html(pieces: Sequence[Piece]) -> str:
    """Return a printable list of pieces, by thickness and grade, each with its shape.

    Parameters
    ----------
    pieces : sequence of Piece

    Returns
    -------
    str
        Self-contained HTML; the same pieces give the same text.
    """
    rows = [{"piece": piece, "weight_kg": _weight_kg(piece), "shape": _shape(piece)} for piece in pieces]
    groups: dict[tuple[float, str], list[dict[str, Any]]] = {}
    for piece, row in zip(pieces, rows, strict=True):
        groups.setdefault((piece.thickness_mm, piece.grade), []).append(row)
    return render(
        "rack.html",
        count=len(pieces),
        area_m2=sum(piece.area_mm2 for piece in pieces) / 1e6,
        weight_kg=sum(_weight_kg(piece) for piece in pieces),
        groups=[
            (f"{thickness:g} mm {grade}", groups[thickness, grade]) for thickness, grade in sorted(groups)
        ],
    )


def trace_html(
    question: str, parts: Sequence[PartMark], pieces: Sequence[Piece], histories: Sequence[History]
) -> str:
    """Return a printable report on marked parts and the pieces of plate they came from.

    Parameters
    ----------
    question : str
        What was asked for: "heat H4711".
    parts : sequence of PartMark
    pieces : sequence of Piece
        Those that the parts name.
    histories : sequence of History
        One for each piece.

    Returns
    -------
    str
    """
    told = [[(at, event, detail_words(detail)) for at, event, detail in history] for history in histories]
    origins = [{"piece": piece, "history": history} for piece, history in zip(pieces, told, strict=True)]
    return render("trace.html", question=question, parts=parts, origins=origins)


def owing_html(title: str, owings: Sequence[Owing], spoilt: Sequence[PartMark]) -> str:
    """Return a printable page of what jobs want, have planned, cut and spoilt, and still owe.

    Parameters
    ----------
    title : str
        The job's name, or what the page is of.
    owings : sequence of Owing
    spoilt : sequence of PartMark

    Returns
    -------
    str
    """
    jobs: dict[str, list[Owing]] = {}
    for each in owings:
        jobs.setdefault(each.job, []).append(each)
    words = ("wanted", "planned", "cut", "spoilt", "owed", "open")
    totals = {word: sum(getattr(each, word) for each in owings) for word in words}
    return render("owing.html", title=title, jobs=list(jobs.items()), totals=totals, spoilt=spoilt)


def _weight_kg(piece: Piece) -> float:
    return piece.as_plate().mass_kg(piece.area_mm2)


def _shape(piece: Piece) -> Markup:
    from markupsafe import Markup

    outline = piece.as_plate().outline
    x0, y0, x1, y1 = bounds(outline)
    contours = "".join(path_data(contour, y1) for contour in (outline, *piece.voids))
    edge = 0.02 * max(x1 - x0, y1 - y0)
    box = f"{x0 - edge:.1f} {-edge:.1f} {x1 - x0 + 2 * edge:.1f} {y1 - y0 + 2 * edge:.1f}"
    return Markup(f'<svg viewBox="{box}" aria-hidden="true"><path d="{contours}"/></svg>')
