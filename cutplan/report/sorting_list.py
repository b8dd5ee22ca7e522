"""The sorting list: which part goes on which pallet, by kit, and how it is lifted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.base.cleaning import csv_text
from cutplan.record import Plan
from cutplan.report.labels import PartLabel, part_labels
from cutplan.report.pages import render

__all__ = ["SORTING_COLUMNS", "SortedParts", "sorting_csv", "sorting_html", "sorting_rows"]

SORTING_COLUMNS = (
    "kit", "due", "pallet", "part", "quantity", "weight_each_kg", "weight_total_kg", "lift", "plates", "marks",
)  # fmt: skip
WITHOUT_KIT = "no kit"


@dataclass(frozen=True)
class SortedParts:
    """Copies of one part on one pallet.

    Attributes
    ----------
    kit, due : str
        Empty where there is none.
    pallet : int
        Counted through the plan.
    part : str
    weight_kg : float
        Of one copy.
    lift : str
        "two persons", "crane", "beyond the crane" or empty.
    plates, marks : tuple of str
    """

    kit: str
    due: str
    pallet: int
    part: str
    weight_kg: float
    lift: str
    plates: tuple[str, ...]
    marks: tuple[str, ...]

    @property
    def quantity(self) -> int:
        """Copies on the pallet."""
        return len(self.marks)

    @property
    def total_kg(self) -> float:
        """Mass of these copies."""
        return self.quantity * self.weight_kg


def sorting_rows(plan: Plan) -> tuple[SortedParts, ...]:
    """Return what goes on which pallet: kits by their due date, no two kits on one pallet.

    Heavy parts come first, so that they lie at the bottom; a pallet is full at the shop's limit.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of SortedParts
    """
    kits: dict[tuple[bool, str, str], list[PartLabel]] = {}
    for label in part_labels(plan):
        kit, due = plan.kits.get(label.part, ""), plan.due.get(label.part, "")
        kits.setdefault((not kit, due or "9999", kit), []).append(label)
    rows: list[SortedParts] = []
    pallet = 0
    for (_, due, kit), labels in sorted(kits.items(), key=lambda each: each[0]):
        for load in _loads(labels, plan.lifting.pallet_kg):
            pallet += 1
            for part in dict.fromkeys(label.part for label in load):
                own = [label for label in load if label.part == part]
                plates = tuple(dict.fromkeys(label.plate for label in own))
                marks = tuple(label.mark for label in own)
                day = "" if due == "9999" else due
                rows.append(SortedParts(kit, day, pallet, part, own[0].weight_kg, own[0].lift, plates, marks))
    return tuple(rows)


def _loads(labels: Sequence[PartLabel], most_kg: float) -> list[list[PartLabel]]:
    """Share labels out over pallets, heavy parts first, each on the first pallet with room."""
    loads: list[list[PartLabel]] = []
    masses: list[float] = []
    for label in sorted(labels, key=lambda each: (-each.weight_kg, each.part, each.copy)):
        room = (n for n, mass in enumerate(masses) if mass + label.weight_kg <= most_kg)
        n = next(room, len(loads))
        if n == len(loads):
            loads.append([])
            masses.append(0.0)
        loads[n].append(label)
        masses[n] += label.weight_kg
    return loads


def sorting_csv(plan: Plan) -> str:
    """Return the sorting list as comma-separated text with a heading row.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
    """
    rows = (
        [
            row.kit, row.due, str(row.pallet), row.part, str(row.quantity), f"{row.weight_kg:.3f}",
            f"{row.total_kg:.3f}", row.lift, "; ".join(row.plates), "; ".join(row.marks),
        ]
        for row in sorting_rows(plan)
    )  # fmt: skip
    return csv_text(SORTING_COLUMNS, rows)


def sorting_html(plan: Plan) -> str:
    """Return the sorting list as a page to print, a table for each pallet.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
    """
    rows = sorting_rows(plan)
    pallets: dict[int, list[SortedParts]] = {}
    for row in rows:
        pallets.setdefault(row.pallet, []).append(row)
    of_kit = Counter(own[0].kit for own in pallets.values())
    shown = [
        {
            "number": number,
            "kit": own[0].kit or WITHOUT_KIT,
            "of": of_kit[own[0].kit],
            "due": own[0].due,
            "kg": sum(row.total_kg for row in own),
            "over": any(row.weight_kg > plan.lifting.pallet_kg for row in own),
            "rows": own,
        }
        for number, own in pallets.items()
    ]
    return render("sorting.html", job=plan.job, pallets=shown, lifting=plan.lifting)
