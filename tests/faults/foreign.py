"""Faults that write or use what belongs to the control, the operator or another program."""

from __future__ import annotations

import random

from faults.model import FAULTS
from faults.places import Lines, anywhere, at_head, at_line, between, move_lines
from faults.view import View
from faults.words import find, replaced

ZERO = "the plate's zero is another from there on, also for the next program"
FAULTS.add("work offset written", ZERO, anywhere("G10 L2 P1 X5 Y3"))
FAULTS.add("work offset written from the place", ZERO, anywhere("G10 L20 P1 X0 Y0"))
FAULTS.add("another work offset written", "the next program that uses it is off", anywhere("G10 L2 P3 X50"))
FAULTS.add("tool table written", "registers belong to the operator", anywhere("G10 L1 P1 R2.5"))
FAULTS.add("axis offset set", ZERO, anywhere("G92 X5 Y0"))
FAULTS.add("axis offset set far", ZERO, at_head("G92 X-100"))
FAULTS.add(
    "axis offset of nothing", "where the torch does not stand at zero, zero moves", at_head("G92 X0 Y0")
)
FAULTS.add("axis offset of height", "every height from there on is another", anywhere("G92 Z0"))
FAULTS.add("axis offsets cleared", "the operator's zero is gone", anywhere("G92.1"))
FAULTS.add("axis offsets set aside", "the operator's zero is gone until the next start", anywhere("G92.2"))
FAULTS.add("axis offsets taken up", "nobody knows what they hold", anywhere("G92.3"))
FAULTS.add("local offset", "G52 moves zero on many controls", anywhere("G52 X10"))
FAULTS.add("move in machine coordinates", "the machine's zero is not the plate's", between("G53 G0 X0 Y0"))
FAULTS.add(
    "home by way of zero", "where home lies nobody here knows, nor what is on the way", between("G28 X0 Y0")
)
FAULTS.add("home", "where home lies nobody here knows, nor what is on the way", between("G28"))
FAULTS.add("second home", "where home lies nobody here knows, nor what is on the way", between("G30"))
FAULTS.add("home written", "the machine's home is another from there on", anywhere("G28.1"))
for _number in ("G55", "G56", "G59", "G59.1", "G59.3"):
    FAULTS.add(f"work offset {_number}", "another zero, of which the plan knows nothing", anywhere(_number))
FAULTS.add(
    "tool change between cuts",
    "a torch has no tools; on a combined table another head comes",
    between("T2 M6"),
)
FAULTS.add(
    "parameter written", "parameters belong to the operator, and outlive the program", anywhere("#100=5")
)
FAULTS.add("parameter of a work offset written", ZERO, anywhere("#5221=12.5"))
FAULTS.add(
    "parameter of the system in force written",
    "the control takes another zero at the next start",
    anywhere("#5220=2"),
)
FAULTS.add("named parameter written", "parameters belong to the operator", anywhere("#<kerf>=2"))
FAULTS.add("probe's result used", "what it holds depends on what was probed", between("G0 X#5061 Y#5062"))
FAULTS.add("no offset by D0", "register 0 is no register of the plan", between("G41 D0"))
FAULTS.add("register H", "a height from a register nobody knows", anywhere("G43 H7"))
FAULTS.add("output switched", "M62 switches what the plan knows nothing of", anywhere("M62 P1"))
FAULTS.add("output switched at once", "M64 switches what the plan knows nothing of", anywhere("M64 P3"))
FAULTS.add("input waited for", "M66 waits with the arc on, or for ever", anywhere("M66 P0 L3 Q5"))
FAULTS.add("user's M word", "M101 runs a program of the control's", anywhere("M101"))
FAULTS.add("spindle turned to a place", "M19 belongs to a spindle", anywhere("M19"))
FAULTS.add("program called", "M98 runs a program that is not here", anywhere("M98 P4711"))
FAULTS.add("macro called", "G65 runs a program that is not here", anywhere("G65 P9010 A1"))
FAULTS.add("subroutine called by O word", "another file decides what is cut", anywhere("O<start> call"))
FAULTS.add("loop begun", "O words of another dialect repeat what lies between", between("O100 repeat [2]"))
FAULTS.add(
    "message that stops", "a line with a condition or a jump is no RS-274", anywhere("IF [#1 GT 0] GOTO 10")
)
FAULTS.add("rotary axis turned", "a rotary axis carries the torch or the pipe round", anywhere("G0 A45"))
FAULTS.add("second gantry moved", "U moves another head", anywhere("G0 U10"))


@FAULTS.enter("place from a parameter never set", "0 on one control, an old value on another")
def place_from_a_parameter(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut)]
    if not rows:
        return None
    line = chance.choice(rows).line
    word = (
        find(view.lines[line], chance.choice("XY"))
        or find(view.lines[line], "X")
        or find(view.lines[line], "Y")
    )
    if word is None:
        return None
    return view.swap(line, replaced(view.lines[line], word, f"{word.letter}[#100+{word.text}]"))


@FAULTS.enter("dwell from a parameter", "the pierce lasts what an old value says")
def dwell_from_a_parameter(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.own_rows(cut) if row.kind == "dwell"]
    if not rows:
        return None
    line = chance.choice(rows).line
    word = find(view.lines[line], "P")
    assert word is not None
    return view.swap(line, replaced(view.lines[line], word, "P#3"))


def _feed_of_parameter(line: str, chance: random.Random) -> str | None:
    word = find(line, "F")
    return None if word is None else replaced(line, word, "F#120")


FAULTS.add(
    "feed from a parameter", "the feed is what an old value says", at_line(move_lines, _feed_of_parameter)
)


@FAULTS.enter("parameter set and used", "a value written over is the operator's; the next program may use it")
def parameter_set_and_used(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut)]
    line = chance.choice(rows).line if rows else None
    word = None if line is None else (find(view.lines[line], "X") or find(view.lines[line], "Y"))
    if word is None or line is None:
        return None
    text = replaced(view.lines[line], word, f"{word.letter}#31")
    return [*view.lines[:line], f"#31={word.text}", text, *view.lines[line + 1 :]]
