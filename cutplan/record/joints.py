"""The joints of a plan's split parts: which pieces are welded where, read off the pieces themselves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Self

import numpy as np

from cutplan.drawing import Part, Split, extent_along, piece_name
from cutplan.record.model import Plan
from cutplan.record.shapes import Record, Rounded3

__all__ = ["Joint", "JointRecord", "joints_of"]

ON_THE_EDGE = 1e-6
"""A vertex this near to the end of a piece lies on its cut edge, mm."""


@dataclass(frozen=True)
class Joint:
    """A joint between two pieces of a part.

    Attributes
    ----------
    part : str
        The whole part.
    number : int
        Along the part, from 1.
    at_mm : float
        Middle of the joint, from the part's start.
    pieces : (str, str)
        Before and beyond it.
    lengths_mm : (float, float)
        Of these pieces.
    gap_mm : float
        Between them.
    weld_mm : float
        Length of the longer of the two edges.
    thickness_mm : float
    grade : str
    preparation : str
        Of the edges, in words; empty where none are given.
    measure_mm : float
        Over the lines marked on both pieces before welding; 0 without lines.
    quantity : int
        How many of the part the job wants.
    beam : str
        Empty for none.
    beam_at_mm : float
        Middle of the joint, from the beam's start.
    """

    part: str
    number: int
    at_mm: float
    pieces: tuple[str, str]
    lengths_mm: tuple[float, float]
    gap_mm: float
    weld_mm: float
    thickness_mm: float
    grade: str
    preparation: str
    measure_mm: float
    quantity: int
    beam: str = ""
    beam_at_mm: float = 0.0

    @property
    def name(self) -> str:
        """Part and number, "web J1"; the number is marked on both pieces."""
        return f"{self.part} J{self.number}"


def joints_of(plan: Plan) -> tuple[Joint, ...]:
    """Return the joints of all parts of a plan that were split, in the order of their parts' names.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of Joint
    """
    placed: dict[str, tuple[Part, float, str]] = {}
    for sheet in plan.sheets:
        for placement in sheet.nested.placements:
            plate = sheet.nested.plate
            placed.setdefault(placement.part.name, (placement.part, plate.thickness, plate.grade))
    splits = {part.piece.split for part, _, _ in placed.values() if part.piece is not None}
    return tuple(
        joint
        for split in sorted(splits, key=lambda each: each.of)
        for joint in _of_split(split, placed, plan.wanted)
    )


def _of_split(
    split: Split, placed: Mapping[str, tuple[Part, float, str]], wanted: Mapping[str, int]
) -> list[Joint]:
    count = len(split.splices_mm) + 1
    names = [piece_name(split.of, n, count) for n in range(1, count + 1)]
    known = {name: placed[name][0] for name in names if name in placed}
    _, thickness, grade = placed[next(iter(known))]
    lengths = _lengths(split)
    joints = []
    for n, at in enumerate(split.splices_mm, start=1):
        pair = (names[n - 1], names[n])
        edges = [
            _edge(known[name], split, end) for name, end in zip(pair, (1, -1), strict=True) if name in known
        ]
        joints.append(
            Joint(
                part=split.of,
                number=n,
                at_mm=at,
                pieces=pair,
                lengths_mm=(lengths[n - 1], lengths[n]),
                gap_mm=split.gap_mm,
                weld_mm=max(edges, default=0.0),
                thickness_mm=thickness,
                grade=grade,
                preparation=split.preparation,
                measure_mm=2.0 * split.fit_up_mm,
                quantity=max(wanted.get(name, 0) for name in names),
                beam=split.beam,
                beam_at_mm=split.offset_mm + at,
            )
        )
    return joints


def _lengths(split: Split) -> list[float]:
    half = 0.5 * split.gap_mm
    ends = [0.0, *(e for at in split.splices_mm for e in (at - half, at + half)), split.length_mm]
    return [b - a for a, b in zip(ends[::2], ends[1::2], strict=True)]


def _edge(piece: Part, split: Split, end: int) -> float:
    """Return the length of a piece's cut edge at its start (-1) or end (1)."""
    start, length, _ = extent_along(piece, split.direction_deg)
    turn = math.radians(split.direction_deg)
    way = np.array([math.cos(turn), math.sin(turn)])
    at = start + length if end > 0 else start
    on = piece.outer.points[np.abs(piece.outer.points @ way - at) <= ON_THE_EDGE] @ np.array(
        [-way[1], way[0]]
    )
    return float(np.ptp(on)) if len(on) else 0.0


class JointRecord(Record):
    """A joint between two pieces of a part that was split."""

    part: str
    number: int
    at_mm: Rounded3
    pieces: tuple[str, str]
    lengths_mm: tuple[Rounded3, Rounded3]
    gap_mm: float
    weld_mm: Rounded3
    thickness_mm: float
    grade: str
    preparation: str = ""
    measure_mm: float = 0.0
    quantity: int = 1
    beam: str = ""
    beam_at_mm: Rounded3 = 0.0

    @classmethod
    def of(cls, joint: Joint) -> Self:
        """Return the record of a joint."""
        return cls(**{name: getattr(joint, name) for name in cls.model_fields})
