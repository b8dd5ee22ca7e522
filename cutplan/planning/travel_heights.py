"""How high the torch travels between cuts, and what rising there takes."""

from __future__ import annotations

import math
from dataclasses import replace

from cutplan.base.findings import Finding
from cutplan.base.machine import Machine
from cutplan.process import CutData
from cutplan.program import PostProcessor
from cutplan.sequencing import OrderWishes, SequenceOptions
from cutplan.stock import Lanes

__all__ = ["as_travelled", "heights_unsaid"]


def as_travelled(
    machine: Machine, post: PostProcessor, data: CutData, wishes: OrderWishes, lanes: Lanes
) -> tuple[Machine, SequenceOptions]:
    """Return the machine as a program moves it up and down, and what the order looks after.

    Where the control owns the heights, the machine's own times for raising and lowering hold,
    and low travel cannot be asked for.  Where the program writes them, raising takes what its
    rapids take, and the torch travels low wherever that is safe if the job says so.
    """
    heights = post.settings.heights
    options = SequenceOptions(
        **{**vars(wishes), "low_travel": False},
        torch_shifts=lanes.shifts,
        marker_feed_mm_min=post.settings.marker_feed_mm_min,
    )
    if heights is None:
        return machine, options
    raised_s, low_s = (
        _rapid_s(machine, height - data.pierce_height)
        for height in (heights.travel_mm, machine.low_travel_height_mm)
    )
    moved = replace(machine, travel_height_mm=heights.travel_mm, raise_s=raised_s, lower_s=raised_s)
    low = wishes.low_travel and machine.low_travel_height_mm < heights.travel_mm
    return moved, replace(options, low_travel=low, low_lift_s=2.0 * min(low_s, raised_s) if low else 0.0)


def heights_unsaid(wishes: OrderWishes, post: PostProcessor) -> tuple[Finding, ...]:
    """Tell where low travel is asked of a program that writes no heights."""
    if not wishes.low_travel or post.settings.heights is not None:
        return ()
    words = f"[order] low_travel is left out: programs of {post.name} write no heights, the control raises the torch"
    return (Finding("warning", words, remedy="take a post-processor that writes heights"),)


def _rapid_s(machine: Machine, height: float) -> float:
    """Return the time of a rapid move up or down, from rest to rest (kinematics), s."""
    speed, acceleration = machine.rapid_mm_min / 60.0, machine.acceleration_mm_s2
    height = max(height, 0.0)
    if height < speed * speed / acceleration:
        return 2.0 * math.sqrt(height / acceleration)
    return height / speed + speed / acceleration
