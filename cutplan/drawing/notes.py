"""Gathering findings while a drawing is read, so that the person hears of all of them at once."""

from __future__ import annotations

from collections import Counter

from cutplan.base.findings import STOPPING, Finding, FindingKind
from cutplan.geometry import FloatArray

__all__ = ["LISTED", "Notes", "at"]

# Findings of one topic that are listed one by one; the rest are counted.
LISTED = 500


def at(point: FloatArray) -> tuple[float, float]:
    """Return a point, or a vertex, as the place of a finding."""
    return float(point[0]), float(point[1])


class Notes:
    """The findings of one drawing, in the order they were made."""

    def __init__(self) -> None:
        self._findings: list[Finding] = []
        self._topics: Counter[tuple[FindingKind, str]] = Counter()
        self.ignored: Counter[str] = Counter()

    def add(
        self,
        kind: FindingKind,
        topic: str,
        message: str,
        place: tuple[float, float] | None = None,
        remedy: str = "",
    ) -> None:
        """Note a finding; beyond `LISTED` of one topic only their number is kept."""
        self._topics[kind, topic] += 1
        if self._topics[kind, topic] <= LISTED:
            self._findings.append(Finding(kind, message, place, remedy, topic))

    def extend(self, findings: list[Finding]) -> None:
        """Take over findings made elsewhere."""
        self._findings += findings

    @property
    def refusals(self) -> int:
        """How many of the findings are refusals or questions."""
        return sum(finding.kind in STOPPING for finding in self._findings)

    def listed(self) -> tuple[Finding, ...]:
        """Return the findings, with a line for those of a topic that were only counted."""
        more = [
            Finding(kind, f"{count - LISTED} more of the same: {topic}", topic=topic)
            for (kind, topic), count in self._topics.items()
            if count > LISTED
        ]
        return (*self._findings, *more)
