"""A quote for a job: on its own plates, on plates of a stated size, or on plate yet to be ordered."""

from __future__ import annotations

from dataclasses import replace

from cutplan.base.errors import InputError, JobError
from cutplan.estimating import Estimate, Quote, QuotedSheet, make_quote
from cutplan.planning.engine import Here, Progress
from cutplan.planning.entries import PlateEntry
from cutplan.planning.flow import plan_job, strip_job
from cutplan.planning.group_nests import as_plate
from cutplan.planning.job import Job
from cutplan.planning.preparation import prices_of
from cutplan.planning.sheets import plan_sheet, sheet_tasks
from cutplan.process import CutData
from cutplan.record import PlannedSheet

__all__ = ["quote_job"]

LONGER_STRIP = 0.10
"""How much more plate a strip may come to: mills and stockists sell in steps (common practice)."""


def quote_job(
    job: Job,
    progress: Progress | None = None,
    *,
    width: float | None = None,
    stock_size: tuple[float, float] | None = None,
) -> Quote:
    """Return the quote of a job from programs planned and proved in memory.

    Parameters
    ----------
    job : Job
        With a price file.
    progress : callable, optional
        Told of each stage.
    width : float, optional
        Reckon with plate of this width, as long as the batch needs, whatever the job offers.
    stock_size : (float, float), optional
        Reckon with as many plates of this length and width as the batch needs.

    Returns
    -------
    Quote

    Raises
    ------
    InputError
        If both a width and a stock size are given, or one that is no size.
    JobError
        If the job names no price file, or a part finds no place.
    """
    prices = prices_of(job)
    if prices is None:
        raise JobError("a quote needs prices", where=str(job.file), remedy='name a price file: prices = "…"')
    if width is not None and stock_size is not None:
        raise InputError("a width and a stock size are two ways to reckon", remedy="give one of them")
    for size in (width, *(stock_size or ())):
        if size is not None and not 0.0 < size < float("inf"):
            raise InputError(f"a plate cannot measure {size:g} mm", remedy="give sizes above zero")
    if width is not None:
        sheets, share = _on_strips(job, width, progress)
        basis = f"plate {width:g} mm wide, ordered to length"
    else:
        wanted = job if stock_size is None else _on_stock(job, stock_size)
        plan = plan_job(wanted, progress, own_plans=True)
        if plan.unplaced:
            missing = ", ".join(f"{item.quantity} × {item.part}" for item in plan.unplaced)
            raise JobError(
                f"no place for {missing}",
                where=str(job.file),
                remedy="offer more plates, or quote by a stock size",
            )
        sheets, share = [_quoted(sheet) for sheet in plan.sheets], (1.0, 1.0)
        basis = "the plates of the job"
        if stock_size is not None:
            basis = f"plates of {stock_size[0]:g} × {stock_size[1]:g} mm, bought whole"
    return make_quote(job.name, sheets, prices, job.estimate, basis=basis, plate_share=share)


def _quoted(sheet: PlannedSheet) -> QuotedSheet:
    plate, data = sheet.nested.plate, sheet.data
    return QuotedSheet(
        sheet.name,
        sheet.estimate,
        _setting(data),
        thickness=plate.thickness,
        grade=plate.grade,
        edges=f"{_setting(data)}: range {data.iso9013_range} for the edge, "
        f"tolerance class {data.iso9013_tolerance_class}",
    )


def _setting(data: CutData) -> str:
    return f"{data.title}, {data.thickness:g} mm"


def _on_stock(job: Job, size: tuple[float, float]) -> Job:
    """Return the job with as many plates of a size as its parts could ever need."""
    length, width = max(size), min(size)
    kinds: dict[tuple[float, str], int] = {}
    materials = {}
    for entry in job.parts:
        key = (entry.thickness, entry.grade)
        kinds[key] = kinds.get(key, 0) + entry.quantity
        materials[key] = entry.material
    plates = tuple(
        PlateEntry(
            id=f"STOCK{number}", length=length, width=width, thickness=thickness, grade=grade,
            material=materials[thickness, grade], quantity=count,
        )
        for number, ((thickness, grade), count) in enumerate(sorted(kinds.items()), start=1)
    )  # fmt: skip
    return replace(job, plates=plates, inventory=None)


def _on_strips(
    job: Job, width: float, progress: Progress | None
) -> tuple[list[QuotedSheet], tuple[float, float]]:
    """Return each group on a plate as long as it needs, and how far the plates may be off."""
    tell = progress or (lambda stage, share: None)
    answers, _ = strip_job(job, width, progress)
    prices = prices_of(job)
    sheets = []
    shortest = longest = 0.0
    for group, strip in answers:
        if strip.unplaced:
            missing = ", ".join(f"{item.quantity} × {item.part}" for item in strip.unplaced)
            raise JobError(
                f"no place for {missing} on plate {width:g} mm wide",
                where=str(job.file),
                remedy="give a wider plate",
            )
        nested = as_plate(group, strip)
        (task,) = sheet_tasks([(nested, group)], job, prices)
        sheets.append(_quoted(plan_sheet(task, Here(tell))))
        mass = _plate_kg(sheets[-1].estimate)
        shortest += mass * min(strip.least_length / strip.length, 1.0)
        longest += mass * (1.0 + LONGER_STRIP)
    whole = sum(_plate_kg(sheet.estimate) for sheet in sheets)
    return sheets, (shortest / whole, longest / whole)


def _plate_kg(estimate: Estimate) -> float:
    return estimate.plate_kg or 0.0
