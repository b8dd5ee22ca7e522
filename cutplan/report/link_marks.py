"""Links of a sheet's chains as pictures and lists tell them: where each lies, whence and whither."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cutplan.cutting import gaps_for, shared_stretches
from cutplan.geometry import FloatArray, Path, direction_at, length, point_at, subpath
from cutplan.record import PlannedSheet
from cutplan.sequencing import Step

__all__ = [
    "LinkMark",
    "links_of",
    "shared_of",
    "step_links",
    "step_shared",
    "together_lines",
]


@dataclass(frozen=True, eq=False)
class LinkMark:
    """A link: its path on the plate, and what it says in words."""

    path: Path
    words: str

    def arrow(self, size: float) -> FloatArray:
        """Return the corners of an arrowhead half way along it, shape (3, 2), mm; `size` is its length."""
        half = np.array([0.5 * float(length(self.path))])
        middle, ahead = point_at(self.path, half)[0], direction_at(self.path, half)[0]
        aside = np.array([-ahead[1], ahead[0]])
        back = middle - 0.5 * size * ahead
        return np.array([middle + 0.5 * size * ahead, back + 0.4 * size * aside, back - 0.4 * size * aside])

    def ticks(self, size: float) -> FloatArray:
        """Return the ends of two short strokes across it half way, shape (2, 2, 2), mm, each so long."""
        half = np.array([0.5 * float(length(self.path))])
        middle, ahead = point_at(self.path, half)[0], direction_at(self.path, half)[0]
        aside = 0.5 * size * np.array([-ahead[1], ahead[0]])
        places = [middle - 0.15 * size * ahead, middle + 0.15 * size * ahead]
        return np.array([[place + aside, place - aside] for place in places])


def step_links(step: Step) -> list[LinkMark]:
    """Return the links of a step.

    Parameters
    ----------
    step : Step

    Returns
    -------
    list of LinkMark
    """
    made = step.lead.made_along
    found = []
    for (one, other), (before, behind) in zip(pairwise(step.cut.makes), pairwise(made), strict=True):
        start, end = before[1], behind[0]
        if end > start:
            words = f"link from {one.part} copy {one.copy} to {other.part} copy {other.copy}, {end - start:.0f} mm"
            found.append(LinkMark(subpath(step.lead.path, start, end), words))
    return found


def links_of(sheet: PlannedSheet) -> list[LinkMark]:
    """Return the links of a sheet, of the first torch.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    list of LinkMark
    """
    return [link for step in sheet.order.steps for link in step_links(step)]


def shared_of(sheet: PlannedSheet) -> list[LinkMark]:
    """Return the stretches of a sheet that are cut once for two parts, of the first torch.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    list of LinkMark
    """
    return [mark for step in sheet.order.steps for mark in step_shared(step)]


def step_shared(step: Step) -> list[LinkMark]:
    """Return the stretches of a step that are cut once for two parts.

    Parameters
    ----------
    step : Step

    Returns
    -------
    list of LinkMark
    """
    return [
        LinkMark(
            subpath(step.lead.path, start, end),
            f"shared by {one.part} copy {one.copy} and {other.part} copy {other.copy}, {end - start:.0f} mm",
        )
        for one, other, start, end in shared_stretches(step.cut, step.lead)
    ]


def _shared_lines(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what shared cuts save on a sheet, against each part cut by itself.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
    """
    marks = shared_of(sheet)
    if not marks:
        return ()
    metres = sum(float(length(mark.path)) for mark in marks) / 1000.0
    steps = [s for s in sheet.order.steps if s.cut.kind == "outside" and any(m.span for m in s.cut.makes)]
    joined = {p for s in steps if step_shared(s) for p in s.cut.placements}
    runs = sum(bool(joined & set(step.cut.placements)) for step in steps)
    room = gaps_for(sheet.data).gap - sheet.data.kerf
    return (
        f"Shared cuts: {sheet.torches * metres:.2f} m of edge cut once for two parts, "
        f"{sheet.torches * (len(joined) - runs)} pierces fewer and {sheet.torches * metres * room / 1000.0:.3f} m² less "
        "plate between parts than each by itself. Parts of a block come loose in the run round it.",
    )


def _chain_lines(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return which parts come loose in one run, in the order that they do.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
    """
    return tuple(
        f"Cut {n} frees in one run: " + ", ".join(f"{m.part} copy {m.copy}" for m in step.cut.makes) + "."
        for n, step in enumerate(sheet.order.steps, start=1)
        if step_links(step)
    )


def together_lines(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what is told of chains and of shared cuts on a sheet.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
    """
    return (*_chain_lines(sheet), *_shared_lines(sheet))
