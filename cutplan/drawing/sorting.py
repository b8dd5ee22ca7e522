"""From drafts to the parts that are wanted: equal ones counted as one, named, chosen or left out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from fnmatch import fnmatchcase

from cutplan.drawing.assemble import Box, Draft, as_part
from cutplan.drawing.congruence import same_shapes
from cutplan.drawing.contours import Contours
from cutplan.drawing.model import Note, Part
from cutplan.drawing.notes import Notes
from cutplan.drawing.options import Choice, ReadOptions
from cutplan.geometry import Path, contains

__all__ = ["sort_parts"]

# Values that tell parts of one shape from each other.
TELLING = ("name", "thickness", "grade")
# Copies of a part that are named by place in a finding; the rest are counted.
PLACES_SHOWN = 6


def sort_parts(
    drafts: Sequence[Draft], contours: Contours, source: tuple[str, str], options: ReadOptions, notes: Notes
) -> tuple[list[tuple[Part, Box]], list[Path]]:
    """Return the parts wanted of a drawing, each with its box, and the outsides of counted copies.

    Parameters
    ----------
    drafts : sequence of Draft
        From left to right.
    contours : Contours
    source : tuple of str
        Name of a single part and first half of the names of several; the file they come from.
    options : ReadOptions
        Its `equal`, `mirror`, `choose` and `leave_out` decide.
    notes : Notes
        Takes what was counted together and what was left out.
    """
    stem, file = source
    parts = [as_part(draft, contours, stem, file) for draft in drafts]
    kinds = _kinds(parts, options)
    names = [stem] if len(kinds) == 1 else [f"{stem}-{n}" for n in range(1, len(kinds) + 1)]
    result: list[tuple[Part, Box]] = []
    copies: list[Path] = []
    for name, members in zip(names, kinds, strict=True):
        wanted = [k for k in members if _wanted(parts[k], name, contours, drafts[k], options)]
        for k in sorted(set(members) - set(wanted)):
            x0, y0, x1, y1 = contours.boxes[drafts[k].outer]
            message = f"a part {x1 - x0:.1f} × {y1 - y0:.1f} mm ({name}) was left out, as the job says"
            notes.add("left out", "parts left out", message, (float(x0), float(y0)))
        if not wanted:
            continue
        part = replace(parts[wanted[0]], name=name, drawn=len(wanted), notes=_all_notes(parts, wanted))
        copies += [parts[k].outer for k in wanted[1:]]
        if len(wanted) > 1:
            _tell_count(part, [contours.boxes[drafts[k].outer] for k in wanted], notes)
        x0, y0, x1, y1 = contours.boxes[drafts[wanted[0]].outer].tolist()
        result.append((part, (x0, y0, x1, y1)))
    return result, copies


def _tell_count(part: Part, boxes: Sequence[Sequence[float]], notes: Notes) -> None:
    places = ", ".join(f"({box[0]:.1f}, {box[1]:.1f})" for box in boxes[:PLACES_SHOWN])
    more = f" and {len(boxes) - PLACES_SHOWN} more places" if len(boxes) > PLACES_SHOWN else ""
    message = f"part {part.name} is drawn {part.drawn} times, at {places}{more} mm: it counts as one part, {part.drawn} off"
    notes.add("taken", "equal parts", message, (float(boxes[0][0]), float(boxes[0][1])))


def _kinds(parts: Sequence[Part], options: ReadOptions) -> list[list[int]]:
    """Return the parts of each kind, in the drawing's order; what texts tell apart stays apart."""
    if options.equal == "apart":
        return [[k] for k in range(len(parts))]
    result: list[list[int]] = []
    for kind in same_shapes(parts, mirror=options.mirror):
        told: dict[tuple[str | None, ...], list[int]] = defaultdict(list)
        for k in kind.members:
            told[_telling(parts[k].notes)].append(k)
        silent = (None,) * len(TELLING)
        if len(told) == 2 and silent in told:
            # A text beside one of several copies speaks for all of them.
            result.append(sorted(kind.members))
        else:
            result += told.values()
    return sorted(result)


def _telling(notes: Sequence[Note]) -> tuple[str | None, ...]:
    return tuple(next((n.values[key] for n in notes if key in n.values), None) for key in TELLING)


def _all_notes(parts: Sequence[Part], members: Sequence[int]) -> tuple[Note, ...]:
    return tuple(note for k in members for note in parts[k].notes)


def _wanted(part: Part, name: str, contours: Contours, draft: Draft, options: ReadOptions) -> bool:
    def meant(choices: Sequence[Choice]) -> bool:
        return any(_meets(each, part, name, contours, draft) for each in choices)

    return (not options.choose or meant(options.choose)) and not meant(options.leave_out)


def _meets(choice: Choice, part: Part, name: str, contours: Contours, draft: Draft) -> bool:
    """Return whether a part is what a choice means; all that the choice gives must hold."""
    x0, y0, x1, y1 = contours.boxes[draft.outer]
    size = max(x1 - x0, y1 - y0)
    if choice.name is not None and not _like(choice.name, [name]):
        return False
    if choice.layer is not None and not _like(choice.layer, [contours.chains[draft.outer].layer]):
        return False
    if choice.text is not None and not _like(choice.text, [note.text for note in part.notes]):
        return False
    if choice.at is not None and not contains(part.outer, [choice.at])[0]:
        return False
    if choice.within is not None:
        a0, b0, a1, b1 = choice.within
        if not (a0 <= x0 and b0 <= y0 and x1 <= a1 and y1 <= b1):
            return False
    if choice.larger_than is not None and not size > choice.larger_than:
        return False
    return choice.smaller_than is None or bool(size < choice.smaller_than)


def _like(pattern: str, texts: Sequence[str]) -> bool:
    return any(fnmatchcase(text.casefold(), pattern.casefold()) for text in texts)
