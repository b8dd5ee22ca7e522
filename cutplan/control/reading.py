"""A program and what a control makes of it, held together: read once, asked by many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.control.dialect import Dialect
from cutplan.control.motions import Motions
from cutplan.control.reader import read_files

__all__ = ["Reading", "as_read"]


@dataclass(frozen=True, eq=False)
class Reading:
    """A program's files and the motions that come of them.

    Attributes
    ----------
    texts : tuple of str
        The files, in the order they run.
    dialect : Dialect
        That they were read in.
    motions : Motions
        What is harmless but not the standard's stands among their departures.
    """

    texts: tuple[str, ...]
    dialect: Dialect
    motions: Motions


def as_read(text: str | Sequence[str] | Reading, dialect: Dialect | None = None) -> Reading:
    """Return a program with the motions that a control makes of it.

    Parameters
    ----------
    text : str, sequence of str, or Reading
        The program, or the files that it is split into; one that was read already comes back
        as it is.
    dialect : Dialect, optional
        What the control's words mean; of no account for what was read already.

    Returns
    -------
    Reading

    Raises
    ------
    ProgramError
        If the text breaks the standard; the message gives line, column and remedy.
    """
    if isinstance(text, Reading):
        return text
    texts = (text,) if isinstance(text, str) else tuple(text)
    dialect = dialect or Dialect()
    return Reading(texts, dialect, read_files(texts, dialect, strict=False))
