"""A program turned and shifted to its plate as it lies, and proved there before it is let out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely

from cutplan.base.errors import InputError, ProofError
from cutplan.control import stamp
from cutplan.geometry import Pose, bounds, place, to_polygon
from cutplan.planning.belonging import as_planned, sheet_of
from cutplan.planning.standing import put_in_place, refuse_another, refuse_the_plans_own
from cutplan.program import PostProcessor, find_postprocessor, turned_program
from cutplan.record import (
    LyingSheet,
    SavedPlan,
    SavedSheet,
    bound_digests,
    lying_plan_json,
    planned_as_it_lies,
    read_plan,
)
from cutplan.report import nested_svg
from cutplan.stock import (
    Lie,
    NestedPlate,
    Placement,
    as_it_lies,
    beyond_plate,
    lie_of,
    skew_allowed,
    touch_points,
)
from cutplan.verification import Verdict, verify

__all__ = ["Aligned", "align_program", "lying_outline", "plate_lie", "write_aligned"]

STRAIGHT_DEG = 1e-6
MOST_TOLD = 5
Place = tuple[float, float]


@dataclass(frozen=True)
class Aligned:
    """A program proved on its plate as it lies.

    Attributes
    ----------
    plan_file : Path
    job : str
    sheet : LyingSheet
    lie : Lie
    verdict : Verdict
    allowed_deg : float
        Skew up to which the program would have done as it was.
    would_fall : tuple of str
        Parts that would not have come whole off the plate, had nothing been turned.
    """

    plan_file: Path
    job: str
    sheet: LyingSheet
    lie: Lie
    verdict: Verdict
    allowed_deg: float
    would_fall: tuple[str, ...]


def align_program(
    program: Path,
    plan_file: Path,
    found: Sequence[Place],
    *,
    corners: Sequence[Place] | None = None,
    sheet: str | None = None,
    posts: Sequence[Path] = (),
) -> Aligned:
    """Turn and shift a program to its plate as it lies, and prove every move there.

    Parameters
    ----------
    program, plan_file : Path
    found : sequence of (x, y)
        Where the plate's corners were touched, mm, from the table's program zero.
    corners : sequence of (x, y), optional
        Which, in plate coordinates; by default those that the setup sheet names.
    sheet : str, optional
        Plate and sheet; by default the program's own.
    posts : sequence of Path, optional
        Folders with post-processors of the shop's own.

    Returns
    -------
    Aligned

    Raises
    ------
    InputError
        If the points do not fit the plate, or torches side by side would have to turn.
    ProofError
        If a part, the torch or the table's end is in the way of the plate as it lies.
    """
    saved, planned, texts, before = as_planned(program, plan_file, sheet)
    if before:
        raise InputError(
            "takes up a program that was stopped, and its plate must lie as it lay then",
            where=str(program),
            remedy="align the plan as it was made, and restart from the aligned program",
        )
    lie = _lie(planned, found, corners)
    if planned.lanes.torches > 1 and abs(lie.skew_deg) > STRAIGHT_DEG:
        raise InputError(
            f"{planned.lanes.torches} torches side by side cannot follow a plate turned by {lie.skew_deg:.3f} degrees",
            where=str(program),
            remedy="straighten the plate, or plan for one torch",
        )
    post = find_postprocessor(planned.postprocessor, [*posts, plan_file.parent])
    nested = as_it_lies(planned.nested, lie.pose)
    lying = _turned(texts, planned, saved, nested, lie, post)
    verdict = _proved(lying, saved, program)
    return Aligned(
        plan_file=plan_file,
        job=saved.job,
        sheet=lying,
        lie=lie,
        verdict=verdict,
        allowed_deg=skew_allowed(planned.nested, planned.data.kerf),
        would_fall=_named(beyond_plate(planned.nested, lie.pose, planned.data.kerf)),
    )


def plate_lie(
    program: Path,
    plan_file: Path,
    found: Sequence[Place],
    *,
    corners: Sequence[Place] | None = None,
    sheet: str | None = None,
) -> tuple[NestedPlate, Lie]:
    """Return a program's sheet as it was planned, and how its plate lies.

    Parameters
    ----------
    program, plan_file : Path
    found : sequence of (x, y)
        Where the plate's corners were touched, mm.
    corners : sequence of (x, y), optional
        Which, in plate coordinates.
    sheet : str, optional
        Plate and sheet; by default the program's own.

    Returns
    -------
    NestedPlate, Lie
    """
    planned = sheet_of(read_plan(plan_file), program, sheet, plan_file)
    return planned.nested, _lie(planned, found, corners)


def _lie(planned: SavedSheet, found: Sequence[Place], corners: Sequence[Place] | None) -> Lie:
    return lie_of(corners or touch_points(planned.nested.plate), found)


def _turned(
    texts: Sequence[str],
    sheet: SavedSheet,
    saved: SavedPlan,
    nested: NestedPlate,
    lie: Lie,
    post: PostProcessor,
) -> LyingSheet:
    names = [name for name, _ in sheet.programs]
    turned = turned_program(texts, post, lie.pose, saved.machine.start, names)
    planned = planned_as_it_lies(sheet.planned, lie.pose)
    bound = bound_digests(nested, sheet.data, saved.machine, sheet.dialect, saved.tolerance_mm, planned)
    told = (
        f"aligned: the plate lies turned by {lie.skew_deg:.4f} deg, its zero at "
        f"X{lie.pose.x:.3f} Y{lie.pose.y:.3f} mm"
    )
    stamped = tuple(stamp(_told(text, post, told), bound) for text in turned)
    return LyingSheet(sheet, nested, lie.pose, stamped, bound)


def _told(text: str, post: PostProcessor, words: str) -> str:
    """Say at the head of a file how the plate lies, behind its first remark."""
    lines = text.split("\n")
    first = next((k for k, line in enumerate(lines) if line.startswith("(")), None)
    if first is None or not post.settings.comments.notes:
        return text
    return "\n".join([*lines[: first + 1], *post.comment(words), *lines[first + 1 :]])


def _proved(lying: LyingSheet, saved: SavedPlan, program: Path) -> Verdict:
    sheet, lie = lying.sheet, lying.lie
    run = as_it_lies(sheet.run, lie)
    verdict = verify(
        lying.texts,
        run,
        sheet.data,
        sheet.lanes.machine_of_first(saved.machine),
        dialect=sheet.dialect,
        tolerance=saved.tolerance_mm,
        planned=planned_as_it_lies(sheet.planned, lie),
    )
    if verdict.is_as_planned:
        return verdict
    fault = [*verdict.faults, *verdict.trims][0]
    met = _named(_in_the_way(lying.nested, saved, 0.5 * sheet.data.kerf))
    parts = f"; these parts cannot be cut where they lie: {', '.join(met)}" if met else ""
    raise ProofError(
        f"cannot be run on the plate as it lies ({fault.code}): {fault.message}{parts}",
        where=program.name,
        place=fault.place,
        remedy="nothing was written; straighten the plate or move the clamp, or nest anew on the plate as it lies: "
        "--outline PLATE.dxf writes it for a [[plate]] with outline, then `cutplan plan`",
    )


def _in_the_way(nested: NestedPlate, saved: SavedPlan, radius: float) -> tuple[Placement, ...]:
    """Return the parts that lie beyond the table's travel, or under a clamp."""
    standing = [to_polygon(k.outline, tolerance=0.01) for k in nested.plate.keepouts if k.stands]
    clamps = shapely.buffer(shapely.union_all(standing), saved.machine.torch_radius_mm)
    x_end, y_end = saved.machine.table
    met = []
    for placement in nested.placements:
        outer = place(placement.part.outer, placement.pose)
        x0, y0, x1, y1 = bounds(outer)
        beyond = min(x0, 0.0) < x1 - x_end + radius or min(y0, 0.0) < y1 - y_end + radius
        if beyond or shapely.intersects(to_polygon(outer, tolerance=0.01), clamps):
            met.append(placement)
    return tuple(met)


def _named(placements: Sequence[Placement]) -> tuple[str, ...]:
    names = [f"{p.part.name}/{p.copy}" for p in placements]
    more = len(names) - MOST_TOLD
    return tuple(names if more <= 0 else [*names[:MOST_TOLD], f"and {more} more"])


def write_aligned(aligned: Aligned, out: Path) -> list[str]:
    """Put a turned program, its picture and its plan.json into a folder, all or nothing.

    Parameters
    ----------
    aligned : Aligned
    out : Path

    Returns
    -------
    list of str
        The names of the files.

    Raises
    ------
    OutputError
        If the folder holds the plan as it was made, or something else of that name.
    """
    refuse_the_plans_own(out, aligned.plan_file)
    refuse_another(out, aligned.job)
    lying = aligned.sheet
    files = {name: text for (name, _), text in zip(lying.sheet.programs, lying.texts, strict=True)}
    files[f"{lying.sheet.name}.svg"] = nested_svg(lying.nested)

    def write(folder: Path) -> None:
        for name, text in files.items():
            (folder / name).write_bytes(text.encode())

    return put_in_place(out, write, lambda digests: lying_plan_json(aligned.plan_file, lying, digests))


def lying_outline(nested: NestedPlate, lie: Pose) -> tuple[Any, ...]:
    """Return outline and voids of a plate as it lies, their box's lower left corner at the origin.

    Parameters
    ----------
    nested : NestedPlate
    lie : Pose

    Returns
    -------
    tuple of Path
    """
    turned = as_it_lies(nested, lie).plate
    x0, y0, _, _ = bounds(turned.outline)
    back = Pose(-x0, -y0)
    return (place(turned.outline, back), *(place(void, back) for void in turned.voids))
