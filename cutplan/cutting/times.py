"""The seconds that a cut takes: heat model, playback and estimate have one figure, by one kinematics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from cutplan.base.machine import Machine
from cutplan.control import segment_times
from cutplan.cutting.model import FeedSpan, LeadChoice
from cutplan.geometry import FloatArray, Path, Segments, length, subpath
from cutplan.process import CutData

__all__ = ["CutTime", "RunTime", "cut_time", "run_time"]

# Span ends nearer to each other along a path are one place, mm: rounding of arc lengths.
SAME_PLACE = 1e-6


@dataclass(frozen=True, eq=False)
class RunTime:
    """When the torch is where along a path that it runs from rest to rest.

    Attributes
    ----------
    along : ndarray, shape (n,)
        Arc-lengths from the start, mm; the first is 0 and the last the whole length.
    clock : ndarray, shape (n,)
        Seconds since it left the start.
    """

    along: FloatArray
    clock: FloatArray

    @property
    def seconds(self) -> float:
        """Of the whole run."""
        return float(self.clock[-1])

    def at(self, along: FloatArray) -> FloatArray:
        """Return the seconds at places along the path, at an even speed within each segment."""
        return np.interp(along, self.along, self.clock)


@dataclass(frozen=True, eq=False)
class CutTime:
    """The seconds of one cut: standing at its start, from the start signal on, and then moving.

    Attributes
    ----------
    start_s : float
    run : RunTime
    """

    start_s: float
    run: RunTime

    @property
    def seconds(self) -> float:
        """From the start signal until the torch goes out."""
        return self.start_s + self.run.seconds


def cut_time(
    lead: LeadChoice, data: CutData, machine: Machine, *, marker_feed_mm_min: float | None = None
) -> CutTime:
    """Return the seconds that a cut takes, from the start signal until the torch goes out.

    Parameters
    ----------
    lead : LeadChoice
        The way that the torch takes.
    data : CutData
    machine : Machine
    marker_feed_mm_min : float, optional
        Given where it is marked: it then starts at once and runs at this feed.

    Returns
    -------
    CutTime
    """
    if marker_feed_mm_min is not None:
        return CutTime(0.0, run_time(lead.path, (), marker_feed_mm_min, machine))
    start = _start_seconds(data, machine, edge_start=lead.edge_start)
    return CutTime(start, run_time(lead.path, lead.spans, data.feed_mm_min, machine))


def run_time(path: Path, spans: Sequence[FeedSpan], feed_mm_min: float, machine: Machine) -> RunTime:
    """Return the time of a torch path, with its slower stretches, corners and the machine's acceleration.

    Parameters
    ----------
    path : Path
        Open, from where the torch starts to move to where it goes out.
    spans : sequence of FeedSpan
        Where they overlap the slowest counts.
    feed_mm_min : float
        On the straight.
    machine : Machine

    Returns
    -------
    RunTime
    """
    pieces = _pieces(path, spans)
    segments = _joined([piece.segments for piece, _ in pieces])
    factors = np.repeat([factor for _, factor in pieces], [len(piece.segments) for piece, _ in pieces])
    speeds = np.minimum(feed_mm_min * factors, machine.rapid_mm_min) / 60.0
    seconds = segment_times(segments, speeds, machine.acceleration_mm_s2, machine.corner_deviation_mm)
    return RunTime(
        np.concatenate([[0.0], np.cumsum(segments.length)]), np.concatenate([[0.0], np.cumsum(seconds)])
    )


def _pieces(path: Path, spans: Sequence[FeedSpan]) -> list[tuple[Path, float]]:
    """Return a path in pieces of one feed each, with its factor."""
    if not spans:
        return [(path, 1.0)]
    total = length(path)
    stations = [0.0]
    for place in sorted(place for span in spans for place in (span.start, span.end)):
        if stations[-1] + SAME_PLACE < place < total - SAME_PLACE:
            stations.append(place)
    pieces = []
    for s0, s1 in zip(stations, [*stations[1:], total], strict=True):
        middle = 0.5 * (s0 + s1)
        slow = [span.factor for span in spans if span.start <= middle <= span.end]
        pieces.append((subpath(path, s0, s1), min(slow, default=1.0)))
    return pieces


def _joined(parts: Sequence[Segments]) -> Segments:
    rows = {
        field.name: np.concatenate([getattr(part, field.name) for part in parts])
        for field in fields(Segments)
    }
    return Segments(**rows)


def _start_seconds(data: CutData, machine: Machine, *, edge_start: bool) -> float:
    """Return how long the torch stands at the start of a cut.

    With plasma for the gas before the arc, the ignition, the transfer and the pierce; with
    oxy-fuel for the preheating and the pierce.
    """
    pierce = 0.0 if edge_start else data.pierce_s
    if data.process == "plasma":
        return machine.ignition_s + data.pre_flow_s + data.transfer_s + pierce
    return pierce + (data.edge_preheat_s if edge_start else data.preheat_s)
