"""Words of a block sorted into modal groups, with the rules on which may stand together.

After NISTIR 6556, sections 3.3.5 (repeats), 3.4 (modal groups), 3.5 and 3.6 (codes).  What
the machine then does is left to `reader_machine`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from cutplan.control.dialect import Dialect
from cutplan.control.head import rotary_letters
from cutplan.control.rows import SWITCH_NAMES
from cutplan.control.words import Block, BlockError, Word, as_integer

__all__ = [
    "ARC_DISTANCE_GROUP",
    "ROTATION_GROUP",
    "Command",
    "Switch",
    "Vocabulary",
    "check_use",
    "sort_words",
]

# G codes in tenths -> modal group (NISTIR 6556, table 5; group 0 is not modal).
_G_GROUPS: dict[int, int] = {
    **dict.fromkeys((0, 10, 20, 30, 800), 1),
    **dict.fromkeys((170, 180, 190), 2),
    **dict.fromkeys((900, 910), 3),
    **dict.fromkeys((930, 940), 5),
    **dict.fromkeys((200, 210), 6),
    **dict.fromkeys((400, 410, 420), 7),
    **dict.fromkeys((490,), 8),
    **dict.fromkeys((980, 990), 10),
    **dict.fromkeys((540, 550, 560, 570, 580, 590, 591, 592, 593), 12),
    **dict.fromkeys((610, 611, 640), 13),
    **dict.fromkeys((40, 100, 280, 300, 530, 920, 921, 922, 923), 0),
}
ARC_DISTANCE_GROUP = 4  # not in the standard; as later controls have it
_ARC_DISTANCE = dict.fromkeys((901, 911), ARC_DISTANCE_GROUP)
ROTATION_GROUP = 16  # not in the standard; common practice
_ROTATION = {690: ROTATION_GROUP}
# They state what holds anyway on a control that does not have the mode.
_IDLE = frozenset((911, 690))
_G_REFUSED: dict[int, str] = {
    382: "probing is no part of a cutting program",
    430: "a torch has no tool length offset",
    **dict.fromkeys(range(810, 900, 10), "canned cycles drill and bore; a torch does not"),
}
# M codes of the standard that mean nothing for the torch path, or stop the program.
_M_GROUPS: dict[int, str] = {
    **dict.fromkeys((0, 1, 2, 30, 60), "stopping"),
    6: "tool change",
    **dict.fromkeys((48, 49), "overrides"),
}
_AXIS_CODES = frozenset((100, 280, 300, 920))  # group 0 codes that use axis words
_ARCS = frozenset((20, 30))
_MOST_M_WORDS = 4  # NISTIR 6556, 3.3.5
_STANDARD_LETTERS = frozenset("ABCDFGHIJKLMPQRSTXYZ")
_ALWAYS_USED = frozenset("FST")


@dataclass(frozen=True)
class Switch:
    """What an M word switches: "torch", "marker", "flame" or "height", and to which side."""

    what: str
    on: bool


@dataclass(frozen=True)
class Vocabulary:
    """The words of a dialect, ready to look up."""

    switches: dict[int, tuple[Switch, ...]]
    ignored_words: frozenset[tuple[str, int]]
    ignored_letters: frozenset[str]
    g_groups: dict[int, int]
    letters: frozenset[str]
    subprograms: bool
    bare_circles: bool
    idle_g: frozenset[int]
    rotary: str = ""

    @staticmethod
    @lru_cache(maxsize=16)
    def of(dialect: Dialect, strict: bool = True) -> Vocabulary:
        """Return the vocabulary of a dialect; unless strict, with words that only state what is so."""
        switches: dict[int, tuple[Switch, ...]] = {}
        for what in SWITCH_NAMES:
            for on, side in ((True, "on"), (False, "off")):
                for word in getattr(dialect, f"{what}_{side}"):
                    code = _tenths(word)
                    switches[code] = (*switches.get(code, ()), Switch(what, on))
        ignored_letters = frozenset(word.upper() for word in dialect.ignored if len(word) == 1)
        return Vocabulary(
            switches=switches,
            ignored_words=frozenset((w[0].upper(), _tenths(w)) for w in dialect.ignored if len(w) > 1),
            ignored_letters=ignored_letters,
            g_groups=_G_GROUPS
            | (_ARC_DISTANCE if dialect.arc_distance_words else {})
            | (_ROTATION if dialect.has_rotation else {}),
            letters=_STANDARD_LETTERS | ignored_letters | ({"O"} if dialect.subprograms else set()),
            subprograms=dialect.subprograms,
            bare_circles=dialect.bare_circles,
            idle_g=frozenset() if strict else _IDLE - ({911} if dialect.absolute_centres else set()),
            rotary=rotary_letters(dialect.head),
        )


def _tenths(word: str) -> int:
    return round(float(word[1:]) * 10.0)


@dataclass
class Command:
    """A block's words in order of meaning.

    Attributes
    ----------
    g : dict
        Modal group to G code in tenths.
    switches : list of Switch
    stop : int or None
        M0, M1, M2, M30 or M60.
    tool_change : bool
    call, back : bool
        M98 and M99.
    words : dict
        The words of all other letters.
    """

    g: dict[int, int] = field(default_factory=dict)
    g_columns: dict[int, int] = field(default_factory=dict)
    switches: list[Switch] = field(default_factory=list)
    stop: int | None = None
    tool_change: bool = False
    call: bool = False
    back: bool = False
    m_words: tuple[int, ...] = ()
    words: dict[str, Word] = field(default_factory=dict)
    departures: list[str] = field(default_factory=list)

    @property
    def has_axes(self) -> bool:
        """Whether X, Y or Z stands on the line."""
        return not self.words.keys().isdisjoint("XYZ")

    @property
    def uses_axes_apart(self) -> bool:
        """Whether a code outside the motion group takes the line's axis words."""
        return self.g.get(0) in _AXIS_CODES

    def column(self, *letters: str) -> int:
        """Column of the first of some letters that is there, else of the first word."""
        for letter in letters:
            if letter in self.words:
                return self.words[letter].column
        places = [*self.g_columns.values(), *(word.column for word in self.words.values())]
        return min(places, default=1)

    def value(self, letter: str, default: float) -> float:
        """Value of a letter, or a default."""
        word = self.words.get(letter)
        return default if word is None else word.value

    def g_column(self, group: int) -> int:
        """Column of a group's G word, else of the first word."""
        return self.g_columns.get(group) or self.column()


def sort_words(block: Block, words: Vocabulary) -> Command:
    """Return a block's words by meaning.

    Raises
    ------
    BlockError
        If a word is unknown, repeated, or of the same modal group as another.
    """
    command = Command()
    m_groups: dict[str, int] = {}
    for word in block.words:
        if word.letter == "G":
            _add_g(command, word, words)
        elif word.letter == "M":
            _add_m(command, word, words, m_groups)
        elif word.letter not in words.letters:
            raise BlockError(
                f"{word.letter} is no word of the standard",
                word.column,
                "remove it, or add it to the dialect's ignored words",
            )
        elif word.letter in command.words:
            raise BlockError(f"{word.letter} stands twice on the line", word.column, "leave one")
        elif (word.letter, round(word.value * 10.0)) not in words.ignored_words:
            command.words[word.letter] = word
    return command


def _add_g(command: Command, word: Word, words: Vocabulary) -> None:
    code = as_integer(word.value * 10.0, word.column, "ten times a G code")
    if ("G", code) in words.ignored_words:
        return
    if code in _G_REFUSED:
        raise BlockError(f"G{code / 10:g} is refused: {_G_REFUSED[code]}", word.column)
    group = words.g_groups.get(code)
    if group is None and code in words.idle_g:
        command.departures.append(f"G{code / 10:g} states what holds anyway")
        return
    if group is None:
        remedy = "set arc_distance_words in the dialect if the control knows it"
        known = remedy if code in _ARC_DISTANCE else None
        raise BlockError(f"G{code / 10:g} is no code of the standard", word.column, known)
    if group in command.g:
        raise BlockError(
            f"G{command.g[group] / 10:g} and G{code / 10:g} are of one modal group",
            word.column,
            "put them on two lines",
        )
    command.g[group] = code
    command.g_columns[group] = word.column


def _add_m(command: Command, word: Word, words: Vocabulary, groups: dict[str, int]) -> None:
    code = as_integer(word.value, word.column, "an M code")
    if ("M", code * 10) in words.ignored_words:
        return
    switches = words.switches.get(code * 10)
    group = switches[0].what if switches else _m_group(code, word, words)
    if group in groups:
        raise BlockError(
            f"M{groups[group]} and M{code} are of one modal group", word.column, "put them on two lines"
        )
    groups[group] = code
    command.m_words = (*command.m_words, code)
    if len(groups) > _MOST_M_WORDS:
        raise BlockError(f"more than {_MOST_M_WORDS} M words on the line", word.column)
    if switches:
        command.switches.extend(switches)
    elif group == "stopping":
        command.stop = code
    elif group == "tool change":
        command.tool_change = True
    elif group == "subprogram":
        command.call, command.back = code == 98, code == 99


def _m_group(code: int, word: Word, words: Vocabulary) -> str:
    if words.subprograms and code in (98, 99):
        return "subprogram"
    if code not in _M_GROUPS:
        raise BlockError(
            f"M{code} has no meaning in this dialect",
            word.column,
            "name it as a switch of the dialect, or among its ignored words",
        )
    return _M_GROUPS[code]


def check_use(command: Command, motion: int | None, words: Vocabulary) -> None:
    """Refuse words that nothing on the line uses.

    Parameters
    ----------
    command : Command
    motion : int or None
        The motion that the line performs, in tenths of its G code; None for none.
    words : Vocabulary

    Raises
    ------
    BlockError
        If a word has no code that uses it.
    """
    used = set(_ALWAYS_USED | words.ignored_letters)
    if motion is not None or command.uses_axes_apart:
        used |= set("XYZ")
    if motion is not None and command.has_axes:
        used |= set(words.rotary)
    if motion in _ARCS:
        used |= set("IJKR")
    if command.g.get(0) == 40:
        used.add("P")
    if command.g.get(0) == 100:
        used |= set("PL")
    if command.g.get(7) in (410, 420):
        used.add("D")
    if command.call:
        used |= set("PL")
    for letter, word in command.words.items():
        if letter not in used:
            raise BlockError(
                f"nothing on the line uses {letter}{word.value:g}", word.column, _missing(letter)
            )


def _missing(letter: str) -> str:
    if letter in "ABC":
        return "a cutting table has no such axis; remove the word or name it as ignored"
    if letter in "XYZ":
        return "state the motion, as G0 or G1, on this line or before it"
    if letter in "IJKR":
        return "it belongs to an arc, G2 or G3"
    return "remove it, or name it among the dialect's ignored words"
