"""A piece of plate in the inventory, and the checks on what may be added."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.errors import StockError
from cutplan.geometry import Path, area, bounds, contains, crossings, is_simple, polygon
from cutplan.stock.grades import DENSITY_KG_M3
from cutplan.stock.model import MATERIALS, Plate

__all__ = [
    "LIFE",
    "LONGEST_LABEL",
    "Batch",
    "Change",
    "Demanded",
    "PartMark",
    "Pending",
    "Piece",
    "PlannedMark",
    "Run",
    "checked_piece",
]

LONGEST_LABEL = 60
LABEL = re.compile(rf"[A-Za-z0-9][A-Za-z0-9._-]{{0,{LONGEST_LABEL - 1}}}")
"""Programs are named after the pieces they are cut from, so a label must do for a file name."""

ORIGIN_SLACK_MM = 1e-6
"""Rounding of an outline that was moved to the origin."""

LARGEST_MM = 50_000.0
"""No rolling mill delivers more; a larger figure is a slip of the unit."""


@dataclass(frozen=True)
class Piece:
    """One plate or remnant in the inventory.

    Attributes
    ----------
    label : str
        Its name in the shop, unique.
    length_mm, width_mm : float
        Size, or the outline's bounding box.
    thickness_mm : float
    grade, material : str
    outline : Path or None
        Contour of a remnant; None for a rectangle.
    heat, certificate, location : str or None
    price_per_kg : float or None
    state : {"in rack", "reserved", "cut", "scrapped", "withdrawn"}
        Withdrawn where its coming in was taken back.
    plan : str or None
        Plan that reserved or cut it.
    parent : str or None
        Label of the plate that a remnant was cut from.
    voids : tuple of Path
        Holes in a remnant.
    rolling_direction : {"x", "y"}
        Whether it was rolled along its length or its width.
    """

    label: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    grade: str
    material: str
    outline: Path | None = None
    heat: str | None = None
    certificate: str | None = None
    location: str | None = None
    price_per_kg: float | None = None
    state: str = "in rack"
    plan: str | None = None
    parent: str | None = None
    voids: tuple[Path, ...] = ()
    rolling_direction: str = "x"

    @property
    def contour(self) -> Path:
        """Outline, lower left corner of its box at the origin."""
        if self.outline is not None:
            return self.outline
        length, width = self.length_mm, self.width_mm
        return polygon([(0, 0), (length, 0), (length, width), (0, width)])

    @property
    def area_mm2(self) -> float:
        """Area of the plate's face, holes taken out."""
        whole = self.length_mm * self.width_mm if self.outline is None else abs(area(self.outline))
        return whole - sum(abs(area(void)) for void in self.voids)

    @property
    def is_remnant(self) -> bool:
        """Whether it was cut from before."""
        return self.parent is not None or self.outline is not None

    def as_plate(self) -> Plate:
        """Return the piece as nesting takes it."""
        return Plate(
            id=self.label,
            outline=self.contour,
            thickness=self.thickness_mm,
            grade=self.grade,
            material=self.material,
            heat=self.heat,
            price_per_kg=self.price_per_kg,
            density_kg_m3=DENSITY_KG_M3[self.material],
            rolling_direction=self.rolling_direction,
            is_remnant=self.is_remnant,
            voids=self.voids,
        )


LIFE = ("planned", "cut", "spoilt", "dropped")
"""What a marked part can be: dropped where its plan was before it was cut."""


@dataclass(frozen=True)
class PartMark:
    """Where a marked part came from, for which job, and what became of it."""

    mark: str
    part: str
    copy: int
    piece: str
    heat: str | None
    certificate: str | None
    program: str
    plan: str
    job: str
    state: str
    why: str | None


@dataclass(frozen=True)
class PlannedMark:
    """A part of a plan by its mark, and the plate and program that it is to be cut from."""

    mark: str
    part: str
    copy: int
    plate: str
    program: str = ""


@dataclass(frozen=True)
class Demanded:
    """How many of a part a job wants in all; its kit, and the day it is due (ISO 8601)."""

    part: str
    wanted: int
    kit: str | None = None
    due: str | None = None


@dataclass(frozen=True)
class Batch:
    """What a plan makes of its job.

    Attributes
    ----------
    job : str
    wanted : tuple of Demanded
        All that the job wants, cut before or not.
    marks : tuple of PlannedMark
        The parts of this plan.
    only_owed : bool
        It was planned for what the job still owes, and must not make more.
    """

    job: str
    wanted: tuple[Demanded, ...] = ()
    marks: tuple[PlannedMark, ...] = ()
    only_owed: bool = False


@dataclass(frozen=True)
class Run:
    """What the operator wrote back of a sheet: minutes at the table, restarts, consumable sets worn.

    `at` is when it was noted (UTC); `sets` is None where nobody counted.
    """

    plan: str
    sheet: str
    minutes: float
    restarts: int = 0
    sets: float | None = None
    at: str = ""


@dataclass(frozen=True)
class Change:
    """One entry of the journal: what was done, when (UTC) and by whom.

    Attributes
    ----------
    number : int
    at, author, act : str
    detail : mapping
        What was done to what, by words.
    undoes, undone_by : int or None
        The change that this one took back, and the one that took this back.
    """

    number: int
    at: str
    author: str
    act: str
    detail: Mapping[str, Any]
    undoes: int | None = None
    undone_by: int | None = None


@dataclass(frozen=True)
class Pending:
    """A reservation whose plan is being written into a folder, or was when its process died."""

    plan: str
    folder: FilePath
    at: datetime


def checked_piece(piece: Piece) -> Piece:
    """Return the piece with its box taken from its outline, or refuse it."""
    where = f"piece {piece.label!r}"
    _refuse_label(piece, where)
    if piece.rolling_direction not in ("x", "y"):
        raise StockError(
            f"is rolled along {piece.rolling_direction!r}", where=where, remedy="say x (length) or y (width)"
        )
    if piece.outline is not None:
        piece = _boxed(piece, piece.outline, where)
    for void in piece.voids:
        if not _lies_within(void, piece.contour):
            raise StockError(
                "a hole is open, crosses itself or lies not wholly in the piece",
                where=where,
                remedy="mend the hole",
            )
    for name in ("length_mm", "width_mm", "thickness_mm"):
        value = getattr(piece, name)
        if not 0.0 < value < LARGEST_MM:
            raise StockError(f"{name} {value:g} is no size of a plate", where=where, remedy="give it in mm")
    if piece.price_per_kg is not None and not 0.0 <= piece.price_per_kg < float("inf"):
        raise StockError(f"price_per_kg {piece.price_per_kg:g} is no price", where=where)
    if piece.material not in MATERIALS:
        raise StockError(f"unknown material {piece.material!r}", where=where, remedy=f"one of {MATERIALS}")
    return piece


def _refuse_label(piece: Piece, where: str) -> None:
    if not piece.label.strip():
        raise StockError("a piece has no label", remedy="give each piece a label")
    if not LABEL.fullmatch(piece.label):
        raise StockError(
            "the label cannot name a file",
            where=where,
            remedy="use letters, digits, points, hyphens and underscores, at most 60",
        )


def _boxed(piece: Piece, outline: Path, where: str) -> Piece:
    """Return a piece as long and wide as its outline."""
    if not outline.closed or not is_simple(outline) or area(outline) <= 0.0:
        raise StockError(
            "the outline is open, crosses itself or runs clockwise", where=where, remedy="mend the outline"
        )
    x0, y0, x1, y1 = bounds(outline)
    if max(abs(x0), abs(y0)) > ORIGIN_SLACK_MM:
        raise StockError(
            "the box about the outline does not begin at the origin",
            where=where,
            place=(x0, y0),
            remedy="move it there",
        )
    return replace(piece, length_mm=x1 - x0, width_mm=y1 - y0)


def _lies_within(void: Path, contour: Path) -> bool:
    if not void.closed or not is_simple(void) or len(crossings(void, contour)):
        return False
    return bool(contains(contour, void.vertices[:, :2]).all())
