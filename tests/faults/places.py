"""Edits that many classes make: lines put in at a kind of place, words changed there."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from faults.model import Mutator
from faults.view import Cut, View
from faults.words import find, replaced, words

Lines = list[str] | None


def lit(*new: str) -> Mutator:
    """Put lines in while the torch burns."""

    def mutate(view: View, chance: random.Random) -> Lines:
        line = view.lit_lines(chance)
        return None if line is None else view.put(line + 1, *new)

    return mutate


def lit_before(letter: str, *new: str) -> Mutator:
    """Put lines in while the torch burns, before a move that does not state a letter's word itself."""

    def mutate(view: View, chance: random.Random) -> Lines:
        lines = [
            row.line
            for cut in view.torch_cuts
            for row in view.moves(cut)[1:]
            if find(view.lines[row.line], letter) is None
        ]
        return view.put(chance.choice(lines), *new) if lines else None

    return mutate


def behind_start(*new: str) -> Mutator:
    """Put lines in right behind the word that lights the torch."""

    def mutate(view: View, chance: random.Random) -> Lines:
        cut = chance.choice(view.torch_cuts)
        return view.put(cut.on + 1, *new)

    return mutate


def before_off(*new: str) -> Mutator:
    """Put lines in right before the word that puts the torch out."""

    def mutate(view: View, chance: random.Random) -> Lines:
        cut = chance.choice(view.torch_cuts)
        return view.put(cut.off, *new)

    return mutate


def between(*new: str) -> Mutator:
    """Put lines in between two cuts, before the way to the second."""

    def mutate(view: View, chance: random.Random) -> Lines:
        cuts = [cut for cut in view.cuts[1:] if not cut.marks] or view.cuts[1:]
        return view.put(chance.choice(cuts).first, *new) if cuts else None

    return mutate


def at_head(*new: str) -> Mutator:
    """Put lines in behind the header."""

    def mutate(view: View, chance: random.Random) -> Lines:
        return view.put(view.head, *new)

    return mutate


def anywhere(*new: str) -> Mutator:
    """Put lines in at the head, between two cuts, or in a cut."""

    def mutate(view: View, chance: random.Random) -> Lines:
        made = chance.choice([at_head, between, lit])(*new)(view, chance)
        assert made is None or isinstance(made, list)
        return made

    return mutate


def no_header_word(*codes: str) -> Mutator:
    """Take a word out of the header."""

    def mutate(view: View, chance: random.Random) -> Lines:
        return header_word(view, codes, "")

    return mutate


def for_header_word(code: str, other: str) -> Mutator:
    """Write another word in place of one of the header."""

    def mutate(view: View, chance: random.Random) -> Lines:
        return header_word(view, (code,), other)

    return mutate


def header_word(view: View, codes: Sequence[str], other: str) -> Lines:
    """Return the lines with a word of the header written otherwise; None where it has none."""
    for line in range(view.head):
        for word in words(view.lines[line]):
            if word.code in codes:
                text = replaced(view.lines[line], word, other)
                return view.swap(line, text) if words(text) else view.without(line, line + 1)
    return None


def at_line(
    where: Callable[[View, Cut], Sequence[int]],
    edit: Callable[[str, random.Random], str | None],
    marks: bool = False,
) -> Mutator:
    """Rewrite one line of a cut (or mark) that an edit can be made to."""

    def mutate(view: View, chance: random.Random) -> Lines:
        lines = [line for cut in (view.marks if marks else view.torch_cuts) for line in where(view, cut)]
        chance.shuffle(lines)
        for line in lines:
            text = edit(view.lines[line], chance)
            if text is not None and text != view.lines[line]:
                return view.swap(line, text)
        return None

    return mutate


def drop_line(where: Callable[[View, Cut], Sequence[int]], marks: bool = False) -> Mutator:
    """Take one line out of a cut (or mark)."""

    def mutate(view: View, chance: random.Random) -> Lines:
        lines = [line for cut in (view.marks if marks else view.torch_cuts) for line in where(view, cut)]
        if not lines:
            return None
        line = chance.choice(lines)
        return view.without(line, line + 1)

    return mutate


def on_line(view: View, cut: Cut) -> list[int]:
    """The line that switches on."""
    return [cut.on]


def off_line(view: View, cut: Cut) -> list[int]:
    """The line that switches off."""
    return [cut.off]


def move_lines(view: View, cut: Cut) -> list[int]:
    """The feed moves of a cut."""
    return [row.line for row in view.moves(cut)]


def way_lines(view: View, cut: Cut) -> list[int]:
    """The rapids to a cut."""
    return [k for k in range(cut.first, cut.on) if find(view.lines[k], "X") or find(view.lines[k], "Y")]


def pierce_dwells(view: View, cut: Cut) -> list[int]:
    """Dwells behind the word that switches on."""
    return [row.line for row in view.own_rows(cut) if row.kind == "dwell"]


def preheat_dwells(view: View, cut: Cut) -> list[int]:
    """Dwells before the word that switches on."""
    return [k for k in range(cut.first, cut.on) if "G4" in view.code(k)]


def dwell_times(factor: float) -> Callable[[str, random.Random], str | None]:
    """Change the time of a dwell."""

    def edit(line: str, chance: random.Random) -> str | None:
        word = find(line, "P")
        return None if word is None else replaced(line, word, f"P{word.value * factor:.3f}")

    return edit


def feed_times(*factors: float) -> Callable[[str, random.Random], str | None]:
    """Change a feed."""

    def edit(line: str, chance: random.Random) -> str | None:
        word = find(line, "F")
        return None if word is None else replaced(line, word, f"F{word.value * chance.choice(factors):.1f}")

    return edit
