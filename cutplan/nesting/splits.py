"""Where to split parts longer than every plate, so that least plate is wasted.

The pieces of all copies are laid in rows, one behind the other along the plates; a row as high as
the part takes a plate's length.  A split is better if it needs fewer splices, then if its rows
take less plate, then if what they leave over is in longer ends.  With one splice the best place
is found exactly: the packing changes only where some number of pieces just fills a row, and all
those places are tried, with the ends of the stretches that are open.  With more splices the
places tried are those from which pieces fill rows, counted from either end and from the open
stretches' ends.  The rows of each are packed by dynamic programming over how many of each piece
are left (the cutting stock problem in one dimension; Gilmore and Gomory 1961 for its patterns).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from cutplan.base.errors import NestingError
from cutplan.nesting.rows import SAME, SLACK, Cost, PlateRows, rows_taken

__all__ = ["LongPart", "best_splits", "splits_of"]

# Copies that a packing is reckoned with, at most: the same pattern comes again beyond.
MOST_COPIES = 6
MOST_STATES = 3000
# How often a piece is taken into a row's breakpoint.
MOST_IN_A_ROW = 4
MOST_PLANS = 4000
MOST_CANDIDATES = {1: 400, 2: 60, 3: 22}
FEWEST_CANDIDATES = 12


@dataclass(frozen=True)
class LongPart:
    """A part to split.

    Attributes
    ----------
    name : str
    length : float
        mm.
    open : tuple of (float, float)
        Stretches in which splices may lie, mm from its start.
    rows : tuple of PlateRows
    copies : int
    gap : float
        Between pieces at a splice, mm.
    between : float
        Between pieces in a row, mm.
    least : float
        Length of a piece at least, mm.
    most, fewest : int
        Splices at most, and at least.
    beam : str
        Empty for none.
    member : str
        "web" or "flange".
    offset : float
        From the beam's start, mm.
    stagger : float
        From splices of the beam's other kind of member, mm.
    """

    name: str
    length: float
    open: tuple[tuple[float, float], ...]
    rows: tuple[PlateRows, ...]
    copies: int = 1
    gap: float = 0.0
    between: float = 0.0
    least: float = 0.0
    most: int = 6
    beam: str = ""
    member: str = "web"
    offset: float = 0.0
    stagger: float = 0.0
    fewest: int = 1

    @property
    def longest(self) -> float:
        """Length of the longest piece that a plate takes, mm."""
        return max((row.length for row in self.rows), default=0.0) - SLACK

    def pieces(self, splices: Sequence[float]) -> tuple[float, ...]:
        """Return the lengths of the pieces, mm."""
        half = 0.5 * self.gap
        ends = [0.0, *(e for at in splices for e in (at - half, at + half)), self.length]
        return tuple(b - a for a, b in zip(ends[::2], ends[1::2], strict=True))


Priced = list[tuple[Cost, tuple[float, ...]]]
"""Splits of one part, best first, each with what its rows take."""


def splits_of(part: LongPart, keep_off: Sequence[float] = ()) -> list[tuple[float, ...]]:
    """Return splits of a part that keep its rules, with the fewest splices that will do.

    Parameters
    ----------
    part : LongPart
    keep_off : sequence of float
        Splices of the rest of its beam, from the part's start, that it keeps its stagger from.

    Returns
    -------
    list of tuple of float
        Places of the splices, mm from the part's start; empty where there is none.
    """
    opened = _clear_of(part, keep_off)
    for splices in range(part.fewest, part.most + 1):
        found = list(itertools.islice(_splits(part, opened, splices), MOST_PLANS))
        if found:
            return found
    return []


def _clear_of(part: LongPart, keep_off: Sequence[float]) -> list[tuple[float, float]]:
    opened = list(part.open)
    for at in keep_off:
        low, high = at - part.stagger, at + part.stagger
        halves = [half for a, b in opened for half in ((a, min(b, low)), (max(a, high), b))]
        opened = [(a, b) for a, b in halves if b >= a]
    return sorted(set(opened))


def _splits(
    part: LongPart, opened: Sequence[tuple[float, float]], splices: int
) -> Iterator[tuple[float, ...]]:
    """Yield the splits with so many splices, each in an open stretch and each piece of a length allowed."""
    places = _candidates(part, opened, splices)
    half = 0.5 * part.gap

    def go(chosen: tuple[float, ...]) -> Iterator[tuple[float, ...]]:
        begin = chosen[-1] + half if chosen else 0.0
        left = splices - len(chosen)
        if left == 0:
            if part.least - SAME <= part.length - begin <= part.longest + SAME:
                yield chosen
            return
        for at in places:
            piece = at - half - begin
            if piece > part.longest + SAME:
                break
            # What is still to come must be able to reach the end.
            reach = at + half + left * part.longest + (left - 1) * part.gap
            if piece >= part.least - SAME and reach >= part.length - SAME:
                yield from go((*chosen, at))

    yield from go(())


def _candidates(part: LongPart, opened: Sequence[tuple[float, float]], splices: int) -> list[float]:
    """Return the places along a part that are worth a splice, in order."""
    half, gap, lengths = 0.5 * part.gap, part.gap, _worthy_lengths(part)
    if splices == 1:
        lengths += _breakpoints(part)
    ends = [edge for stretch in opened for edge in stretch]
    near, far = {-half}, {part.length + half}
    found: set[float] = set(ends)
    for _ in range(splices):
        near = {round(at + gap + size, 9) for at in near for size in lengths if at + size < part.length}
        far = {round(at - gap - size, 9) for at in far for size in lengths if at - size > 0.0}
        found |= near | far
        if splices > 1:
            found |= {e + s * (gap + size) for e in ends for size in lengths for s in (-1.0, 1.0)}
        if len(found) > 10 * MOST_CANDIDATES[1]:
            break
    kept = sorted({at for at in found if any(a - SAME <= at <= b + SAME for a, b in opened)})
    most = MOST_CANDIDATES.get(splices, FEWEST_CANDIDATES)
    if splices > 1 and len(kept) > most:
        # Full pieces from either end, and the ends of what is open, go before the rest.
        first = [at for at in kept if any(abs(at - e) < SAME for e in _full_chains(part, ends))]
        kept = sorted({*first, *kept[:: len(kept) // most + 1]})
    return kept


def _full_chains(part: LongPart, ends: Sequence[float]) -> list[float]:
    full, half = part.longest + part.gap, 0.5 * part.gap
    steps = int(part.length // full) + 1
    chains = [n * full - half for n in range(1, steps + 1)]
    chains += [part.length + half - n * full for n in range(1, steps + 1)]
    return [*chains, *ends]


def _worthy_lengths(part: LongPart) -> list[float]:
    """Return lengths of pieces that fill rows, alone or some alike."""
    lengths = [part.least] if part.least > 0.0 else []
    for row in part.rows:
        for number in range(1, MOST_IN_A_ROW + 1):
            size = (row.length - SLACK - (number - 1) * part.between) / number
            if part.least <= size <= part.longest:
                lengths.append(size)
    return lengths


def _breakpoints(part: LongPart) -> list[float]:
    """Return the lengths of the first of two pieces at which some of each just fill a row."""
    both = part.length - part.gap
    lengths = [0.5 * both]
    for row in part.rows:
        for a, b in itertools.product(range(MOST_IN_A_ROW + 1), repeat=2):
            if a != b:
                # a·x + b·(both − x) and the gaps between them fill the row.
                room = row.length - SLACK - max(0, a + b - 1) * part.between
                lengths.append((room - b * both) / (a - b))
    return [size for size in lengths if 0.0 < size < both]


def best_splits(parts: Sequence[LongPart]) -> dict[str, tuple[float, ...]]:
    """Return the best split of each part, those of a beam together.

    Parameters
    ----------
    parts : sequence of LongPart

    Returns
    -------
    dict of str to tuple of float
        Places of the splices by the part's name, mm from its start; a part without one that
        keeps its rules is missing.

    Raises
    ------
    NestingError
        If two parts share a name.
    """
    if len({part.name for part in parts}) != len(parts):
        raise NestingError("two parts to split share a name", remedy="give each a name of its own")
    answer: dict[str, tuple[float, ...]] = {}
    beams = dict.fromkeys(part.beam for part in parts)
    for beam in beams:
        own = [part for part in parts if part.beam == beam]
        if beam:
            answer |= _beam(own)
        else:
            for part in own:
                plans = _priced(part, splits_of(part))
                if plans:
                    answer[part.name] = plans[0][1]
    return answer


def _priced(part: LongPart, splits: Sequence[tuple[float, ...]]) -> Priced:
    """Return splits with what their rows take, best first."""
    return sorted((_cost(part, split), split) for split in splits)


@lru_cache(maxsize=8192)
def _cost(part: LongPart, split: tuple[float, ...]) -> Cost:
    # Lengths that differ by less than a torch can hold are one length.
    pieces = tuple(round(size, 3) for size in part.pieces(split))
    copies = min(part.copies, MOST_COPIES)
    while copies > 1 and (copies + 1) ** len(set(pieces)) > MOST_STATES:
        copies -= 1
    return rows_taken(pieces, copies, part.rows, part.between)


def _beam(parts: Sequence[LongPart]) -> dict[str, tuple[float, ...]]:
    """Return the splits of one beam: every choice for the webs with the best of each flange beside it."""
    webs = [part for part in parts if part.member == "web"]
    flanges = [part for part in parts if part.member != "web"]
    priced = [_priced(web, _with_stagger(web, flanges)) for web in webs]
    best: tuple[tuple[int, int, float, float], dict[str, tuple[float, ...]]] | None = None
    for choice in itertools.islice(itertools.product(*priced), MOST_PLANS):
        stations = [web.offset + at for web, (_, split) in zip(webs, choice, strict=True) for at in split]
        chosen = {web.name: split for web, (_, split) in zip(webs, choice, strict=True)}
        costs = [cost for cost, _ in choice]
        for flange in flanges:
            plans = _priced(flange, splits_of(flange, [at - flange.offset for at in stations]))
            if not plans:
                break
            costs.append(plans[0][0])
            chosen[flange.name] = plans[0][1]
        else:
            total = (
                sum(map(len, chosen.values())),
                sum(cost[0] for cost in costs),
                sum(cost[1] for cost in costs),
                sum(cost[2] for cost in costs),
            )
            if best is None or total < best[0]:
                best = (total, chosen)
    if best is not None:
        return best[1]
    # No web leaves room for all flanges: what can be split by itself is told from what cannot.
    return {web.name: plans[0][1] for web, plans in zip(webs, priced, strict=True) if plans}


def _with_stagger(web: LongPart, flanges: Sequence[LongPart]) -> list[tuple[float, ...]]:
    """Return splits of a web, among them those that just clear the best places of its flanges."""
    edges = [
        at + flange.offset - web.offset for flange in flanges for split in splits_of(flange) for at in split
    ]
    near = {at + side * web.stagger for at in edges for side in (-1.0, 1.0)}
    opened = [
        (a, b)
        for low, high in web.open
        for a, b in itertools.pairwise(sorted({low, high, *(at for at in near if low < at < high)}))
        if b > a
    ] or list(web.open)
    return splits_of(replace(web, open=tuple(opened)))
