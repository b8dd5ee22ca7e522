"""Chains in the proof: as planned they pass in every writing; bent, crossed or exchanged ones are refused."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sheets import DATA, DISC, GUSSET, MACHINE, in_order, sheet_of

from cutplan.cutting import Chains, CuttingOptions, Techniques, chained_cut, make_cuts
from cutplan.geometry import Pose, length
from cutplan.program import find_postprocessor, write_program
from cutplan.record import planned_of
from cutplan.stock import ONE_TORCH
from cutplan.verification import PlannedMake, verify

SHEET = sheet_of(
    (DISC, Pose(50, 60)), (DISC, Pose(125, 60)), (DISC, Pose(200, 60)), (GUSSET, Pose(50, 110)),
    size=(280.0, 220.0),
)  # fmt: skip
POSTS = (
    "rs274-metric", "rs274-inch", "rs274-heights", "rs274-control-compensation", "rs274-lines-only",
    "rs274-absolute-centres", "rs274-radius-arcs", "rs274-subprograms", "rs274-small-memory", "rs274-numbered",
)  # fmt: skip


@cache
def chained():
    """The plate's cuts with the three discs in one run, by the shortest links found."""
    made = make_cuts(SHEET, DATA, CuttingOptions(techniques=Techniques(chains=Chains())))
    links, cuts = made.links, made.cuts
    number = {cut.makes[0].placement: i for i, cut in enumerate(cuts) if cut.kind == "outside"}
    best = None
    for k in np.flatnonzero((links.first == number[0]) & (links.then == number[1])).tolist():
        for m in np.flatnonzero((links.first == number[1]) & (links.then == number[2])).tolist():
            if links.first_choice[m] == links.then_choice[k]:
                way = links.length[k] + links.length[m]
                if best is None or way < best[0]:
                    best = way, (links.first_choice[k], links.then_choice[k], links.then_choice[m])
    run = chained_cut([cuts[number[p]] for p in (0, 1, 2)], [int(c) for c in best[1]])
    holes = [cut for cut in cuts if cut.kind == "hole" and cut.makes[0].placement < 3]
    others = [cut for cut in cuts if cut.makes[0].placement == 3]
    # Holes of the chain's parts come before all of it.
    order = in_order(tuple([*holes, run, *others]), SHEET)
    steps = sorted(order.steps, key=lambda s: (s.cut.makes[0].placement == 3, s.cut.kind != "hole"))
    marks = [s for s in order.steps if s.cut.kind == "mark"]
    rest = [s for s in steps if s.cut.kind != "mark"]
    return replace(order, steps=(*marks, *rest)), run


@cache
def written(post: str = "rs274-metric"):
    voice = find_postprocessor(post)
    order, _ = chained()
    program = write_program(order, SHEET, DATA, MACHINE, voice, name="chains")
    return tuple(f.text for f in program.files), voice.dialect_for(DATA), planned_of(order.steps, ONE_TORCH)


def codes(texts, dialect, planned) -> set[str]:
    verdict = verify(list(texts), SHEET, DATA, MACHINE, dialect=dialect, planned=planned)
    return {fault.code for fault in (*verdict.faults, *verdict.trims)}


@pytest.mark.parametrize("post", POSTS)
def test_a_chain_as_planned_passes_through_every_post_processor(post: str) -> None:
    texts, dialect, planned = written(post)
    verdict = verify(list(texts), SHEET, DATA, MACHINE, dialect=dialect, planned=planned)
    assert verdict.is_as_planned, [(f.code, f.message) for f in verdict.faults]
    assert verdict.parts_freed == 4 and verdict.pierces == 3 + 1 + 2 + 1


def link_line(text: str, which: int = 0) -> tuple[int, str]:
    """The block that ends where a link's straight way goes over into the next lead-in."""
    _, run = chained()
    lead = run.choices[0]
    at = lead.path.vertices
    lengths = np.concatenate([[0.0], np.cumsum(lead.path.segments.length)])
    start = lead.links[which][0]
    k = int(np.flatnonzero(lengths > start + 1e-6)[0]) + 1
    x, y = at[k, :2]
    for number, line in enumerate(text.splitlines()):
        found = re.findall(r"([XY])([-.\d]+)", line)
        words = {w: float(v) for w, v in found}
        if abs(words.get("X", 1e9) - x) < 0.002 and abs(words.get("Y", 1e9) - y) < 0.002:
            return number, line
    raise AssertionError("the link is not in the text")


def spoilt(edit) -> set[str]:
    (text,), dialect, planned = written()
    number, line = link_line(text)
    lines = text.splitlines()
    lines[number : number + 1] = edit(line)
    return codes(["\n".join(lines) + "\n"], dialect, planned)


def test_a_link_bent_into_a_part_is_refused() -> None:
    # On its way the torch runs over the gusset above.
    assert "bite" in spoilt(lambda line: ["G1 X70 Y130", line])


def test_a_link_bent_in_scrap_into_another_kerf_is_refused() -> None:
    assert "link" in spoilt(lambda line: ["G1 X95 Y108.2", "G1 X100 Y108.2", line])


def test_a_link_at_another_feed_is_refused() -> None:
    assert "feed" in spoilt(lambda line: [f"{line} F900", "F1800"])


def test_a_run_that_makes_parts_of_another_is_refused() -> None:
    texts, dialect, planned = written()
    cuts = [
        replace(cut, makes=(*cut.makes[:2], PlannedMake("gusset", 1))) if len(cut.makes) == 3 else cut
        for cut in planned.cuts
    ]
    assert "extra-cut" in codes(texts, dialect, replace(planned, cuts=tuple(cuts)))


def test_the_links_of_a_chain_are_where_its_path_says() -> None:
    _, run = chained()
    lead = run.choices[0]
    assert len(lead.links) == 2 and len(run.makes) == len(lead.along) == 3
    assert run.frees == (0, 1, 2)
    made = sum(end - start for start, end in lead.along)
    between = sum(end - start for start, end in lead.links)
    whole = lead.lead_in_length + made + between + lead.lead_out_length
    assert whole == pytest.approx(float(length(lead.path)), abs=1e-6)
