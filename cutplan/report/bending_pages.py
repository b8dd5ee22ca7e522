"""The bend tables as a page beside the setup sheets: the blank, its strokes in order, each in section."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cutplan.forming import ToolPicture
from cutplan.geometry import bounds
from cutplan.record import Plan
from cutplan.report.bending_content import BENDING_CAUTIONS, HEADINGS, BentPart, bent_parts
from cutplan.report.pages import render
from cutplan.report.svg import path_data

if TYPE_CHECKING:
    from markupsafe import Markup

__all__ = ["bend_labels", "bending_html", "shown_window"]

LEAST_WINDOW = 60.0  # mm to either side of the die's middle
MARGIN_SHARE = 0.06


def bending_html(plan: Plan) -> str:
    """Return the bend tables of a plan as one self-contained HTML page.

    Parameters
    ----------
    plan : Plan
        With bend tables.

    Returns
    -------
    str
        A page that prints on A4 and Letter in grey; the same plan gives the same text.
    """
    return render(
        "bending.html",
        job=plan.job,
        version=plan.version,
        headings=HEADINGS,
        parts=[_shown(bent) for bent in bent_parts(plan)],
        cautions=BENDING_CAUTIONS,
    )


def _shown(bent: BentPart) -> dict[str, object]:
    strokes = [
        (number, stroke, _section_svg(stroke.picture))
        for number, stroke in enumerate(bent.table.strokes, start=1)
        if stroke.picture is not None
    ]
    return {"bent": bent, "blank": _blank_svg(bent), "strokes": strokes}


def _blank_svg(bent: BentPart) -> Markup:
    """Return the blank with its bend lines in their numbers and the edges A and B."""
    from markupsafe import Markup

    part = bent.part
    x0, y0, x1, y1 = bounds(part.outer)
    unit = max(x1 - x0, y1 - y0) / 100.0
    height = y0 + y1
    shapes = "".join(path_data(path, height) for path in (part.outer, *part.holes))
    words = [f'<path class="metal" d="{shapes}"/>']
    for x, y, number, (ax, ay), (bx, by) in bend_labels(bent, unit):
        words.append(f'<path class="bend" d="M{ax:.2f} {height - ay:.2f}L{bx:.2f} {height - by:.2f}"/>')
        words.append(f'<text x="{x:.2f}" y="{height - y:.2f}" font-size="{4 * unit:.2f}">{number}</text>')
    for name, place in zip("AB", bent.table.edges or (), strict=False):
        x, y = place
        words.append(
            f'<text class="edge" x="{x:.2f}" y="{height - y:.2f}" font-size="{5 * unit:.2f}">{name}</text>'
        )
    pad = 8 * unit
    box = f"{x0 - pad:.2f} {y0 - pad:.2f} {x1 - x0 + 2 * pad:.2f} {y1 - y0 + 2 * pad:.2f}"
    title = "Blank with its bend lines in their numbers"
    return Markup(
        f'<svg viewBox="{box}" role="img" aria-label="{title}"><title>{title}</title>{"".join(words)}</svg>'
    )


def bend_labels(
    bent: BentPart, unit: float
) -> list[tuple[float, float, int, tuple[float, float], tuple[float, float]]]:
    """Return each bend line with its number, as the table counts them, and the number's place."""
    edges = bent.table.edges
    way = np.array([1.0, 0.0]) if edges is None else np.array(edges[1]) - np.array(edges[0])
    order = sorted(bent.part.bends, key=lambda bend: float(np.dot(bend.start, way)))
    labels, number, last = [], 0, None
    for bend in order:
        at = float(np.dot(bend.start, way) / np.hypot(*way))
        # Lines in one line are one bend.
        number += last is None or at - last > 0.05
        last = at
        (ax, ay), (bx, by) = bend.start, bend.end
        x, y = ax + 0.3 * (bx - ax) + 2 * unit, ay + 0.3 * (by - ay) + 2 * unit
        labels.append((x, y, number, bend.start, bend.end))
    return labels


def shown_window(picture: ToolPicture) -> tuple[float, float, float, float]:
    """Return what of a section a picture shows: the whole part, and the tools as far."""
    xs, ys = zip(*picture.part, strict=True)
    x0, x1 = min(*xs, -LEAST_WINDOW), max(*xs, LEAST_WINDOW)
    y0, y1 = min(*ys, -LEAST_WINDOW), max(*ys, LEAST_WINDOW)
    pad = MARGIN_SHARE * max(x1 - x0, y1 - y0)
    return x0 - pad, y0 - pad, x1 + pad, y1 + pad


def _section_svg(picture: ToolPicture) -> Markup:
    from markupsafe import Markup

    x0, y0, x1, y1 = shown_window(picture)

    def shape(points: tuple[tuple[float, float], ...]) -> str:
        return " ".join(f"{x:.2f},{y0 + y1 - y:.2f}" for x, y in points)

    words = [
        f'<polygon class="{name}" points="{shape(points)}"/>'
        for name, points in (("tool", picture.die), ("tool", picture.punch), ("metal", picture.part))
    ]
    title = "The part in section at the end of the stroke"
    return Markup(
        f'<svg viewBox="{x0:.2f} {y0:.2f} {x1 - x0:.2f} {y1 - y0:.2f}" role="img" aria-label="{title}">'
        f"<title>{title}</title>{''.join(words)}</svg>"
    )
