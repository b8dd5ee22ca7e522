"""What any room may notice and tell: taken, mended, left out, doubted, refused, with its place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from cutplan.base.cleaning import plain

__all__ = ["STOPPING", "Finding", "FindingKind", "stopping"]

FindingKind = Literal["taken", "mended", "left out", "warning", "question", "refused"]
"""In order of weight.  A value "taken" from a text, something "mended" or "left out" as the job
allows, a "warning", a "question" that a key of the job answers, something "refused"."""
STOPPING: tuple[FindingKind, ...] = ("question", "refused")
"""Kinds that no plan goes past."""


@dataclass(frozen=True)
class Finding:
    """Something noticed while reading or checking.

    Attributes
    ----------
    kind : {"taken", "mended", "left out", "warning", "question", "refused"}
        A question is a doubt that costs plate if it is guessed wrong: no plan goes past it
        until the job answers it by the key that the remedy names.
    message : str
        A sentence with the entity and what was found.
    place : tuple of float or None
        Place in mm, drawing coordinates.
    remedy : str
        What the reader can do about it; empty where there is nothing to do.
    topic : str
        What findings of one sort have in common ("gaps", "strays"); empty where that is nothing.
    """

    kind: FindingKind
    message: str
    place: tuple[float, float] | None = None
    remedy: str = ""
    topic: str = ""

    def __str__(self) -> str:
        text = self.message
        if self.place is not None:
            text += f" at ({self.place[0]:.3f}, {self.place[1]:.3f}) mm"
        return plain(f"{text}; {self.remedy}" if self.remedy else text)


def stopping(findings: Iterable[Finding]) -> list[Finding]:
    """Return the findings that no plan goes past: what was refused, and open questions.

    Parameters
    ----------
    findings : iterable of Finding

    Returns
    -------
    list of Finding
    """
    return [finding for finding in findings if finding.kind in STOPPING]
