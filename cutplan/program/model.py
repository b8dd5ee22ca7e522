"""Program text with what wrote it."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.control import Dialect

__all__ = ["Program"]


@dataclass(frozen=True)
class Program:
    """The text for one sheet, and the post-processor that wrote it.

    Attributes
    ----------
    name : str
        File name without the ending.
    text : str
    postprocessor : str
    dialect : Dialect
        How a control, or the reader, has to take the text.
    extension : str
        Ending of the file's name, without the point.
    more : tuple of Program
        The files that follow where the control's limits split the program, in order; each
        is a complete program.
    """

    name: str
    text: str
    postprocessor: str
    dialect: Dialect
    extension: str
    more: tuple[Program, ...] = ()

    @property
    def file_name(self) -> str:
        """The file's name, with the ending that the post-processor gives it."""
        return f"{self.name}.{self.extension}"

    @property
    def files(self) -> tuple[Program, ...]:
        """This file and the ones that follow."""
        return (self, *self.more)
