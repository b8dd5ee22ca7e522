"""What a reading must not take on trust: foreign words, and blocks that controls run in different orders.

Foreign are words that write to the control's memory, or fetch from it what the program does not
state: other zeros, shifted axes, homes, tool changes, parameters that outlast the program.
"""

from __future__ import annotations

from collections.abc import Iterator

from cutplan.control.modes import Command
from cutplan.control.state import SYSTEMS, State
from cutplan.control.words import Block

__all__ = ["note_doubts"]

_APART = {
    100: "writes another zero or tool into the control's memory",
    280: "runs to a place that the control holds",
    300: "runs to a place that the control holds",
    530: "moves in the machine's own coordinates",
    920: "shifts the plate's zero",
    921: "shifts the plate's zero back",
    922: "shifts the plate's zero back",
    923: "shifts the plate's zero by what the control holds",
}
_M_WORDS = {
    6: "changes the tool",
    49: "takes the feed out of the operator's hand",
    60: "changes the plate",
}
_UNITS, _SYSTEM, _PATH, _FEED_AND_LENGTHS = 6, 12, 13, "FXYZIJR"


def note_doubts(state: State, command: Command, block: Block) -> None:
    """Note the foreign words of a block, and where its words could run in another order."""
    for word, why in _foreign(state, command, block):
        if word not in state.dialect.permits:
            state.doubt("foreign", f"{word} {why}, and the dialect does not permit it")
    for told in _disordered(command, block):
        state.doubt("order", told)
    if block.split_numbers:
        state.doubt("reading", "a blank stands within a number; controls differ in where it ends")
    if command.call and command.value("L", 1.0) != 1.0:
        state.doubt("reading", "M98 with L; controls differ in where and how they count calls")
    if "Z" in command.words and state.dialect.heights == "control":
        state.doubt("height", "Z stands in a program whose control moves the torch up and down")


def _foreign(state: State, command: Command, block: Block) -> Iterator[tuple[str, str]]:
    apart = command.g.get(0)
    if apart in _APART:
        yield f"G{apart / 10:g}", _APART[apart]
    system = command.g.get(_SYSTEM)
    if system is not None and system != SYSTEMS[state.own_system - 1]:
        yield f"G{system / 10:g}", "counts from another zero than the plate's"
    path = command.g.get(_PATH)
    if path is not None and f"G{path / 10:g}" not in state.dialect.path_modes:
        yield f"G{path / 10:g}", "runs corners in another way"
    for code in command.m_words:
        if code in _M_WORDS:
            yield f"M{code}", _M_WORDS[code]
    for letter, known in (("T", state.dialect.torches_in_t), ("S", False)):
        if letter in command.words and not known and letter not in state.words.ignored_letters:
            yield letter, "chooses what the plan knows nothing of"
    register = command.words.get("D")
    if register is not None and register.value == 0.0:
        yield "D0", "takes the kerf's offset away"
    for index, _ in block.settings:
        # Which parameters a control keeps (NISTIR 6556, table 2, has some) is its own affair.
        yield f"#{index}", "belongs to the operator, and may outlast the program"


def _disordered(command: Command, block: Block) -> Iterator[str]:
    """Yield what stands on one line although controls differ in what they do first."""
    others = bool(command.g or command.words or block.settings or len(command.m_words) > 1)
    if command.switches and others:
        yield "a word that switches stands with others on its line; put it on a line of its own"
    if (command.stop is not None or command.tool_change) and others:
        yield "a stop stands with others on its line; put it on a line of its own"
    if command.call or command.back:
        strays = [letter for letter in command.words if letter not in "PL"]
        if command.g or strays or block.settings or len(command.m_words) > 1:
            yield "a call stands with others on its line; put it on a line of its own"
    if _UNITS in command.g and any(letter in command.words for letter in _FEED_AND_LENGTHS):
        yield "the units change on a line with lengths or a feed; state them on a line before"
