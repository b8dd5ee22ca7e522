"""Lines the marker runs along: marks, texts, and the middles of holes to drill."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from cutplan.cutting.lettering import letter_paths, text_width
from cutplan.cutting.model import LeadChoice
from cutplan.drawing import MarkText
from cutplan.geometry import Path, Pose, length, place, place_points, reverse, subpath
from cutplan.stock import Placement

__all__ = ["mark_choices", "marked_lines"]

# Starts offered for a closed line.
CLOSED_STARTS = 4


def mark_choices(line: Path) -> tuple[LeadChoice, ...]:
    """Return the ways to run along a line to mark: from both ends, or round from several places."""
    if line.closed:
        total = length(line)
        places = [total * k / CLOSED_STARTS for k in range(CLOSED_STARTS)]
        ways = [subpath(line, s, s + total) for s in places]
    else:
        ways = [line, reverse(line)]
    return tuple(
        LeadChoice(
            path=way,
            pierce=(float(way.start[0]), float(way.start[1])),
            end=(float(way.end[0]), float(way.end[1])),
            lead_in_length=0.0,
            lead_out_length=0.0,
        )
        for way in ways
    )


def marked_lines(
    placement: Placement, drills: Iterable[tuple[int, Path]]
) -> Iterator[tuple[int | None, Path]]:
    """Yield the lines to mark on a placement, on the plate, with the hole where one is to be drilled."""
    part, pose = placement.part, placement.pose
    for line in part.marks:
        yield None, place(line, pose)
    for text in part.texts:
        for stroke in letter_paths(_placed_text(text, pose)):
            yield None, stroke
    for hole, line in drills:
        yield hole, place(line, pose)


def _placed_text(text: MarkText, pose: Pose) -> MarkText:
    """Return a text as it is marked on the plate: readable even where its part is turned over."""
    angle = np.radians(text.rotation_deg)
    start = np.array(text.place)
    end = start + text_width(text.text, text.height) * np.array([np.cos(angle), np.sin(angle)])
    first, last = place_points([end, start] if pose.mirrored else [start, end], pose)
    rotation = np.degrees(np.arctan2(*(last - first)[::-1]))
    return replace(text, place=(float(first[0]), float(first[1])), rotation_deg=float(rotation))
