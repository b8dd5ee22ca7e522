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
""".splitlines() if line.strip()
)  # fmt: skip


def test_every_class_says_why_it_is_wrong() -> None:
    assert len(FAULTS.classes) >= LEAST_CLASSES and len(HONEST.classes) >= LEAST_HONEST
    assert all(len(fault.why) > 5 for fault in (*FAULTS.classes.values(), *HONEST.classes.values()))
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
