"""The joint list of split parts: which pieces meet where, for the fitter and the welder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cutplan.base.cleaning import csv_text
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, bounds, place
from cutplan.record import Joint, Plan, joints_of
from cutplan.report.pages import render
from cutplan.report.svg import path_data

if TYPE_CHECKING:
    from markupsafe import Markup

__all__ = ["JOINT_COLUMNS", "joints_csv", "joints_html"]

JOINT_COLUMNS = (
    "joint", "part", "quantity", "at_mm", "piece_before", "piece_beyond", "length_before_mm", "length_beyond_mm",
    "gap_mm", "weld_mm", "thickness_mm", "grade", "preparation", "measure_mm", "beam", "beam_at_mm",
)  # fmt: skip
# Common practice of fitting and welding long members; the welding planner and local codes go before them.
JOINT_CAUTIONS = (
    "Who fits and welds these joints is qualified for it, works to a procedure, and has them inspected as the design asks.",
    "Long pieces are lifted by a crane with a spreader, never by one end; support them along their length until they are welded.",
    "Measure over the lines on both pieces before and after tacking: welding draws the pieces together.",
    "Preheat, run-on and run-off plates, and which joint is welded first are the welding planner's to say.",
)


def joints_csv(plan: Plan) -> str:
    """Return the joint list as comma-separated text with a heading row.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
    """
    return csv_text(JOINT_COLUMNS, map(_cells, joints_of(plan)))


def _cells(joint: Joint) -> list[str]:
    return [
        joint.name, joint.part, str(joint.quantity), f"{joint.at_mm:.1f}", *joint.pieces,
        *(f"{length:.1f}" for length in joint.lengths_mm), f"{joint.gap_mm:g}", f"{joint.weld_mm:.1f}",
        f"{joint.thickness_mm:g}", joint.grade, joint.preparation,
        f"{joint.measure_mm:g}" if joint.measure_mm else "", joint.beam,
        f"{joint.beam_at_mm:.1f}" if joint.beam else "",
    ]  # fmt: skip


def joints_html(plan: Plan) -> str:
    """Return the joint list as a page to print, with a picture of each part in its pieces.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
        A self-contained page; the same plan gives the same text.
    """
    placed = {p.part.name: p.part for sheet in plan.sheets for p in sheet.nested.placements}
    parts: dict[str, list[Joint]] = {}
    for joint in joints_of(plan):
        parts.setdefault(joint.part, []).append(joint)
    shown = [
        {"name": name, "joints": joints, "picture": _picture(joints, placed)}
        for name, joints in parts.items()
    ]
    return render("joints.html", job=plan.job, version=plan.version, parts=shown, cautions=JOINT_CAUTIONS)


def _picture(joints: list[Joint], placed: dict[str, Part]) -> Markup:
    """Return the pieces as they are welded together, lying along the page, with the joints' names."""
    from markupsafe import Markup, escape

    names = [joints[0].pieces[0], *(joint.pieces[1] for joint in joints)]
    pieces = {name: placed[name] for name in names if name in placed}
    lying = {name: _lying(piece) for name, piece in pieces.items()}
    boxes = {name: bounds(paths[0]) for name, paths in lying.items()}
    x0, y0 = (min(box[k] for box in boxes.values()) for k in (0, 1))
    x1, y1 = (max(box[k] for box in boxes.values()) for k in (2, 3))
    unit, height, words = (x1 - x0) / 100.0, y0 + y1, []
    for name, paths in lying.items():
        contours = 1 + len(pieces[name].holes)
        words.append(
            f'<path class="metal" d="{"".join(path_data(path, height) for path in paths[:contours])}"/>'
        )
        words += [f'<path class="mark" d="{path_data(mark, height)}"/>' for mark in paths[contours:]]
        bx0, by0, bx1, by1 = boxes[name]
        words.append(_words(escape(name), 0.5 * (bx0 + bx1), height - 0.5 * (by0 + by1), unit))
    for joint in joints:
        before, beyond = (boxes.get(name) for name in joint.pieces)
        x = before[2] if before else beyond[0] if beyond else x0
        words.append(_words(f"J{joint.number}", x, y1 + 2.0 * unit, unit))
    pad = 4 * unit
    box = f"{x0 - pad:.1f} {y0 - pad:.1f} {x1 - x0 + 2 * pad:.1f} {y1 - y0 + 2 * pad:.1f}"
    title = escape(f"{joints[0].part} in its pieces")
    return Markup(
        f'<svg viewBox="{box}" role="img" aria-label="{title}"><title>{title}</title>{"".join(words)}</svg>'
    )


def _lying(piece: Part) -> list[Path]:
    """Return a piece's contours and marks with its length along x."""
    assert piece.piece is not None
    pose = Pose(rotation_deg=-piece.piece.split.direction_deg)
    return [place(path, pose) for path in (piece.outer, *piece.holes, *piece.marks)]


def _words(text: str, x: float, y: float, unit: float) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{2 * unit:.2f}">{text}</text>'
