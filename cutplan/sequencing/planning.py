"""Sets the order of cutting for one sheet: the story; each step is told in its own module."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from cutplan.cutting import Cut
from cutplan.errors import SequencingError
from cutplan.machine import Machine
from cutplan.process import CutData
from cutplan.sequencing.anneal import anneal
from cutplan.sequencing.formulate import formulate, motion_of
from cutplan.sequencing.model import Order, SequenceOptions, Step, Travel
from cutplan.sequencing.precedence import must_precede, precedence_graph
from cutplan.sequencing.problem import FloatArray, IntArray, move_time
from cutplan.sequencing.stopping import MaxWork, StoppingRule
from cutplan.stock import Plate

__all__ = ["sequence"]


def sequence(
    cuts: Sequence[Cut],
    machine: Machine,
    data: CutData,
    plate: Plate,
    *,
    options: SequenceOptions = SequenceOptions(),
    seed: int = 0,
    stop: StoppingRule | None = None,
    progress: Callable[[float, float], None] | None = None,
) -> Order:
    """Return the order of cutting, the lead of each cut and the travel between them.

    Parameters
    ----------
    cuts : sequence of Cut
    machine : Machine
    data : CutData
    plate : Plate
    options : SequenceOptions
    seed : int
        Same seed, same order.
    stop : StoppingRule, optional
        Default: work that grows with the number of cuts.
    progress : callable, optional
        Told the share of the effort spent and the best travel so far, s.

    Raises
    ------
    SequencingError
        If the machine cannot move, its start lies off the table, a cut has no lead, or the
        demands on the order contradict each other.
    """
    _check(cuts, machine)
    graph = precedence_graph(cuts, options)
    before = must_precede(graph, len(cuts))
    stages = np.array([0 if cut.kind == "mark" and options.marks == "sheet" else 1 for cut in cuts])
    problem = formulate(cuts, machine, options, before, stages)
    stop = stop or MaxWork(_usual_work(len(cuts)))
    found = anneal(problem, seed=seed, stop=stop, progress=progress)
    steps = _steps(cuts, machine, found.order[1:-1], found.place - problem.first[:-1])
    home = _straight(steps[-1].lead.end, machine.start, machine) if steps and options.return_home else 0.0
    return Order(
        steps=steps,
        travel_s=sum(step.travel.seconds for step in steps) + home,
        bound_s=0.0,
        statistics=found.statistics,
    )


def _usual_work(cuts: int) -> int:
    """Return iterations after which more of them gain little: some 200 a cut, on large sheets fewer."""
    return min(2_000 + 200 * cuts, 100_000 + 10 * cuts)


def _check(cuts: Sequence[Cut], machine: Machine) -> None:
    if not machine.rapid_mm_min > 0.0 or not machine.acceleration_mm_s2 > 0.0:
        raise SequencingError(
            f"the machine cannot travel: rapid speed {machine.rapid_mm_min:g} mm/min, "
            f"acceleration {machine.acceleration_mm_s2:g} mm/s²",
            where="machine",
            remedy="give both a value above zero",
        )
    if machine.raise_s < 0.0 or machine.lower_s < 0.0:
        raise SequencingError(
            "raising and lowering the torch cannot take less than no time",
            where="machine",
            remedy="give raise_s and lower_s a value of zero or more",
        )
    x, y = machine.start
    if not (0.0 <= x <= machine.table[0] and 0.0 <= y <= machine.table[1]):
        raise SequencingError(
            f"the machine's start lies off its table of {machine.table[0]:g} × {machine.table[1]:g} mm",
            where="machine",
            place=(x, y),
            remedy="move the start onto the table",
        )
    for cut in cuts:
        if not cut.choices:
            raise SequencingError(
                f"the {cut.kind} of {cut.part} copy {cut.copy} has no lead to start from",
                place=(float(cut.contour.start[0]), float(cut.contour.start[1])),
                remedy="widen the gap or shorten the leads",
            )


def _straight(start: tuple[float, float], end: tuple[float, float], machine: Machine) -> float:
    length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    travel: float = move_time(motion_of(machine), length)
    return travel + machine.raise_s + machine.lower_s


def _steps(cuts: Sequence[Cut], machine: Machine, order: IntArray, choices: IntArray) -> tuple[Step, ...]:
    steps: list[Step] = []
    at = machine.start
    for i in order:
        lead = cuts[i].choices[choices[i]]
        points: FloatArray = np.array([at, lead.pierce], dtype=np.float64)
        travel = Travel(points=points, raised=True, seconds=_straight(at, lead.pierce, machine))
        steps.append(Step(cut=cuts[i], choice=int(choices[i]), travel=travel))
        at = lead.end
    return tuple(steps)
