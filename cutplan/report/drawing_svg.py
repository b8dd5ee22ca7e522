"""A drawing as a picture: its parts, and a numbered spot for each finding.

Kinds of findings differ in shape and letter as well as in colour, and lines that bound no part
in dashes and width: legible in grey and to the colour-blind.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from cutplan.base.cleaning import escaped
from cutplan.base.findings import Finding, FindingKind
from cutplan.drawing import Drawing, Part
from cutplan.geometry import bounds
from cutplan.report.svg import STYLE, path_data

__all__ = ["SIGNS", "drawing_svg", "sign_svg"]

SIGNS: dict[FindingKind, tuple[str, str]] = {
    "refused": ("octagon", "refused: mend the drawing"),
    "question": ("diamond", "question: answer it in the job"),
    "warning": ("triangle", "warning"),
    "left out": ("square", "left out, as the job says"),
    "mended": ("circle", "mended"),
    "taken": ("flag", "taken from the drawing"),
}
"""Shape and words of each kind of finding."""
DRAWING_STYLE = """
.spot{stroke:#20242b}
.spot.refused{fill:#c8371b}.spot.question{fill:#9fc4e8}.spot.warning{fill:#f2c84b}
.spot.left{fill:#c9c6bd}.spot.mended{fill:#b6dcae}.spot.taken{fill:#fbfaf6}
.number.refused{fill:#fff}
.sketch{fill:none;stroke:#20242b}
""".strip()
# Spots of a picture; beyond it they would cover the parts.
MOST_SPOTS = 400
# Dashes in units of the spots, and width, by the state of a line that bounds no part.
DASHES = {
    "counted": ("", 0.08),
    "left out": ("0.3 0.5", 0.16),
    "question": ("2 0.6", 0.22),
    "refused": ("", 0.34),
}


def drawing_svg(drawing: Drawing, findings: Sequence[Finding]) -> str:
    """Return a picture of the parts in a drawing, the findings numbered at their places.

    Parameters
    ----------
    drawing : Drawing
    findings : sequence of Finding
        Numbered from 1 in their order; those without a place have no spot.

    Returns
    -------
    str
    """
    boxes = [bounds(part.outer) for part in drawing.parts]
    boxes += [bounds(sketch.path) for sketch in drawing.sketches]
    boxes += [(*f.place, *f.place) for f in findings if f.place is not None]
    x0, y0 = (min((box[k] for box in boxes), default=0.0) for k in (0, 1))
    x1, y1 = (max((box[k] for box in boxes), default=100.0) for k in (2, 3))
    unit = max(x1 - x0, y1 - y0, 1.0) / 60.0
    margin = 4.0 * unit
    body = [line for part in drawing.parts for line in _part_lines(part, y1, unit)]
    for sketch in drawing.sketches:
        dashes, width = DASHES[sketch.state]
        broken = " ".join(f"{float(each) * unit:.3f}" for each in dashes.split())
        body.append(
            f'<path class="sketch" stroke-width="{width * unit:.3f}" stroke-dasharray="{broken or "none"}" '
            f'd="{path_data(sketch.path, y1)}"/>'
        )
    spotted = [(n, f) for n, f in enumerate(findings, start=1) if f.place is not None]
    for number, finding in spotted[:MOST_SPOTS]:
        assert finding.place is not None
        body.append(sign_svg(finding.kind, finding.place[0], y1 - finding.place[1], unit, str(number)))
    width, height = x1 - x0 + 2 * margin, y1 - y0 + 2 * margin
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0 - margin:.3f} {-margin:.3f} {width:.3f} {height:.3f}">\n'
        f"<title>{escaped(drawing.source)}</title>\n<style>{STYLE}\n{DRAWING_STYLE}</style>\n"
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _part_lines(part: Part, y1: float, unit: float) -> list[str]:
    """Return a part's contours, marks and bends, and its name above it."""
    contours = "".join(path_data(contour, y1) for contour in (part.outer, *part.holes))
    lines = [f'<path class="part" vector-effect="non-scaling-stroke" d="{contours}"/>']
    lines += [f'<path class="mark" d="{path_data(mark, y1)}"/>' for mark in part.marks]
    for bend in part.bends:
        (ax, ay), (bx, by) = bend.start, bend.end
        lines.append(f'<path class="bend" d="M{ax:.3f} {y1 - ay:.3f}L{bx:.3f} {y1 - by:.3f}"/>')
    px0, _, px1, py1 = bounds(part.outer)
    times = f" × {part.drawn}" if part.drawn > 1 else ""
    lines.append(
        f'<text text-anchor="middle" x="{0.5 * (px0 + px1):.3f}" y="{y1 - py1 - 0.4 * unit:.3f}" '
        f'font-size="{1.2 * unit:.3f}">{escaped(part.name)}{times}</text>'
    )
    return lines


def sign_svg(kind: FindingKind, x: float, y: float, unit: float, number: str) -> str:
    """Return the sign of a kind of finding about a place, with a number in it.

    Parameters
    ----------
    kind : str
    x, y : float
        Place in the picture, y downwards.
    unit : float
        Half the sign's height.
    number : str
    """
    name = kind.split()[0]
    points = " ".join(f"{x + unit * px:.3f},{y + unit * py:.3f}" for px, py in _SHAPES[SIGNS[kind][0]]())
    return (
        f'<polygon class="spot {name}" stroke-width="{0.1 * unit:.3f}" points="{points}"/>'
        f'<text class="number {name}" x="{x:.3f}" y="{y + 0.36 * unit:.3f}" '
        f'font-size="{unit:.3f}">{escaped(number)}</text>'
    )


def _regular(corners: int, turn: float, size: float = 1.0) -> list[tuple[float, float]]:
    angles = [turn + math.tau * k / corners for k in range(corners)]
    return [(size * math.cos(a), size * math.sin(a)) for a in angles]


_SHAPES: dict[str, Callable[[], list[tuple[float, float]]]] = {
    "octagon": lambda: _regular(8, math.pi / 8.0, 1.1),
    "diamond": lambda: _regular(4, 0.0, 1.25),
    "triangle": lambda: _regular(3, -math.pi / 2.0, 1.4),
    "square": lambda: _regular(4, math.pi / 4.0, 1.25),
    "circle": lambda: _regular(24, 0.0),
    "flag": lambda: [(-1.2, -0.8), (0.9, -0.8), (1.5, 0.0), (0.9, 0.8), (-1.2, 0.8)],
}
