"""Bevels of a sheet, from what the machine's head can do to proved programs and their estimates."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely

from cutplan.base.errors import DataError, ProofError
from cutplan.base.findings import Finding
from cutplan.control import read_program
from cutplan.cutting import (
    BevelCuts,
    BevelHead,
    SheetCuts,
    bevel_angles,
    bevel_cuts,
    bevel_foot,
    bevel_refusals,
    clear_of_grooves,
)
from cutplan.drawing import Part
from cutplan.estimating import Estimate, Prices, estimate
from cutplan.geometry import Path, polygon
from cutplan.planning.job import Job
from cutplan.planning.posts import bevel_post_of
from cutplan.process import CutData, Library
from cutplan.program import PostProcessor, Program, write_program
from cutplan.record import BevelProgram, bound_digests, planned_of
from cutplan.sequencing import Order, SequenceOptions, Step, sequence, shares_of
from cutplan.stock import ONE_TORCH, NestedPlate
from cutplan.verification import PlannedBevels, Verdict, unmade_bevels, verify_bevels

__all__ = [
    "Bevelling",
    "bevel_problems",
    "bevel_programs",
    "bevelling_of",
    "clear_cuts",
    "foot_of",
    "grooved",
    "tilted_data",
]

TOPIC = "bevels"
# Feet are seen in chords, and grown by as much, mm.
FOOT_CHORD = 0.5
# How far square cuts begin from a groove, beyond half the kerf, mm.
GROOVE_CLEAR = 2.0
LOOSE = (
    "bevels behind the square cut find parts that are loose: see that each lies level and where it was cut, "
    "and wedge it, before the torch is lit"
)


@dataclass(frozen=True)
class Bevelling:
    """What a group of parts needs to be bevelled: a head, and cutting data by tilt in degrees."""

    post: PostProcessor
    tilted: Mapping[float, CutData]

    @property
    def head(self) -> BevelHead:
        """What leans the torch."""
        return head_of(self.post)


def head_of(post: PostProcessor) -> BevelHead:
    """Return how the torch of a post-processor leans."""
    bevel = post.settings.bevel
    assert bevel is not None
    return BevelHead(bevel.head != "hand", bevel.most_deg)


def tilted_data(parts: Iterable[Part], data: CutData, job: Job, library: Library) -> dict[float, CutData]:
    """Return the cutting data for a plate's thickness along the jet, for each tilt that parts ask for.

    Raises
    ------
    DataError
        If there are none for so much.
    """
    angles = {angle for part in parts for angle in bevel_angles(part, data.thickness)}
    found = {}
    for angle in sorted(angles):
        along = data.thickness / math.cos(math.radians(angle))
        try:
            found[angle] = library.choose(
                data.process,
                data.material,
                along,
                current_a=job.cutting.current_a,
                setting=job.cutting.setting,
                max_current_a=job.machine.max_current_a,
                under_water=job.cutting.under_water,
            )
        except DataError as problem:
            told = f"a bevel of {angle:g}° is {along:.1f} mm along the jet: {problem.message}"
            raise DataError(told, where=problem.where, remedy=problem.remedy) from None
    return found


def bevelling_of(parts: Sequence[Part], data: CutData, job: Job, library: Library) -> Bevelling | None:
    """Return what some parts need to be bevelled; None where nothing is."""
    post = bevel_post_of(job)
    if post is None or not any(part.bevelled_here for part in parts):
        return None
    return Bevelling(post, tilted_data(parts, data, job, library))


def bevel_problems(part: Part, data: CutData, mirror: bool, job: Job, library: Library) -> Iterator[Finding]:
    """Yield what stands against the bevels of a part here, and what they change."""
    post = bevel_post_of(job)
    if post is None or not part.bevelled_here:
        return
    try:
        tilted = tilted_data([part], data, job, library)
    except DataError as problem:
        yield Finding("refused", problem.message, None, problem.remedy or "", TOPIC)
        return
    for error in bevel_refusals(part, data.thickness, tilted, head_of(post)):
        yield Finding("refused", error.message, error.place, error.remedy or "", TOPIC)
    if mirror:
        told = "it is not mirrored: that would put its bevels on the other side"
        yield Finding("warning", told, topic=TOPIC)


def foot_of(part: Part, data: CutData, job: Job, library: Library) -> tuple[Path, ...]:
    """Return what of the plate the bevels of a part take beside its outline, drawing coordinates."""
    if bevel_post_of(job) is None or not part.bevelled_here:
        return ()
    try:
        foot = bevel_foot(part, data.thickness, tilted_data([part], data, job, library))
    except DataError:
        # Told among the problems.
        return ()
    if foot is None:
        return ()
    grown = shapely.simplify(foot.buffer(FOOT_CHORD), FOOT_CHORD)
    return tuple(
        polygon(shapely.get_coordinates(shapely.orient_polygons(piece).exterior)[:-1])
        for piece in shapely.get_parts(grown)
    )


def grooved(sheet: NestedPlate, bevelling: Bevelling | None, data: CutData, job: Job) -> list[BevelCuts]:
    """Return the runs that bevel a sheet's parts, by setting, in the order they are made."""
    if bevelling is None or not any(p.part.bevelled_here for p in sheet.placements):
        return []
    square: Literal["first", "last"] = "last"
    if job.bevels.square == "first" or (job.bevels.square == "auto" and data.process == "oxyfuel"):
        square = "first"
    return bevel_cuts(sheet, bevelling.tilted, bevelling.head, square)


def clear_cuts(cuts: SheetCuts, sets: Sequence[BevelCuts], sheet: NestedPlate, data: CutData) -> SheetCuts:
    """Return the square cuts of a sheet with the starts that the bevels cut before them leave sound."""
    before = [each for each in sets if each.when == "before"]
    if not before:
        return cuts
    return clear_of_grooves(cuts, before, sheet.plate.thickness, 0.5 * data.kerf + GROOVE_CLEAR)


def bevel_programs(
    sheet: NestedPlate,
    sets: Sequence[BevelCuts],
    square_steps: Sequence[Step],
    bevelling: Bevelling | None,
    job: Job,
    prices: Prices | None,
) -> tuple[tuple[BevelProgram, ...], tuple[Finding, ...]]:
    """Return the proved programs that bevel a sheet's parts, and what is to be told of them.

    Raises
    ------
    ProofError
        If a program does not make what the drawings ask for.
    """
    if bevelling is None or not sets:
        return (), ()
    starts = tuple(step.lead.pierce for step in square_steps if step.cut.kind != "mark")
    programs, counts = [], {"before": 0, "after": 0}
    for each in sets:
        counts[each.when] += 1
        name = f"{sheet.name}-bevel-{each.when}-{counts[each.when]}"
        programs.append(_program(each, sheet, starts, name, bevelling.post, job, prices))
    missing = unmade_bevels(sheet, [program.asked for program in programs])
    if missing:
        raise ProofError(
            missing[0].message, where=sheet.name, place=missing[0].place,
            remedy="nothing was written; please keep the job and report this",
        )  # fmt: skip
    loose = [Finding("warning", LOOSE, topic=TOPIC)] if counts["after"] else []
    return tuple(programs), tuple(loose)


def _program(
    runs: BevelCuts,
    sheet: NestedPlate,
    starts: tuple[tuple[float, float], ...],
    name: str,
    post: PostProcessor,
    job: Job,
    prices: Prices | None,
) -> BevelProgram:
    data, machine = runs.data, job.machine
    options = SequenceOptions(marker_feed_mm_min=post.settings.marker_feed_mm_min)
    order = sequence(runs.cuts, machine, data, sheet.plate, options=options, seed=job.seed)
    asked = PlannedBevels(
        runs.when, runs.slope, runs.tilt_deg, runs.towards_deg, planned_of(order.steps, ONE_TORCH),
        tuple((round(x, 4), round(y, 4)) for x, y in starts) if runs.when == "before" else (),
    )  # fmt: skip
    dialect = post.dialect_for(data)
    bound = bound_digests(sheet, data, machine, dialect, job.cutting.tolerance_mm, asked.planned)
    program = write_program(
        order,
        sheet,
        data,
        machine,
        post,
        name=name,
        header=[f"job {job.name}", *_remarks(runs, sheet)],
        bound=bound,
    )
    verdict = verify_bevels(
        [file.text for file in program.files], sheet, data, machine, asked,
        dialect=dialect, tolerance=job.cutting.tolerance_mm,
    )  # fmt: skip
    _refuse_unproved(verdict, program)
    figures = _estimate(program.text, order, post, runs, job, prices)
    return BevelProgram(asked, data, order, program, verdict, figures, bound)


def _refuse_unproved(verdict: Verdict, program: Program) -> None:
    if verdict.is_as_planned:
        return
    fault = [*verdict.faults, *verdict.trims][0]
    raise ProofError(
        f"the program failed its proof ({fault.code}): {fault.message}",
        where=program.file_name,
        place=fault.place,
        remedy="nothing was written; please keep the job and report this",
    )


def _remarks(runs: BevelCuts, sheet: NestedPlate) -> list[str]:
    """Return what the operator is told of a program that bevels, before its cautions."""
    where = "BEFORE" if runs.when == "before" else "AFTER"
    told = [
        f"bevels, {runs.slope} slopes, {runs.tilt_deg:g} deg: run {where} program {sheet.name}",
        "X and Y are where the axis of the jet meets the top of the plate, the torch leaning",
        "CAUTION: a leaning jet throws sparks and slag far to the side, screen and clear it",
    ]
    if runs.when == "after":
        told.append("CAUTION: parts are loose, see that each lies level and where it was cut, wedge it")
    return told


def _estimate(
    text: str, order: Order, post: PostProcessor, runs: BevelCuts, job: Job, prices: Prices | None
) -> Estimate:
    dialect = post.dialect_for(runs.data)
    # The plate is laid on, taken off, programmed and sorted once, with its square cut.
    options = replace(
        job.estimate, handling_s_per_plate=0.0, handling_s_per_tonne=0.0, sorting_s_per_piece=0.0, sorting_s_per_kg=0.0,
        programming_s_per_plate=0.0, programming_s_per_drawing=0.0, set_up_s_per_thickness=0.0,
    )  # fmt: skip
    figures = estimate(
        read_program(text, dialect),
        runs.data,
        job.machine,
        prices=prices,
        cut_parts=[shares_of(step) for step in order.steps],
        options=options,
        dialect=dialect,
    )
    # Its parts are counted, and weighed, with their square cut.
    by_part = {n: replace(p, copies=0, area_mm2=0.0, kg=0.0) for n, p in figures.by_part.items()}
    return replace(figures, by_part=by_part)
