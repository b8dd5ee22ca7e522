"""Digests by which a program edited afterwards is recognised, and told from another plan's.

A program carries in comments the digest of the plan, the start of the digest of each thing that
the plan is bound to, and its own, taken over all of its lines but that one.  Line endings, blanks at the end of a line and empty lines at the
end of the file do not count, since file transfer to a control changes them.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping

__all__ = [
    "bound_to",
    "digest",
    "is_untouched",
    "overall_digest",
    "plan_digest",
    "plan_digests",
    "stamp",
    "stamped_digest",
]

BOUND_LETTERS = 12
"""Of each digest that a program is bound to: two of a million differ by chance in 1 of 280."""
BOUND_IN_A_LINE = 3

_OWN = re.compile(r"^\(digest ([0-9a-f]{64})\)$")
_BOUND = re.compile(r"^\(bound ((?:[a-z]+ [0-9a-f]+(?:, )?)+)\)$")
_PLAN = re.compile(r"^\(plan digest ([0-9A-Za-z:.-]+)\)$")


def digest(text: str) -> str:
    """Return the SHA-256 of a program's lines without its own digest comment, in hex.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    lines = [line for line in _lines(text) if not _OWN.match(line)]
    return hashlib.sha256("\n".join(lines).encode("utf-8")).hexdigest()


def overall_digest(bound: Mapping[str, str]) -> str:
    """Return one digest of all that a plan is bound to.

    Parameters
    ----------
    bound : mapping of str to str
        Digests by name.

    Returns
    -------
    str
    """
    return hashlib.sha256("\n".join(f"{name} {bound[name]}" for name in sorted(bound)).encode()).hexdigest()


def stamp(text: str, bound: Mapping[str, str] | None = None) -> str:
    """Return a program with its digest, and those of its plan, among the comments at its head.

    A program without comments is returned as it is: then only the plan holds the digests.

    Parameters
    ----------
    text : str
        Program, ``\\n`` at the end of each line.
    bound : mapping of str to str, optional
        Digests of what the plan is bound to, by name; without it, those that are there stay.

    Returns
    -------
    str
    """
    lines = [line for line in text.split("\n") if not _OWN.match(line)]
    if bound:
        lines = [line for line in lines if not (_PLAN.match(line) or _BOUND.match(line))]
    first = next((k for k, line in enumerate(lines) if line.startswith("(")), None)
    if first is None:
        return text
    if bound:
        lines[first + 1 : first + 1] = [f"(plan digest {overall_digest(bound)})", *_bound_lines(bound)]
    after = max((k for k, line in enumerate(lines) if _PLAN.match(line) or _BOUND.match(line)), default=first)
    lines.insert(after + 1, f"(digest {digest(chr(10).join(lines))})")
    return "\n".join(lines)


def _bound_lines(bound: Mapping[str, str]) -> list[str]:
    names = list(bound)
    groups = [names[k : k + BOUND_IN_A_LINE] for k in range(0, len(names), BOUND_IN_A_LINE)]
    return [f"(bound {', '.join(f'{n} {bound[n][:BOUND_LETTERS]}' for n in group)})" for group in groups]


def bound_to(text: str) -> dict[str, str]:
    """Return the starts of the digests that a program is bound to, by name; none where it carries none.

    Parameters
    ----------
    text : str

    Returns
    -------
    dict of str to str
    """
    found = [match[1] for line in _lines(text) if (match := _BOUND.match(line))]
    words = [entry.split() for line in found for entry in line.split(", ")]
    return {name: value for name, value in words}


def stamped_digest(text: str) -> str | None:
    """Return the digest that a program carries of itself; None where it carries none."""
    return _first(_OWN, text)


def plan_digests(text: str) -> set[str]:
    """Return all digests of plans that a program carries; more than one where lines were added.

    Parameters
    ----------
    text : str

    Returns
    -------
    set[str]
    """
    return {found[1] for line in _lines(text) if (found := _PLAN.match(line))}


def plan_digest(text: str) -> str | None:
    """Return the digest of the plan that a program carries; None where it carries none.

    Parameters
    ----------
    text : str

    Returns
    -------
    str or None
    """
    return _first(_PLAN, text)


def is_untouched(text: str, expected: str | None = None) -> bool:
    """Return whether a program is, word for word, what was written.

    Parameters
    ----------
    text : str
    expected : str, optional
        Digest that the plan holds; without it the one in the program's head counts, and a
        program that carries none is not known to be untouched.

    Returns
    -------
    bool
    """
    wanted = expected or stamped_digest(text)
    return wanted is not None and digest(text) == wanted


def _first(pattern: re.Pattern[str], text: str) -> str | None:
    return next((found[1] for line in _lines(text) if (found := pattern.match(line))), None)


def _lines(text: str) -> list[str]:
    lines = [line.rstrip() for line in text.splitlines()]
    while lines and not lines[-1]:
        lines.pop()
    return lines
