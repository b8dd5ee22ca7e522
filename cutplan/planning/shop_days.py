"""Plans in their folders as works for the shop's tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

from cutplan.base.errors import InputError
from cutplan.geometry import bounds
from cutplan.record import SavedPlan, SavedSheet, read_plan
from cutplan.scheduling import Work, read_works

__all__ = ["works_in"]

LISTS = (".csv", ".xlsx")


def works_in(places: Iterable[Path]) -> tuple[Work, ...]:
    """Return the works of plans and lists.

    Parameters
    ----------
    places : iterable of Path
        A plan.json, a folder that holds one or has folders that do, or a list as CSV or XLSX.

    Returns
    -------
    tuple of Work
        Each under a name of its own: the sheet's, with its job where sheets share one.

    Raises
    ------
    InputError
        If a place holds no work, or a plan cannot be read or holds no estimate.
    """
    works: list[Work] = []
    for place in places:
        if place.suffix.lower() in LISTS:
            works += read_works(place)
            continue
        for file in _plans(place):
            works += _of_plan(read_plan(file), file)
    return _told_apart(works)


def _plans(place: Path) -> list[Path]:
    if place.is_file():
        return [place]
    files = sorted({*place.glob("plan.json"), *place.glob("*/plan.json")})
    # What `align` wrote of a sheet is no work beside its plan.
    files = [file for file in files if not file.parent.name.endswith("-aligned")]
    if not files:
        what = "holds no plan.json" if place.is_dir() else "no such file"
        raise InputError(what, where=str(place), remedy="name a plan, a folder of plans or a list of work")
    return files


def _of_plan(plan: SavedPlan, file: Path) -> list[Work]:
    return [_of_sheet(plan, sheet, file) for sheet in plan.sheets]


def _of_sheet(plan: SavedPlan, sheet: SavedSheet, file: Path) -> Work:
    if not sheet.time_s.get("total", 0.0) > 0.0:
        raise InputError("holds no estimate", where=str(file), remedy="plan the job again")
    plate = sheet.nested.plate
    x0, y0, x1, y1 = bounds(plate.outline)
    names = {placement.part.name for placement in sheet.nested.placements}
    days = sorted(date.fromisoformat(plan.due[name]) for name in names if name in plan.due)
    return Work(
        name=sheet.name,
        process=sheet.data.process,
        thickness=plate.thickness,
        length=x1 - x0,
        width=y1 - y0,
        minutes=sheet.time_s["total"] / 60.0,
        job=plan.job,
        due=days[0] if days else None,
        kits=tuple(sorted({plan.kits[name] for name in names if name in plan.kits})),
        current_a=sheet.data.current_a,
        torches=sheet.lanes.torches,
        postprocessor=sheet.postprocessor,
        mass_kg=plate.mass_kg(),
    )


def _told_apart(works: list[Work]) -> tuple[Work, ...]:
    """Give works that share a name their job's, and a number where that does not do."""
    taken: set[str] = set()
    named = []
    shared = {work.name for n, work in enumerate(works) if any(work.name == w.name for w in works[:n])}
    for work in works:
        name = f"{work.name} of {work.job}" if work.name in shared and work.job else work.name
        unique, number = name, 1
        while unique in taken:
            number += 1
            unique = f"{name} ({number})"
        taken.add(unique)
        named.append(replace(work, name=unique))
    return tuple(named)
