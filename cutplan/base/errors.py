"""The small family of errors that the package raises on purpose.

Every one is a sentence a person can act on: what is wrong, where (file, entity or line,
place in mm), and what to do about it.  The command line prints it without a traceback.
"""

from __future__ import annotations

from cutplan.base.cleaning import plain_lines

__all__ = [
    "CutplanError",
    "DataError",
    "DrawingError",
    "EditError",
    "GeometryError",
    "InputError",
    "JobError",
    "NestingError",
    "NoStartError",
    "OutputError",
    "ProgramError",
    "ProofError",
    "SequencingError",
    "StockError",
]


class CutplanError(Exception):
    """Base of all errors of the package.

    Parameters
    ----------
    message : str
        What is wrong, in one sentence.
    where : str, optional
        File, and entity, key or line within it.
    place : tuple of float, optional
        Place in mm, in the coordinates of the file named by `where`.
    remedy : str, optional
        What the reader can do about it.
    """

    exit_code = 2

    def __init__(
        self,
        message: str,
        *,
        where: str | None = None,
        place: tuple[float, float] | None = None,
        remedy: str | None = None,
    ) -> None:
        self.message = message
        self.where = where
        self.place = place
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        if self.place is not None:
            text += f" at ({self.place[0]:.3f}, {self.place[1]:.3f}) mm"
        if self.remedy:
            text += f"; {self.remedy}"
        # Names in it may hold what a terminal obeys.
        return plain_lines(text)

    def __reduce__(self) -> tuple[object, ...]:
        # Keyword-only arguments would be lost when an error crosses a process boundary.
        return (_rebuild, (type(self), self.message, self.where, self.place, self.remedy))


def _rebuild(
    kind: type[CutplanError],
    message: str,
    where: str | None,
    place: tuple[float, float] | None,
    remedy: str | None,
) -> CutplanError:
    return kind(message, where=where, place=place, remedy=remedy)


class InputError(CutplanError):
    """Something the user gave is missing, unreadable or contradictory."""


class JobError(InputError):
    """The job file is wrong."""


class DrawingError(InputError):
    """A drawing cannot be turned into parts."""


class EditError(InputError):
    """An edit of a plan cannot be made: parts would overlap, or something else forbids it."""


class GeometryError(InputError):
    """A path is not what an operation needs (open, crossing itself, without area)."""


class DataError(InputError):
    """A cutting-data, price or calibration file is wrong, or does not reach this case."""


class StockError(InputError):
    """Plates or remnants are wrong, missing or already taken."""


class NestingError(InputError):
    """The demands on a nest contradict each other."""


class SequencingError(InputError):
    """The demands on the cutting order contradict each other."""


class NoStartError(SequencingError):
    """A cut is left without a start that keeps clear of what is cut before it; `place` says where."""


class ProgramError(InputError):
    """A program text or a post-processor file is wrong."""


class OutputError(InputError):
    """The results cannot be written where they were asked for."""


class ProofError(CutplanError):
    """A program does not cut what the drawings ask for; it is not written."""

    exit_code = 3
