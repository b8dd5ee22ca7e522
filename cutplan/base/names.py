"""What a name may be that people give: of a job, part, kit, plate, grade or heat; one rule for all."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from cutplan.base.cleaning import plain

__all__ = ["LONGEST_NAME", "LONGEST_PATH", "Name", "PathText", "checked_name"]

LONGEST_NAME = 120
"""Letters of a name: a file name with its ending holds 255 bytes, and labels are to be read."""


def checked_name(text: str) -> str:
    """Return a name that can stand on a label, in a program's comments and in a file.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If it is empty, longer than `LONGEST_NAME`, or holds control characters, line breaks
        or letters that turn the reading direction.
    """
    if not text.strip():
        raise ValueError("a name must not be empty")
    if len(text) > LONGEST_NAME:
        raise ValueError(f"a name has at most {LONGEST_NAME} letters, this one {len(text)}")
    if plain(text) != text:
        raise ValueError("a name must not hold control characters or line breaks")
    return text


Name = Annotated[str, Field(min_length=1), AfterValidator(checked_name)]
"""A name in a file."""

LONGEST_PATH = 1000
"""Letters of a path in a file; systems hold between 260 and 4,096."""


def _checked_path(text: str) -> str:
    if plain(text) != text:
        raise ValueError("a path must not hold control characters")
    if any(len(part.encode()) > 255 for part in text.replace("\\", "/").split("/")):
        raise ValueError("a file name holds at most 255 bytes")
    return text


PathText = Annotated[str, Field(min_length=1, max_length=LONGEST_PATH), AfterValidator(_checked_path)]
"""A path in a file."""
