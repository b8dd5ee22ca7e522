"""What a job, and the notes of a drawing, ask of a part's edges: weld preparations, found and checked.

Nothing is guessed: what cannot be found or cannot be made is refused with its place, and a bevel
that the job leaves to be made elsewhere is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from cutplan.base.findings import Finding
from cutplan.drawing import (
    BevelLine,
    BevelWords,
    EdgePreparation,
    FoundEdge,
    KeptEdge,
    Note,
    Part,
    bevel_words,
    edge_at,
    groove_mm3,
    preparation_name,
    prepared_length,
    refusals_of,
    remarks_on,
    stretch_between,
    stretch_of,
)
from cutplan.geometry import length, point_at
from cutplan.planning.entries import BevelEntry, PartEntry, WantedEntry
from cutplan.planning.job import Job

__all__ = ["fate_of_bevels", "heeds_bevel_notes", "with_bevels", "with_kept_edges"]

TOPIC = "bevels"
REMEDY = (
    "name a head by postprocessor_bevels under [machine], or say elsewhere = true under [bevels] or in the bevel: "
    "the edge is then cut square, and listed to be bevelled off the table"
)
# A place given in the job is meant to lie on its edge, mm.
ON_EDGE = 1.0
# A line that shows a bevel lies along its edge within this, mm: no setback is more.
ALONG = 120.0
# A note stands beside its edge within this many letter heights; another edge is clearly farther by two.
BESIDE, CLEARLY = 6.0, 2.0
LETTER_MM = 5.0


def heeds_bevel_notes(entry: WantedEntry) -> bool:
    """Return whether an entry takes bevels from the notes of its drawing."""
    return isinstance(entry, PartEntry) and "bevel" in entry.from_text


def with_bevels(part: Part, entry: WantedEntry, thickness: float, job: Job) -> tuple[Part, list[Finding]]:
    """Return a part with the preparations that are asked of its edges, and what is to be told of them.

    Parameters
    ----------
    part : Part
    entry : WantedEntry
    thickness : float
        mm.
    job : Job
        It may leave them to be made elsewhere.

    Returns
    -------
    Part, and list of Finding
        Refusals and questions among them; what they are about is not on the part.
    """
    asked: list[EdgePreparation] = []
    findings: list[Finding] = []
    for n, each in enumerate(entry.bevels, start=1):
        found = _found(part, each)
        if found.distance > ON_EDGE:
            told = f"bevel {n} names a place {found.distance:.1f} mm away from the nearest edge"
            findings.append(Finding("refused", told, each.at, "give a place on the edge, mm", TOPIC))
            continue
        asked.append(_asked(each, found))
    for line in part.bevel_lines:
        findings += _from_line(part, line, asked)
    if heeds_bevel_notes(entry):
        for note in part.notes:
            if "bevel" in note.values:
                findings += _from_note(part, note, asked)
    refused = {id(each): _refused(part, each, thickness) for each in asked}
    findings += [told for each in asked for told in refused[id(each)]]
    sound = [
        replace(each, elsewhere=each.elsewhere or job.bevels.elsewhere)
        for each in asked
        if not refused[id(each)]
    ]
    findings += _twice(part, sound)
    findings += [told for each in sound for told in _told(part, each, thickness)]
    return replace(part, bevels=(*part.bevels, *sound)), findings


def with_kept_edges(part: Part, entry: WantedEntry) -> tuple[Part, list[Finding]]:
    """Return a part with the edges on which no cut should start, and the places that are on none.

    Parameters
    ----------
    part : Part
    entry : WantedEntry

    Returns
    -------
    Part, and list of Finding
    """
    kept, findings = [], []
    for n, place in enumerate(entry.no_starts, start=1):
        found = edge_at(part, place)
        if found.distance > ON_EDGE:
            told = f"no_starts names a place {n} that lies {found.distance:.1f} mm away from the nearest edge"
            findings.append(Finding("refused", told, place, "give a place on the edge, mm", "starts"))
        else:
            kept.append(KeptEdge(found.hole, found.span))
    return replace(part, kept=(*part.kept, *kept)), findings


def _found(part: Part, entry: BevelEntry) -> FoundEdge:
    if entry.between is not None:
        return stretch_between(part, entry.at, entry.between)
    return edge_at(part, entry.at, all_round=entry.all_round)


def _asked(entry: BevelEntry, found: FoundEdge) -> EdgePreparation:
    double = entry.kind in ("X", "double Y", "K")
    return EdgePreparation(
        entry.kind, entry.angle_deg, found.hole, found.span, entry.land_mm,
        entry.side or ("both" if double else "top"), entry.depth_mm, entry.below_deg, entry.elsewhere,
    )  # fmt: skip


def _from_note(part: Part, note: Note, asked: list[EdgePreparation]) -> Iterator[Finding]:
    """Add what a note beside an edge orders, or yield why it is not clear."""
    words = bevel_words(note.text)
    doubt = _doubt(words, note)
    found = None if words is None or doubt else _beside(part, note, words)
    if not doubt and found is None:
        doubt = "stands beside no edge that is clearly the nearest"
    if doubt or found is None or words is None or words.angle_deg is None:
        told = f"the text {note} orders a bevel but {doubt}"
        remedy = 'give the bevel in the job, by bevels = [{ at = [x, y], kind = "V", angle_deg = 30 }]'
        yield Finding("question", told, note.place, remedy, TOPIC)
        return
    asked.append(
        EdgePreparation(words.kind, words.angle_deg, found.hole, found.span, words.land_mm, words.side)
    )
    yield Finding(
        "taken", f"{preparation_name(asked[-1])} is taken from the text {note}", note.place, topic=TOPIC
    )


def _from_line(part: Part, line: BevelLine, asked: list[EdgePreparation]) -> Iterator[Finding]:
    """Add the bevel that a line on a layer for bevels shows, or yield why it is not clear."""
    size = float(length(line.path))
    # Its ends may be nearer to the edges beside it.
    places = [(float(x), float(y)) for x, y in point_at(line.path, size * np.array([0.3, 0.7, 0.5]))]
    found = {each[:2]: each for each in (edge_at(part, place) for place in places)}
    words = bevel_words(f"BEVEL {line.layer.replace('_', ' ')}")
    doubt = "" if len(found) == 1 else "lies along no edge that is nearest to all of it"
    if not doubt and next(iter(found.values())).distance > ALONG:
        doubt = f"lies more than {ALONG:g} mm from every edge"
    if not doubt and (words is None or words.angle_deg is None):
        doubt = "gives no angle by its layer's name"
    if doubt or words is None or words.angle_deg is None:
        told = f"a line on layer {line.layer!r} shows a bevel and {doubt}"
        remedy = "name the layer after the bevel, as BEVEL_V_30DEG_LAND_2, or give it in the job by bevels"
        yield Finding("question", told, places[2], remedy, TOPIC)
        return
    (edge,) = found.values()
    asked.append(
        EdgePreparation(words.kind, words.angle_deg, edge.hole, edge.span, words.land_mm, words.side)
    )
    told = f"{preparation_name(asked[-1])} is taken from a line on layer {line.layer!r}"
    yield Finding("taken", told, places[2], topic=TOPIC)


def _doubt(words: BevelWords | None, note: Note) -> str:
    if words is None:
        return "does not say it in words that are known"
    if words.angle_deg is None:
        return "gives no angle"
    return "" if note.sure else "may belong to another part as well"


def _beside(part: Part, note: Note, words: BevelWords) -> FoundEdge | None:
    """Return the edge that a note stands beside: the nearest to the ends and the middle of its line, all alike."""
    height = note.height or LETTER_MM
    found = [edge_at(part, place, all_round=words.all_round) for place in note.line]
    best = min(found, key=lambda each: each.distance)
    if best.distance > BESIDE * height:
        return None
    others = [e for e in found if (e.hole, e.span) != (best.hole, best.span)]
    if any(each.distance < best.distance + CLEARLY * height for each in others):
        return None
    return best


def _refused(part: Part, asked: EdgePreparation, thickness: float) -> list[Finding]:
    return [
        Finding("refused", error.message, error.place, error.remedy or "", TOPIC)
        for error in refusals_of(part, asked, thickness)
    ]


def _twice(part: Part, asked: Sequence[EdgePreparation]) -> Iterator[Finding]:
    """Yield stretches that two preparations claim."""
    for k, one in enumerate(asked):
        for other in asked[:k]:
            if one.hole == other.hole and _overlap(part, one, other):
                at = stretch_of(part, one).start
                told = f"{preparation_name(one)} and {preparation_name(other)} are asked of the same edge"
                yield Finding("refused", told, (float(at[0]), float(at[1])), "keep one of them", TOPIC)


def _overlap(part: Part, one: EdgePreparation, other: EdgePreparation) -> bool:
    if one.span is None or other.span is None:
        return True
    whole = float(prepared_length(part, replace(one, span=None)))
    for a, b in ((one.span, other.span), (other.span, one.span)):
        inside = (a[0] - b[0]) % whole
        if inside < ((b[1] - b[0]) % whole) - ON_EDGE * 1e-3:
            return True
    return False


def _told(part: Part, asked: EdgePreparation, thickness: float) -> Iterator[Finding]:
    at = stretch_of(part, asked).start
    place = float(at[0]), float(at[1])
    for told in remarks_on(asked, thickness):
        yield Finding("warning", told, place, "check it with the welding planner", TOPIC)


def fate_of_bevels(part: Part, thickness: float, job: Job) -> Iterator[Finding]:
    """Yield what becomes of bevels that this machine does not cut: told, or refused."""
    for asked in part.bevels:
        at = stretch_of(part, asked).start
        place = float(at[0]), float(at[1])
        name = f"{preparation_name(asked)} over {prepared_length(part, asked):.0f} mm"
        if asked.elsewhere:
            volume = groove_mm3(part, asked, thickness) * 1e-3
            told = f"the edge is cut square here: {name} is still to be made off the table ({volume:.1f} cm³ to weld)"
            yield Finding("warning", told, place, topic=TOPIC)
        elif job.machine.postprocessor_bevels is None:
            yield Finding(
                "refused", f"no head of this machine bevels: {name} cannot be cut", place, REMEDY, TOPIC
            )
