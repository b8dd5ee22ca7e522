"""Whole files out of cuts: split where the control needs it, repeats called, lines numbered."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from cutplan.base.errors import ProgramError
from cutplan.program.blocks import Line
from cutplan.program.postprocessor import PostProcessor

__all__ = ["CutText", "assemble"]

# Room kept for the digests in the head, in lines and in bytes.
_STAMP_LINES, _STAMP_BYTES = 5, 420
# Lines round the moves of a subprogram: O, G91, G90, M99.
_SUBPROGRAM_FRAME = 4
# Blocks that may have an N word: not %, O lines or comments alone.
_NUMBERED = re.compile(r"/?[^%(O/]")


@dataclass(frozen=True)
class CutText:
    """The lines of one cut.

    Attributes
    ----------
    travel : tuple of Line
        Comment, and the way from where the cut before it ended.
    from_home : tuple of Line
        The same where a file begins with this cut.
    start, moves, end : tuple of Line
        What lights the torch, the feed moves, what puts it out.
    relative : tuple of Line
        The feed moves in steps from the pierce, for a subprogram; empty without them.
    home : tuple of Line
        The way home where a file ends with this cut.
    """

    travel: tuple[Line, ...]
    from_home: tuple[Line, ...]
    start: tuple[Line, ...]
    moves: tuple[Line, ...]
    end: tuple[Line, ...]
    relative: tuple[Line, ...] = ()
    home: tuple[Line, ...] = ()


def assemble(
    header: Callable[[int, int], Sequence[Line]],
    cuts: Sequence[CutText],
    footer: Sequence[Line],
    post: PostProcessor,
    where: str,
    *,
    nothing: Sequence[Line] = (),
) -> list[list[Line]]:
    """Return the lines of each file, one unless the control's limits split the program.

    Parameters
    ----------
    header : callable
        Lines at the head of file k of n.
    cuts : sequence of CutText
    footer : sequence of Line
    post : PostProcessor
    where : str
        Name of the program, for errors.
    nothing : sequence of Line
        What a program without cuts does before its footer.

    Raises
    ------
    ProgramError
        A single cut does not fit into a file.
    """
    groups = _split(header(1, 99), cuts, footer, post, where)
    return [
        _numbered(
            _file(header(k, len(groups)), group, [*(group[-1].home if group else nothing), *footer], post),
            post,
        )
        for k, group in enumerate(groups, start=1)
    ]


def _split(
    header: Sequence[Line], cuts: Sequence[CutText], footer: Sequence[Line], post: PostProcessor, where: str
) -> list[list[CutText]]:
    if not post.settings.limits.splits:
        return [list(cuts)]
    frame = _size([*header, *footer], post)
    frame = frame[0] + _STAMP_LINES, frame[1] + _STAMP_BYTES
    groups: list[list[CutText]] = []
    used = (0, 0)
    for n, cut in enumerate(cuts, start=1):
        size = _size([*cut.from_home, *cut.start, *cut.moves, *cut.end], post)
        home = _size(cut.home, post)
        # A file ends with the way home of its last cut.
        last = size[0] + home[0], size[1] + home[1]
        if not groups or not _fits(used, last, post):
            groups.append([])
            used = frame
            if not _fits(used, last, post):
                raise ProgramError(
                    f"cut {n} alone takes {size[0]} lines and {size[1]} bytes, more than a file may have",
                    where=where,
                    remedy="raise limits.file_lines or limits.file_bytes in the post-processor",
                )
        groups[-1].append(cut)
        used = used[0] + size[0], used[1] + size[1]
    return groups or [[]]


def _size(lines: Sequence[Line], post: PostProcessor) -> tuple[int, int]:
    """Lines and bytes, with room for the longest line number on each."""
    numbers = post.settings.line_numbers
    extra = 1 if numbers is None else len(f"N{numbers.highest} ") + 1
    return len(lines), sum(len(line.text) + extra for line in lines)


def _fits(used: tuple[int, int], size: tuple[int, int], post: PostProcessor) -> bool:
    limits = post.settings.limits
    return (limits.file_lines is None or used[0] + size[0] <= limits.file_lines) and (
        limits.file_bytes is None or used[1] + size[1] <= limits.file_bytes
    )


def _file(
    header: Sequence[Line], cuts: Sequence[CutText], footer: Sequence[Line], post: PostProcessor
) -> list[Line]:
    """Return the lines of one file, cuts that are repeated called from subprograms."""
    numbers = _subprogram_numbers(cuts, post)
    lines = list(header)
    for k, cut in enumerate(cuts):
        number = numbers.get(_texts(cut.relative))
        call = (Line(f"M98 P{number}", "runs the moves of this cut from its subprogram"),)
        lines += [
            *(cut.travel if k else cut.from_home),
            *cut.start,
            *(call if number else cut.moves),
            *cut.end,
        ]
    closing = [line for line in footer if line.text.strip() == "%"]
    lines += [line for line in footer if line not in closing]
    bodies = {_texts(cut.relative): cut.relative for cut in cuts}
    for key, number in numbers.items():
        lines += [
            Line(f"O{number}", "begins the subprogram of a cut that is repeated"),
            Line("G91", "distances from point to point, so that it may start anywhere"),
            *bodies[key],
            Line("G90", "back to plate coordinates"),
            Line("M99", "back to where it was called"),
        ]
    return lines + closing


def _subprogram_numbers(cuts: Sequence[CutText], post: PostProcessor) -> dict[tuple[str, ...], int]:
    settings = post.settings.subprograms
    if settings is None:
        return {}
    counts = Counter(_texts(cut.relative) for cut in cuts if cut.relative)
    repeated = [
        key for key, count in counts.items() if count * len(key) > count + len(key) + _SUBPROGRAM_FRAME
    ]
    return {key: settings.first + k for k, key in enumerate(repeated)}


def _texts(lines: Sequence[Line]) -> tuple[str, ...]:
    return tuple(line.text for line in lines)


def _numbered(lines: Sequence[Line], post: PostProcessor) -> list[Line]:
    """Return lines with N words, none on comments, % and O lines; block delete comes first."""
    settings = post.settings.line_numbers
    counter = _line_numbers(settings.first, settings.step, settings.highest) if settings else None
    space = " " if post.settings.words.spaces else ""
    finished: list[Line] = []
    wanted = settings is not None and settings.on == "lines"
    for text, why, begins_cut in lines:
        wanted = wanted or (settings is not None and begins_cut)
        if counter is not None and wanted and _NUMBERED.match(text):
            slash, rest = ("/", text[1:]) if text.startswith("/") else ("", text)
            text = f"{slash}N{next(counter)}{space}{rest}"
            wanted = settings is not None and settings.on == "lines"
        finished.append(Line(post.checked(text), why))
    return finished


def _line_numbers(first: int, step: int, highest: int) -> Iterator[int]:
    while True:
        yield from range(first, highest + 1, step)
