"""What plan.json says of the runs of torch and marker, and of the contours that they make."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Self

import numpy as np
from pydantic import Field

from cutplan.base.errors import InputError
from cutplan.cutting import Cut, FeedSpan, LeadChoice, Made, Tab, length_made, shared_stretches
from cutplan.geometry import Path, length, place, point_at
from cutplan.record.digests import planned_make, planned_tab, planned_way
from cutplan.record.shapes import Place, Record, Rounded3, Rounded4, Rounded9, Vertices
from cutplan.sequencing import Step
from cutplan.stock import Placement
from cutplan.verification import PlannedCut, PlannedMake, PlannedTab

__all__ = [
    "BeforeRecord",
    "ChainRecord",
    "CutRecord",
    "MadeRecord",
    "ProgramRecord",
    "SharedRecord",
    "TabRecord",
    "path_in",
    "path_text",
]

PATH_DIGITS = 9
"""Of the places on a path, mm, as of the lengths along it: what the program rounds is then the same again."""


class ProgramRecord(Record):
    """A program's file and the digest of its text."""

    file: str
    digest: str


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

    def made(
        self, placements: Sequence[Placement], number: Mapping[tuple[str, int], int], path: Path, kind: str
    ) -> Made:
        """Return what a cut along a path makes, on the placements of its sheet, numbered by part and copy."""
        index = number[self.part, self.copy_]
        part, pose = placements[index].part, placements[index].pose
        drawn = part.outer if self.hole is None else part.holes[self.hole]
        contour = path if kind == "mark" else place(drawn, pose)
        return Made(self.part, self.copy_, index, contour, self.hole, self.span_mm)


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


class SharedRecord(Record):
    """A stretch that is cut once for two parts: `cut` the number of the run, and between which copies."""

    cut: int
    parts: tuple[tuple[str, int], tuple[str, int]]
    from_mm: Place
    to_mm: Place
    length_mm: Rounded3

    @classmethod
    def all_of(cls, steps: Sequence[Step]) -> tuple[Self, ...]:
        """Return the records of all shared stretches of an order."""
        return tuple(
            cls(
                cut=n,
                parts=((one.part, one.copy), (other.part, other.copy)),
                from_mm=point_at(step.lead.path, np.array([start]))[0],
                to_mm=point_at(step.lead.path, np.array([end]))[0],
                length_mm=end - start,
            )
            for n, step in enumerate(steps, start=1)
            for one, other, start, end in shared_stretches(step.cut, step.lead)
        )


class CutRecord(Record):
    """One run of the torch or the marker, in the order of cutting.

    `part`, `copy`, `contour` ("outer" for an outside) and `hole` say what it makes first; all
    that it makes stands in `contours`, which is empty for a cut that makes none:
    then `way` has the torch's path as the proof holds it.

    `path` is the way of the torch's centre with its leads, vertex by vertex: x, y and bulge,
    commas between them and blanks between vertices.  `along_mm` says from where to where on it
    each contour is made, where there are several, `slow` where on it the feed is lower, and by
    which factor.  `frees`, `inside_of` and `starts_before` count the sheet's placements from 0.
    """

    n: int
    kind: str = ""
    part: str | None = None
    copy_: int | None = Field(None, alias="copy")
    contour: str
    hole: int | None = None
    contours: tuple[MadeRecord, ...] | None = None
    way: Vertices = ()
    pierce_mm: Place
    end_mm: Place | None = None
    edge_start: bool
    raised: bool = True
    length_mm: Rounded3
    contour_mm: Rounded3
    feed_mm_min: Rounded3
    slowest_mm_min: Rounded3
    path: str = ""
    lead_in_mm: Rounded9 = 0.0
    lead_out_mm: Rounded9 = 0.0
    along_mm: tuple[tuple[Rounded9, Rounded9], ...] = ()
    slow: tuple[tuple[Rounded9, Rounded9, Rounded9], ...] = ()
    frees: tuple[int, ...] = ()
    inside_of: int | None = None
    starts_before: tuple[int, ...] = ()
    over_run_mm: Rounded3 = 0.0
    again_mm: Rounded3 = 0.0

    def saved(self) -> PlannedCut:
        """Return the cut as it is proved."""
        kind = self.kind or ("outside" if self.contour == "outer" else self.contour)
        makes = tuple(made.saved() for made in self.contours or ())
        # Plans once named the one contour of each cut alone.
        if self.contours is None and self.part is not None and self.copy_ is not None:
            makes = (PlannedMake(self.part, self.copy_, self.hole),)
        return PlannedCut(
            kind, self.pierce_mm, self.length_mm, self.edge_start, self.raised, self.end_mm, makes,
            self.over_run_mm, self.again_mm, self.way,
        )  # fmt: skip

    def cut(self, placements: Sequence[Placement]) -> Cut:
        """Return the cut with the one lead that was chosen, on the placements of its sheet."""
        path = path_in(self.path)
        kind: Any = self.kind or ("outside" if self.contour == "outer" else self.contour)
        lead = LeadChoice(
            path=path,
            pierce=(float(path.start[0]), float(path.start[1])),
            end=(float(path.end[0]), float(path.end[1])),
            lead_in_length=self.lead_in_mm,
            lead_out_length=self.lead_out_mm,
            spans=tuple(FeedSpan(*span) for span in self.slow),
            edge_start=self.edge_start,
            along=self.along_mm,
            over_run_mm=self.over_run_mm,
            again_mm=self.again_mm,
        )
        number = {(p.part.name, p.copy): k for k, p in enumerate(placements)}
        makes = tuple(made.made(placements, number, path, kind) for made in self.contours or ())
        return Cut(kind, makes, (lead,), self.frees, self.inside_of, self.starts_before)

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
            way=planned_way(step),
            pierce_mm=lead.pierce,
            end_mm=lead.path.end,
            edge_start=lead.edge_start,
            raised=step.travel.raised,
            length_mm=length(lead.path),
            contour_mm=sum(map(length_made, cut.makes)),
            feed_mm_min=feed,
            slowest_mm_min=feed * slowest,
            path=path_text(lead.path),
            lead_in_mm=lead.lead_in_length,
            lead_out_mm=lead.lead_out_length,
            along_mm=lead.along,
            slow=tuple((span.start, span.end, span.factor) for span in lead.spans),
            frees=cut.frees,
            inside_of=cut.inside_of,
            starts_before=cut.starts_before,
            over_run_mm=lead.over_run_mm,
            again_mm=lead.again_mm,
        )


class BeforeRecord(Record):
    """A program that ran on the plate before this one: its files, and the cuts that it made.

    `until_mm` says where the torch stopped in the last of them, which was then left half way.
    """

    programs: tuple[ProgramRecord, ...]
    cuts: tuple[CutRecord, ...]
    until_mm: Place | None = None
    until_way_mm: Rounded3 = 0.0


def path_text(path: Path) -> str:
    """Return a path as plan.json has it: the vertices of an open one, x,y,bulge each."""
    rows = np.round(path.vertices, PATH_DIGITS) + 0.0
    return " ".join(",".join(repr(value).removesuffix(".0") for value in row) for row in rows.tolist())


def path_in(text: str) -> Path:
    """Return the path of a text of plan.json."""
    try:
        rows = [[float(value) for value in row.split(",")] for row in text.split()]
        return Path(np.array(rows, dtype=np.float64).reshape(-1, 3), closed=False)
    except ValueError:
        raise InputError(
            f"{text[:40]!r} is no path of a cut", where="plan.json", remedy="plan the job again"
        ) from None
