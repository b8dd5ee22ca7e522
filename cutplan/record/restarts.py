"""plan.json of one sheet whose program was stopped: what is left of it, and what ran before."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cutplan.base.errors import InputError
from cutplan.base.files import read_json, validate
from cutplan.control import digest
from cutplan.cutting import Cut
from cutplan.estimating import Estimate
from cutplan.program import Program
from cutplan.record.cuts import BeforeRecord, ChainRecord, CutRecord, ProgramRecord
from cutplan.record.digests import content_digest
from cutplan.record.estimates import EstimateRecord
from cutplan.record.model import PlannedSheet
from cutplan.record.programs import VerdictRecord
from cutplan.record.saved import SavedSheet
from cutplan.record.schema import OrderRecord, PlanRecord, SheetRecord
from cutplan.record.shapes import PlacementRecord
from cutplan.sequencing import Order
from cutplan.stock import NestedPlate
from cutplan.verification import Before, Verdict

__all__ = ["RestSheet", "Stopped", "cuts_of_sheet", "rest_plan_json", "stopped_before"]


@dataclass(frozen=True)
class Stopped:
    """Where a program was stopped.

    Attributes
    ----------
    cuts : int
        So many were begun, in their order.
    until : tuple of float or None
        Where the torch stopped in the last of them, mm; None where that was made whole.
    until_mm : float
        How far along the last that is.
    """

    cuts: int
    until: tuple[float, float] | None = None
    until_mm: float = 0.0


@dataclass(frozen=True)
class RestSheet:
    """What is left of a sheet, with its program.

    Attributes
    ----------
    sheet : SavedSheet
        As it was planned.
    stopped : Stopped
    nested : NestedPlate
        Without the parts that were given up.
    order : Order
        The cuts that are left.
    program : Program
    verdict : Verdict
    estimate : Estimate
    bound : mapping of str to str
        Digests of what the program is bound to.
    """

    sheet: SavedSheet
    stopped: Stopped
    nested: NestedPlate
    order: Order
    program: Program
    verdict: Verdict
    estimate: Estimate
    bound: Mapping[str, str]

    @property
    def planned(self) -> PlannedSheet:
        """What is left as a planned sheet of its own, for its picture."""
        return PlannedSheet(
            nested=self.nested,
            data=self.sheet.data,
            order=self.order,
            program=self.program,
            verdict=self.verdict,
            estimate=self.estimate,
            bound=self.bound,
            lanes=self.sheet.lanes,
        )


def cuts_of_sheet(plan_file: Path, sheet: SavedSheet) -> tuple[Cut, ...]:
    """Return the cuts of a sheet of one torch in their order, each with the lead that was chosen.

    Parameters
    ----------
    plan_file : Path
    sheet : SavedSheet

    Returns
    -------
    tuple of Cut

    Raises
    ------
    InputError
        If the plan was written before plans held the paths of their cuts.
    """
    known = _record_of(plan_file, sheet)[1]
    if not all(cut.path for cut in known.cuts):
        raise InputError(
            f"does not hold the paths of the cuts of {sheet.name}",
            where=str(plan_file),
            remedy="it is of an earlier version: plan the job again",
        )
    return tuple(cut.cut(sheet.run.placements) for cut in known.cuts)


def stopped_before(plan_file: Path, sheet: SavedSheet, texts: Sequence[str], stopped: Stopped) -> Before:
    """Return what a program has done when it was stopped.

    Parameters
    ----------
    plan_file : Path
    sheet : SavedSheet
    texts : sequence of str
        The program's files.
    stopped : Stopped

    Returns
    -------
    Before
        Places rounded as plan.json has them.
    """
    known = _record_of(plan_file, sheet)[1]
    cuts = tuple(cut.saved() for cut in known.cuts[: stopped.cuts])
    until = None if stopped.until is None else (round(stopped.until[0], 4), round(stopped.until[1], 4))
    return Before(tuple(texts), cuts, until, round(stopped.until_mm, 3))


def rest_plan_json(plan_file: Path, rest: RestSheet, texts: Sequence[str], files: Mapping[str, str]) -> str:
    """Return the text of a plan.json of what is left of a sheet.

    Parameters
    ----------
    plan_file : Path
        The plan as it was made.
    rest : RestSheet
    texts : sequence of str
        The files of the program that was stopped.
    files : mapping of str to str
        Names of the files written with it, with their digests.

    Returns
    -------
    str
    """
    record, known = _record_of(plan_file, rest.sheet)
    stopped, kept = rest.stopped, {(p.part.name, p.copy) for p in rest.nested.placements}
    programs = tuple(
        ProgramRecord(file=name, digest=digest(text))
        for (name, _), text in zip(rest.sheet.programs, texts, strict=True)
    )
    ran = BeforeRecord(
        programs=programs,
        cuts=known.cuts[: stopped.cuts],
        until_mm=stopped.until,
        until_way_mm=stopped.until_mm,
    )
    feed = rest.sheet.data.feed_mm_min
    sheet = known.model_copy(
        update={
            "program": rest.program.file_name,
            "programs": tuple(
                ProgramRecord(file=p.file_name, digest=digest(p.text)) for p in rest.program.files
            ),
            "bound": dict(rest.bound),
            "placements": tuple(
                PlacementRecord.of(placement, _mark(known, placement.part.name, placement.copy))
                for placement in rest.nested.placements
            ),
            "cuts": tuple(CutRecord.of(n, s, feed) for n, s in enumerate(rest.order.steps, start=1)),
            "tabs": tuple(tab for tab in known.tabs if (tab.part, tab.copy_) in kept),
            "chains": ChainRecord.all_of(rest.order.steps),
            "order": OrderRecord.of(rest.order),
            "before": (*known.before, ran),
            "estimate": EstimateRecord.of(rest.estimate),
            "verification": VerdictRecord.of(rest.verdict),
        }
    )
    # The rack's plates are held by the plan as it was made, beside which this one is none.
    update = {"plates": (sheet,), "files": (*sorted(files), "plan.json"), "file_digests": dict(files)}
    plan = record.model_copy(update={**update, "from_rack": (), "totals": None, "unplaced": (), "digest": ""})
    content = plan.model_dump(by_alias=True)
    whole = {**content, "digest": content_digest(content)}
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _record_of(plan_file: Path, sheet: SavedSheet) -> tuple[PlanRecord, SheetRecord]:
    record = validate(PlanRecord, read_json(plan_file), str(plan_file))
    return record, next(s for s in record.plates if f"{s.id}-{s.sheet}" == sheet.name)


def _mark(known: SheetRecord, part: str, copy: int) -> str | None:
    return next((p.mark for p in known.placements if (p.part, p.copy_) == (part, copy)), None)
