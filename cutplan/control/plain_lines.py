"""Stretches of plain blocks read as whole arrays: numbers, G0 to G4, switches, comments.

Whatever else a block holds, and every error, is left to the strict reader: a stretch ends
before such a block, with the control's state as it is there.  The arrays therefore never have
to refuse, and both ways give the same rows.

Terminology
-----------
plain : a line of the words G0 to G4, switches, F, I, J, P, X, Y, Z, a line number and
    comments, and without an error.
token : a character that counts: neither a blank nor the inside of a comment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.control.rows import SWITCH_NAMES
from cutplan.control.words import LARGEST_WORD, LONGEST_LINE
from cutplan.geometry import FloatArray

__all__ = ["PlainLines", "read_plain"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]
ByteArray = NDArray[np.uint8]

LETTERS = "FIJPXYZ"
_BAD, _BLANK, _LETTER, _DIGIT, _SIGN, _POINT, _NEWLINE, _OPEN, _CLOSE = range(9)
_LAST_LINE_NUMBER_DIGIT = 5


def _classes() -> ByteArray:
    table = np.full(256, _BAD, dtype=np.uint8)
    for characters, kind in (
        (" \t", _BLANK),
        ("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz", _LETTER),
        ("0123456789", _DIGIT),
        ("+-", _SIGN),
        (".", _POINT),
        ("\n", _NEWLINE),
        ("(", _OPEN),
        (")", _CLOSE),
    ):
        for character in characters:
            table[ord(character)] = kind
    return table


_CLASS = _classes()
_UPPER = np.uint8(0xDF)  # clears the bit that makes an ASCII letter small
_SPACE = np.uint8(32)


@dataclass(frozen=True)
class PlainLines:
    """The words of the leading plain lines of a stretch, one entry for each line.

    Attributes
    ----------
    count : int
        Number of lines.
    motion : ndarray of int64, shape (count,)
        0 to 3 where the line states G0 to G3, else -1.
    dwell : ndarray of bool, shape (count,)
        Whether it states G4.
    switched : ndarray of int64, shape (count, 4)
        +1 or -1 where the line switches torch, marker, flame or height control on or off.
    values, seen : mapping of letter to ndarray, shape (count,)
        Values of the words, 0 where there is none, and where there is one.
    """

    count: int
    motion: IntArray
    dwell: BoolArray
    switched: IntArray
    values: dict[str, FloatArray]
    seen: dict[str, BoolArray]


def read_plain(stretch: bytes, switch_slots: IntArray) -> PlainLines:
    """Return the words of a stretch's lines up to the first that is not plain by its words.

    Parameters
    ----------
    stretch : bytes
        Whole lines, each with its line feed.
    switch_slots : ndarray of int64, shape (100,)
        For each M code the number of its switch from 1, negative for off, 0 for none.
    """
    data = np.frombuffer(stretch.replace(b"\r\n", b" \n"), dtype=np.uint8)
    kinds = _CLASS[data]
    ends = np.flatnonzero(kinds == _NEWLINE)
    line = np.zeros(len(data), dtype=np.int32)
    line[ends[:-1] + 1] = 1
    np.cumsum(line, out=line)
    plain = _Plain(len(ends))
    lengths = np.diff(ends, prepend=-1) - 1
    plain.refuse(np.flatnonzero(lengths > LONGEST_LINE))

    kept = kinds != _BLANK
    if (kinds == _OPEN).any() or (kinds == _CLOSE).any():
        kept &= _outside_comments(data, kinds, line, plain)
    # A blank within a number, on which controls differ, is the strict reader's.
    at = np.flatnonzero(kept)
    inner = (kinds[at[1:]] >= _DIGIT) & (kinds[at[1:]] <= _POINT) & (kinds[at[:-1]] >= _DIGIT)
    inner &= (kinds[at[:-1]] <= _POINT) & (np.diff(at) > 1)
    plain.refuse(line[at[1:][inner]])
    tokens, kinds, line = data[at], kinds[at], line[at]
    _check_grammar(kinds, line, plain)
    inside = int(np.searchsorted(line, plain.count))
    tokens, kinds, line = tokens[:inside], kinds[:inside], line[:inside]
    return _sorted_words(tokens, kinds, line, plain, switch_slots)


class _Plain:
    """How many leading lines are plain."""

    def __init__(self, count: int) -> None:
        self.count = count

    def refuse(self, lines: NDArray[np.integer]) -> None:
        """Take some lines, and all behind the first of them, out of the plain ones."""
        if len(lines):
            self.count = min(self.count, int(lines.min()))


def _outside_comments(data: ByteArray, kinds: ByteArray, line: NDArray[np.int32], plain: _Plain) -> BoolArray:
    """Return which characters are no part of a comment, but for its opening bracket."""
    steps = (kinds == _OPEN).astype(np.int8) - (kinds == _CLOSE)
    depth = np.cumsum(steps, dtype=np.int32)
    plain.refuse(line[(depth < 0) | (depth > 1) | ((kinds == _NEWLINE) & (depth != 0))])
    inside = depth > 0
    plain.refuse(line[inside & ((data < 32) | (data > 126))])
    return np.asarray(~(inside | (kinds == _CLOSE)) | (kinds == _OPEN))


def _check_grammar(kinds: ByteArray, line: NDArray[np.int32], plain: _Plain) -> None:
    """Refuse lines in which letters and numbers do not take turns (section 3.3.2)."""
    before = np.concatenate([[np.uint8(_NEWLINE)], kinds[:-1]])
    behind = np.concatenate([kinds[1:], [np.uint8(_NEWLINE)]])
    digit_before, digit_behind = before == _DIGIT, behind == _DIGIT
    starts_number = digit_behind | (behind == _POINT)
    wrong = kinds == _BAD
    wrong |= (kinds == _LETTER) & ~(starts_number | (behind == _SIGN))
    wrong |= (kinds == _SIGN) & ~((before == _LETTER) & starts_number)
    wrong |= (kinds == _POINT) & ~(digit_before | digit_behind)
    wrong |= (kinds == _POINT) & ~(digit_before | (before == _LETTER) | (before == _SIGN))
    wrong |= (kinds == _DIGIT) & ((before == _NEWLINE) | (before == _OPEN))
    plain.refuse(line[wrong])
    # Two points with nothing but digits between them are one number with two points.
    marks = np.flatnonzero((kinds != _DIGIT) & (kinds != _BLANK))
    pairs = (kinds[marks[1:]] == _POINT) & (kinds[marks[:-1]] == _POINT)
    plain.refuse(line[marks[1:][pairs]])


def _sorted_words(
    tokens: ByteArray,
    kinds: ByteArray,
    line: NDArray[np.int32],
    plain: _Plain,
    switch_slots: IntArray,
) -> PlainLines:
    at = np.flatnonzero(kinds == _LETTER)
    letters = tokens[at] & _UPPER
    number = (kinds == _DIGIT) | (kinds == _SIGN) | (kinds == _POINT)
    spaced = np.where(number, tokens, _SPACE).tobytes()
    values = np.fromstring(spaced, dtype=np.float64, sep=" ") if len(at) else np.empty(0)
    of_line = line[at]
    plain.refuse(of_line[np.abs(values) > LARGEST_WORD])
    _check_line_numbers(at, letters, kinds, of_line, plain)
    known = np.isin(letters, np.frombuffer(b"GMN" + LETTERS.encode(), dtype=np.uint8))
    plain.refuse(of_line[~known])

    motion, dwell = _g_words(letters, values, of_line, plain)
    switched = _m_words(letters, values, of_line, plain, switch_slots)
    dense: dict[str, FloatArray] = {}
    seen: dict[str, BoolArray] = {}
    for letter in LETTERS:
        mine = letters == ord(letter)
        times = np.bincount(of_line[mine], minlength=plain.count)
        plain.refuse(np.flatnonzero(times > 1))
        seen[letter] = times > 0
        dense[letter] = np.zeros(len(times))
        dense[letter][of_line[mine]] = values[mine]
    return PlainLines(plain.count, motion, dwell, switched, dense, seen)


def _check_line_numbers(
    at: IntArray, letters: ByteArray, kinds: ByteArray, of_line: NDArray[np.int32], plain: _Plain
) -> None:
    """Refuse line numbers that are not at the start, or not one to five digits."""
    numbers = at[letters == ord("N")]
    if not len(numbers):
        return
    line = of_line[letters == ord("N")]
    before = np.where(numbers > 0, kinds[numbers - 1], _NEWLINE)
    others = np.append(np.flatnonzero(kinds != _DIGIT), len(kinds))
    behind = others[np.searchsorted(others, numbers, side="right")]
    digits = behind - numbers - 1
    stops_well = np.append(kinds, np.uint8(_NEWLINE))[behind] != _POINT
    good = (before == _NEWLINE) & (digits >= 1) & (digits <= _LAST_LINE_NUMBER_DIGIT) & stops_well
    plain.refuse(line[~good])


def _g_words(
    letters: ByteArray, values: FloatArray, of_line: NDArray[np.int32], plain: _Plain
) -> tuple[IntArray, BoolArray]:
    """Return the motion (-1 for none) and the dwell of each line, at most one G word a line."""
    mine = letters == ord("G")
    codes, lines = values[mine], of_line[mine]
    plain.refuse(lines[~np.isin(codes, (0.0, 1.0, 2.0, 3.0, 4.0))])
    plain.refuse(np.flatnonzero(np.bincount(lines, minlength=plain.count) > 1))
    last = int(lines[-1]) if len(lines) else 0
    motion = np.full(max(plain.count, last + 1), -1, dtype=np.int64)
    motion[lines] = np.where(codes < 4.0, codes, -1.0).astype(np.int64)
    dwell = np.zeros(len(motion), dtype=np.bool_)
    dwell[lines] = codes == 4.0
    return motion, dwell


def _m_words(
    letters: ByteArray,
    values: FloatArray,
    of_line: NDArray[np.int32],
    plain: _Plain,
    switch_slots: IntArray,
) -> IntArray:
    """Return what each line switches, each switch at most once a line."""
    mine = letters == ord("M")
    codes, lines = values[mine], of_line[mine]
    whole = (codes == np.floor(codes)) & (codes >= 0.0) & (codes < len(switch_slots))
    slots = np.where(whole, switch_slots[np.where(whole, codes, 0.0).astype(np.int64)], 0)
    plain.refuse(lines[slots == 0])
    last = int(lines[-1]) if len(lines) else 0
    switched = np.zeros((max(plain.count, last + 1), len(SWITCH_NAMES)), dtype=np.int64)
    for number in range(1, len(SWITCH_NAMES) + 1):
        of_switch = np.abs(slots) == number
        times = np.bincount(lines[of_switch], minlength=1)
        plain.refuse(np.flatnonzero(times > 1))
        switched[lines[of_switch], number - 1] = np.sign(slots[of_switch])
    return switched
