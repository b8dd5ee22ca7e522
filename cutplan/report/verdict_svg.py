"""A proved program as a picture: parts as drawn, the torch's way as run, trouble spots numbered."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutplan.control import RAPID, Motions
from cutplan.geometry import bounds
from cutplan.report.svg import nested_svg
from cutplan.stock import NestedPlate
from cutplan.verification import Fault

__all__ = ["verdict_svg"]

MARK = "#c1121f"
"""Colour of what is marked: nothing else on the plate has it."""


def verdict_svg(nested: NestedPlate, motions: Motions, labelled: Sequence[tuple[str, Fault]]) -> str:
    """Return the picture of a program held against its plate.

    Parameters
    ----------
    nested : NestedPlate
    motions : Motions
        What the program's text does.
    labelled : sequence of (str, Fault)
        Each with its label in the list beside the picture, "F1"; no part is named so.

    Returns
    -------
    str
    """
    x0, y0, x1, y1 = bounds(nested.plate.outline)
    unit = max(x1 - x0, y1 - y0) / 100.0
    layer = [f'<path class="cut" d="{_torch_path(motions, y1)}"/>']
    for label, fault in labelled:
        if fault.place is None:
            continue
        x, y = fault.place[0], y1 - fault.place[1]
        corners = ((x, y - unit), (x + unit, y), (x, y + unit), (x - unit, y))
        points = " ".join(f"{a:.2f},{b:.2f}" for a, b in corners)
        layer.append(
            f'<polygon points="{points}" fill="none" stroke="{MARK}" stroke-width="{0.25 * unit:.2f}"/>'
            f'<text x="{x + 1.2 * unit:.2f}" y="{y - 0.8 * unit:.2f}" font-size="{1.6 * unit:.2f}" '
            f'font-weight="bold" fill="{MARK}" stroke="white" stroke-width="{0.3 * unit:.2f}" '
            f'paint-order="stroke">{label}</text>'
        )
    return nested_svg(nested).replace("</svg>", "\n".join(layer) + "\n</svg>")


def _torch_path(motions: Motions, height: float) -> str:
    """Return what the torch runs while lit as SVG path data, y turned downwards."""
    words: list[str] = []
    at: tuple[float, float] | None = None
    for row in range(len(motions)):
        if not motions.torch[row] or motions.kind[row] == RAPID:
            continue
        start, end = motions.start[row], motions.end[row]
        if (start[:2] == end[:2]).all() and motions.turns[row] == 0.0:
            continue
        if at != (start[0], start[1]):
            words.append(f"M{start[0]:.3f} {height - start[1]:.3f}")
        words.append(_stretch(motions, row, height))
        at = (end[0], end[1])
    return "".join(words)


def _stretch(motions: Motions, row: int, height: float) -> str:
    end, turn = motions.end[row], float(motions.turns[row])
    if turn == 0.0:
        return f"L{end[0]:.3f} {height - end[1]:.3f}"
    cx, cy = motions.centre[row]
    spoke = motions.start[row, :2] - motions.centre[row]
    radius = math.hypot(spoke[0], spoke[1])
    sense = 0 if turn > 0.0 else 1
    # Half first: an arc of a full turn has its end at its start and no middle of its own.
    half = math.atan2(spoke[1], spoke[0]) + turn / 2.0
    middle = (cx + radius * math.cos(half), cy + radius * math.sin(half))
    large = 1 if abs(turn) / 2.0 > math.pi else 0
    arc = f"A{radius:.3f} {radius:.3f} 0 {large} {sense}"
    return f"{arc} {middle[0]:.3f} {height - middle[1]:.3f}{arc} {end[0]:.3f} {height - end[1]:.3f}"
