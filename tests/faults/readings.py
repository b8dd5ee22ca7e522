"""Faults that one control reads one way and the next another: order in a block, deletes, numbers, labels."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from itertools import pairwise

from faults.cases import RECIPES
from faults.model import FAULTS, Mutator
from faults.places import Lines, anywhere, at_line, move_lines, off_line, on_line, way_lines
from faults.view import View
from faults.words import find, replaced, words

# A program between per cent lines ends at the second one too.
EVERY_BUT_NUMBERED = tuple(name for name in RECIPES if name != "numbered")
DELETE = "with block delete on, it is passed over"


def _slashed(line: str, chance: random.Random) -> str | None:
    return None if line.startswith("/") else f"/{line}"


FAULTS.add("torch on under block delete", f"{DELETE}: the contour is not cut", at_line(on_line, _slashed))
FAULTS.add(
    "torch off under block delete",
    f"{DELETE}: the torch burns on over the travel",
    at_line(off_line, _slashed),
)
FAULTS.add("feed move under block delete", f"{DELETE}: the torch cuts across", at_line(move_lines, _slashed))
FAULTS.add(
    "travel under block delete",
    f"{DELETE}: the cut begins where the last one ended",
    at_line(way_lines, _slashed),
)
FAULTS.add("marker off under block delete", f"{DELETE}: the marker scribes all the way", at_line(off_line, _slashed, marks=True), cases=(
    "metric", "inch", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "heights", "subprograms", "small-memory", "split", "oxyfuel-metric", "oxyfuel-preheat"))  # fmt: skip


@FAULTS.enter(
    "deletes not the same through a mark", "with block delete on, half a mark stays", cases=("numbered",)
)
def half_a_mark_deleted(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.marks)
    line = chance.choice([cut.on, cut.off, view.moves(cut)[0].line])
    return view.swap(line, view.lines[line].lstrip("/"))


@FAULTS.enter(
    "end under block delete", "with block delete on, the program does not end", cases=EVERY_BUT_NUMBERED
)
def end_under_block_delete(view: View, chance: random.Random) -> Lines:
    return view.swap(view.end, "/" + view.lines[view.end])


def _joined(first: Callable[[View, random.Random], int | None]) -> Mutator:
    def mutate(view: View, chance: random.Random) -> Lines:
        line = first(view, chance)
        if line is None or line + 1 >= len(view.lines):
            return None
        one, two = view.lines[line], view.lines[line + 1]
        if one.startswith(("(", "/")) or two.startswith(("(", "/")) or not words(one) or not words(two):
            return None
        number = find(two, "N")
        tail = two if number is None else replaced(two, number, "")
        return [*view.lines[:line], f"{one} {tail.strip()}", *view.lines[line + 2 :]]

    return mutate


ORDER = "the order within a block differs from control to control"
FAULTS.add(
    "torch out in the block of a move",
    f"{ORDER}: the last move burns or not",
    _joined(lambda v, c: c.choice(v.torch_cuts).off - 1),
)
FAULTS.add(
    "torch on in the block of the dwell",
    f"{ORDER}: the pierce waits lit or unlit",
    _joined(lambda v, c: c.choice(v.torch_cuts).on),
)
FAULTS.add(
    "torch on in the block of the travel",
    f"{ORDER}: the travel burns or not",
    _joined(lambda v, c: c.choice(v.torch_cuts).on - 1),
)
FAULTS.add(
    "torch on and off in one block", f"{ORDER}: lit or out", at_line(on_line, lambda line, _: f"{line} M5")
)
FAULTS.add(
    "marker on in the block of a move",
    f"{ORDER}: the move marks or not",
    _joined(lambda v, c: c.choice(v.marks).on if v.marks else None),
)


@FAULTS.enter("torch out behind the move's words", f"{ORDER}: the last move burns or not")
def torch_out_on_the_next_travel(view: View, chance: random.Random) -> Lines:
    cuts = [cut for cut in view.torch_cuts if cut.last < view.end]
    if not cuts:
        return None
    cut = chance.choice(cuts)
    target = next((k for k in range(cut.off + 1, view.end) if find(view.lines[k], "X")), None)
    if target is None:
        return None
    lines = view.swap(target, f"{view.lines[target]} {view.word('torch_off')}")
    return [*lines[: cut.off], *lines[cut.off + 1 :]]


@FAULTS.enter("arc with next to no chord", "a full circle on one control, nothing on the next")
def arc_with_next_to_no_chord(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut)][1:]
    if not rows:
        return None
    row = chance.choice(rows)
    x, y = row.end[:2]
    step = chance.choice([0.0, 0.0005, 0.0011])
    if view.dialect.get("absolute_centres"):
        return view.put(row.line + 1, f"G2 {view.xy(x + step, y)} I{x + 3:.3f} J{y:.3f}")
    return view.put(row.line + 1, f"G2 {view.xy(x + step, y)} I0.2 J0")


@FAULTS.enter("arc by its radius with next to no chord", "the centre is anywhere")
def radius_arc_without_a_chord(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut)][1:]
    if not rows:
        return None
    row = chance.choice(rows)
    return view.put(row.line + 1, f"G2 {view.xy(row.end[0] + 0.0004, row.end[1])} R5")


@FAULTS.enter("half a turn by its radius", "a rounded end puts the centre anywhere along the chord's normal")
def half_turn_by_radius(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut, "line")]
    if not rows:
        return None
    row = chance.choice(rows)
    chord = ((row.end[0] - row.start[0]) ** 2 + (row.end[1] - row.start[1]) ** 2) ** 0.5
    unit = 25.4 if any({"G20"} & view.code(k) for k in range(view.head)) else 1.0
    return view.swap(
        row.line, f"G2 {view.xy(*row.end[:2])} R{chord / 2 / unit:.4f} {view.feed_word(row.feed)}"
    )


@FAULTS.enter(
    "half a circle by its radius", "a rounding of its end moves its centre by tenths", cases=("radius-arcs",)
)
def half_circle_by_radius(view: View, chance: random.Random) -> Lines:
    """Two quarter arcs of one circle become one."""
    for cut in chance.sample(view.torch_cuts, len(view.torch_cuts)):
        moves = view.moves(cut, "arc")
        for one, two in pairwise(moves):
            same = math.dist(one.centre, two.centre) < 0.02 and one.clockwise == two.clockwise
            if same and math.dist(one.start[:2], two.end[:2]) > 1.96 * math.dist(one.start[:2], one.centre):
                code = "G2" if one.clockwise else "G3"
                radius = find(view.lines[two.line], "R")
                assert radius is not None
                arc = f"{code} {view.xy(*two.end[:2])} R{radius.text} {view.feed_word(two.feed)}"
                return [*view.lines[: one.line], arc, *view.lines[two.line + 1 :]]
    return None


SUBPROGRAMS = ("subprograms",)


def _sub(view: View) -> int:
    return next(k for k, line in enumerate(view.lines) if line.startswith("O1"))


def _call(view: View, chance: random.Random) -> int:
    return chance.choice([k for k, line in enumerate(view.lines) if line.startswith("M98")])


@FAULTS.enter("subprogram defined twice", "one control takes the first, the next the last", cases=SUBPROGRAMS)
def subprogram_defined_twice(view: View, chance: random.Random) -> Lines:
    at = _sub(view)
    number = view.lines[at]
    new = [number, "G91", f"G1 X{chance.randint(2, 9)} F900", "G90", "M99"]
    first = chance.random() < 0.5
    end = len(view.lines) - (view.lines[-1] == "")
    return [*view.lines[:at], *new, *view.lines[at:]] if first else [*view.lines[:end], *new, ""]


@FAULTS.enter(
    "same subprogram twice over",
    "which one runs is the control's choice, an edit of one is lost",
    cases=SUBPROGRAMS,
)
def same_subprogram_twice(view: View, chance: random.Random) -> Lines:
    at = _sub(view)
    stop = next(k for k in range(at, len(view.lines)) if view.lines[k].startswith("M99")) + 1
    return [*view.lines[:stop], *view.lines[at:stop], *view.lines[stop:]]


def _call_edit(*texts: str) -> Mutator:
    def mutate(view: View, chance: random.Random) -> Lines:
        at = _call(view, chance)
        return view.swap(at, view.lines[at] + chance.choice(texts))

    return mutate


FAULTS.add(
    "subprogram called no time",
    "L0 is once on one control, never on the next",
    _call_edit(" L0"),
    cases=SUBPROGRAMS,
)
FAULTS.add(
    "subprogram called twice",
    "it runs on from where it ended, beside the place",
    _call_edit(" L2", " L3"),
    cases=SUBPROGRAMS,
)
FAULTS.add(
    "subprogram called one and a half times",
    "a count is a whole number",
    _call_edit(" L1.5"),
    cases=SUBPROGRAMS,
)


@FAULTS.enter("other subprogram called", "another contour is cut there", cases=SUBPROGRAMS)
def other_subprogram(view: View, chance: random.Random) -> Lines:
    at = _call(view, chance)
    numbers = [line[1:] for line in view.lines if line.startswith("O1")]
    others = [number for number in [*numbers, "1999"] if not view.lines[at].endswith(number)]
    return view.swap(at, f"M98 P{chance.choice(others)}")


def _in_sub(code: str) -> Mutator:
    def mutate(view: View, chance: random.Random) -> Lines:
        at = _sub(view)
        line = next((k for k in range(at, len(view.lines)) if view.lines[k].startswith(code)), None)
        return None if line is None else view.without(line, line + 1)

    return mutate


FAULTS.add(
    "subprogram leaves steps behind",
    "behind the call every place is taken as a step",
    _in_sub("G90"),
    cases=SUBPROGRAMS,
)
FAULTS.add(
    "subprogram takes places for steps",
    "its moves lead to the plate's corner",
    _in_sub("G91"),
    cases=SUBPROGRAMS,
)
FAULTS.add("subprogram without its end", "it runs on into what follows", _in_sub("M99"), cases=SUBPROGRAMS)
FAULTS.add("subprogram without its number", "the call finds nothing", _in_sub("O1"), cases=SUBPROGRAMS)


@FAULTS.enter("stop in a subprogram", "the program stops with the arc or the marker on", cases=SUBPROGRAMS)
def stop_in_a_subprogram(view: View, chance: random.Random) -> Lines:
    return view.put(_sub(view) + 2, "M0")


@FAULTS.enter(
    "subprogram number in the main program",
    "the program's own label is that of a subprogram",
    cases=SUBPROGRAMS,
)
def label_in_the_main_program(view: View, chance: random.Random) -> Lines:
    return view.put(view.cuts[1].first, view.lines[_sub(view)])


def _rewritten(edit: Callable[[str, random.Random], str | None]) -> Mutator:
    return at_line(move_lines, edit)


def _of_number(change: Callable[[str], str]) -> Callable[[str, random.Random], str | None]:
    def edit(line: str, chance: random.Random) -> str | None:
        found = [word for word in words(line) if word.letter in "XY"]
        if not found:
            return None
        word = chance.choice(found)
        return replaced(line, word, word.letter + change(word.text))

    return edit


NO_WORD = "no control, or each in its own way, makes a number of it"
FAULTS.add(
    "comma for the point",
    NO_WORD,
    _rewritten(_of_number(lambda t: t.replace(".", ",") if "." in t else t + ",5")),
)
FAULTS.add(
    "two points in a number", NO_WORD, _rewritten(_of_number(lambda t: t + ".5" if "." in t else t + ".5.5"))
)
FAULTS.add("two signs before a number", NO_WORD, _rewritten(_of_number(lambda t: "--" + t.lstrip("-"))))
FAULTS.add("letter O for nought", NO_WORD, _rewritten(_of_number(lambda t: "O" + t)))
FAULTS.add("letter l for one", NO_WORD, _rewritten(_of_number(lambda t: t + "l")))
FAULTS.add("printed minus sign", NO_WORD, _rewritten(_of_number(lambda t: "−" + t.lstrip("-"))))
FAULTS.add("power of ten", NO_WORD, _rewritten(_of_number(lambda t: t + "E1")))
FAULTS.add("number left out", "a letter without a number", _rewritten(_of_number(lambda t: "")))
FAULTS.add("two words run together", "X10Y is no word", _rewritten(lambda line, _: line + "Y"))
FAULTS.add(
    "word twice in a block",
    "one control takes the first, the next the last",
    _rewritten(lambda line, _: f"{line} X10 X20"),
)
FAULTS.add(
    "two motions in a block",
    "one control takes the first, the next the last",
    _rewritten(lambda line, _: f"G1 G2 {line}" if find(line, "G") is None else f"{line} G0 G1"),
)
FAULTS.add(
    "centre and radius in a block",
    "one control takes the centre, the next the radius",
    _rewritten(lambda line, _: f"{line} R50" if find(line, "I") else None),
)
FAULTS.add("unknown letter", "no word of a torch", _rewritten(lambda line, _: f"{line} V3"))
FAULTS.add(
    "line number in the middle", "a line number stands first", _rewritten(lambda line, _: f"{line} N5")
)
FAULTS.add("line number with a point", "no line number", anywhere("N1.5 G4 P0"))
FAULTS.add("negative line number", "no line number", anywhere("N-10 G4 P0"))
FAULTS.add(
    "comment not closed", "what follows is a comment, or not", _rewritten(lambda line, _: f"(edge {line}")
)
FAULTS.add(
    "comment within a comment",
    "where it ends differs from control to control",
    _rewritten(lambda line, _: f"(see (drawing) {line}) {line}"),
)
FAULTS.add(
    "bracket closed and not opened", "no control knows what it is", _rewritten(lambda line, _: f"{line})")
)
FAULTS.add(
    "move behind a semicolon",
    "a comment on one control, a move on the next",
    _rewritten(lambda line, _: f"; {line}"),
)
FAULTS.add("move in a comment", "the torch cuts across", _rewritten(lambda line, _: f"({line})"), "by replay")
FAULTS.add(
    "line too long",
    "a control that cuts lines off reads another number",
    _rewritten(lambda line, _: line + " " * 260 + "Y1"),
)
FAULTS.add("control character", "a terminal's or a tape's sign is no word", anywhere("\x13"))
FAULTS.add("NUL in the text", "the control's reader may stop there", anywhere("G4 P0\x00"))
FAULTS.add(
    "words of another alphabet",
    "they look like X and M and are none",
    _rewritten(lambda line, _: line.replace("X", "Х") if "X" in line else line.replace("Y", "Υ")),
)
FAULTS.add("per cent line on the way", "the program ends there on many controls", anywhere("%"))
FAULTS.add(
    "torch word split in two",
    "M 3 is M3 on one control and nothing on the next",
    at_line(on_line, lambda line, _: line.replace("M3", "M").replace("M03", "M")),
)


@FAULTS.enter("end left out", "the control waits, or runs into the next program")
def end_left_out(view: View, chance: random.Random) -> Lines:
    return [line for k, line in enumerate(view.lines) if k != view.end]


@FAULTS.enter("last per cent line left out", "the transfer does not end", cases=("numbered",))
def last_per_cent_left_out(view: View, chance: random.Random) -> Lines:
    at = max(k for k, line in enumerate(view.lines) if line.strip() == "%")
    return view.without(at, at + 1)


@FAULTS.enter("text cut off", "the transfer stopped on the way")
def text_cut_off(view: View, chance: random.Random) -> str:
    text = "\n".join(view.lines)
    return text[: chance.randrange(len(text) // 3, int(0.97 * len(text)))]


@FAULTS.enter("a character lost", "a transfer without a check loses one", "by replay")
def a_character_lost(view: View, chance: random.Random) -> str | None:
    rows = [row for cut in view.cuts for row in view.moves(cut)]
    line = chance.choice(rows).line
    text = view.lines[line]
    at = chance.randrange(len(text))
    return "\n".join(view.swap(line, text[:at] + text[at + 1 :]))


@FAULTS.enter("a character changed", "a transfer without a check turns one into another", "by replay")
def a_character_changed(view: View, chance: random.Random) -> str | None:
    rows = [row for cut in view.cuts for row in view.moves(cut)]
    line = chance.choice(rows).line
    text = view.lines[line]
    at = chance.randrange(len(text))
    return "\n".join(view.swap(line, text[:at] + chance.choice("0123456789.-GXYIJM") + text[at + 1 :]))


@FAULTS.enter("two characters exchanged", "a slip of the keys", "by replay")
def two_characters_exchanged(view: View, chance: random.Random) -> str | None:
    rows = [row for cut in view.cuts for row in view.moves(cut) if len(view.lines[row.line]) > 2]
    line = chance.choice(rows).line
    text = view.lines[line]
    at = chance.randrange(len(text) - 1)
    return "\n".join(view.swap(line, text[:at] + text[at + 1] + text[at] + text[at + 2 :]))


def _exchanged(one: str, other: str) -> Callable[[str, random.Random], str | None]:
    def edit(line: str, chance: random.Random) -> str | None:
        a, b = find(line, one), find(line, other)
        if a is None or b is None:
            return None
        table = str.maketrans(
            {one: other, other: one, one.lower(): other.lower(), other.lower(): one.lower()}
        )
        return line.translate(table)

    return edit


FAULTS.add("X and Y exchanged", "the move leads elsewhere", _rewritten(_exchanged("X", "Y")), "by replay")
FAULTS.add("I and J exchanged", "the centre is elsewhere", _rewritten(_exchanged("I", "J")), "by replay")
FAULTS.add("X for I", "the end is the centre", _rewritten(_exchanged("X", "I")), "by replay")
FAULTS.add(
    "letter wrong",
    "the word means another thing",
    _rewritten(lambda line, chance: changed_letter(line, chance)),
    "by replay",
)


def changed_letter(line: str, chance: random.Random) -> str | None:
    """Return a line with the letter of one word another one."""
    found = [word for word in words(line) if word.letter in "XYIJFR"]
    if not found:
        return None
    word = chance.choice(found)
    return replaced(line, word, chance.choice("XYIJFRKPQLST") + word.text)
