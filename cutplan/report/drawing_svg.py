"""A drawing as a picture: its parts, with numbered marks where something was found."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.base.cleaning import escaped
from cutplan.base.findings import Finding
from cutplan.drawing import Drawing
from cutplan.geometry import bounds
from cutplan.report.svg import STYLE, path_data

__all__ = ["drawing_svg"]


def drawing_svg(drawing: Drawing, findings: Sequence[Finding]) -> str:
    """Return a picture of the parts in a drawing, the findings numbered at their places.

    Parameters
    ----------
    drawing : Drawing
    findings : sequence of Finding
        Numbered where they have a place.

    Returns
    -------
    str
    """
    boxes = [bounds(part.outer) for part in drawing.parts]
    boxes += [(*f.place, *f.place) for f in findings if f.place is not None]
    x0, y0 = (min((box[k] for box in boxes), default=0.0) for k in (0, 1))
    x1, y1 = (max((box[k] for box in boxes), default=100.0) for k in (2, 3))
    unit = max(x1 - x0, y1 - y0, 1.0) / 60.0
    margin = 4.0 * unit
    body: list[str] = []
    for part in drawing.parts:
        contours = "".join(path_data(contour, y1) for contour in (part.outer, *part.holes))
        body.append(f'<path class="part" d="{contours}"/>')
        body += [f'<path class="mark" d="{path_data(mark, y1)}"/>' for mark in part.marks]
        for bend in part.bends:
            (ax, ay), (bx, by) = bend.start, bend.end
            body.append(f'<path class="bend" d="M{ax:.3f} {y1 - ay:.3f}L{bx:.3f} {y1 - by:.3f}"/>')
    for number, finding in enumerate(findings, start=1):
        if finding.place is None:
            continue
        x, y = finding.place[0], y1 - finding.place[1]
        body.append(
            f'<circle class="lead" cx="{x:.3f}" cy="{y:.3f}" r="{unit:.3f}"/>'
            f'<text class="order" x="{x + 1.2 * unit:.3f}" y="{y - 0.6 * unit:.3f}" '
            f'font-size="{1.6 * unit:.3f}">{number}</text>'
        )
    width, height = x1 - x0 + 2 * margin, y1 - y0 + 2 * margin
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0 - margin:.3f} {-margin:.3f} {width:.3f} {height:.3f}">\n'
        f"<title>{escaped(drawing.source)}</title>\n<style>{STYLE}</style>\n" + "\n".join(body) + "\n</svg>\n"
    )
