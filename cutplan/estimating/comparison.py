"""The same batch by one process and another, with one torch and several, side by side.

The cuts stay where the plan has them; feeds, pierces and preheats become those of the other
process.  Leads, gaps and kerf would differ a little if the batch were planned anew, so a
close call deserves a plan of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import DWELL, ROW_COLUMNS, SWITCH, Motions
from cutplan.estimating.estimate import shared_between
from cutplan.estimating.model import Estimate, EstimateOptions
from cutplan.estimating.prices import Prices
from cutplan.estimating.totals import add_estimates
from cutplan.process import CutData, Library, Process
from cutplan.stock import Plate

__all__ = ["DEFAULT_ALTERNATIVES", "Alternative", "Compared", "Work", "compare", "retimed"]

AS_PLANNED = "the cuts lie as they were planned for another process: leads and gaps would differ"

NAMES = {"plasma": "plasma", "oxyfuel": "oxy-fuel"}


@dataclass(frozen=True, eq=False)
class Work:
    """One planned plate: what its program does, with what data, on what plate.

    Attributes
    ----------
    motions : Motions
    data : CutData
        That the program was planned with.
    plate : Plate or None
    part_areas, part_copies : mapping or None
        True area (mm², all copies) and number of copies by part.
    remnant_kg : float
        Mass of what is kept of the plate; taken to be the same by every process.
    """

    motions: Motions
    data: CutData
    plate: Plate | None = None
    part_areas: Mapping[str, float] | None = None
    part_copies: Mapping[str, int] | None = None
    remnant_kg: float = 0.0


@dataclass(frozen=True)
class Alternative:
    """A way to cut the batch: process, torches, and a setting where one is wanted."""

    process: Process
    torches: int = 1
    setting: str | None = None

    @property
    def name(self) -> str:
        """In words: "oxy-fuel, propane, 2 torches"."""
        words = [NAMES[self.process], *([self.setting] if self.setting else [])]
        words.append(f"{self.torches} torch" + ("es" if self.torches > 1 else ""))
        return ", ".join(words)


DEFAULT_ALTERNATIVES = (
    Alternative("plasma"),
    Alternative("oxyfuel"),
    Alternative("oxyfuel", 2),
    Alternative("oxyfuel", 4),
)


@dataclass(frozen=True)
class Compared:
    """An alternative with its estimate, or why it cannot cut the batch."""

    alternative: Alternative
    estimate: Estimate | None
    reason: str


def compare(
    works: Sequence[Work],
    library: Library,
    machine: Machine,
    alternatives: Sequence[Alternative] = DEFAULT_ALTERNATIVES,
    *,
    prices: Prices | None = None,
    options: EstimateOptions | None = None,
) -> tuple[Compared, ...]:
    """Return the batch's estimate for each alternative, in their order.

    Parameters
    ----------
    works : sequence of Work
    library : Library
        Where the data of the other process come from; a work's own data are kept where
        process and setting agree.
    machine : Machine
        Its torch count is not held against the alternatives: they show what more would do.
    alternatives : sequence of Alternative
    prices : Prices, optional
    options : EstimateOptions, optional

    Returns
    -------
    tuple of Compared
    """
    results = []
    for alternative in alternatives:
        try:
            chosen = [_data_for(work.data, alternative, library, machine) for work in works]
        except DataError as problem:
            results.append(Compared(alternative, None, str(problem)))
            continue
        total = add_estimates(
            _estimated(work, data, machine, alternative.torches, prices, options)
            for work, data in zip(works, chosen, strict=True)
        )
        settings = dict.fromkeys(_setting_in_words(data) for data in chosen)
        results.append(Compared(alternative, total, ", ".join(settings)))
    return tuple(results)


def _estimated(
    work: Work,
    data: CutData,
    machine: Machine,
    torches: int,
    prices: Prices | None,
    options: EstimateOptions | None,
) -> Estimate:
    result = shared_between(
        retimed(work.motions, work.data, data),
        data,
        machine,
        torches,
        plate=work.plate,
        prices=prices,
        part_areas=work.part_areas,
        part_copies=work.part_copies,
        remnant_mm2=0.0 if work.plate is None else work.remnant_kg / work.plate.mass_kg(1.0),
        options=options,
    )
    return result if data is work.data else replace(result, notes=(*result.notes, AS_PLANNED))


def _data_for(planned: CutData, alternative: Alternative, library: Library, machine: Machine) -> CutData:
    if planned.process == alternative.process and alternative.setting in (None, planned.setting):
        return planned
    return library.choose(
        alternative.process, planned.material, planned.thickness, setting=alternative.setting,
        max_current_a=machine.max_current_a,
    )  # fmt: skip


def _setting_in_words(data: CutData) -> str:
    words = f"{data.setting} on {data.thickness:g} mm"
    no_pierce = data.thickness > data.rules.edge_start_above
    return f"{words} (no pierce: every cut from an edge)" if no_pierce else words


def retimed(motions: Motions, planned: CutData, data: CutData) -> Motions:
    """Return motions along the same cuts with another process's feeds and dwells.

    Feeds under the torch keep their share of the full feed; pierce and preheat dwells become
    those of `data`, and starts at an edge stay starts at an edge.

    Parameters
    ----------
    motions : Motions
    planned : CutData
        What the motions were planned with.
    data : CutData
        What they are to be run with.

    Returns
    -------
    Motions
    """
    if data is planned:
        return motions
    waits = motions.kind == DWELL
    lit = motions.torch & ~waits & (motions.kind != SWITCH)
    feed = np.where(lit, motions.feed_mm_min * (data.feed_mm_min / planned.feed_mm_min), motions.feed_mm_min)
    dwell = motions.dwell_s.copy()
    dwell[waits & motions.torch] = data.pierce_s
    if planned.process == "oxyfuel":
        # An edge start keeps its shorter preheat: scaled, not replaced.
        preheat = waits & ~motions.torch & ~motions.marker
        dwell[preheat] *= data.preheat_s / planned.preheat_s if planned.preheat_s > 0.0 else 0.0
    changed = replace(motions, feed_mm_min=feed, dwell_s=dwell)
    return _with_preheats(changed, data) if planned.process == "plasma" else changed


def _with_preheats(motions: Motions, data: CutData) -> Motions:
    """Return motions with a preheat dwell before every start of the torch."""
    starts = np.flatnonzero(motions.torch & ~np.concatenate([[False], motions.torch[:-1]]))
    if data.preheat_s <= 0.0 or len(starts) == 0:
        return motions
    waits = motions.kind == DWELL
    pierced = waits[np.minimum(starts + 1, len(motions) - 1)]
    if not np.any(waits & motions.torch):
        pierced = np.ones(len(starts), dtype=bool)
    # Each start's row is doubled, and the first of the two becomes the dwell before it.
    rows = np.insert(np.arange(len(motions)), starts, starts)
    new = starts + np.arange(len(starts))
    columns = {name: getattr(motions, name)[rows] for name in ROW_COLUMNS}
    columns["kind"][new] = DWELL
    columns["end"][new] = columns["start"][new]
    columns["turns"][new] = 0.0
    columns["dwell_s"][new] = np.where(pierced, data.preheat_s, data.edge_preheat_s)
    columns["torch"][new] = False
    return replace(motions, **columns)
