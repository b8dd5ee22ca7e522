"""What any room may notice and tell: mended, warned of, or refused, with its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutplan.base.cleaning import plain

__all__ = ["Finding"]


@dataclass(frozen=True)
class Finding:
    """Something noticed while reading: mended, warned of, or refused.

    Attributes
    ----------
    kind : {"mended", "warning", "refused"}
    message : str
        A sentence with the entity and what was found.
    place : tuple of float or None
        Place in mm, drawing coordinates.
    remedy : str
        What the reader can do about it; empty where there is nothing to do.
    """

    kind: Literal["mended", "warning", "refused"]
    message: str
    place: tuple[float, float] | None = None
    remedy: str = ""

    def __str__(self) -> str:
        text = self.message
        if self.place is not None:
            text += f" at ({self.place[0]:.3f}, {self.place[1]:.3f}) mm"
        return plain(f"{text}; {self.remedy}" if self.remedy else text)
