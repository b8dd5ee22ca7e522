"""What must be cut before what."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from disc_sheets import disc_cut, plasma_data, sheet_of_discs, steel_plate

from cutplan.base.errors import SequencingError
from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.sequencing import Order, Pin, SequenceOptions, Which, sequence
from cutplan.sequencing.precedence import must_precede, precedence_graph


def ordered(cuts, **demands) -> Order:
    stop = demands.pop("stop", MaxIterations(500))
    machine = demands.pop("machine", Machine())
    return sequence(
        cuts, machine, plasma_data(), steel_plate(), options=SequenceOptions(**demands), stop=stop
    )


def position_of(order: Order) -> dict[int, int]:
    return {id(step.cut): number for number, step in enumerate(order.steps)}


@pytest.mark.parametrize("seed", range(6))
def test_every_order_keeps_the_precedences_and_cuts_everything_once(seed: int) -> None:
    cuts = sheet_of_discs(12, 4, seed=seed)
    order = ordered(cuts)
    at = position_of(order)
    assert sorted(at) == sorted(id(cut) for cut in cuts)
    before = must_precede(precedence_graph(cuts, SequenceOptions()), len(cuts))
    assert any(before)
    for later, earlier in enumerate(before):
        assert all(at[id(cuts[i])] < at[id(cuts[later])] for i in earlier)


def test_a_hole_is_cut_before_the_outside_of_its_part() -> None:
    cuts = [disc_cut((300, 300), 100), disc_cut((300, 300), 20, kind="hole", hole=0)]
    assert [step.cut.kind for step in ordered(cuts).steps] == ["hole", "outside"]


def test_a_part_nested_in_a_hole_is_cut_before_that_hole_but_not_before_another() -> None:
    cuts = [
        disc_cut((500, 500), 300),
        disc_cut((400, 500), 120, kind="hole", hole=0),
        disc_cut((700, 500), 30, kind="hole", hole=1),
        disc_cut((400, 500), 80, placement=1, inside_of=0, part="filler"),
    ]
    before = must_precede(precedence_graph(cuts, SequenceOptions()), 4)
    assert before == [{1, 2, 3}, {3}, set(), set()]


def test_the_whole_sheet_is_marked_before_the_first_cut() -> None:
    cuts = sheet_of_discs(6, 1)
    marks = [replace(disc_cut((200 * i + 90, 90), 5, placement=i), kind="mark", frees=()) for i in range(3)]
    kinds = [step.cut.kind for step in ordered([*cuts, *marks]).steps]
    assert kinds[:3] == ["mark"] * 3 and "mark" not in kinds[3:]


def test_a_part_can_be_finished_before_the_next_is_begun() -> None:
    cuts = sheet_of_discs(8, 4, seed=3)
    placements = [step.cut.makes[0].placement for step in ordered(cuts, parts_together=True).steps]
    changes = int(np.count_nonzero(np.diff(placements)))
    assert changes == len(set(placements)) - 1


def test_a_pin_is_kept() -> None:
    cuts = sheet_of_discs(6, 0)
    pin = Pin(first=Which(copy=5), then=Which(copy=1))
    copies = [step.cut.makes[0].copy for step in ordered(cuts, pin=(pin,)).steps]
    assert copies.index(5) < copies.index(1)


def test_a_pin_against_the_precedence_is_refused_with_the_chain_named() -> None:
    cuts = [disc_cut((300, 300), 100), disc_cut((300, 300), 20, kind="hole", hole=0)]
    # Job files once said "outer" for an outside.
    pin = Pin(first=Which(kind="outer"), then=Which(kind="hole"))  # type: ignore[arg-type]
    with pytest.raises(SequencingError, match="hole 1 of disc copy 1") as caught:
        ordered(cuts, pin=(pin,))
    assert "outside of disc copy 1" in str(caught.value)
    assert "pinned" in str(caught.value)


def test_a_pin_that_names_nothing_on_the_sheet_is_refused() -> None:
    pin = Pin(first=Which(part="gusset"), then=Which(copy=1))
    with pytest.raises(SequencingError, match="gusset"):
        ordered(sheet_of_discs(2, 0), pin=(pin,))


def test_cutting_a_part_before_its_marks_is_refused_when_the_sheet_is_marked_first() -> None:
    cuts = [disc_cut((300, 300), 100), replace(disc_cut((300, 300), 20), kind="mark", frees=())]
    pin = Pin(first=Which(kind="outside"), then=Which(kind="mark"))
    with pytest.raises(SequencingError, match="marks"):
        ordered(cuts, pin=(pin,))


@pytest.mark.parametrize("start", [(-5.0, 0.0), (0.0, 2500.0)])
def test_a_machine_that_starts_off_its_table_is_refused(start: tuple[float, float]) -> None:
    with pytest.raises(SequencingError, match="off its table"):
        ordered(sheet_of_discs(2, 0), machine=Machine(start=start))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("rapid_mm_min", 0.0),
        ("rapid_mm_min", float("nan")),
        ("acceleration_mm_s2", 0.0),
        ("raise_s", -1.0),
        ("table", (0.0, 1.0)),
    ],
)
def test_a_machine_that_cannot_work_is_never_made(key: str, value: object) -> None:
    with pytest.raises(ValueError, match=key):
        Machine(**{key: value})  # type: ignore[arg-type]


def test_the_same_seed_gives_the_same_order_twice() -> None:
    cuts = sheet_of_discs(10, 3, seed=7)
    first, second = ordered(cuts), ordered(cuts)
    assert [(id(s.cut), s.choice) for s in first.steps] == [(id(s.cut), s.choice) for s in second.steps]
    assert first.travel_s == second.travel_s


def test_an_empty_sheet_gives_an_empty_order() -> None:
    order = ordered([])
    assert order.steps == ()
    assert order.travel_s == 0.0
