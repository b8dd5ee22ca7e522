"""The rules of NISTIR 6556 that bear on a cutting program, each with an example and what it must give.

"The NIST RS274/NGC Interpreter, version 3" (Kramer, Proctor and Messina, 2000); section numbers and
rules from memory.  Examples run behind a header that states all modes, and before M30, but for
those that are whole programs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

HEADER = "G21 G90 G17 G40 G80 G94 G54 G64"


@dataclass(frozen=True)
class Rule:
    """One rule.

    Attributes
    ----------
    section, says : str
    example : str
        Blocks, one a line.
    ends : list of tuple, optional
        Where the moves end, mm: x and y, or x, y and z.
    refused : str
        Words of the refusal; empty where the example is read.
    dwells, feeds : list of float, optional
        Seconds of each dwell; mm/min of each feed move.
    torch : list of bool, optional
        Whether the torch is on in each row.
    turns_deg : list of float, optional
        Of each arc, positive counter-clockwise.
    last : tuple of float, optional
        Where the torch stands at the end.
    whole : bool
        The example is a whole program.
    """

    section: str
    says: str
    example: str
    ends: list[tuple[float, ...]] | None = None
    refused: str = ""
    dwells: list[float] | None = None
    feeds: list[float] | None = None
    torch: list[bool] | None = None
    turns_deg: list[float] | None = None
    last: tuple[float, float, float] | None = None
    whole: bool = False


def _refusals(section: str, *rows: tuple[str, str, str]) -> list[Rule]:
    return [Rule(section, says, example, refused=words) for says, example, words in rows]


def _ends(section: str, *rows: tuple[str, str, Any]) -> list[Rule]:
    return [Rule(section, says, example, ends=list(ends)) for says, example, ends in rows]


PROGRAMS = [
    Rule(
        "3.2",
        "a program may lie between two per cent lines",
        f"%\n{HEADER}\nG0 X1 Y2\n%",
        [(1, 2)],
        whole=True,
    ),
    Rule(
        "3.2",
        "what stands behind the second per cent line does not count",
        f"%\n{HEADER}\nG0 X1 Y2\n%\nG0 X9",
        [(1, 2)],
        whole=True,
    ),
    Rule(
        "3.2",
        "a first per cent line asks for a second one",
        f"%\n{HEADER}\nM30",
        refused="none at the end",
        whole=True,
    ),
    Rule(
        "3.2",
        "without per cent lines a program ends with M2 or M30",
        f"{HEADER}\nG0 X1 Y2\nM2",
        [(1, 2)],
        whole=True,
    ),
    Rule("3.2", "without either it does not end", f"{HEADER}\nG0 X1 Y2", refused="does not end", whole=True),
    Rule(
        "3.2",
        "per cent lines may have blanks, and nothing else",
        f" % \n{HEADER}\nG0 X1 Y2\n%\t",
        [(1, 2)],
        whole=True,
    ),
    Rule("3.2", "a program may begin with empty lines", f"\n\n{HEADER}\nG0 X1 Y2\nM30", [(1, 2)], whole=True),
    Rule(
        "3.6.1",
        "what stands behind M30 is not run",
        f"{HEADER}\nG0 X1 Y2\nM30\nG0 X9\nM30",
        [(1, 2)],
        whole=True,
    ),
]

FORMAT = [
    *_ends(
        "3.3.1",
        ("blanks and tabs may stand anywhere", "g0x +0. 12 34y 7", [(0.1234, 7)]),
        ("case does not count", "g00 x1 Y2", [(1, 2)]),
        ("empty lines do nothing", "G0 X1 Y2\n\n  \nX3", [(1, 2), (3, 2)]),
        ("a line of 256 characters is read", "G0 X1 Y2" + " " * 248, [(1, 2)]),
        ("a block delete character may stand first", "/G0 X1 Y2", [(1, 2)]),
        ("block delete comes before the line number", "/N5 G0 X1 Y2", [(1, 2)]),
    ),
    *_refusals(
        "3.3.1",
        ("a line has at most 256 characters", "G0 X1 Y2" + " " * 249, "256"),
        ("a block delete character stands at the start alone", "G0 /X1", "/"),
        ("what is no word is an error", "G0 X1 ?", "does not begin a word"),
        ("a comment may not stand in a word", "G0 X(half)2", "value is missing"),
    ),
    *_ends(
        "3.3.1.1",
        ("a line number is one to five digits", "N1 G0 X1 Y2\nN99999 X2", [(1, 2), (2, 2)]),
        ("line numbers may repeat or fall", "N20 G0 X1 Y2\nN10 X2\nN10 X3", [(1, 2), (2, 2), (3, 2)]),
        ("noughts may lead", "N00020 G0 X1 Y2", [(1, 2)]),
    ),
    *_refusals(
        "3.3.1.1",
        ("a line number has at most five digits", "N123456 G0 X1", "one to five digits"),
        ("a line number has no sign", "N-1 G0 X1", "line number"),
        ("a line number has no point", "N1.5 G0 X1", "line number"),
        ("a line number stands first", "G0 X1 N5", "at the start"),
        ("a line number has digits", "N G0 X1", "line number"),
    ),
    *_refusals(
        "3.3.2",
        ("a word is a letter and a value", "G0 X", "value is missing"),
        ("a value has a letter", "G0 X1 2 3.4.5", ""),
        ("letters of no word are errors", "G0 X1 E5", "no word"),
        ("letters of no word are errors", "G0 X1 U5", "no word"),
        ("letters of no word are errors", "G0 X1 V5", "no word"),
        ("letters of no word are errors", "G0 X1 W5", "no word"),
        ("an axis that the machine lacks is an error", "G0 A10", "A10"),
    ),
    *_ends(
        "3.3.2.1",
        ("a plus sign may stand before a number", "G0 X+1 Y+2.5", [(1, 2.5)]),
        ("a minus sign may", "G0 X-1 Y-.5", [(-1, -0.5)]),
        ("digits before the point may be missing", "G0 X.5 Y0", [(0.5, 0)]),
        ("digits behind it too", "G0 X5. Y0", [(5, 0)]),
        ("noughts may lead and trail", "G0 X007.500 Y0", [(7.5, 0)]),
        ("a code within 0.0001 of a whole number is that number", "G0.00001 X1 Y2", [(1, 2)]),
    ),
    *_refusals(
        "3.3.2.1",
        ("two points are no number", "G0 X1.2.3", ""),
        ("two signs are no number", "G0 X--1", "value is missing"),
        ("a sign alone is no number", "G0 X-", "value is missing"),
        ("a point alone is no number", "G0 X.", "value is missing"),
        ("there are no powers of ten", "G0 X1E2", ""),
        ("a comma is no point", "G0 X1,5", ""),
        ("a code is a whole number of tenths", "G0.05 X1", "whole number"),
        ("an M code is a whole number", "M3.5", "whole number"),
    ),
    *_ends(
        "3.3.2.2",
        ("a parameter's value may be a value", "#5=3\nG0 X#5 Y0", [(3, 0)]),
        ("a parameter's number may be a parameter", "#5=3\n#3=7\nG0 X##5 Y0", [(7, 0)]),
        ("it may be an expression", "#5=3\nG0 X#[2+3] Y0", [(3, 0)]),
    ),
    *_refusals(
        "3.3.2.2",
        ("parameters are numbered from 1", "G0 X#0", "no parameter"),
        ("up to 5399", "G0 X#5400", "no parameter"),
        ("in whole numbers", "G0 X#1.5", "whole number"),
    ),
    *_ends(
        "3.3.2.3",
        ("an expression stands in square brackets", "G0 X[1+2] Y0", [(3, 0)]),
        ("multiplication goes before addition", "G0 X[1+2*3] Y0", [(7, 0)]),
        ("power goes before multiplication", "G0 X[2*3**2] Y0", [(18, 0)]),
        ("equal operators go from left to right", "G0 X[8-3-2] Y[8/4/2]", [(3, 1)]),
        ("equal powers go from left to right", "G0 X[2**3**2] Y0", [(64, 0)]),
        ("brackets go first", "G0 X[[1+2]*3] Y0", [(9, 0)]),
        ("MOD leaves a remainder that is not negative", "G0 X[-7 MOD 3] Y[7 MOD 3]", [(2, 1)]),
        ("AND, OR and XOR take what is not 0 for true", "G0 X[2 AND 3] Y[0 OR 0]", [(1, 0)]),
        ("XOR is true where one is", "G0 X[2 XOR 0] Y[2 XOR 3]", [(1, 0)]),
        ("sums go before AND", "G0 X[1 AND 1-1] Y0", [(0, 0)]),
    ),
    *_refusals(
        "3.3.2.3",
        ("a division by nothing has no value", "G0 X[1/0]", "no value"),
        ("brackets close", "G0 X[1+2", "missing"),
        ("an expression has operators of the standard", "G0 X[1^2]", "operator"),
        ("round brackets hold comments alone", "G0 X(1+2)", "value is missing"),
    ),
    *_ends(
        "3.3.2.4",
        ("angles are in degrees", "G0 X[SIN[30]] Y[COS[60]]", [(0.5, 0.5)]),
        ("ATAN takes two values", "G0 X ATAN[1]/[1] Y0", [(45, 0)]),
        ("ATAN knows the quadrant", "G0 X ATAN[1]/[-1] Y0", [(135, 0)]),
        ("ASIN, ACOS, TAN", "G0 X ASIN[0.5] Y ACOS[0.5]\nX TAN[45]", [(30, 60), (1, 60)]),
        ("FIX rounds down, FUP up", "G0 X FIX[2.8] Y FUP[2.2]\nX FIX[-2.8] Y FUP[-2.8]", [(2, 3), (-3, -2)]),
        ("ROUND goes to the nearest", "G0 X ROUND[2.5] Y ROUND[-2.5]", [(3, -3)]),
        ("ABS, SQRT, EXP, LN", "G0 X ABS[-4] Y SQRT[9]\nX EXP[0] Y LN[1]", [(4, 3), (1, 0)]),
    ),
    *_refusals(
        "3.3.2.4",
        ("a root of a negative number has no value", "G0 X SQRT[-1]", "no value"),
        ("an arc sine lies between -1 and 1", "G0 X ASIN[2]", "no value"),
        ("a logarithm is of what is above nought", "G0 X LN[0]", "no value"),
        ("a function takes square brackets", "G0 X SIN 30", "square brackets"),
        ("ATAN takes both values in brackets", "G0 X ATAN[1]", "missing"),
    ),
    *_ends(
        "3.3.3",
        ("a parameter is set by = behind it", "#3=15\nG0 X#3 Y0", [(15, 0)]),
        ("a setting takes effect behind its line", "#3=15\n#3=6 G0 X#3 Y0\nX#3", [(15, 0), (6, 0)]),
        ("several may stand on a line", "#3=1 #4=2\nG0 X#3 Y#4", [(1, 2)]),
        ("the last setting of one parameter stays", "#3=1 #3=2\nG0 X#3 Y0", [(2, 0)]),
    ),
    *_refusals(
        "3.3.3",
        ("a setting has a value", "#3=", "value is missing"),
        ("a setting has an equals sign", "#3 15", "missing"),
    ),
    *_ends(
        "3.3.4",
        ("a comment stands in round brackets", "G0 X1 (a note) Y2", [(1, 2)]),
        ("several may stand on a line", "(one) G0 X1 (two) Y2 (three)", [(1, 2)]),
        ("blanks and case in it do not count", "(  ANY thing ) G0 X1 Y2", [(1, 2)]),
    ),
    *_refusals(
        "3.3.4",
        ("a comment closes on its line", "G0 X1 (open", "not closed"),
        ("no comment stands in a comment", "G0 X1 (a (b) c)", "within a comment"),
        ("no comment closes that was not opened", "G0 X1 )", "opened"),
        ("semicolons open no comment", "G0 X1 ; note", "comment"),
    ),
    *_refusals(
        "3.3.5",
        ("a letter other than G and M stands once", "G0 X1 X2", "twice"),
        ("F stands once", "G1 X1 F1 F2", "twice"),
        ("at most four M words", "M3 M7 M48 M0 M1", ""),
        ("one G word of a modal group", "G0 G1 X1", "modal group"),
    ),
    *_ends(
        "3.3.6",
        ("the order of words does not count", "Y2 X1 G0", [(1, 2)]),
        ("nor that of G words", "G90 X1 G0 Y2 G21", [(1, 2)]),
    ),
]

MODES = [
    *_refusals(
        "3.4",
        ("two motions", "G1 G2 X1 Y1 I1 F9", "modal group"),
        ("a motion and its end", "G80 G1 X1", "modal group"),
        ("two planes", "G17 G18", "modal group"),
        ("two distance modes", "G90 G91", "modal group"),
        ("two feed modes", "G93 G94", "modal group"),
        ("two units", "G20 G21", "modal group"),
        ("two compensations", "G40 G41 D1", "modal group"),
        ("two coordinate systems", "G54 G55", "modal group"),
        ("two path modes", "G61 G64", "modal group"),
        ("two codes that are not modal", "G4 P1 G53", "modal group"),
        ("two torch words", "M3 M5", "modal group"),
        ("two ends", "M0 M30", "modal group"),
        ("two override words", "M48 M49", "modal group"),
        ("a code that takes axes with a motion", "G92 G1 X1 F9", "axis words"),
        ("axis words without a motion", "G80\nX1", "motion"),
    ),
    *_ends(
        "3.4",
        ("a motion stays in force", "G0 X1 Y2\nX3\nY4", [(1, 2), (3, 2), (3, 4)]),
        ("an axis left out stays", "G0 X1 Y2\nG1 X5 F100", [(1, 2), (5, 2)]),
    ),
]

CODES = [
    *_refusals(
        "3.5.1",
        ("G0 needs an axis", "G0", "without X, Y or Z"),
        ("G0 under compensation must clear the radius", "G0 X0 Y0\nG41 D1\nG0 X0.5", ""),
    ),
    *_refusals(
        "3.5.2",
        ("G1 needs an axis", "G1 F100", "without X, Y or Z"),
        ("a feed move needs a feed", "G1 X1", "before any feed"),
    ),
    Rule(
        "3.5.2",
        "the feed is in force from its block on",
        "G0 X0 Y0\nG1 X1 F100\nX2\nX3 F200",
        feeds=[100, 100, 200],
    ),
    Rule(
        "3.5.3.2",
        "G3 turns to the left about its centre",
        "G0 X10 Y0\nG3 X0 Y10 I-10 J0 F100",
        [(10, 0), (0, 10)],
        turns_deg=[90],
    ),
    Rule(
        "3.5.3.2",
        "G2 turns to the right about its centre",
        "G0 X10 Y0\nG2 X0 Y10 I-10 J0 F100",
        [(10, 0), (0, 10)],
        turns_deg=[-270],
    ),
    Rule(
        "3.5.3.2",
        "an arc that ends where it starts is a circle",
        "G0 X10 Y0\nG3 X10 I-10 F100",
        [(10, 0), (10, 0)],
        turns_deg=[360],
    ),
    Rule(
        "3.5.3.2",
        "a centre may lack I or J",
        "G0 X10 Y0\nG3 X20 Y10 J10 F100",
        [(10, 0), (20, 10)],
        turns_deg=[90],
    ),
    Rule(
        "3.5.3.2",
        "an arc's mode stays",
        "G0 X10 Y0\nG3 X0 Y10 I-10 J0 F100\nX-10 Y0 I0 J-10",
        [(10, 0), (0, 10), (-10, 0)],
        turns_deg=[90, 90],
    ),
    Rule(
        "3.5.3.1",
        "a positive radius turns less than half",
        "G0 X10 Y0\nG3 X0 Y10 R10 F100",
        [(10, 0), (0, 10)],
        turns_deg=[90],
    ),
    Rule(
        "3.5.3.1",
        "a negative radius turns more than half",
        "G0 X10 Y0\nG3 X0 Y10 R-10 F100",
        [(10, 0), (0, 10)],
        turns_deg=[270],
    ),
    *_refusals(
        "3.5.3",
        ("an arc needs an axis of its plane", "G0 X0 Y0\nG2 I1 F9", "arc needs X or Y"),
        ("an arc needs a centre or a radius", "G0 X0 Y0\nG2 X5 Y0 F9", "needs I or J"),
        ("not both", "G0 X0 Y0\nG2 X5 Y0 I2.5 R2.5 F9", "radius and a centre"),
        ("an arc needs a feed", "G0 X0 Y0\nG2 X5 Y0 I2.5", "before any feed"),
        ("K does not lie in the plane XY", "G0 X0 Y0\nG2 X5 Y0 I2.5 K1 F9", "plane"),
    ),
    *_refusals(
        "3.5.3.1",
        ("a radius reaches the end", "G0 X0 Y0\nG2 X30 Y0 R10 F9", "radius"),
        ("an arc by its radius does not end where it starts", "G0 X5 Y0\nG2 X5 Y0 R10 F9", ""),
    ),
    *_refusals(
        "3.5.3.2",
        ("both ends lie on one circle, within 0.002 mm", "G0 X10 Y0\nG3 X0 Y10.01 I-10 J0 F9", ""),
        ("the centre is not the start", "G0 X10 Y0\nG3 X0 Y10 I0 J0 F9", ""),
    ),
    Rule("3.5.4", "G4 waits P seconds", "G4 P0.5\nG4 P2", dwells=[0.5, 2]),
    *_refusals(
        "3.5.4",
        ("G4 needs P", "G4", "G4 without P"),
        ("P is not negative", "G4 P-1", "negative"),
        ("nothing else uses P", "G0 X1 P3", "uses P"),
    ),
    *_ends(
        "3.5.5",
        ("G10 L2 moves the zero of a system", "G10 L2 P1 X10 Y20\nG0 X1 Y2", [(11, 22)]),
        ("of another system it moves nothing here", "G10 L2 P2 X10 Y20\nG0 X1 Y2", [(1, 2)]),
    ),
    *_refusals(
        "3.5.5",
        ("G10 has L2 and P", "G10 P1 X1", "L2"),
        ("P is 1 to 9", "G10 L2 P10 X1", "coordinate system"),
        ("P is a whole number", "G10 L2 P1.5 X1", "whole number"),
    ),
    Rule(
        "3.5.6",
        "G18 lays arcs into the plane ZX",
        "G0 X0 Y0 Z0\nG18\nG2 X10 Z0 I5 K0 F100\nG17",
        last=(10, 0, 0),
    ),
    *_ends(
        "3.5.7",
        ("G20 takes lengths in inches", "G20\nG0 X1 Y2", [(25.4, 50.8)]),
        ("G21 in mm", "G20\nG21\nG0 X1 Y2", [(1, 2)]),
    ),
    Rule("3.5.7", "feeds are in the units too", "G0 X0 Y0\nG20\nG1 X1 F10", feeds=[254]),
    *_ends(
        "3.5.8",
        ("G28 goes home by way of a place", "G28 X5 Y6", [(5, 6), (0, 0)]),
        ("G30 too", "G30 X5 Y6", [(5, 6), (0, 0)]),
        ("parameters say where home is", "#5161=7 #5162=8\nG28 X5 Y6", [(5, 6), (7, 8)]),
    ),
    *_refusals("3.5.9", ("a torch does not probe", "G38.2 X1 F9", "prob")),
    *_refusals(
        "3.5.10",
        ("D is not negative", "G41 D-1", "negative"),
        ("D is a whole number", "G41 D1.5", "whole number"),
        ("D without compensation is an error", "G0 X1 D1", "uses D"),
        ("compensation is not put on twice", "G41 D1\nG42 D1", ""),
        ("compensation works in the plane XY", "G18\nG41 D1", "XY plane"),
    ),
    *_refusals("3.5.11", ("a torch has no tool length", "G43 H1", "tool length")),
    *_ends(
        "3.5.12",
        ("G53 goes to a place of the machine", "G10 L2 P1 X10\nG53 G0 X1 Y2", [(1, 2)]),
        ("for its block alone", "G10 L2 P1 X10\nG53 G0 X1 Y2\nG0 X1", [(1, 2), (11, 2)]),
    ),
    *_refusals(
        "3.5.12",
        ("G53 needs G0 or G1", "G53 G2 X1 Y1 I1 F9", "G53"),
        ("G53 is an error with G91", "G91 G53 G0 X1", "G53"),
    ),
    *_ends(
        "3.5.13",
        ("G55 uses the second system", "G10 L2 P2 X10 Y20\nG55\nG0 X1 Y2", [(11, 22)]),
        ("G59.3 uses the ninth", "G10 L2 P9 X10 Y20\nG59.3\nG0 X1 Y2\nG54", [(11, 22)]),
    ),
    *_ends(
        "3.5.14", ("G61, G61.1 and G64 change no place", "G61\nG0 X1 Y2\nG61.1\nX3\nG64", [(1, 2), (3, 2)])
    ),
    *_ends("3.5.15", ("G80 ends the motion", "G0 X1 Y2\nG80\nG1 X3 F9", [(1, 2), (3, 2)])),
    *_refusals(
        "3.5.16",
        ("a torch does not drill", "G81 X1 Y1 Z-1 R1 F9", "canned"),
        ("nor peck", "G83 X1 Y1 Z-1 R1 Q1 F9", "canned"),
    ),
    *_ends(
        "3.5.17",
        ("G91 takes steps", "G0 X1 Y2\nG91\nX1 Y1\nX1\nG90", [(1, 2), (2, 3), (3, 3)]),
        ("G90 takes places again", "G0 X1 Y2\nG91 X1\nG90 X1", [(1, 2), (2, 2), (1, 2)]),
    ),
    Rule(
        "3.5.17",
        "I and J are steps in either mode",
        "G0 X10 Y0\nG91\nG3 X-10 Y10 I-10 J0 F100\nG90",
        [(10, 0), (0, 10)],
        turns_deg=[90],
    ),
    *_ends(
        "3.5.18",
        ("G92 gives the place another name", "G0 X10 Y0\nG92 X0 Y5\nG0 X1 Y5\nG92.1", [(10, 0), (11, 0)]),
        ("G92.1 takes it back", "G0 X10 Y0\nG92 X0\nG92.1\nG0 X1", [(10, 0), (1, 0)]),
        (
            "G92.2 sets it aside, G92.3 takes it up",
            "G0 X10 Y0\nG92 X0\nG92.2\nG0 X1\nG92.3\nX1\nG92.1",
            [(10, 0), (1, 0), (11, 0)],
        ),
    ),
    *_refusals("3.5.18", ("G92 needs an axis", "G92", "without X, Y or Z")),
    Rule("3.5.19", "G93 takes F as moves a minute", "G0 X0 Y0\nG93\nG1 X10 F2\nG94", feeds=[20]),
    *_refusals(
        "3.5.19", ("under G93 every feed move has F", "G0 X0 Y0\nG93\nG1 X10 F2\nX20", "F on every line")
    ),
    *_ends("3.5.20", ("G98 and G99 change no move", "G99\nG0 X1 Y2\nG98", [(1, 2)])),
]

OTHERS = [
    Rule("3.6.1", "M30 puts the torch out", "G0 X0 Y0\nM3\nG1 X5 F9", None, torch=[False, True, True, False]),
    *_ends(
        "3.6.1",
        ("M0, M1 and M60 stop, and the program goes on", "G0 X1 Y2\nM0\nM1\nM60\nX3", [(1, 2), (3, 2)]),
    ),
    Rule(
        "3.6.2",
        "M3 and M5 work the torch from their block on",
        "G0 X0 Y0\nM3\nG1 X5 F9\nM5\nG0 X9",
        None,
        torch=[False, True, True, False, False],
    ),
    *_refusals(
        "3.6",
        ("an M word without a meaning is an error", "M25", "no meaning"),
        ("M98 is none of the standard", "M98 P1", "no meaning"),
        ("M19 neither", "M19", "no meaning"),
    ),
    *_ends("3.6.5", ("M48 and M49 change no move", "M48\nG0 X1 Y2\nM49\nM48", [(1, 2)])),
    Rule("3.7.1", "F alone sets the feed", "G0 X0 Y0\nF300\nG1 X5", feeds=[300]),
    *_refusals("3.7.1", ("a feed is not negative", "G1 X5 F-3", "negative")),
    Rule("3.8", "the feed is set before the move of its block", "G0 X0 Y0\nG1 X5 F300", feeds=[300]),
    Rule(
        "3.8",
        "the torch is switched before the move of its block",
        "G0 X0 Y0\nM3 G1 X5 F300\nM5",
        None,
        torch=[False, True, True, False],
    ),
    Rule(
        "3.8",
        "a dwell comes before the move of the next block, behind the torch word of its own",
        "G0 X0 Y0\nM3 G4 P1\nG1 X5 F300\nM5",
        None,
        torch=[False, True, True, True, False],
    ),
    *_ends("3.8", ("units are set before the move of their block", "G20 G0 X1 Y1", [(25.4, 25.4)])),
    *_ends("3.8", ("the distance mode too", "G0 X5 Y5\nG91 X1 Y1\nG90", [(5, 5), (6, 6)])),
    *_ends("3.8", ("and the coordinate system", "G10 L2 P2 X10\nG55 G0 X1 Y1\nG54", [(11, 1)])),
    Rule(
        "3.8",
        "the program ends behind the move of its block",
        f"{HEADER}\nG0 X1 Y2 M30",
        [(1, 2)],
        whole=True,
    ),
]

RULES = [*PROGRAMS, *FORMAT, *MODES, *CODES, *OTHERS]
