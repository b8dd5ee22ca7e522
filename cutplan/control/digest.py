"""Digests by which a program edited afterwards is recognised, and told from another plan's.

A program carries two comments: the digest of the plan's inputs, and its own, taken over all
of its lines but that one.  Line endings, blanks at the end of a line and empty lines at the
end of the file do not count, since file transfer to a control changes them.
"""

from __future__ import annotations

import hashlib
import re

__all__ = ["digest", "is_untouched", "plan_digest", "stamp", "stamped_digest"]

_OWN = re.compile(r"^\(digest ([0-9a-f]{64})\)$")
_PLAN = re.compile(r"^\(plan digest ([0-9A-Za-z:.-]+)\)$")


def digest(text: str) -> str:
    """Return the SHA-256 of a program's lines without its own digest comment, in hex."""
    lines = [line for line in _lines(text) if not _OWN.match(line)]
    return hashlib.sha256("\n".join(lines).encode("utf-8")).hexdigest()


def stamp(text: str, plan: str | None = None) -> str:
    """Return a program with its digest, and its plan's, among the comments at its head.

    A program without comments is returned as it is: then only the plan holds the digest.

    Parameters
    ----------
    text : str
        Program, ``\\n`` at the end of each line.
    plan : str, optional
        Digest of the plan's inputs; without it, one that is there already stays.
    """
    plan = plan or plan_digest(text)
    lines = [line for line in text.split("\n") if not (_OWN.match(line) or _PLAN.match(line))]
    first = next((k for k, line in enumerate(lines) if line.startswith("(")), None)
    if first is None:
        return text
    if plan:
        first += 1
        lines.insert(first, f"(plan digest {plan})")
    lines.insert(first + 1, f"(digest {digest(chr(10).join(lines))})")
    return "\n".join(lines)


def stamped_digest(text: str) -> str | None:
    """Return the digest that a program carries of itself; None where it carries none."""
    return _first(_OWN, text)


def plan_digest(text: str) -> str | None:
    """Return the digest of the plan that a program carries; None where it carries none."""
    return _first(_PLAN, text)


def is_untouched(text: str, expected: str | None = None) -> bool:
    """Return whether a program is, word for word, what was written.

    Parameters
    ----------
    text : str
    expected : str, optional
        Digest that the plan holds; without it the one in the program's head counts, and a
        program that carries none is not known to be untouched.
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
