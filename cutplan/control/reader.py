"""RS-274 programs read into motions: where they begin and end, and in which order they run.

After NISTIR 6556, "The NIST RS274/NGC Interpreter, version 3" (Kramer, Proctor and Messina,
2000), strictly.  Plain lines of long programs are read in stretches by `reader_stretch`, all
others one by one; both ways give the same rows.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cutplan.base.errors import ProgramError
from cutplan.control.cautions import note_doubts
from cutplan.control.comments import comment_doubts, semicolon_acts
from cutplan.control.dialect import Dialect
from cutplan.control.execution import execute
from cutplan.control.modes import Command, sort_words
from cutplan.control.motions import Motions, joined
from cutplan.control.plain_stretch import StretchReader
from cutplan.control.state import State
from cutplan.control.words import Block, BlockError, Parameters, as_integer, take_apart, without_semicolon

__all__ = ["read_files", "read_program"]

LONG_TEXT = 20_000  # characters; shorter programs gain nothing from stretches
BYTE_ORDER_MARK = "\ufeff"
MOST_NESTED_CALLS = 10
MOST_CALLED_BLOCKS = 1_000_000
_KEPT = range(5000, 5400)  # homes and zeros (NISTIR 6556, table 2)

_REMARKS = re.compile(r"\([^()]*\)|;.*")
_RETURN = re.compile(r"M\s*0*99(?![0-9])")
_LABEL = re.compile(r"[ \t]*(?:[Nn][ \t]*[0-9]{1,5}[ \t]*)?[Oo][ \t]*([0-9]+)[ \t]*(?:\([^()]*\)[ \t]*)*$")


def read_program(
    text: str, dialect: Dialect | None = None, *, name: str = "program", strict: bool = True
) -> Motions:
    """Return the motions that a control makes of a program.

    Parameters
    ----------
    text : str
        RS-274 text.
    dialect : Dialect, optional
        What the control's M words mean; the default is the plain one.
    name : str
        Name of the program in errors.
    strict : bool
        Refuse also what is harmless but not the standard's; otherwise it is told among the
        motions' departures.

    Returns
    -------
    Motions
        In mm, mm/min and seconds, with control-side compensation carried out.  What the reading
        took on trust stands among their doubts.

    Raises
    ------
    ProgramError
        If the text breaks the standard; the message gives line, column and remedy.
    """
    return _read(State(dialect or Dialect(), strict=strict), text, name)


def read_files(texts: Sequence[str], dialect: Dialect | None = None, *, strict: bool = True) -> Motions:
    """Return the motions of the files that a program is split into, run one after the other.

    What a control keeps from file to file, its zeros and homes, is carried on; modes and all
    other parameters are unknown again at the start of each, since the operator starts it.

    Parameters
    ----------
    texts : sequence of str
    dialect : Dialect, optional
    strict : bool

    Returns
    -------
    Motions

    Raises
    ------
    ProgramError
        If one of them breaks the standard; the message names the file by its place.
    """
    read: list[Motions] = []
    kept: dict[int, float] = {}
    for number, text in enumerate(texts, start=1):
        state = State(dialect or Dialect(), strict=strict, parameters=Parameters(dict(kept)))
        name = "program" if len(texts) == 1 else f"file {number}"
        read.append(_read(state, text, name))
        kept = {index: value for index, value in state.parameters.values.items() if index in _KEPT}
    return joined(read)


def _read(state: State, text: str, name: str) -> Motions:
    if text.startswith(BYTE_ORDER_MARK) and not state.strict:
        text = text.removeprefix(BYTE_ORDER_MARK)
        state.departures.append("the file begins with a byte order mark")
    body = _body(text, name)
    if len(text) >= LONG_TEXT and _suits_stretches(state):
        _run_long(state, body)
    else:
        _run(state, body)
    if not state.ended:
        if not body.demarcated:
            raise body.error(
                body.last, BlockError("the program does not end", 1, "end it with M2, M30 or a second % line")
            )
        state.line = body.last
        state.end()
        state.doubt(
            "reading",
            "the program ends with a % line alone: a control may wait there, or go on; end it with M30",
        )
    else:
        _check_rest(state, body)
    if body.rest is not None:
        state.line = body.rest
        state.doubt("reading", "blocks stand behind the last % line")
    doubts = [*state.doubts, *comment_doubts(body.text, body.first, state.dialect.permits)]
    doubts.sort(key=lambda doubt: doubt.line)
    departures = tuple(dict.fromkeys(state.departures))
    return state.rows.motions(doubts, departures, state.left_on, state.torches, state.turned)


def _check_rest(state: State, body: _Body) -> None:
    """Note blocks behind the program's end, subprograms aside: some controls go on to them."""
    inside = False
    for offset, line in enumerate(body.text.split("\n")[state.line - body.first + 1 :], start=1):
        line = line.removesuffix("\r")
        bare = _REMARKS.sub("", line).strip().upper()
        if not bare:
            continue
        inside = inside or (state.dialect.subprograms and bool(_LABEL.match(line)))
        if not inside:
            state.line += offset
            state.doubt("reading", "blocks stand behind the program's end")
            return
        inside = _RETURN.search(bare) is None


def _suits_stretches(state: State) -> bool:
    plain_letters = {letter for letter, _ in state.words.ignored_words} <= {"M", "S", "T"}
    return plain_letters and not state.dialect.subprograms


@dataclass(frozen=True)
class _Body:
    """The blocks of a program: `text` between its per cent lines, counted from `first`.

    `rest` is the first line behind them that holds anything.
    """

    name: str
    text: str
    first: int
    last: int
    demarcated: bool
    rest: int | None = None

    def error(self, line: int, refusal: BlockError) -> ProgramError:
        """Return a refusal as the error that the caller sees."""
        return ProgramError(
            refusal.message,
            where=f"{self.name}, line {line}, column {refusal.column}",
            remedy=refusal.remedy,
        )


def _body(text: str, name: str) -> _Body:
    """Find the per cent lines (section 3.2): both, or none."""
    marks = list(re.finditer(r"^[ \t]*%[ \t]*\r?$", text, re.MULTILINE)) if "%" in text else []
    if not marks or text[: marks[0].start()].strip(" \t\r\n"):
        return _Body(name, text, 1, 1 + text.rstrip().count("\n"), demarcated=False)
    first = text.count("\n", 0, marks[0].start()) + 2
    if len(marks) < 2:
        raise ProgramError(
            "a % line at the start, and none at the end",
            where=f"{name}, line {first - 1}, column 1",
            remedy="add the second one, or remove the first",
        )
    inside = text[marks[0].end() + 1 : marks[1].start()]
    last = first + inside.count("\n")
    behind = text[marks[1].end() :]
    rest = last + behind[: len(behind) - len(behind.lstrip())].count("\n") if behind.strip() else None
    return _Body(name, inside, first, last, demarcated=True, rest=rest)


def _step(state: State, body: _Body, number: int, line: str) -> Command:
    """Carry out one line."""
    state.line = number
    try:
        block = take_apart(line, state.parameters, strict=state.strict)
        if block.deleted and state.dialect.block_delete:
            return Command()
        command = sort_words(block, state.words)
        _check_remark(state, line, block)
        if "O" in command.words and command.words["O"].letter not in state.words.ignored_letters:
            raise BlockError(
                "the program runs into a subprogram", command.words["O"].column, "end it with M30 before"
            )
        for index, value in block.settings:
            state.parameters[index] = value
        note_doubts(state, command, block)
        execute(state, command)
        state.departures += [*block.departures, *command.departures]
    except BlockError as refusal:
        raise body.error(number, refusal) from None
    return command


def _check_remark(state: State, line: str, block: Block) -> None:
    """Note parameters that the line reads unset, and a remark behind a semicolon that could act."""
    for index in dict.fromkeys(state.parameters.unknown):
        state.doubt("inherited", f"nothing has stated the parameter #{index}")
    state.parameters.unknown.clear()
    if ";" in line and not state.strict:
        _, remark = without_semicolon(line)
        if remark is not None and semicolon_acts(remark):
            state.doubt(
                "comment", "a semicolon ends the block on some controls, which run what stands behind"
            )


def _run(state: State, body: _Body) -> None:
    """Carry out all lines, with calls of subprograms where the dialect has them."""
    lines = [line.removesuffix("\r") for line in body.text.split("\n")]
    calls = _Calls(state, body, lines)
    at = calls.skip_own_label()
    while at < len(lines) and not state.ended:
        command = _step(state, body, body.first + at, lines[at])
        at += 1
        if command.call or command.back:
            at = calls.jump(command, at)


class _Calls:
    """Calls of subprograms (M98, M99): where each begins, and the way back."""

    def __init__(self, state: State, body: _Body, lines: list[str]) -> None:
        self.state = state
        self.body = body
        self.lines = lines
        self.labels: dict[int, int] = {}
        self.stack: list[tuple[int, int, int, list[str]]] = []
        self.blocks = 0
        if state.dialect.subprograms:
            for index, line in enumerate(lines):
                if match := _LABEL.match(line):
                    self._define(int(match[1]), index)

    def _define(self, number: int, index: int) -> None:
        if number in self.labels:
            column = self.lines[index].upper().index("O") + 1
            remedy = "leave one; controls differ in which they run"
            refusal = BlockError(f"subprogram O{number} is there twice", column, remedy)
            raise self.body.error(self.body.first + index, refusal)
        self.labels[number] = index

    def skip_own_label(self) -> int:
        """Return the first line to carry out, behind the program's own number."""
        at = 0
        while at < len(self.lines) and not self.lines[at].strip(" \t"):
            at += 1
        if at in self.labels.values():
            return at + 1
        if not self.state.strict and at < len(self.lines) and _LABEL.match(self.lines[at]):
            self.state.departures.append("the program begins with its number")
            return at + 1
        return at

    def jump(self, command: Command, back_to: int) -> int:
        """Return the line to go on with."""
        try:
            return self._called(command, back_to) if command.call else self._returned(command, back_to)
        except BlockError as refusal:
            raise self.body.error(self.state.line, refusal) from None

    def _called(self, command: Command, back_to: int) -> int:
        word = command.words.get("P")
        if word is None:
            raise BlockError("M98 without P", command.column(), "state the subprogram's number")
        number = as_integer(word.value, word.column, "a subprogram's number")
        if number not in self.labels:
            raise BlockError(
                f"there is no subprogram O{number}", word.column, "add it behind the program's end"
            )
        times = as_integer(command.value("L", 1.0), command.column("L"), "a number of calls")
        if len(self.stack) >= MOST_NESTED_CALLS:
            raise BlockError(f"calls are nested deeper than {MOST_NESTED_CALLS}", word.column)
        if times < 1:
            remedy = "take the line out; some controls run the subprogram once, others not at all"
            raise BlockError(f"L{times} calls nothing", command.column("L"), remedy)
        start = self.labels[number] + 1
        self.stack.append((start, times - 1, back_to, self.state.changed()))
        return start

    def _returned(self, command: Command, back_to: int) -> int:
        if not self.stack:
            raise BlockError("M99 outside a subprogram", command.column(), "end the program with M30")
        start, times, back, before = self.stack.pop()
        for told in self.state.changed():
            if told not in before:
                self.state.doubt("not-restored", f"the subprogram ends with {told}")
        self.blocks += back_to - start
        if self.blocks > MOST_CALLED_BLOCKS:
            raise BlockError(f"subprograms run through more than {MOST_CALLED_BLOCKS} blocks", 1)
        if times:
            self.stack.append((start, times - 1, back, before))
            return start
        return back


def _run_long(state: State, body: _Body) -> None:
    """Carry out all lines, stretches of plain ones as whole arrays."""
    reader = StretchReader(state, body.text, body.first)
    reader.skip_own_number()
    while not state.ended:
        line = reader.run()
        if line is None:
            return
        _step(state, body, reader.line - 1, line)
