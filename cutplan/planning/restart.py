"""A program that was stopped, taken up again: from a cut, or from a place on one, and proved with what ran."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutplan.base.errors import InputError, ProofError
from cutplan.control import joined, read_program
from cutplan.cutting import Cut, cut_name, on_placements
from cutplan.estimating import Estimate, estimate
from cutplan.planning.belonging import as_planned
from cutplan.planning.program_check import scrap_of
from cutplan.planning.sheets import part_areas
from cutplan.planning.standing import put_in_place, refuse_another, refuse_the_plans_own
from cutplan.planning.stops import RestartWishes, where_stopped
from cutplan.planning.travel_heights import as_travelled
from cutplan.program import PostProcessor, Program, find_postprocessor, write_program
from cutplan.record import (
    RestSheet,
    SavedPlan,
    SavedSheet,
    Stopped,
    bound_digests,
    cuts_of_sheet,
    planned_of,
    rest_plan_json,
    stopped_before,
)
from cutplan.report import plate_svg
from cutplan.sequencing import Kept, Order, OrderWishes, cut_keys, sequence, shares_of
from cutplan.stock import NestedPlate, first_lane
from cutplan.verification import Before, Done, Planned, Verdict, verify

__all__ = ["Restarted", "restart_program", "write_restart"]


@dataclass(frozen=True)
class Restarted:
    """A program that takes up another, proved together with what that had done.

    Attributes
    ----------
    plan_file : Path
    job : str
    sheet : RestSheet
    texts : tuple of str
        The files of the program that was stopped.
    before : tuple of Before
        All that ran on the plate.
    given_up : tuple of str
        Copies that are skipped, with their marks.
    rest : Cut or None
        What is left of the cut that is taken up part way; None where all begin anew.
    passes_twice_mm : tuple of float
        How far along the cut the torch passes the place each time, where it does so twice.
    """

    plan_file: Path
    job: str
    sheet: RestSheet
    texts: tuple[str, ...]
    before: tuple[Before, ...]
    given_up: tuple[str, ...]
    rest: Cut | None
    passes_twice_mm: tuple[float, ...]

    @property
    def taken_up(self) -> str:
        """What people call the cut that is taken up part way; empty where all begin anew."""
        return "" if self.rest is None else cut_name(self.rest)

    @property
    def over_run_mm(self) -> float:
        """How far before the place where it stopped the torch begins."""
        return 0.0 if self.rest is None else self.rest.choices[0].over_run_mm


def restart_program(
    program: Path,
    plan_file: Path,
    wishes: RestartWishes,
    *,
    sheet: str | None = None,
    posts: Sequence[Path] = (),
) -> Restarted:
    """Return the program that takes up one that was stopped, proved with all that ran before it.

    Parameters
    ----------
    program, plan_file : Path
    wishes : RestartWishes
    sheet : str, optional
        Plate and sheet; by default the program's own.
    posts : sequence of Path, optional
        Folders with post-processors of the shop's own.

    Returns
    -------
    Restarted

    Raises
    ------
    InputError
        If there is no such cut, the place lies on none, or nothing is left to cut.
    ProofError
        If the two programs together do not make what was planned.
    """
    saved, planned, texts, before = as_planned(program, plan_file, sheet)
    post = find_postprocessor(planned.postprocessor, [*posts, plan_file.parent])
    cuts = cuts_of_sheet(plan_file, planned)
    stopped, rest, twice = where_stopped(cuts, wishes, planned)
    if stopped.cuts:
        before = (*before, stopped_before(plan_file, planned, texts, stopped))
    gone = _given_up(planned, wishes)
    nested = _without(planned.nested, gone)
    order = _ordered(
        *_left(cuts[stopped.cuts :], rest, planned, gone),
        nested,
        planned,
        saved,
        post,
        reorder=wishes.reorder,
    )
    done = _Written(saved, planned, post, nested, order, before)
    written, bound = done.program(
        f"{planned.name}-restart-{len(planned.before) + 1}", _told(stopped, rest, program.name)
    )
    verdict, figures = done.proved(written), done.estimated(written)
    return Restarted(
        plan_file=plan_file,
        job=saved.job,
        sheet=RestSheet(planned, stopped, nested, order, written, verdict, figures, bound),
        texts=tuple(texts),
        before=before,
        given_up=_marked(planned, gone),
        rest=rest,
        passes_twice_mm=twice,
    )


def _given_up(planned: SavedSheet, wishes: RestartWishes) -> set[tuple[str, int]]:
    gone = scrap_of(planned, wishes.skip)
    if gone and planned.lanes.torches > 1:
        raise InputError(
            f"{planned.lanes.torches} torches cut side by side, and none can leave out a part alone",
            where=planned.name,
            remedy="let them cut it, and book it as spoilt",
        )
    return gone


def _left(
    later: Sequence[Cut], rest: Cut | None, planned: SavedSheet, gone: set[tuple[str, int]]
) -> tuple[list[Cut], Cut | None]:
    """Return the cuts that are left, on the placements that stay, and the one among them that is taken up."""
    kept = [k for k, p in enumerate(planned.run.placements) if (p.part.name, p.copy) not in gone]
    number = {old: new for new, old in enumerate(kept)}
    resumed = None if rest is None else on_placements(rest, number)
    others = [on_placements(cut, number) for cut in later]
    left = [cut for cut in (resumed, *others) if cut is not None]
    if not left:
        raise InputError(
            "nothing is left to cut",
            where=planned.name,
            remedy="check the number of the cut, and what is skipped",
        )
    return left, resumed


def _without(nested: NestedPlate, gone: set[tuple[str, int]]) -> NestedPlate:
    placements = tuple(p for p in nested.placements if (p.part.name, p.copy) not in gone)
    return replace(nested, placements=placements)


def _ordered(
    left: Sequence[Cut],
    resumed: Cut | None,
    nested: NestedPlate,
    planned: SavedSheet,
    saved: SavedPlan,
    post: PostProcessor,
    *,
    reorder: bool,
) -> Order:
    """Return the order of what is left, a cut that is taken up first.

    The torch travels raised: what came loose before may stand up.
    """
    first = [cut for cut in left if cut is resumed]
    others = [cut for cut in left if cut is not resumed]
    late = any(cut.kind == "mark" for cut in others) and (first or planned.cuts[0].kind != "mark")
    wishes = OrderWishes(marks="part" if late else "sheet")
    machine, options = as_travelled(saved.machine, post, planned.data, wishes, planned.lanes)
    plate = nested.plate
    if reorder and others:
        anew = sequence(others, machine, planned.data, plate, options=replace(options, fixed_leads=True))
        others = [step.cut for step in anew.steps]
    in_order = [*first, *others]
    kept = Kept(tuple(cut_keys(in_order)), exactly=True)
    return sequence(in_order, machine, planned.data, plate, options=options, kept=kept)


def _told(stopped: Stopped, rest: Cut | None, program: str) -> list[str]:
    """Return what the head of the program says of the restart."""
    if rest is None or stopped.until is None:
        return [f"restart of {program} behind its cut {stopped.cuts}"]
    x, y = stopped.until
    lead = rest.choices[0]
    return [
        f"restart of {program} on its cut {stopped.cuts}, from X{x:.2f} Y{y:.2f} mm",
        f"the torch begins {lead.over_run_mm:.1f} mm before that, in the kerf: nothing is pierced there",
        "CAUTION: parts that are free may stand up, look before the torch moves",
    ]


def _marked(planned: SavedSheet, gone: set[tuple[str, int]]) -> tuple[str, ...]:
    marks = planned.marks or ("",) * len(planned.nested.placements)
    return tuple(
        f"{p.part.name}/{p.copy}" + (f" ({mark})" if mark else "")
        for p, mark in zip(planned.nested.placements, marks, strict=True)
        if (p.part.name, p.copy) in gone
    )


@dataclass(frozen=True)
class _Written:
    """What is left of a sheet on its way to a proved program."""

    saved: SavedPlan
    planned: SavedSheet
    post: PostProcessor
    nested: NestedPlate
    order: Order
    before: tuple[Before, ...]

    @property
    def wanted(self) -> Planned:
        """What the program is held against."""
        kept = {(p.part.name, p.copy) for p in self.nested.placements}
        tabs = tuple(tab for tab in self.planned.tabs if (tab.part, tab.copy) in kept)
        return replace(planned_of(self.order.steps, self.planned.lanes), tabs=tabs)

    def program(self, name: str, told: Sequence[str]) -> tuple[Program, dict[str, str]]:
        """Return the program, and the digests of what it is bound to."""
        planned, saved = self.planned, self.saved
        bound = bound_digests(
            self.nested, planned.data, saved.machine, planned.dialect, saved.tolerance_mm, self.wanted, self.before
        )  # fmt: skip
        program = write_program(
            self.order, self.nested, planned.data, saved.machine, self.post, name=name,
            header=[f"job {saved.job}", *told], bound=bound, torch_spacing=planned.lanes.spacing or None,
        )  # fmt: skip
        return program, bound

    def proved(self, program: Program) -> Verdict:
        """Return the verdict on the program together with all that ran before it."""
        planned, saved = self.planned, self.saved
        run = first_lane(self.nested, planned.lanes)
        assert run is not None
        verdict = verify(
            [file.text for file in program.files],
            run,
            planned.data,
            planned.lanes.machine_of_first(saved.machine),
            dialect=planned.dialect,
            tolerance=saved.tolerance_mm,
            planned=self.wanted,
            done=Done(before=self.before),
        )
        if not verdict.is_as_planned:
            fault = [*verdict.faults, *verdict.trims][0]
            raise ProofError(
                f"what ran and what is left do not make what was planned ({fault.code}): {fault.message}",
                where=program.file_name,
                place=fault.place,
                remedy="nothing was written; begin from another cut, or skip the part",
            )
        return verdict

    def estimated(self, program: Program) -> Estimate:
        """Return the time and gas of what is left; prices are not in the plan."""
        dialect, nested = self.planned.dialect, self.nested
        return estimate(
            joined([read_program(file.text, dialect) for file in program.files]),
            self.planned.data,
            self.saved.machine,
            plate=nested.plate,
            torches=self.planned.lanes.torches,
            cut_parts=[shares_of(step) for step in self.order.steps],
            part_areas=part_areas(nested),
            part_copies=Counter(placement.part.name for placement in nested.placements),
            dialect=dialect,
        )


def write_restart(restarted: Restarted, out: Path) -> list[str]:
    """Put a restart, the programs before it, its picture and its plan.json into a folder, all or nothing.

    Parameters
    ----------
    restarted : Restarted
    out : Path

    Returns
    -------
    list of str
        The names of the files.

    Raises
    ------
    InputError
        If the folder holds the plan as it was made.
    OutputError
        If the folder holds something else of that name.
    """
    refuse_the_plans_own(out, restarted.plan_file)
    refuse_another(out, restarted.job)
    rest = restarted.sheet
    files = {p.file_name: p.text for p in rest.program.files}
    names = [[name for name, _ in ran.programs] for ran in rest.sheet.before]
    for own, ran in zip([*names, [name for name, _ in rest.sheet.programs]], restarted.before, strict=False):
        files |= dict(zip(own, ran.texts, strict=True))
    files[f"{rest.sheet.name}.svg"] = plate_svg(rest.planned)

    def write(folder: Path) -> None:
        for name, text in files.items():
            (folder / name).write_bytes(text.encode())

    return put_in_place(
        out, write, lambda digests: rest_plan_json(restarted.plan_file, rest, restarted.texts, digests)
    )
