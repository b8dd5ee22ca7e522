"""Lists spoiled on purpose, seeded: by structure (rows, quotes, figures, workbook parts) and by byte."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable

import openpyxl

HEADINGS = (
    "drawing",
    "quantity",
    "thickness",
    "grade",
    "name",
    "kit",
    "due",
    "rotations",
    "mirror",
    "priority",
)
ROWS = (
    ("coupler-plate.dxf", "4", "10", "S355", "coupler", "K1", "2027-01-31", "0/90", "yes", "1"),
    ("gusset", "12", "10,5", "S235", "gusset", "K1", "31.01.2027", "any", "no", ""),
    ("web.dxf", "2 pcs", "3/8 in", "S355J2+N", "web", "", "", "", "", "3"),
)
NASTY = (
    "9" * 400, "1e999", "-1", "0", "nan", "inf", "1.500", "1,2,3", "12 parsecs", "=1+1", "a;=1+1", "\t", "\n",
    "\r", "\x00", "\x1b[2J", "\u202egnp", "x" * 5000, '"', "'", "''", ";", ",", "[mm]", "(", "]", "../../etc/passwd",
    "CON", "a" * 300 + ".dxf", "x)G0 X800 Y450(", "<script>", "%", "{part}", "\ud7ff", "\ufeff", "0/0", "1/0",
    "31.02.2027", "99999999999999999999", "1e5", "½", "１２", "٣", "-0", "+", ".", "1..2", "0x10", "1_000",
)  # fmt: skip
ENCODINGS = ("utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "latin-1")

Spoiled = tuple[str, bytes]
"""File name and content."""


def spoiled_list(seed: int) -> Spoiled:
    """Return a spoiled list: the same seed, the same bytes (but for a workbook's time stamps)."""
    dice = random.Random(seed)
    table = [list(HEADINGS), *[list(dice.choice(ROWS)) for _ in range(dice.randint(0, 6))]]
    for _ in range(dice.randint(0, 4)):
        dice.choice(STRUCTURE)(table, dice)
    name, content = _as_workbook(table, dice) if dice.random() < 0.4 else _as_csv(table, dice)
    if dice.random() < 0.6:
        content = _bytes_spoiled(content, dice)
    return name, content


def _put(table: list[list[str]], dice: random.Random) -> None:
    row = dice.choice(table)
    if row:
        row[dice.randrange(len(row))] = dice.choice(NASTY)


def _drop(table: list[list[str]], dice: random.Random) -> None:
    del table[dice.randrange(len(table))]
    if not table:
        table.append([""])


def _twice(table: list[list[str]], dice: random.Random) -> None:
    table.append(list(dice.choice(table)))


def _heading_twice(table: list[list[str]], dice: random.Random) -> None:
    table[0].append(dice.choice(HEADINGS))


def _ragged(table: list[list[str]], dice: random.Random) -> None:
    row = dice.choice(table)
    del row[dice.randint(0, len(row)) :]
    row += [dice.choice(NASTY) for _ in range(dice.choice((0, 0, 3, 400)))]


def _shuffled(table: list[list[str]], dice: random.Random) -> None:
    dice.shuffle(table)


STRUCTURE: tuple[Callable[[list[list[str]], random.Random], None], ...] = (
    _put, _put, _put, _drop, _twice, _heading_twice, _ragged, _shuffled,
)  # fmt: skip


def _as_csv(table: list[list[str]], dice: random.Random) -> Spoiled:
    mark, end = dice.choice(";,\t"), dice.choice(("\n", "\r\n", "\r", "\n\n"))
    quote = dice.choice(('"', "", "'"))
    text = end.join(mark.join(f"{quote}{cell}{quote}" for cell in row) for row in table)
    return "list.csv", text.encode(dice.choice(ENCODINGS), "replace")


def _as_workbook(table: list[list[str]], dice: random.Random) -> Spoiled:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in table:
        cells = [cell for cell in row if not openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.search(cell)]
        sheet.append(
            [float(cell) if cell.isascii() and cell.isdigit() and len(cell) < 9 else cell for cell in cells]
        )
    if dice.random() < 0.1:
        sheet.cell(dice.choice((1, 2, 60_000)), dice.choice((1, 257, 16384)), "stray")
    file = io.BytesIO()
    book.save(file)
    content = file.getvalue()
    return "list.xlsx", _part_spoiled(content, dice) if dice.random() < 0.6 else content


def _part_spoiled(content: bytes, dice: random.Random) -> bytes:
    """Spoil one part of the archive, so that the archive itself stays whole."""
    result = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        victim = dice.choice(old.namelist())
        for name in old.namelist():
            part = old.read(name)
            if name == victim:
                if dice.random() < 0.2:
                    continue
                part = _bytes_spoiled(part, dice)
            new.writestr(name, part)
    return result.getvalue()


def _bytes_spoiled(content: bytes, dice: random.Random) -> bytes:
    data = bytearray(content)
    for _ in range(dice.choice((1, 1, 3, 20))):
        if not data:
            break
        at = dice.randrange(len(data))
        how = dice.randrange(5)
        if how == 0:
            data[at] = dice.randrange(256)
        elif how == 1:
            del data[at : at + dice.choice((1, 5, 100))]
        elif how == 2:
            data[at:at] = bytes(dice.randrange(256) for _ in range(dice.choice((1, 8))))
        elif how == 3:
            del data[at:]
        else:
            end = min(len(data), at + dice.choice((4, 60)))
            data[at:at] = data[at:end] * dice.choice((1, 3))
    return bytes(data)
