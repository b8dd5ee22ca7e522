"""Contours as the torch runs them: kerf offset, leads, feeds."""

from cutplan.cutting.model import (
    Cut,
    FeedSpan,
    LeadChoice,
)

__all__ = [
    "Cut",
    "FeedSpan",
    "LeadChoice",
]
