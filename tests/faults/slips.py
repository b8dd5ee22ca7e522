"""Faults that look like nothing: signs of other scripts, odd line ends, idle words that some control takes up."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

from faults.model import FAULTS, REPLAY, Edit
from faults.places import (
    Lines,
    anywhere,
    at_line,
    between,
    dwell_times,
    feed_times,
    lit,
    move_lines,
    pierce_dwells,
)
from faults.view import View
from faults.words import find, replaced, words

NO_NUMBER = "one program's number is another's rubbish"


def _number(change: Callable[[str], str | None]) -> Callable[[str, random.Random], str | None]:
    def edit(line: str, chance: random.Random) -> str | None:
        found = [word for word in words(line) if word.letter in "XY"]
        if not found:
            return None
        word = chance.choice(found)
        text = change(word.text)
        return None if text is None else replaced(line, word, word.letter + text)

    return edit


def _number_fault(name: str, why: str, change: Callable[[str], str | None]) -> None:
    FAULTS.add(name, why, at_line(move_lines, _number(change)))


_number_fault(
    "digits of another script", NO_NUMBER, lambda t: t.translate({48 + k: 0xFF10 + k for k in range(10)})
)
_number_fault(
    "underscore in a number",
    NO_NUMBER,
    lambda t: t[:-1] + "_" + t[-1] if len(t) > 1 and t[-2].isdigit() else None,
)
_number_fault("number in hexadecimal", NO_NUMBER, lambda t: "0x1F")
_number_fault("infinite number", NO_NUMBER, lambda t: "inf")
_number_fault("no number by name", NO_NUMBER, lambda t: "nan")
_number_fault("number beyond all tables", "no table is that long", lambda t: "99999999")
_number_fault(
    "blank within a number",
    "12 3 is 123 on one control and 12 on the next",
    lambda t: t[:-1] + " " + t[-1] if len(t) > 1 and t[-2].isdigit() else None,
)
_number_fault("fraction for a number", NO_NUMBER, lambda t: t + "/2")
_number_fault("sign behind a number", NO_NUMBER, lambda t: t + "-")

FAULTS.add(
    "helix in a cut",
    "the torch climbs or dives on an arc",
    at_line(move_lines, lambda line, _: f"{line} Z12" if find(line, "I") else None),
)
FAULTS.add("dwell in X", "G4 X2 waits on one control, moves on the next", lit("G4 X2"))
FAULTS.add("arc current by S", "S sets the arc's current on some plasma controls", between("S45"))
FAULTS.add("tool word that nobody planned", "T picks another process or head on some controls", between("T5"), cases=(
    "metric", "inch", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "heights", "numbered", "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat"))  # fmt: skip
FAULTS.add(
    "pierce dwell two thirds",
    "the torch moves off before the plate is pierced",
    at_line(pierce_dwells, dwell_times(0.6)),
    cases=("oxyfuel-metric", "oxyfuel-preheat", "several-torches"),
)
FAULTS.add(
    "pierce dwell a little beyond the trim",
    "the trim ends at twice the data's",
    at_line(pierce_dwells, dwell_times(2.5)),
)
FAULTS.add(
    "feed a little beyond the trim", "the trim ends at a tenth", at_line(move_lines, feed_times(1.13, 0.87))
)
FAULTS.add("byte order mark on the way", "two files were run together", anywhere("\ufeffG4 P0"))
FAULTS.add("form feed on the way", "a printer's sign is no line end of a program", anywhere("\x0c"))
FAULTS.add(
    "vertical tab in a line",
    "a sign that some systems take for a line's end",
    at_line(move_lines, lambda line, _: line.replace(" ", "\x0b", 1) if " " in line else None),
)
FAULTS.add(
    "line separator in a comment",
    "what follows is a line of its own to some systems",
    anywhere("(note\u2028G0 X900 Y900)"),
)
FAULTS.add(
    "next line sign in a comment",
    "what follows is a line of its own to some systems",
    anywhere("(note\x85M3)"),
)
FAULTS.add(
    "comment that asks the control to act",
    "a comment such as this is a command to some controls",
    anywhere("(PROBEOPEN out.txt)"),
)
FAULTS.add(
    "comment that prints a parameter",
    "a comment such as this is a command to some controls",
    anywhere("(LOG,#100)"),
)
FAULTS.add("end of tape sign", "a transfer may stop there", anywhere("\x1a"))
FAULTS.add(
    "star for a check sum",
    "a check sum of a transfer is no word",
    at_line(move_lines, lambda line, _: f"{line}*71"),
)
FAULTS.add("dollar command", "a command to the control's own settings", anywhere("$H"))
FAULTS.add("feed hold sign", "a sign that some controls take at once, in a comment too", anywhere("!"))
FAULTS.add("question to the control", "a sign that some controls take at once", anywhere("?"))
FAULTS.add("conversation line", "a line of another language", anywhere("CR L X50 Y50"))
FAULTS.add("tag of a mark-up", "the file went through a mail or a page", anywhere("<br>"))


@FAULTS.enter("carriage return alone", "one control ends the line there, the next runs two lines together")
def carriage_return_alone(view: View, chance: random.Random) -> str | None:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut)]
    line = chance.choice(rows).line
    return "\n".join(view.lines[: line + 1]) + "\r" + "\n".join(view.lines[line + 1 :])


@FAULTS.enter("line ends lost", "everything stands on one line")
def line_ends_lost(view: View, chance: random.Random) -> str:
    return " ".join(view.lines)


@FAULTS.enter("two lines run together", "two moves stand in one block")
def two_lines_together(view: View, chance: random.Random) -> Lines:
    line = view.lit_lines(chance, 2)
    if line is None:
        return None
    return [
        *view.lines[:line],
        view.lines[line] + " " + view.lines[line + 1].lstrip("N0123456789 "),
        *view.lines[line + 2 :],
    ]


@FAULTS.enter("wide characters", "the file was saved in an encoding of two bytes a character")
def wide_characters(view: View, chance: random.Random) -> Edit:
    return Edit({view.file: "\n".join(view.lines).encode("utf-16")}, program=view.file)


@FAULTS.enter("program of another sheet", "it cuts another nest of the same plan")
def program_of_another_sheet(view: View, chance: random.Random) -> Edit | None:
    case = view.case
    others = [name for name in case.files if name not in (*case.programs, "plan.json")]
    if not others or len(case.programs) > 1:
        return None
    return Edit({view.file: case.files[chance.choice(others)]})


@FAULTS.enter("two programs in one file", "the second is never run, or both are")
def two_programs(view: View, chance: random.Random) -> str:
    return "\n".join(view.lines) + "\n".join(view.lines)


@FAULTS.enter("second plan digest in the head", "the program says that it belongs to two plans")
def second_plan_digest(view: View, chance: random.Random) -> Lines:
    line = next((k for k, text in enumerate(view.lines) if re.match(r"\(plan digest", text)), None)
    if line is None:
        return None
    other = "".join(chance.choice("0123456789abcdef") for _ in range(64))
    return view.put(line + chance.randrange(2), f"(plan digest {other})")


@FAULTS.enter("torch word in the place of the marker's off", "the mark is followed by a cut")
def torch_for_marker_off(view: View, chance: random.Random) -> Lines:
    if not view.marks:
        return None
    cut = chance.choice(view.marks)
    return view.put(cut.off + 1, view.word("torch_on"))


@FAULTS.enter("rapid with a feed move's words", "G0 and G1 in one block", REPLAY)
def rapid_made_a_feed_move(view: View, chance: random.Random) -> Lines:
    lines = [
        k
        for cut in view.cuts
        for k in range(cut.first, cut.on)
        if "G0" in view.code(k) and find(view.lines[k], "X")
    ]
    if not lines:
        return None
    line = chance.choice(lines)
    return view.swap(line, view.lines[line].replace("G00", "G01").replace("G0", "G1"))


@FAULTS.enter("place written twice over", "a block of the last plate stands among these", REPLAY)
def block_of_another_cut(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut)]
    if len(rows) < 2:
        return None
    one, other = chance.sample(rows, 2)
    return view.put(one.line, view.lines[other.line])


@FAULTS.enter("cut of another copy in its place", "one contour twice, another not", REPLAY)
def cut_in_place_of_another(view: View, chance: random.Random) -> Lines:
    if len(view.torch_cuts) < 2:
        return None
    one, other = chance.sample(view.torch_cuts, 2)
    return [*view.lines[: one.first], *view.lines[other.first : other.last], *view.lines[one.last :]]
