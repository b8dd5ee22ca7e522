"""Layers to roles: what is cut, marked, bent along or left out, judged by names and linetypes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

from cutplan.drawing.options import Role

__all__ = ["Layer", "Layers", "asked_role", "default_role", "is_construction_linetype"]

# Words in layer names, tried from top to bottom; common practice.  A word is a run of letters
# in the name, so that "DIM" does not find "DIMPLE".
WORDS: Sequence[tuple[Role, str]] = (
    ("ignore", r"dims?|dimensions?|dimensioning|dim(text|lines?|style)|title\w*|borders?|frames?|defpoints?"),
    ("ignore", r"viewports?|vports?|logo|balloons?|bom|revisions?|legend|watermark|leaders?"),
    ("ignore", r"no(cut|plot|print)"),
    ("ignore", r"cent(er|re)(marks?|lines?)|cl"),
    ("mark", r"mark(s|ing|ings|er)?|scrib(e|ed|ing)|etch(ed|ing)?|engrav(e|ed|ing)|stamp(ing)?|ink(jet)?"),
    ("mark", r"(cent(er|re))?punch(es|ing|marks?)?"),
    ("bend", r"bend(s|ing|lines?)?|fold(s|ing|lines?)?|creases?"),
    ("cut", r"cut(s|ting|lines?)?|outlines?|profiles?|contours?|holes?|slots?|bores?|plasma|oxyfuel"),
    ("ignore", r"text|texts|txt|notes?|anno|annotations?|labels?|symbols?|welds?|hatch(es|ing)?"),
    ("ignore", r"cent(er|re)s?|ax(is|es)|hidden|hid|phantom|constr?|constructions?|constructionlines?"),
    ("ignore", r"aux|auxiliary|guides?|guidelines?|ref|references?|grids?"),
)
_RULES = tuple((role, re.compile(rf"(?:{words})\Z")) for role, words in WORDS)
_WORD = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])")
# Words that mean one thing together: "centre line", "no plot".
_PAIRS = re.compile(r"\b(cent(?:er|re)|no) (marks?|lines?|cut|plot|print)\b")
# Linetypes that drawing practice (ISO 128) keeps for edges and lines that are not cut.
_CONSTRUCTION = re.compile(
    r"(?:cent(?:er|re)|hidden|phantom|dash|divide|dot)|iso(?:0[2-9]|1[0-5])w100\Z", re.IGNORECASE
)


def default_role(name: str) -> Role:
    """Return the role that a layer's name suggests; "cut" where it suggests none."""
    words = " ".join(_WORD.findall(name)).lower()
    words = _PAIRS.sub(r"\1\2", words)
    for role, rule in _RULES:
        if any(rule.match(word) for word in words.split()):
            return role
    return "cut"


def is_construction_linetype(name: str) -> bool:
    """Return whether a linetype stands for centre-lines, hidden edges and the like."""
    return _CONSTRUCTION.search(name) is not None


@dataclass(frozen=True)
class Layer:
    """A layer as the reader sees it.

    Attributes
    ----------
    name : str
    role : {"cut", "mark", "bend", "bevel", "ignore"}
    asked : bool
        The job gave the role, so linetypes do not overrule it.
    linetype : str
    off, frozen : bool
    colour : int
        Number of its colour.
    """

    name: str
    role: Role
    asked: bool = False
    linetype: str = "CONTINUOUS"
    off: bool = False
    frozen: bool = False
    colour: int = 7


def asked_role(name: str, patterns: Mapping[str, Sequence[str]] | None) -> Role | None:
    """Return the role that a job's patterns give a layer; None where they give none."""
    folded = name.casefold()
    roles: tuple[Role, ...] = ("cut", "mark", "bend", "bevel", "ignore")
    for role in roles:
        if any(fnmatchcase(folded, pattern.casefold()) for pattern in (patterns or {}).get(role, ())):
            return role
    return None


class Layers(dict[str, Layer]):
    """The layers of one document by name, each looked up when it is first asked for.

    Parameters
    ----------
    table : layer table of an ezdxf document
    patterns : mapping of role to patterns, or None
        The job's own, tried before the defaults.
    """

    def __init__(self, table: Any, patterns: Mapping[str, Sequence[str]] | None) -> None:
        super().__init__()
        self._table = table
        self._patterns = patterns or {}

    def __missing__(self, name: str) -> Layer:
        layer = self[name] = self._look_up(name)
        return layer

    def _look_up(self, name: str) -> Layer:
        asked = self._asked_role(name)
        role = asked or default_role(name)
        if not self._table.has_entry(name):
            return Layer(name, role, asked is not None)
        entry = self._table.get(name)
        linetype = str(entry.dxf.get("linetype", "CONTINUOUS"))
        off, frozen = bool(entry.is_off()), bool(entry.is_frozen())
        colour = abs(int(entry.dxf.get("color", 7)))
        return Layer(name, role, asked is not None, linetype, off, frozen, colour)

    def _asked_role(self, name: str) -> Role | None:
        return asked_role(name, self._patterns)
