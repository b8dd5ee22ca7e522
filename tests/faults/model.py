"""What a class of seeded faults is, and the edit that it makes.

Terminology
-----------
edit : the files of a planned folder as someone has changed them, and the options to prove with.
fault : a class of edits that leave a program wrong.
honest edit : a class of edits that a shop makes and that leave it right.
wrong by construction : every edit of the class is wrong, whatever it hits.
wrong by replay : an edit is wrong where a replay without the package's code finds harm.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from faults.cases import Case
from faults.view import View

Wrong = Literal["by construction", "by replay"]
CONSTRUCTION: Wrong = "by construction"
REPLAY: Wrong = "by replay"


@dataclass(frozen=True)
class Edit:
    """Files changed, and how the program is proved then.

    Attributes
    ----------
    files : mapping of str to str or bytes
        Changed or added files by name; an empty one is taken away.
    options : tuple of str
        Further words for the command that proves.
    program : str or None
        Proved in place of the sheet's first file.
    """

    files: Mapping[str, str | bytes]
    options: tuple[str, ...] = ()
    program: str | None = None


Mutator = Callable[[View, random.Random], "Edit | list[str] | str | None"]


@dataclass(frozen=True)
class Fault:
    """A class of faults.

    Attributes
    ----------
    name : str
    why : str
        Why it is wrong, in one sentence.
    wrong : str
    mutate : callable
        Takes a view of one program and a source of chance; None where it finds no place.
    cases : tuple of str
        The cases that it fits; empty for all.
    """

    name: str
    why: str
    wrong: Wrong
    mutate: Mutator
    cases: tuple[str, ...] = ()


@dataclass
class Book:
    """Classes by their names, in the order they were entered."""

    classes: dict[str, Fault] = field(default_factory=dict)

    def enter(
        self, name: str, why: str, wrong: Wrong = CONSTRUCTION, cases: tuple[str, ...] = ()
    ) -> Callable[[Mutator], Mutator]:
        """Enter a mutator as a class."""
        assert name not in self.classes, name

        def entered(mutate: Mutator) -> Mutator:
            self.classes[name] = Fault(name, why, wrong, mutate, cases)
            return mutate

        return entered

    def add(
        self, name: str, why: str, mutate: Mutator, wrong: Wrong = CONSTRUCTION, cases: tuple[str, ...] = ()
    ) -> None:
        """Enter a mutator that is made by another function."""
        self.enter(name, why, wrong, cases)(mutate)


FAULTS = Book()
HONEST = Book()


def edit_of(case: Case, view: View, made: Edit | list[str] | str | None) -> Edit | None:
    """Return what a mutator made as an edit; None where nothing is changed."""
    if made is None or isinstance(made, Edit):
        return made
    text = made if isinstance(made, str) else "\n".join(made)
    if text == case.files[view.file]:
        return None
    return Edit({view.file: text}, program=view.file)
