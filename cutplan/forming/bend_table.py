"""The bend table of a part: force, die, order of strokes, back gauge, for the press brake.

The order is searched in `cutplan.forming.folding`, force and die are those of `check_bends`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutplan.base.findings import Finding
from cutplan.drawing import Part
from cutplan.forming.air_bending import die_opening, inside_radius
from cutplan.forming.bends import check_bends
from cutplan.forming.folding import Fold, fold_order
from cutplan.forming.model import BendCheck, BendStroke, BendTable, Press
from cutplan.forming.section import Section, section_of

__all__ = ["bend_table"]


def bend_table(part: Part, thickness: float, grade: str, material: str, press: Press) -> BendTable:
    """Return how a part is bent on a press brake.

    Parameters
    ----------
    part : Part
        With one bend line or more.
    thickness : float
        mm.
    grade, material : str
        Grade and material group, for the tensile strength.
    press : Press

    Returns
    -------
    BendTable
        Without strokes where none hits nothing; the findings tell why.

    Raises
    ------
    DrawingError
        If a bend line lies off the part.
    """
    checks = check_bends(part, thickness, grade, material, press)
    radii = [bend.radius_mm or inside_radius(die_opening(thickness, press.dies_mm)) for bend in part.bends]
    section = section_of(part, thickness, radii, press.k_factor)
    if section is None:
        told = "its bends are not parallel: no order of strokes was checked"
        warning = Finding("warning", told, part.bends[0].start, "try the order on paper first", "bending")
        return BendTable(part.name, thickness, grade, (), (warning,))
    dies = [max(checks[k].die_mm for k in bend.lines) for bend in section.bends]
    folding = fold_order(section, dies, press)
    findings = list(_unsaid(part))
    if not folding.folds:
        met = "; ".join(folding.met[:2])
        words = f"no order of strokes bends it: after {folding.most_bent} of {len(section.bends)} bends {met}"
        remedy = "take another punch or die, or bend it in two parts"
        findings.append(Finding("refused", words, part.bends[0].start, remedy, "bending"))
    strokes = tuple(_stroke(fold, section, dies, checks) for fold in folding.folds)
    return BendTable(part.name, thickness, grade, strokes, tuple(findings), _edges(part, section))


def _stroke(fold: Fold, section: Section, dies: Sequence[float], checks: Sequence[BendCheck]) -> BendStroke:
    bend = section.bends[fold.bend]
    own = [checks[k] for k in bend.lines]
    # Two stretches in one line are bent in one stroke, over one die: the shares of each add up.
    return BendStroke(
        bend=fold.bend + 1,
        angle_deg=own[0].bend.angle_deg,
        direction="down" if fold.turned_over else "up",
        turned_over=fold.turned_over,
        gauge_edge="A" if fold.reversed else "B",
        gauge_mm=fold.gauge_mm,
        gauge_on=fold.gauge_on,
        radius_mm=bend.radius,
        die_mm=dies[fold.bend],
        force_kn=sum(check.force_kn for check in own),
        length_mm=sum(check.length_mm for check in own),
        slide_out=fold.slide_out,
        picture=fold.picture,
    )


def _unsaid(part: Part) -> list[Finding]:
    """Tell where the drawing does not say which way a bend goes."""
    unsaid = [bend for bend in part.bends if bend.direction is None]
    if not unsaid:
        return []
    words = f"no direction stands at {len(unsaid)} of {len(part.bends)} bends: they are taken as up"
    return [Finding("warning", words, unsaid[0].start, 'write a note such as "UP 90" by them', "bending")]


def _edges(part: Part, section: Section) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where the edges A and B lie on the drawing, level with the middle of the first bend line."""
    way = np.array(section.direction)
    middle = (np.array(part.bends[0].start) + np.array(part.bends[0].end)) / 2.0
    a, b = (middle + (at - middle @ way) * way for at in (section.start, section.end))
    return (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))
