"""What was found in drawings as one page: a table of all, then each with its picture and list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cutplan.base.findings import STOPPING, Finding
from cutplan.drawing import Drawing
from cutplan.geometry import bounds
from cutplan.report.drawing_svg import DRAWING_STYLE, SIGNS, drawing_svg, sign_svg
from cutplan.report.pages import render

if TYPE_CHECKING:
    from markupsafe import Markup

__all__ = ["drawings_html"]

Checked = tuple[Drawing, Sequence[Finding]]


@dataclass(frozen=True)
class _Entry:
    """A drawing as the page shows it."""

    number: int
    source: str
    verdict: str
    parts: tuple[tuple[str, str, int, int, str], ...]
    units: str
    counts: dict[str, int]
    findings: tuple[tuple[int, str, Markup, str], ...]
    unused: str
    notes: tuple[str, ...]
    picture: Markup


def drawings_html(checked: Sequence[Checked], title: str) -> str:
    """Return a page on drawings: what each holds, what was found where, and what to do.

    Parameters
    ----------
    checked : sequence of (Drawing, sequence of Finding)
    title : str

    Returns
    -------
    str

    Notes
    -----
    Numbers in a picture are those in the list beside it; each kind of finding has a shape.
    """
    entries = [_entry(n, drawing, findings) for n, (drawing, findings) in enumerate(checked, start=1)]
    legend = [(_sign(kind, ""), words) for kind, (_, words) in SIGNS.items()]
    return render(
        "drawings.html", title=title, entries=entries, kinds=list(SIGNS), legend=legend, style=DRAWING_STYLE
    )


def _sign(kind: str, number: str) -> Markup:
    from markupsafe import Markup

    sign = sign_svg(kind, 0.0, 0.0, 1.0, number)  # type: ignore[arg-type]
    return Markup(f'<svg class="sign" viewBox="-1.6 -1.6 3.2 3.2" aria-label="{kind}">{sign}</svg>')


def _entry(number: int, drawing: Drawing, findings: Sequence[Finding]) -> _Entry:
    from markupsafe import Markup

    document = drawing_svg(drawing, findings)
    rows = []
    for part in drawing.parts:
        x0, y0, x1, y1 = bounds(part.outer)
        said = "; ".join(note.text for note in part.notes if note.values)
        rows.append((part.name, f"{x1 - x0:.1f} × {y1 - y0:.1f}", part.drawn, len(part.holes), said))
    kinds = Counter(finding.kind for finding in findings)
    stops = [kind for kind in STOPPING if kinds[kind]]
    return _Entry(
        number=number,
        source=drawing.source,
        verdict=" and ".join(f"{kinds[kind]} {kind}" for kind in reversed(stops)) or "sound",
        parts=tuple(rows),
        units=drawing.units,
        counts={kind: kinds[kind] for kind in SIGNS},
        findings=tuple((n, f.kind, _sign(f.kind, str(n)), str(f)) for n, f in enumerate(findings, start=1)),
        unused=", ".join(f"{count} × {what}" for what, count in drawing.unused.items()),
        notes=tuple(f"{note}" for note in drawing.notes),
        picture=Markup(document[document.index("<svg") :] if drawing.parts or drawing.sketches else ""),
    )
