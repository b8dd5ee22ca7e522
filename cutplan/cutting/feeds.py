"""Where a torch path runs slower than on the straight: small holes, tight radii, sharp corners.

What the machine's acceleration takes besides is left to `estimating`.
"""

from __future__ import annotations

import numpy as np

from cutplan.cutting.model import FeedSpan
from cutplan.cutting.torch import SAME, TorchContour
from cutplan.process import Rules

__all__ = ["contour_spans", "is_small_hole", "path_spans", "slowest"]

# Two arc-lengths closer than this are one, mm.
SAME_PLACE = 1e-9


def is_small_hole(torch: TorchContour, rules: Rules) -> bool:
    """Return whether the small-hole feed applies: the largest circle inside is under `small_hole`."""
    return torch.kind == "hole" and 2.0 * torch.inscribed[2] < rules.small_hole


def contour_spans(torch: TorchContour, rules: Rules) -> tuple[FeedSpan, ...]:
    """Return the slower stretches of a torch contour by its arc-length, in order, without overlap.

    Both sides of a sharp corner take the corner feed, and arcs tighter than the smallest
    hole the small-hole feed; where both hold, the slower.  The stretches lie between 0 and
    the contour's length.
    """
    slow: list[FeedSpan] = []
    if rules.corner_feed < 1.0:
        slow += [
            FeedSpan(corner.start - rules.corner_length, corner.end + rules.corner_length, rules.corner_feed)
            for corner in torch.corners
        ]
    if rules.small_hole_feed < 1.0:
        at_corners = {corner.start for corner in torch.corners if corner.end > corner.start}
        segments = torch.path.segments
        ends = np.cumsum(segments.length)
        for i in np.flatnonzero(segments.radius < 0.5 * rules.smallest_hole - SAME):
            start = float(ends[i] - segments.length[i])
            if start not in at_corners:
                slow.append(FeedSpan(start, float(ends[i]), rules.small_hole_feed))
    wrapped = [
        FeedSpan(max(span.start + turn, 0.0), min(span.end + turn, torch.length), span.factor)
        for span in slow
        for turn in (-torch.length, 0.0, torch.length)
    ]
    return slowest([span for span in wrapped if span.end - span.start > SAME_PLACE])


def path_spans(
    spans: tuple[FeedSpan, ...], contour: float, *, at: float, lead_in: float, overburn: float
) -> tuple[FeedSpan, ...]:
    """Return the feed spans along a torch path, in order and without overlap.

    Parameters
    ----------
    spans : tuple of FeedSpan
        Those of the contour, as `contour_spans` returns them.
    contour : float
        Length of the contour, mm.
    at : float
        Arc-length of the contour at which the path joins it.
    lead_in, overburn : float
        Length of the approach, and of the run past the start, mm.
    """
    first, last = lead_in, lead_in + contour + overburn
    moved = []
    for shift in (lead_in - at + turn * contour for turn in (0, 1, 2)):
        for span in spans:
            start, end = max(span.start + shift, first), min(span.end + shift, last)
            if end - start > SAME_PLACE:
                moved.append(FeedSpan(start, end, span.factor))
    return _joined(moved)


def slowest(spans: list[FeedSpan]) -> tuple[FeedSpan, ...]:
    """Return disjoint spans with the least factor wherever several overlap."""
    if not spans:
        return ()
    stops = np.unique([stop for span in spans for stop in (span.start, span.end)])
    factor = np.ones(len(stops) - 1)
    for span in spans:
        covered = slice(np.searchsorted(stops, span.start), np.searchsorted(stops, span.end))
        factor[covered] = np.minimum(factor[covered], span.factor)
    rows = zip(stops[:-1].tolist(), stops[1:].tolist(), factor.tolist(), strict=True)
    return _joined([FeedSpan(*row) for row in rows if row[2] < 1.0])


def _joined(spans: list[FeedSpan]) -> tuple[FeedSpan, ...]:
    """Return spans with those that touch and share their factor made one."""
    joined: list[FeedSpan] = []
    for span in spans:
        last = joined[-1] if joined else None
        if last is not None and last.factor == span.factor and span.start - last.end <= SAME_PLACE:
            joined[-1] = FeedSpan(last.start, span.end, span.factor)
        else:
            joined.append(span)
    return tuple(joined)
