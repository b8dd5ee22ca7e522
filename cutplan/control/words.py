"""One block of RS-274 text taken apart into words and parameter settings.

After NISTIR 6556, section 3.3 (format of a line), with its numbers, parameters, expressions
and comments.  What the words mean is left to `reader_modes` and `reader_machine`.

Terminology
-----------
word : a letter and a value.
setting : ``#index = value``, which takes effect behind the block.
column : place of a character in its line, counted from 1.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

__all__ = [
    "LONGEST_LINE",
    "Block",
    "BlockError",
    "Parameters",
    "Word",
    "as_integer",
    "take_apart",
    "without_semicolon",
]

LONGEST_LINE = 256  # characters; NISTIR 6556, 3.3.1
LAST_PARAMETER = 5399  # NISTIR 6556, 3.2.1
HIGHEST_LINE_NUMBER_DIGITS = 5  # NISTIR 6556, 3.3.1.1
LONGEST_LINE_NUMBER_DIGITS = 9  # what later controls take; no control takes one for a move
INTEGER_TOLERANCE = 0.0001  # NISTIR 6556, 3.3.2.1
# No table is wider, and the arithmetic of arcs stays well inside what a float can hold.
LARGEST_WORD = 1.0e7
COMMENT = "("

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_PLAIN_WORD = re.compile(r"[ \t]*([A-Za-z])[ \t]*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_PLAIN_LINE_NUMBER = re.compile(r"[ \t]*[Nn][ \t]*[0-9]{1,5}(?![0-9.])")
_SETTING_REMEDY = f"parameters are numbered 1 to {LAST_PARAMETER}"


class BlockError(Exception):
    """Why a block is not RS-274, and at which column; the reader adds the line."""

    def __init__(self, message: str, column: int, remedy: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.column = column
        self.remedy = remedy


class Word(NamedTuple):
    """A letter, its value and its column."""

    letter: str
    value: float
    column: int


@dataclass
class Parameters:
    """The numbered parameters; those never set are 0.

    Attributes
    ----------
    values : dict
    unknown : list of int
        Those that a program read without having set them, since the list was last emptied.
    """

    values: dict[int, float] = field(default_factory=dict)
    unknown: list[int] = field(default_factory=list)

    def __getitem__(self, index: int) -> float:
        if index not in self.values:
            self.unknown.append(index)
        return self.held(index)

    def held(self, index: int) -> float:
        """Return a value that the control itself looks up."""
        return self.values.get(index, 0.0)

    def __setitem__(self, index: int, value: float) -> None:
        self.values[index] = value


@dataclass
class Block:
    """A line taken apart.

    Attributes
    ----------
    words : list of Word
    settings : list of (int, float)
        Parameters that it sets.
    deleted : bool
        It begins with a slash.
    departures : list of str
        What is harmless but not the standard's.
    split_numbers : bool
        Blanks stand within a number, as the standard allows and other controls do not.
    """

    words: list[Word]
    settings: list[tuple[int, float]] = field(default_factory=list)
    deleted: bool = False
    departures: list[str] = field(default_factory=list)
    split_numbers: bool = False


def as_integer(value: float, column: int, what: str) -> int:
    """Return a value that must be whole, after the standard's tolerance.

    Raises
    ------
    BlockError
        If it is further than 0.0001 from a whole number.
    """
    whole = round(value)
    if abs(value - whole) > INTEGER_TOLERANCE:
        raise BlockError(f"{what} must be a whole number, not {value:g}", column)
    return whole


def take_apart(line: str, parameters: Parameters, *, strict: bool = True) -> Block:
    """Return the words and settings of one line.

    Parameters
    ----------
    line : str
        Without its line end.
    parameters : Parameters
        Values that ``#`` reads.
    strict : bool
        Refuse what is harmless but not the standard's: a comment behind a semicolon, and line
        numbers of more than five digits.

    Raises
    ------
    BlockError
        If the line breaks the standard's grammar.
    """
    if len(line) > LONGEST_LINE:
        raise BlockError(
            f"the line has {len(line)} characters",
            LONGEST_LINE + 1,
            f"the standard allows {LONGEST_LINE}; break the line",
        )
    words: list[Word] = []
    number = _PLAIN_LINE_NUMBER.match(line)
    place = number.end() if number else 0
    for match in _PLAIN_WORD.finditer(line, place):
        letter = match[1].upper()
        if match.start() != place or letter == "N":
            break
        words.append(_word(letter, float(match[2]), match.start(1) + 1))
        place = match.end()
    if not line[place:].strip(" \t"):
        return Block(words)
    if strict:
        return _Scanner(line, parameters).block()
    line, remark = without_semicolon(line)
    block = _Scanner(line, parameters, LONGEST_LINE_NUMBER_DIGITS).block()
    if remark is not None:
        block.departures.append("a comment stands behind a semicolon")
    return block


def without_semicolon(line: str) -> tuple[str, str | None]:
    """Return a line, and what stands behind a semicolon outside its comments; None without one."""
    inside = False
    for place, character in enumerate(line):
        inside = character == COMMENT or (inside and character != ")")
        if character == ";" and not inside:
            return line[:place], line[place + 1 :]
    return line, None


def _word(letter: str, value: float, column: int) -> Word:
    if not abs(value) <= LARGEST_WORD:
        raise BlockError(f"{letter}{value:g} is too large", column, f"stay within {LARGEST_WORD:.0f}")
    return Word(letter, value, column)


class _Scanner:
    """A recursive-descent parser over the line without its blanks."""

    def __init__(self, line: str, parameters: Parameters, digits: int = HIGHEST_LINE_NUMBER_DIGITS) -> None:
        self.parameters = parameters
        self.digits = digits
        self.width = len(line)
        self.text, self.columns = _without_blanks(line)
        self.at = 0
        self.departures: list[str] = []
        self.split = False

    @property
    def column(self) -> int:
        """Column of the next character, or behind the end of the line."""
        return self.columns[self.at] if self.at < len(self.text) else self.width + 1

    def peek(self) -> str:
        """Return the next character; empty at the end of the line."""
        return self.text[self.at : self.at + 1]

    def accept(self, token: str) -> bool:
        """Step over a token if it comes next, and tell whether it did."""
        if self.text.startswith(token, self.at):
            self.at += len(token)
            return True
        return False

    def expect(self, token: str, why: str) -> None:
        if not self.accept(token):
            found = f"found {self.peek()!r}" if self.peek() else "the line ends"
            raise BlockError(f"{token!r} is missing {why}, {found}", self.column)

    def block(self) -> Block:
        block = Block([], deleted=self.accept("/"), departures=self.departures)
        if self.accept("N"):
            self.line_number()
        while self.at < len(self.text):
            column = self.column
            if self.accept(COMMENT):
                continue
            if self.accept("#"):
                index = self.parameter_index()
                self.expect("=", "behind the parameter to set")
                block.settings.append((index, self.value()))
                continue
            letter = self.text[self.at]
            if not "A" <= letter <= "Z":
                raise BlockError(f"{letter!r} does not begin a word", column, _stray_remedy(letter))
            if letter == "N":
                raise BlockError("a line number stands only at the start of a line", column)
            self.at += 1
            block.words.append(_word(letter, self.value(), column))
        block.split_numbers = self.split
        return block

    def line_number(self) -> None:
        column, first = self.column, self.at
        while "0" <= self.peek() <= "9":
            self.at += 1
        digits = self.at - first
        if digits > HIGHEST_LINE_NUMBER_DIGITS and digits <= self.digits and self.peek() != ".":
            self.departures.append("line numbers have more than five digits")
        elif not 1 <= digits <= HIGHEST_LINE_NUMBER_DIGITS or self.peek() == ".":
            raise BlockError("a line number is a whole number of one to five digits without a sign", column)

    def parameter_index(self) -> int:
        column = self.column
        index = as_integer(self.value(), column, "a parameter's number")
        if not 1 <= index <= LAST_PARAMETER:
            raise BlockError(f"there is no parameter {index}", column, _SETTING_REMEDY)
        return index

    def value(self) -> float:
        """Return a number, parameter, expression or function value."""
        column = self.column
        if self.accept("#"):
            return self.parameters[self.parameter_index()]
        if self.peek() == "[":
            return self.expression()
        number = _NUMBER.match(self.text, self.at)
        if number:
            first, self.at = self.at, number.end()
            self.split |= self.columns[self.at - 1] - self.columns[first] >= self.at - first
            return float(number[0])
        for name, function in _FUNCTIONS.items():
            if self.accept(name):
                return self.function(name, function, column)
        found = f"found {self.peek()!r}" if self.peek() else "the line ends"
        raise BlockError(f"a value is missing, {found}", column, "write a number behind the letter")

    def function(self, name: str, function: Callable[[float], float], column: int) -> float:
        if self.peek() != "[":
            raise BlockError(f"{name} takes its value in square brackets", self.column)
        argument = self.expression()
        if name == "ATAN":
            self.expect("/", "between the two values of ATAN")
            if self.peek() != "[":
                raise BlockError("ATAN takes both values in square brackets", self.column)
            return math.degrees(math.atan2(argument, self.expression()))
        return _computed(lambda: function(argument), f"{name}[{argument:g}]", column)

    def expression(self) -> float:
        """Return a bracketed expression's value; equal operators go from left to right."""
        self.expect("[", "before the expression")
        values, operators = [self.value()], list[str]()
        while not self.accept("]"):
            column = self.column
            operator = next((name for name in _OPERATORS if self.accept(name)), None)
            if operator is None:
                found = f"{self.peek()!r} is no operator" if self.peek() else "']' is missing"
                raise BlockError(found, column, f"operators are {', '.join(_OPERATORS)}")
            while operators and _STRENGTH[operators[-1]] >= _STRENGTH[operator]:
                _reduce(values, operators, column)
            operators.append(operator)
            values.append(self.value())
        while operators:
            _reduce(values, operators, self.columns[self.at - 1])
        return values[0]


def _without_blanks(line: str) -> tuple[str, list[int]]:
    """Return the characters that count, in upper case, and the column of each.

    A comment leaves its opening bracket behind: it may stand between words, not inside one.
    """
    kept: list[str] = []
    columns: list[int] = []
    opened = 0
    for column, character in enumerate(line, start=1):
        if opened:
            if character == COMMENT:
                raise BlockError("a comment within a comment", column, "close the first one before it")
            if not (character.isprintable() or character == "\t"):
                raise BlockError(f"a comment holds the control character {character!r}", column)
            if character == ")":
                opened = 0
        elif character not in " \t":
            opened = column if character == COMMENT else 0
            kept.append(character.upper() if character.isascii() else character)
            columns.append(column)
    if opened:
        raise BlockError("a comment is not closed", opened, "close it with ')' on the same line")
    return "".join(kept), columns


def _stray_remedy(character: str) -> str | None:
    return {
        ")": "a comment must be opened with '(' before it",
        "%": "a per cent sign stands alone on its line",
        ";": "comments stand in round brackets",
        "/": "block delete stands at the start of the line",
    }.get(character)


def _computed(compute: Callable[[], float], shown: str, column: int) -> float:
    """Return a result of arithmetic, refusing what has none."""
    try:
        result = compute()
    except (ValueError, OverflowError, ZeroDivisionError):
        raise BlockError(f"{shown} has no value", column) from None
    if not math.isfinite(result):
        raise BlockError(f"{shown} has no value", column)
    return result


def _reduce(values: list[float], operators: list[str], column: int) -> None:
    operator, right, left = operators.pop(), values.pop(), values.pop()
    shown = f"{left:g} {operator} {right:g}"
    values.append(_computed(lambda: _OPERATORS[operator](left, right), shown, column))


def _modulo(left: float, right: float) -> float:
    return math.fmod(left, right) + (abs(right) if math.fmod(left, right) < 0.0 else 0.0)


# NISTIR 6556, 3.3.2.3: three groups of binary operators; "**" is tried before "*".
_OPERATORS: dict[str, Callable[[float, float], float]] = {
    "**": math.pow,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "MOD": _modulo,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "AND": lambda a, b: float(a != 0.0 and b != 0.0),
    "XOR": lambda a, b: float((a != 0.0) != (b != 0.0)),
    "OR": lambda a, b: float(a != 0.0 or b != 0.0),
}
_STRENGTH = {"**": 3, "*": 2, "/": 2, "MOD": 2, "+": 1, "-": 1, "AND": 1, "XOR": 1, "OR": 1}

# NISTIR 6556, 3.3.2.4: angles in degrees; ATAN takes two values and is computed apart.
_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "ABS": abs,
    "ACOS": lambda v: math.degrees(math.acos(v)),
    "ASIN": lambda v: math.degrees(math.asin(v)),
    "ATAN": math.atan,
    "COS": lambda v: math.cos(math.radians(v)),
    "EXP": math.exp,
    "FIX": lambda v: float(math.floor(v)),
    "FUP": lambda v: float(math.ceil(v)),
    "LN": math.log,
    "ROUND": lambda v: float(math.floor(v + 0.5)) if v >= 0.0 else float(math.ceil(v - 0.5)),
    "SIN": lambda v: math.sin(math.radians(v)),
    "SQRT": math.sqrt,
    "TAN": lambda v: math.tan(math.radians(v)),
}
