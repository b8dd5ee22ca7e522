"""Lines of a post-processor file: plain text with named fields, and nothing that runs.

Terminology
-----------
field : a name in braces, ``{kerf}``, from the list below; there is no other syntax.
text field : one whose value comes from a drawing or a job file; it may stand only in a
    comment, so that no name of a part can become a word of the program.
empty field : a switch that the control does not have, a dwell of no length, or a height that
    the torch does not go to there; a line that names one is left out.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

__all__ = ["CUT_FIELDS", "OFFSET_FIELDS", "PROGRAM_FIELDS", "FieldKind", "Template", "canonical", "words_of"]

FieldKind = Literal["text", "length", "time", "feed", "count", "switch"]

PROGRAM_FIELDS: dict[str, FieldKind] = {
    "name": "text",
    "plate": "text",
    "grade": "text",
    "material": "text",
    "process": "text",
    "setting": "text",
    "sheet": "count",
    "file": "count",
    "files": "count",
    "cuts": "count",
    "current": "count",
    "thickness": "length",
    "length": "length",
    "width": "length",
    "kerf": "length",
    "kerf_radius": "length",
    "travel_height": "length",
    "torches": "count",
    "torch_spacing": "length",
    "torch_on": "switch",
    "torch_off": "switch",
    "marker_on": "switch",
    "marker_off": "switch",
    "preheat_on": "switch",
    "preheat_off": "switch",
    "height_on": "switch",
    "height_off": "switch",
}
CUT_FIELDS: dict[str, FieldKind] = PROGRAM_FIELDS | {
    "n": "count",
    "part": "text",
    "copy": "count",
    "contour": "text",
    "feed": "feed",
    "preheat": "time",
    "pierce": "time",
    "pre_flow": "time",
    "post_flow": "time",
    "preheat_height": "length",
    "pierce_height": "length",
    "cut_height": "length",
    "height_feed": "feed",
    "tilt": "count",
    "towards": "count",
}
OFFSET_FIELDS: dict[str, FieldKind] = {"kerf": "length", "kerf_radius": "length"}

_WORD = re.compile(r"[A-Z][-+]?[0-9.]+")
_FIELD = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True)
class Template:
    """One line with its fields found.

    Attributes
    ----------
    text : str
        The line as it stands in the file.
    pieces : tuple of (str, bool)
        Literal text (False) and field names (True), in order.
    """

    text: str
    pieces: tuple[tuple[str, bool], ...]

    @classmethod
    def parse(cls, text: str, fields: Mapping[str, FieldKind]) -> Template:
        """Return a line split into literal text and fields.

        Parameters
        ----------
        text : str
        fields : mapping
            Fields that may stand here, with their kinds.

        Raises
        ------
        ValueError
            The line holds something else than printable ASCII, a field that is unknown here,
            a text field outside a comment, or brackets that do not pair.
        """
        if not (text.isascii() and text.isprintable()):
            raise ValueError(f"{text!r} holds a character that is not printable ASCII")
        pieces: list[tuple[str, bool]] = []
        inside = False
        last = 0
        for match in [*_FIELD.finditer(text), None]:
            literal = text[last : match.start() if match else None]
            inside = _comment_state(text, literal, inside)
            if literal:
                pieces.append((literal, False))
            if match is None:
                break
            _check_field(text, match[1], fields, inside)
            pieces.append((match[1], True))
            last = match.end()
        if inside:
            raise ValueError(f"{text!r} opens a comment and does not close it")
        return cls(text, tuple(pieces))

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields, in order."""
        return tuple(piece for piece, is_field in self.pieces if is_field)

    def render(self, values: Mapping[str, str]) -> str | None:
        """Return the line with its fields filled in; None where one of them is empty."""
        filled = [values[piece] if is_field else piece for piece, is_field in self.pieces]
        if any(is_field and not text for text, (_, is_field) in zip(filled, self.pieces, strict=True)):
            return None
        return "".join(filled)


def canonical(word: str) -> str:
    """Return an RS-274 word without idle zeros: ``M03`` is ``M3``."""
    number = word[1:].lstrip("+0")
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return word[0].upper() + (number or "0")


def words_of(line: str) -> list[str]:
    """Return the literal words of a template line, canonical, comments and fields left out."""
    literal = re.sub(r"\([^)]*\)|\{[^}]*\}|\s", "", line).upper()
    return [canonical(word) for word in _WORD.findall(literal)]


def _comment_state(line: str, literal: str, inside: bool) -> bool:
    """Return whether a comment is open after some literal text."""
    for character in literal:
        if character in "{}":
            raise ValueError(f"{line!r} has a brace without its partner")
        if character == "(" and inside:
            raise ValueError(f"{line!r} opens a comment inside a comment")
        if character == ")" and not inside:
            raise ValueError(f"{line!r} closes a comment that is not open")
        if character in "()":
            inside = not inside
    return inside


def _check_field(line: str, name: str, fields: Mapping[str, FieldKind], inside: bool) -> None:
    if name not in fields:
        close = difflib.get_close_matches(name, fields, n=1)
        hint = f"did you mean {{{close[0]}}}?" if close else f"fields here: {', '.join(sorted(fields))}"
        raise ValueError(f"{line!r} asks for the unknown field {{{name}}}; {hint}")
    if fields[name] == "text" and not inside:
        raise ValueError(f"{line!r} has {{{name}}} outside a comment, where it could become a command")
