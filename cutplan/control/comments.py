"""Comments that do more than tell: words in brackets that controls act on, and texts made harmless.

NISTIR 6556, section 3.3.4, has one of them, ``(MSG, …)``.  Later controls log, print, probe,
query and call programs from within brackets, always by a first word with a comma behind it or
by one of a few words alone; which of them a control knows is not asked here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from functools import lru_cache

from cutplan.control.motions import Doubt
from cutplan.control.words import BlockError, Parameters, take_apart

__all__ = ["acts", "comment_doubts", "harmless_text", "semicolon_acts"]

_ALONE = frozenset(
    ("ABORT", "LOGAPPEND", "LOGCLOSE", "LOGOPEN", "PREVIEW", "PROBECLOSE", "PROBEOPEN", "STOP")
)
_COMMA = re.compile(r"\(\s*([A-Za-z_]+)\s*[,=]")
_WORD_ALONE = re.compile(r"\(\s*([A-Za-z_]+)[\s)]")
# A text that begins like a block: controls for which a semicolon ends a block run what follows.
_BLOCK_LIKE = re.compile(r"\s*[A-Za-z#%/]\s*[-+.#\[=0-9]")


def comment_doubts(text: str, first: int, permits: Sequence[str]) -> Iterator[Doubt]:
    """Yield a doubt for each comment of a text that controls could act on.

    Parameters
    ----------
    text : str
    first : int
        Number of its first line.
    permits : sequence of str
        First words, in capitals, that may stand there all the same.
    """
    for pattern, acting in ((_COMMA, None), (_WORD_ALONE, _ALONE)):
        for found in pattern.finditer(text):
            word = found[1].upper()
            if word in permits or (acting is not None and word not in acting):
                continue
            line = first + text.count("\n", 0, found.start())
            yield Doubt("comment", f"controls may act on a comment that begins with {word}", line)


def acts(line: str, permits: Sequence[str] = ()) -> bool:
    """Return whether controls could act on a comment of a line.

    Parameters
    ----------
    line : str
        A line of a program.
    permits : sequence of str, optional
        Comments that are meant to act.

    Returns
    -------
    bool
    """
    return any(True for _ in comment_doubts(line, 1, permits))


def semicolon_acts(remark: str) -> bool:
    """Return whether a text behind a semicolon could be run where the semicolon ends a block."""
    if _BLOCK_LIKE.match(remark):
        return True
    try:
        block = take_apart(remark.strip(), Parameters())
    except BlockError:
        return False
    return bool(block.words or block.settings)


# The same names and remarks come at every cut of a program.
@lru_cache(maxsize=1024)
def harmless_text(text: str) -> str:
    """Return a text that may stand in a comment: printable ASCII that nothing acts on.

    NISTIR 6556, 3.3.4: no comment stands inside another.  Semicolons and per cent signs go too:
    some controls end a block, or a program, at one.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("×", "x").replace("%", " percent "))
    plain = plain.encode("ascii", "ignore").decode().translate(str.maketrans("();", "[],"))
    plain = re.sub(r"[^ -~]+", " ", plain)
    plain = re.sub(r" {2,}", " ", plain).strip()
    plain = re.sub(r"^([A-Za-z_]+)\s*[,=]", r"\1:", plain)
    first = re.match(r"[A-Za-z_]+(?=\s|$)", plain)
    return f"- {plain}" if first and first[0].upper() in _ALONE else plain
