"""What plan.json says of the runs of torch and marker, and of the contours that they make."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Self

import numpy as np
from pydantic import Field

from cutplan.cutting import Made, Tab, length_made
from cutplan.geometry import Path, length, point_at
from cutplan.record.digests import planned_make, planned_tab
from cutplan.record.shapes import Place, Record, Rounded3, Rounded4
from cutplan.sequencing import Step
from cutplan.verification import PlannedCut, PlannedMake, PlannedTab

__all__ = ["ChainRecord", "CutRecord", "MadeRecord", "TabRecord"]


class MadeRecord(Record):
    """A contour, or a stretch of one, that a cut makes.

    `span_mm` says from where to where along the drawn contour, from its first vertex; the second
    is the smaller where the stretch runs over that vertex.  Without it, it is the whole contour.
    """

    part: str
    copy_: int = Field(alias="copy")
    hole: int | None = None
    span_mm: tuple[Rounded4, Rounded4] | None = None

    @classmethod
    def of(cls, made: Made) -> Self:
        """Return the record of what a cut makes."""
        planned = planned_make(made)
        return cls(part=planned.part, copy_=planned.copy, hole=planned.hole, span_mm=planned.span)

    def saved(self) -> PlannedMake:
        """Return what a proof holds the cut against."""
        return PlannedMake(self.part, self.copy_, self.hole, self.span_mm)


class TabRecord(Record):
    """A stretch of an outside left uncut: `at_mm` its middle, `width_mm` its narrowest metal.

    `span_mm` says from where to where along the drawn outside the edge is not cut clean, as in
    a cut's `contours`.
    """

    part: str
    copy_: int = Field(alias="copy")
    at_mm: Place
    width_mm: Rounded3
    span_mm: tuple[Rounded4, Rounded4]

    @classmethod
    def of(cls, tab: Tab) -> Self:
        """Return the record of a tab."""
        planned = planned_tab(tab)
        return cls(
            part=tab.part, copy_=tab.copy, at_mm=tab.at, width_mm=planned.width_mm, span_mm=planned.span
        )

    def saved(self) -> PlannedTab:
        """Return what a proof holds the tab against."""
        return PlannedTab(self.part, self.copy_, self.span_mm, self.width_mm)


class LinkRecord(Record):
    """A way on which the torch burns on from one part to the next, through scrap."""

    from_mm: Place
    to_mm: Place
    length_mm: Rounded3


class ChainRecord(Record):
    """A run that cuts the outsides of several parts: `cut` its number, `links` in their order.

    Which parts, and in which order they come loose, stands in the cut's `contours`.
    """

    cut: int
    links: tuple[LinkRecord, ...]

    @classmethod
    def all_of(cls, steps: Sequence[Step]) -> tuple[Self, ...]:
        """Return the records of all chains of an order."""
        return tuple(
            cls(cut=n, links=tuple(_link_of(step.lead.path, link) for link in step.lead.links))
            for n, step in enumerate(steps, start=1)
            if step.lead.links
        )


def _link_of(path: Path, link: tuple[float, float]) -> LinkRecord:
    start, end = point_at(path, np.array(link))
    return LinkRecord(from_mm=start, to_mm=end, length_mm=link[1] - link[0])


class CutRecord(Record):
    """One run of the torch or the marker, in the order of cutting.

    `part`, `copy`, `contour` ("outer" for an outside) and `hole` say what it makes first; all
    that it makes stands in `contours`, which is empty for a cut that makes none.
    """

    n: int
    kind: str = ""
    part: str | None = None
    copy_: int | None = Field(None, alias="copy")
    contour: str
    hole: int | None = None
    contours: tuple[MadeRecord, ...] | None = None
    pierce_mm: Place
    end_mm: Place | None = None
    edge_start: bool
    raised: bool = True
    length_mm: Rounded3
    contour_mm: Rounded3
    feed_mm_min: Rounded3
    slowest_mm_min: Rounded3

    def saved(self) -> PlannedCut:
        """Return the cut as it is proved."""
        kind = self.kind or ("outside" if self.contour == "outer" else self.contour)
        makes = tuple(made.saved() for made in self.contours or ())
        # Plans once named the one contour of each cut alone.
        if self.contours is None and self.part is not None and self.copy_ is not None:
            makes = (PlannedMake(self.part, self.copy_, self.hole),)
        return PlannedCut(
            kind, self.pierce_mm, self.length_mm, self.edge_start, self.raised, self.end_mm, makes
        )

    @classmethod
    def of(cls, n: int, step: Step, feed: float) -> Self:
        """Return the record of a step of the order."""
        lead, cut = step.lead, step.cut
        slowest = min((span.factor for span in lead.spans), default=1.0)
        first = cut.makes[0] if cut.makes else None
        return cls(
            n=n,
            kind=cut.kind,
            part=first.part if first else None,
            copy_=first.copy if first else None,
            contour="outer" if cut.kind == "outside" else cut.kind,
            hole=first.hole if first else None,
            contours=tuple(map(MadeRecord.of, cut.makes)),
            pierce_mm=lead.pierce,
            end_mm=lead.path.end,
            edge_start=lead.edge_start,
            raised=step.travel.raised,
            length_mm=length(lead.path),
            contour_mm=sum(map(length_made, cut.makes)),
            feed_mm_min=feed,
            slowest_mm_min=feed * slowest,
        )
