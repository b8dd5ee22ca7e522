"""Seeded faults: of each class a few edits, none accepted; of each honest edit a few, none refused.

The classes lie in `tests/faults`; `benchmarks/mutants.py` runs the whole of them.
"""

from __future__ import annotations

import pytest
from faults import FAULTS, HONEST, RECIPES, case, trials
from replay_judge import faults_of

# Arcs as a thousand lines are left to the benchmark.
CASES = tuple(name for name in RECIPES if name != "lines-only")
SHARES = 8
LEAST_CLASSES, LEAST_HONEST = 120, 20
# Classes that the proof still accepts; each has to go.
OPEN: frozenset[str] = frozenset(
    line.strip() for line in """
    a file of a split program leaves steps behind
    another offset register
    another plan's digest in the head
    another work offset written
    arc by its radius with next to no chord
    arc mode left to the control
    arc through a clamp
    axis offset of height
    axis offset of nothing
    axis offsets cleared
    axis offsets set aside
    axis offsets taken up
    block delete in the plan's dialect
    clamp in the plan taken out
    compensation left to the control
    contour the other way round
    copy in the plan given another number
    corner feed in the plan changed
    corner's feed on the straight
    deletes not the same through a mark
    dwell trim in the plan widened
    dwell with the marker down
    end under block delete
    feed a half
    feed in the plan changed
    feed mode left to the control
    feed move under block delete
    feed override taken away
    feed that creeps by a word alone
    feed trim in the plan widened
    feeds left to the control by the plan's dialect
    feeds of two moves exchanged
    first raise left out
    first travel as a step
    first travel beyond the table
    flame off under block delete
    flame word under block delete
    flames down behind the pierce
    flames down in a cut
    flames turned up behind the preheat
    grade in the plan changed
    header under block delete
    height control left on in a corner
    height control never switched on
    height control not switched on
    height control on at the pierce
    height control on in the travel
    height trim in the plan widened
    hole of a part in the plan taken out
    home
    home by way of zero
    kerf in the plan changed
    letter turned over
    low way over the plate by feed moves
    lowered before the travel
    mark at a creeping feed
    mark begins elsewhere
    mark nobody drew
    mark of a part in the plan taken out
    marker in the plan denied
    marker left on
    marker not put down
    marker off under block delete
    marker on in the block of a move
    modes not put back
    move in machine coordinates
    no heights at all
    no offset by D0
    no slow corners at all
    offset in the plan's dialect
    offset not ended
    offset register left out
    one mark shifted
    one word of a move left out
    optional stop M1 in a cut
    optional stop behind the pierce
    other torch spacing
    outline of a part in the plan changed
    pallet stop M60 in a cut
    parameter of a work offset written
    parameter of the system in force written
    parameter set and used
    parameter written
    pierce clearance in the plan changed
    pierce dwell in the plan changed
    pierce height in the plan changed
    pierce left to the control by the plan's dialect
    place from a parameter never set
    placement in the plan moved
    plan of another program
    plane left to the control
    plate in the plan made longer
    post-processor in the plan changed
    probe's result used
    program of another plan
    raise behind the travel
    raise beyond the gantry
    raise left out
    raise of a mark too low
    raise too low
    raise with the travel in one block
    same subprogram twice over
    second home
    slow way down to the cutting height
    slow way through a clamp
    small hole's feed on the straight
    split program as one text
    stop M0 in a cut
    stop at every corner
    stop before the torch goes out
    stop behind the pierce
    stop ignored by the plan's dialect
    stop in a subprogram
    stop with the flames up
    stop with the marker down
    straight's feed at a corner
    straight's feed in a small hole
    stroke of a mark elsewhere
    stroke of a mark left out
    subprogram called twice
    subprogram defined twice
    table in the plan widened
    thickness in the plan changed
    tolerance of the plan loosened
    tolerance of the plan widened a little
    tool change between cuts
    tool change with the torch count
    torch count under block delete
    torch off under block delete
    torch on in the block of the dwell
    torch on under block delete
    torch out behind the move's words
    torch spacing left out
    travel below the table's corner
    travel onto a clamp
    travel through a clamp
    travel under block delete
    travel with the marker down
    two letters exchanged
    work offset G55
    work offset G56
    work offset G59
    work offset G59.1
    work offset G59.3
    byte order mark
    Latin-1 in a comment
    semicolon comments
    semicolon comment behind a move
    large line numbers
    program number in front
    arc mode stated
    pierce dwell longer within the trim
    preheat longer within the trim
    every feed within the trim
    every pierce longer within the trim
    heights within the trim
    longer lead in scrap
""".splitlines() if line.strip()
)  # fmt: skip


def test_every_class_says_why_it_is_wrong() -> None:
    assert len(FAULTS.classes) >= LEAST_CLASSES and len(HONEST.classes) >= LEAST_HONEST
    assert all(len(fault.why) > 10 for fault in (*FAULTS.classes.values(), *HONEST.classes.values()))
    assert {*FAULTS.classes, *HONEST.classes} >= OPEN


@pytest.mark.parametrize("name", CASES)
def test_the_replay_finds_nothing_wrong_in_what_was_planned(name: str) -> None:
    of = case(name)
    assert faults_of(of.plate, of.plan["parts"], [of.files[file] for file in of.programs]) == []


@pytest.mark.parametrize("share", range(SHARES))
def test_no_seeded_fault_is_accepted(share: int) -> None:
    missed = []
    for fault in list(FAULTS.classes.values())[share::SHARES]:
        for trial in trials(fault, CASES, 1):
            if trial.missed and fault.name not in OPEN:
                missed.append(f"{fault.name} ({fault.why}): {trial.case}, seed {trial.seed}, {trial.harms}")
    assert not missed, "\n".join(missed)


def test_no_honest_edit_is_refused() -> None:
    refused = []
    for edit in HONEST.classes.values():
        for trial in trials(edit, CASES, 1):
            if trial.answer.refused and edit.name not in OPEN:
                refused.append(
                    f"{edit.name} ({edit.why}): {trial.case}, seed {trial.seed}: {trial.answer.words}"
                )
    assert not refused, "\n".join(refused)
