"""Faults while the torch burns: stops, dwells, standing, switches missing or out of place."""

from __future__ import annotations

import random

from faults.model import FAULTS
from faults.places import (
    Lines,
    at_line,
    before_off,
    behind_start,
    drop_line,
    dwell_times,
    feed_times,
    lit,
    lit_before,
    move_lines,
    off_line,
    on_line,
    pierce_dwells,
    preheat_dwells,
)
from faults.view import View
from faults.words import find, replaced

PLASMA = (
    "metric", "inch", "absolute-centres", "radius-arcs", "lines-only", "control-compensation", "heights",
    "numbered", "subprograms", "small-memory", "split",
)  # fmt: skip
OXYFUEL = ("oxyfuel-metric", "oxyfuel-preheat", "several-torches")

STANDS = "the torch burns where it stands, and blows a hole or burns itself"
FAULTS.add("stop M0 in a cut", f"the program stops with the arc on: {STANDS}", lit("M0"))
FAULTS.add("optional stop M1 in a cut", f"with optional stop on, {STANDS}", lit("M1"))
FAULTS.add("pallet stop M60 in a cut", f"the program stops with the arc on: {STANDS}", lit("M60"))
FAULTS.add("stop behind the pierce", f"the program stops with the arc on: {STANDS}", behind_start("M0"))
FAULTS.add("stop before the torch goes out", f"the program stops with the arc on: {STANDS}", before_off("M0"))
FAULTS.add("optional stop behind the pierce", f"with optional stop on, {STANDS}", behind_start("M1"))
FAULTS.add("dwell in a cut", STANDS, lit("G4 P0.8"))
FAULTS.add("dwell before the torch goes out", STANDS, before_off("G4 P0.5"))
FAULTS.add("second pierce dwell", "the pierce lasts longer than the data have", behind_start("G4 P5"))
FAULTS.add(
    "pierce dwell three times",
    "the pierce lasts longer than an operator may trim",
    at_line(pierce_dwells, dwell_times(3.0)),
)
FAULTS.add(
    "pierce dwell ten times",
    "the hole is blown wide, the nozzle burns",
    at_line(pierce_dwells, dwell_times(10.0)),
)
FAULTS.add(
    "pierce dwell of nothing",
    "the torch moves off before the plate is pierced",
    at_line(pierce_dwells, dwell_times(0.0)),
)
FAULTS.add(
    "pierce dwell left out", "the torch moves off before the plate is pierced", drop_line(pierce_dwells)
)
FAULTS.add(
    "pierce dwell a third",
    "the torch moves off before the plate is pierced",
    at_line(pierce_dwells, dwell_times(0.33)),
    cases=OXYFUEL,
)
FAULTS.add(
    "preheat dwell left out",
    "cold steel does not burn: the cut never starts",
    drop_line(preheat_dwells),
    cases=OXYFUEL,
)
FAULTS.add(
    "preheat dwell a fifth",
    "cold steel does not burn: the cut never starts",
    at_line(preheat_dwells, dwell_times(0.2)),
    cases=OXYFUEL,
)
FAULTS.add(
    "preheat dwell ten times",
    "the edge melts and the plate warps",
    at_line(preheat_dwells, dwell_times(10.0)),
    cases=OXYFUEL,
)
FAULTS.add("tool change in a cut", "M6 stops or moves the machine with the arc on", lit("T1 M6"))
FAULTS.add(
    "tool change behind the pierce", "M6 stops or moves the machine with the arc on", behind_start("M6")
)
FAULTS.add("creeping feed", "so slow is as good as standing", at_line(move_lines, feed_times(0.01, 0.02)))
FAULTS.add("feed that creeps by a word alone", "so slow is as good as standing", lit_before("F", "F20"))
FAULTS.add("feed of nothing", "the torch stands lit", lit_before("F", "F0"))
FAULTS.add("negative feed", "no control knows what it is", lit_before("F", "F-500"))
FAULTS.add("torch out left out", "the torch burns on over the travel", drop_line(off_line))
FAULTS.add("torch on left out", "the contour is not cut", drop_line(on_line))
FAULTS.add("torch on twice", "a control may pierce again, or count another torch", behind_start("M3"))
FAULTS.add("torch out early", "the contour is not cut to its end", lit("M5"))
FAULTS.add(
    "torch on for nothing",
    "a hole is burnt and nothing cut",
    at_line(off_line, lambda line, _: line + "\nM3\nG4 P0.5\nM5"),
)
FAULTS.add("rapid in a cut", "the torch is dragged lit at rapid speed", lit_before("G", "G0"))
FAULTS.add("end of program in a cut", "the rest is not cut", lit("M30"))
FAULTS.add("M2 in a cut", "the rest is not cut", lit("M2"))
FAULTS.add(
    "torch off word that no control has",
    "the torch burns on",
    at_line(off_line, lambda line, _: line.replace("M05", "M55").replace("M5", "M55")),
)
FAULTS.add("torch on in a comment", "the contour is not cut", at_line(on_line, lambda line, _: f"({line})"))
FAULTS.add(
    "torch off in a comment",
    "the torch burns on over the travel",
    at_line(off_line, lambda line, _: f"({line})"),
)
FAULTS.add(
    "torch off behind a semicolon",
    "the torch burns on where the control takes it as a comment",
    at_line(off_line, lambda line, _: f"; {line}"),
)
FAULTS.add(
    "other torch word",
    "M4 lights nothing, or another torch",
    at_line(on_line, lambda line, _: line.replace("M03", "M04").replace("M3", "M4")),
)


@FAULTS.enter("feed move made a rapid", "the torch is dragged lit at rapid speed, or leaves the kerf")
def feed_move_made_a_rapid(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut, "line")]
    if not rows:
        return None
    row = chance.choice(rows)
    line = view.lines[row.line]
    word = find(line, "G")
    if word is not None:
        return view.swap(row.line, replaced(line, word, "G0"))
    place = find(line, "X") or find(line, "Y")
    assert place is not None
    return view.swap(row.line, f"{line[: place.first]}G0 {line[place.first :]}")


@FAULTS.enter("torch on before the travel", "the torch burns over the whole travel")
def torch_on_before_the_travel(view: View, chance: random.Random) -> Lines:
    cut = chance.choice(view.torch_cuts)
    on = view.lines[cut.on]
    lines = view.without(cut.on, cut.on + 1)
    return [*lines[: cut.first], on, *lines[cut.first :]]


@FAULTS.enter("torch out behind the travel", "the torch burns over the whole travel")
def torch_out_behind_the_travel(view: View, chance: random.Random) -> Lines:
    cuts = view.torch_cuts
    if len(cuts) < 2:
        return None
    k = chance.randrange(len(cuts) - 1)
    off = view.lines[cuts[k].off]
    lines = view.put(cuts[k + 1].on, off)
    return [*lines[: cuts[k].off], *lines[cuts[k].off + 1 :]]


@FAULTS.enter("torch lit at the program's end", "M30 comes with the arc on")
def torch_lit_at_the_end(view: View, chance: random.Random) -> Lines:
    return view.put(view.end, "M3", "G4 P0.5")


@FAULTS.enter("pierce in scrap for nothing", "a hole is burnt that no cut needs")
def pierce_in_scrap(view: View, chance: random.Random) -> Lines:
    return view.put(view.cuts[-1].last, "M3", "G4 P0.5", "M5")


@FAULTS.enter("stop and start in a cut", "a second pierce lies on the contour, a burr on the part")
def stop_and_start(view: View, chance: random.Random) -> Lines:
    line = view.lit_lines(chance)
    return None if line is None else view.put(line + 1, "M5", "M3", "G4 P0.5")


@FAULTS.enter("two cuts without the torch out between", "the torch burns over the travel by a feed move")
def two_cuts_joined(view: View, chance: random.Random) -> Lines:
    cuts = view.torch_cuts
    if len(cuts) < 2:
        return None
    k = chance.randrange(len(cuts) - 1)
    first, second = cuts[k], cuts[k + 1]
    way = view.xy(*second.pierce)
    return [
        *view.lines[: first.off],
        f"G1 {way} {view.feed_word(view.data['feed_mm_min'])}",
        *view.lines[second.on + 1 :],
    ]


@FAULTS.enter("upright move in a cut", "the torch leaves its height with the arc on: it goes out, or dives")
def upright_move(view: View, chance: random.Random) -> Lines:
    return lit(chance.choice(["G1 Z20 F3000", "G0 Z8", "G1 Z0.2 F500"]))(view, chance)  # type: ignore[return-value]


@FAULTS.enter("slow upright move in a cut", "the torch stands lit while it creeps up or down")
def slow_upright_move(view: View, chance: random.Random) -> Lines:
    height = view.data["cut_height"]
    return lit(f"G1 Z{height + 0.2:.2f} F5", f"G1 Z{height:.2f} F5")(view, chance)  # type: ignore[return-value]


@FAULTS.enter(
    "preheating asked of plasma",
    "the plan has none; the table waits half a minute at each start",
    cases=PLASMA,
)
def preheating_asked_of_plasma(view: View, chance: random.Random) -> Lines:
    return view.put(chance.choice(view.torch_cuts).on, "G4 P30")


@FAULTS.enter("way forth and back in a cut", "the kerf is burnt twice and widens")
def forth_and_back(view: View, chance: random.Random) -> Lines:
    rows = [row for cut in view.torch_cuts for row in view.moves(cut, "line")]
    if not rows:
        return None
    row = chance.choice(rows)
    if not view.dialect.get("absolute_centres") and any(
        "G91" in view.code(k) for k in (row.line, row.line - 1)
    ):
        return None
    return view.put(row.line + 1, f"G1 {view.xy(*row.start[:2])}", f"G1 {view.xy(*row.end[:2])}")
