"""Trade rules on one part: holes too small, slots too narrow, webs too thin for the process."""

from __future__ import annotations

import math
from typing import Literal

from cutplan.base.findings import Finding
from cutplan.cutting.compensate import Compensation, circle_in, compensate
from cutplan.cutting.leads import LEAST_METAL
from cutplan.cutting.model import CuttingOptions
from cutplan.cutting.webs import web_findings
from cutplan.drawing import Part
from cutplan.geometry import Path, area
from cutplan.process import CutData

__all__ = ["check_part", "hole_fate", "loss_findings", "needs_marker"]

Fate = Literal["cut", "mark", "refuse"]

# A hole with this many times the area of the largest circle in it is a slot, which no drill makes.
SLOT_AREA = 2.0
# What is said of holes to be drilled where nothing marks their centre.
CUT_UNMARKED = "the machine has no marker, so it is cut: expect a taper, or drill it instead"
DRILL_UNMARKED = "drill it by the drawing and leave it out of what is cut, or take a machine with a marker"


def check_part(part: Part, data: CutData, options: CuttingOptions | None = None) -> tuple[Finding, ...]:
    """Return what the process and thickness have against a part.

    Parameters
    ----------
    part : Part
    data : CutData
    options : CuttingOptions, optional
        Its `small_holes` decides whether a hole under the smallest is a warning or refused.

    Returns
    -------
    tuple of Finding
        Places in drawing coordinates; "refused" ones cannot be cut as drawn.
    """
    options = options or CuttingOptions()
    findings: list[Finding] = []
    for index, contour in [*enumerate(part.holes), (None, part.outer)]:
        made = compensate(contour, data.kerf, hole=index, part_on_right=True)
        fate: Fate = "cut"
        if index is not None:
            fate, told = hole_fate(part.name, index, contour, made, data, options)
            findings += told
        if fate == "cut":
            findings += loss_findings(part.name, index, made, data)
    return (*findings, *web_findings(part, data))


def needs_marker(part: Part, data: CutData, options: CuttingOptions | None = None) -> bool:
    """Whether something of a part is marked: lines, letters, or a hole that is to be drilled.

    Parameters
    ----------
    part : Part
    data : CutData
    options : CuttingOptions, optional

    Returns
    -------
    bool
    """
    options = options or CuttingOptions()
    if part.marks or part.texts or part.trace:
        return True
    made = [compensate(hole, data.kerf, hole=k, part_on_right=True) for k, hole in enumerate(part.holes)]
    return any(
        hole_fate(part.name, k, hole, each, data, options)[0] == "mark"
        for k, (hole, each) in enumerate(zip(part.holes, made, strict=True))
    )


def hole_fate(
    name: str, index: int, contour: Path, made: Compensation, data: CutData, options: CuttingOptions
) -> tuple[Fate, list[Finding]]:
    """Return what becomes of a hole, and why if it is not simply cut."""
    x, y, radius = made.torch.inscribed if made.torch else circle_in(contour)
    width, rules, policy = 2.0 * radius, data.rules, options.small_holes
    called = f"hole {index + 1} of '{name}', {width:.2f} mm wide,"

    def refuse(why: str, remedy: str) -> tuple[Fate, list[Finding]]:
        return "refuse", [Finding("refused", f"{called} {why}", (x, y), remedy)]

    def warn(fate: Fate, why: str, remedy: str) -> tuple[Fate, list[Finding]]:
        return fate, [Finding("warning", f"{called} {why}", (x, y), remedy)]

    if data.thickness > rules.edge_start_above:
        why = f"would need a pierce, and {data.setting} pierces no more than {rules.edge_start_above:g} mm"
        return refuse(why, "drill a start hole")
    needed = data.kerf + 2.0 * LEAST_METAL
    slot = abs(area(contour)) > SLOT_AREA * math.pi * radius * radius
    if made.torch is None or width < needed:
        if slot:
            why = f"is a slot without room for the {data.kerf:.2f} mm kerf and a start ({needed:.2f} mm)"
            return refuse(why, "widen it, or take a setting with a smaller kerf")
        why = f"has no room for the {data.kerf:.2f} mm kerf and a start ({needed:.2f} mm)"
        if policy == "refuse":
            return refuse(why, "drill it")
        if not options.marker:
            return refuse(f"{why}, and the machine has no marker for its centre", DRILL_UNMARKED)
        return warn("mark", why, "its centre is marked for drilling")
    if width >= rules.smallest_hole:
        return "cut", []
    why = f"is under the {rules.smallest_hole:.2f} mm worth cutting in {data.thickness:g} mm plate"
    if policy == "refuse":
        return refuse(why, "drill it, or allow small holes")
    if policy == "cut":
        return warn("cut", why, "expect a tapered hole, or mark it for drilling")
    if slot:
        return warn("cut", why, "no drill makes a slot, so it is cut: expect a taper")
    if not options.marker:
        return warn("cut", why, CUT_UNMARKED)
    return warn("mark", why, 'its centre is marked for drilling; [cutting] small_holes = "cut" cuts it')


def loss_findings(name: str, index: int | None, made: Compensation, data: CutData) -> list[Finding]:
    """Return what the kerf cannot reach of a contour."""
    called = f"the outside of '{name}'" if index is None else f"hole {index + 1} of '{name}'"
    findings = []
    for loss in made.losses:
        kept = f"for the {data.kerf:.2f} mm kerf: {loss.depth:.2f} mm of metal stay in it"
        if loss.kind == "corner":
            findings.append(Finding("warning", f"a corner of {called} is too sharp {kept}", loss.place))
        elif loss.kind == "slot" and loss.depth <= 0.5 * data.kerf:
            findings.append(Finding("warning", f"a nick in {called} is too narrow {kept}", loss.place))
        else:
            told = (
                f"a {loss.kind} in {called}, {loss.width:.2f} mm wide, is under the {data.kerf:.2f} mm kerf"
            )
            remedy = "widen it, or take a setting with a smaller kerf"
            findings.append(Finding("refused", told, loss.place, remedy))
    return findings
