"""Honest edits: what shops change at the control, and what leaves the program right."""

from __future__ import annotations

import random
import re

from faults.burning import OXYFUEL, PLASMA
from faults.model import HONEST, Edit, Mutator
from faults.places import (
    Lines,
    at_head,
    at_line,
    between,
    dwell_times,
    move_lines,
    pierce_dwells,
    preheat_dwells,
)
from faults.view import View
from faults.ways import started_at
from faults.words import find, replaced, words

PLAIN = ("metric", "inch", "heights", "numbered", "control-compensation", "oxyfuel-metric")


def _whole(change: object) -> Mutator:
    def mutate(view: View, chance: random.Random) -> Edit:
        made = change(view)  # type: ignore[operator]
        return Edit({view.file: made}, program=view.file)

    return mutate


def _text(view: View) -> str:
    return "\n".join(view.lines)


HONEST.add("nothing changed", "the program as it was written", _whole(_text))
HONEST.add(
    "line ends of another system",
    "transfer changes them",
    _whole(lambda v: _text(v).replace("\n", "\r\n").encode()),
)
HONEST.add(
    "byte order mark", "editors put one in front", _whole(lambda v: b"\xef\xbb\xbf" + _text(v).encode())
)
HONEST.add(
    "Latin-1 in a comment",
    "old editors write it",
    _whole(lambda v: "\n".join(v.put(v.head, "(Stück für Müller)")).encode("latin-1")),
)
HONEST.add(
    "lower case",
    "controls take both",
    _whole(lambda v: "\n".join(line if "(" in line else line.lower() for line in v.lines)),
)
HONEST.add(
    "blanks between letter and number",
    "blanks mean nothing",
    _whole(
        lambda v: "\n".join(line if "(" in line else re.sub(r"([XYIJ])", r"\1 ", line) for line in v.lines)
    ),
)
HONEST.add(
    "no blanks",
    "blanks mean nothing",
    _whole(lambda v: "\n".join(line if "(" in line else line.replace(" ", "") for line in v.lines)),
)
HONEST.add("empty lines", "they mean nothing", _whole(lambda v: _text(v).replace("\n", "\n\n")))
HONEST.add("blanks at the lines' ends", "they mean nothing", _whole(lambda v: _text(v).replace("\n", "  \n")))
HONEST.add(
    "tabs for blanks",
    "they mean nothing",
    _whole(lambda v: "\n".join(line if "(" in line else line.replace(" ", "\t") for line in v.lines)),
)
HONEST.add(
    "leading zeros",
    "G01 is G1",
    _whole(
        lambda v: "\n".join(
            line if "(" in line else re.sub(r"\b([GM])([0-9])\b(?!\.)", r"\g<1>0\2", line) for line in v.lines
        )
    ),
)
HONEST.add(
    "plus signs",
    "+5 is 5",
    _whole(
        lambda v: "\n".join(
            line if "(" in line else re.sub(r"([XY])(?=[0-9])", r"\1+", line) for line in v.lines
        )
    ),
)
HONEST.add(
    "trailing zeros",
    "5.0 is 5",
    _whole(
        lambda v: "\n".join(
            line if "(" in line else re.sub(r"([XY]-?[0-9]+)(?![0-9.])", r"\1.0", line) for line in v.lines
        )
    ),
)
HONEST.add("a comment more", "a remark for the operator", between("(check the nozzle)"))
HONEST.add(
    "comments taken out",
    "the control has little memory",
    _whole(
        lambda v: "\n".join(
            line
            for line in v.lines
            if not line.startswith("(") or "digest" in line or "apart" in line or line.startswith("(plan")
        )
    ),
)
HONEST.add(
    "semicolon comments",
    "most controls take them",
    _whole(
        lambda v: "\n".join("; " + line.strip("()") if line.startswith("(cut") else line for line in v.lines)
    ),
)
HONEST.add(
    "semicolon comment behind a move",
    "most controls take them",
    at_line(move_lines, lambda line, _: f"{line} ; slow here"),
    cases=PLAIN,
)
HONEST.add(
    "large line numbers",
    "many controls count further than the standard",
    _whole(
        lambda v: "\n".join(
            line if "(" in line or find(line, "N") or not words(line) else f"N{100000 + 10 * k} {line}"
            for k, line in enumerate(v.lines)
        )
    ),
    cases=("metric", "inch", "heights", "oxyfuel-metric"),
)
HONEST.add(
    "line numbers",
    "they mean nothing",
    _whole(
        lambda v: "\n".join(
            line if "(" in line or find(line, "N") or not words(line) else f"N{10 * k + 10} {line}"
            for k, line in enumerate(v.lines)
        )
    ),
    cases=("metric", "inch", "heights", "oxyfuel-metric"),
)
HONEST.add(
    "program number in front",
    "many controls ask for one",
    _whole(lambda v: "O0042\n" + _text(v)),
    cases=("metric", "inch", "heights", "absolute-centres", "oxyfuel-metric"),
)
HONEST.add(
    "per cent lines",
    "transfer by tape or cable asks for them",
    _whole(lambda v: "%\n" + _text(v).rstrip("\n") + "\n%\n"),
    cases=("metric", "inch", "heights", "oxyfuel-metric", "small-memory"),
)
HONEST.add("arc mode stated", "G91.1 is what the standard has anyway", at_head("G91.1"), cases=PLAIN)
HONEST.add("gas before the start", "a look at the gas before the first cut", at_head("G4 P3"))
HONEST.add("pause between two cuts", "time to look, the torch out", between("G4 P2"))
HONEST.add(
    "M2 for M30",
    "both end a program",
    _whole(lambda v: "\n".join(line.replace("M30", "M2") for line in v.lines)),
)
HONEST.add(
    "feed in a block of its own", "it means the same", at_line(move_lines, lambda line, _: _feed_alone(line))
)
HONEST.add(
    "motion word stated again", "it means the same", _whole(lambda v: "\n".join(_stated(v))), cases=PLAIN
)
HONEST.add(
    "torch off once more at the end",
    "it is out already",
    _whole(lambda v: "\n".join(v.put(v.end, v.word("torch_off")))),
)
HONEST.add(
    "pierce dwell longer within the trim",
    "thicker scale, a worn nozzle",
    at_line(pierce_dwells, dwell_times(1.6)),
)
HONEST.add(
    "preheat longer within the trim", "cold plate", at_line(preheat_dwells, dwell_times(1.6)), cases=OXYFUEL
)


def _feed_alone(line: str) -> str | None:
    word = find(line, "F")
    if word is None or find(line, "N") or line.startswith("/"):
        return None
    return f"F{word.text}\n{replaced(line, word, '').rstrip()}"


def _stated(view: View) -> list[str]:
    made = list(view.lines)
    for row in view.rows:
        if row.kind in ("rapid", "line", "arc") and find(made[row.line], "G") is None and row.line < view.end:
            code = {"rapid": "G0", "line": "G1"}.get(row.kind, "G2" if row.clockwise else "G3")
            place = next(word for word in words(made[row.line]) if word.letter in "XYZIJ")
            made[row.line] = made[row.line][: place.first] + f"{code} " + made[row.line][place.first :]
    return made


@HONEST.enter("every feed within the trim", "plate and gas differ from day to day")
def every_feed_trimmed(view: View, chance: random.Random) -> Lines:
    factor = chance.choice([0.93, 0.95, 1.05, 1.08])
    made = list(view.lines)
    lit = {row.line for cut in view.torch_cuts for row in view.own_rows(cut)}
    for k in sorted(lit):
        word = find(made[k], "F")
        if word is not None and find(made[k], "Z") is None:
            made[k] = replaced(made[k], word, f"F{word.value * factor:.1f}")
    return made


@HONEST.enter("every pierce longer within the trim", "thicker scale")
def every_pierce_longer(view: View, chance: random.Random) -> Lines:
    made = list(view.lines)
    for cut in view.torch_cuts:
        for k in pierce_dwells(view, cut):
            made[k] = dwell_times(1.5)(made[k], chance) or made[k]
    return made


@HONEST.enter("heights within the trim", "a worn nozzle stands a little higher", cases=("heights",))
def heights_trimmed(view: View, chance: random.Random) -> Lines:
    cut, pierce = view.data["cut_height"], view.data["pierce_height"]
    made = list(view.lines)
    for k in range(view.head, view.end):
        word = find(made[k], "Z")
        if word is not None and abs(word.value - cut) < 1e-6:
            made[k] = replaced(made[k], word, f"Z{cut + 0.2:.2f}")
        elif word is not None and abs(word.value - pierce) < 1e-6:
            made[k] = replaced(made[k], word, f"Z{pierce + 0.3:.2f}")
    return made


@HONEST.enter("higher travel within the trim", "a bent plate", cases=("heights",))
def higher_travel(view: View, chance: random.Random) -> Lines:
    made = list(view.lines)
    for k in range(view.head, view.end):
        word = find(made[k], "Z")
        if word is not None and word.value > view.data["pierce_height"] + 1:
            made[k] = replaced(made[k], word, f"Z{word.value + 5:g}")
    return made


@HONEST.enter(
    "longer lead in scrap",
    "the pierce wants a little more room",
    cases=tuple(n for n in PLASMA if n != "control-compensation"),
)
def longer_lead(view: View, chance: random.Random) -> Lines:
    """The start of an outside's straight lead moves back by a millimetre where there is scrap."""
    import shapely
    from replay_judge import Sheet

    sheet = Sheet(view.case.plate, view.case.plan["parts"])
    clearance = sheet.data["rules"]["pierce_clearance"] + 0.5
    cuts = view.torch_cuts
    for k in chance.sample(range(len(cuts)), len(cuts)):
        moves = view.moves(cuts[k])
        if not moves or moves[0].kind != "line":
            continue
        (x0, y0), (x1, y1) = cuts[k].pierce, moves[0].end[:2]
        size = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        if size < 1.0:
            continue
        place = (x0 - (x1 - x0) / size, y0 - (y1 - y0) / size)
        point = shapely.Point(place)
        others = [
            shapely.LineString(
                [p for row in cut.rows if row.moves for p in [row.start[:2], *row.points(0.1)]]
            )
            for cut in cuts[:k]
        ]
        far = all(point.distance(shape) > clearance for shape in sheet.parts)
        far = far and all(point.distance(line) > clearance + sheet.radius for line in others)
        far = far and sheet.metal.exterior.distance(point) > clearance and sheet.metal.contains(point)
        if far:
            return started_at(view, cuts[k], place)
    return None


@HONEST.enter(
    "stop between two cuts",
    "the operator lifts a part out, the torch out",
    cases=("metric", "inch", "absolute-centres", "numbered", "oxyfuel-metric"),
)
def stop_between(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts[1:])
    return view.put(cut.first, "M0")


@HONEST.enter(
    "independent cuts exchanged",
    "two parts apart from each other in another order",
    cases=("metric", "inch", "numbered", "heights"),
)
def independent_cuts_exchanged(view: View, chance: random.Random) -> Lines:
    marks = view.marks
    if len(marks) < 2:
        return None
    one, other = chance.sample(range(len(marks)), 2)
    order = list(view.cuts)
    i, j = order.index(marks[one]), order.index(marks[other])
    order[i], order[j] = order[j], order[i]
    return view.reordered(order)


def cuts_of(view: View, part: str, copy: int) -> list[int]:
    """Return the places of a part's cuts and marks among the program's."""
    records = view.case.plate["cuts"]
    if len(records) != len(view.cuts):
        return []
    return [k for k, cut in enumerate(records) if (cut["part"], cut["copy"]) == (part, copy)]


def without_part(view: View, part: str, copy: int) -> str | None:
    """Return the program without the cuts of a part."""
    gone = cuts_of(view, part, copy)
    if not gone:
        return None
    return "\n".join(view.reordered([cut for k, cut in enumerate(view.cuts) if k not in gone]))


@HONEST.enter("part left out that is scrap", "its material is bad there; an option names it", cases=PLAIN)
def part_left_out(view: View, chance: random.Random) -> Edit | None:
    placed = chance.choice(view.case.plate["placements"])
    text = without_part(view, placed["part"], placed["copy"])
    if text is None:
        return None
    return Edit({view.file: text}, options=("--scrap", f"{placed['part']}/{placed['copy']}"))


@HONEST.enter("restart behind a cut", "the power failed; an option names the cut", cases=PLAIN)
def restart(view: View, chance: random.Random) -> Edit | None:
    if len(view.case.plate["cuts"]) != len(view.cuts):
        return None
    k = chance.randrange(1, len(view.cuts))
    lines = view.without(view.cuts[0].first, view.cuts[k].first)
    return Edit({view.file: "\n".join(lines)}, options=("--from-cut", str(k + 1)))
