"""What the inventory's history and journal say, in words for people: no key of a table shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["detail_words"]

MOST_NAMED = 4
"""Pieces named of a long list; the rest are counted."""


def detail_words(detail: Mapping[str, Any]) -> str:
    """Return what an entry says beside its event, as words.

    Parameters
    ----------
    detail : mapping

    Returns
    -------
    str
        Empty where there is nothing to say.

    Examples
    --------
    >>> detail_words({"plan": "batch 7 1f2e3d4c", "scrap_kg": 3.2})
    'plan batch 7 1f2e3d4c, scrap 3.2 kg'
    """
    words = [_word(key, value) for key, value in detail.items() if value not in (None, "", [])]
    return ", ".join(word for word in words if word)


def _word(key: str, value: Any) -> str:
    if key in ("pieces", "sheets") and isinstance(value, list):
        named = ", ".join(map(str, value[:MOST_NAMED]))
        return named + (f" and {len(value) - MOST_NAMED} more" if len(value) > MOST_NAMED else "")
    return _WORDS.get(key, "{}").format(value)


_WORDS = {
    "plan": "plan {}",
    "program": "program {}",
    "scrap_kg": "scrap {} kg",
    "piece": "{}",
    "part": "part {}",
    "mark": "mark {}",
    "why": "because: {}",
    "from": "from {}",
    "to": "to {}",
    "by": "by {}",
    "was": "that was: {}",
    "change": "change {}",
    # Older entries told the state beside the event, which says it already.
    "state": "",
}
