"""Links of a sheet's chains as pictures and lists tell them: where each lies, whence and whither."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cutplan.geometry import FloatArray, Path, direction_at, length, point_at, subpath
from cutplan.record import PlannedSheet
from cutplan.sequencing import Step

__all__ = ["LinkMark", "chain_lines", "links_of", "step_links"]


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


def chain_lines(sheet: PlannedSheet) -> tuple[str, ...]:
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
