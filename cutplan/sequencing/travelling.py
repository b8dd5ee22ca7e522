"""The travel along a fixed order: raised or low, straight or round what lies loose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutplan.base.machine import Machine
from cutplan.cutting import Cut
from cutplan.geometry import FloatArray
from cutplan.sequencing.clamps import Clamps
from cutplan.sequencing.formulate import motion_of
from cutplan.sequencing.ground import Ground
from cutplan.sequencing.model import SequenceOptions, Step, Travel
from cutplan.sequencing.problem import IntArray, move_times

__all__ = ["Traveller", "low_crossings"]

SETTLING_PASSES = 2

Point = tuple[float, float]


@dataclass(frozen=True)
class Traveller:
    """Everything that the way from one cut to the next depends on but the order itself."""

    cuts: Sequence[Cut]
    machine: Machine
    ground: Ground
    options: SequenceOptions
    clamps: Clamps

    def move_times(self, lengths: FloatArray) -> FloatArray:
        """Return the time of straight moves from rest to rest, s, the same shape as `lengths`."""
        return move_times(motion_of(self.machine), lengths)

    @property
    def lift_s(self) -> float:
        """Time to raise and lower the torch between two cuts."""
        return self.machine.raise_s + self.machine.lower_s

    @property
    def fixed_s(self) -> float:
        """Time for raising and lowering that no order saves, s; what holes cost is in the hops."""
        if not self.cuts:
            return 0.0
        homeward = self.machine.raise_s if self.options.return_home else 0.0
        between = (len(self.cuts) - 1) * (self.options.low_lift_s if self.options.low_travel else self.lift_s)
        return self.machine.lower_s + between + homeward

    def lifting_s(self, steps: Sequence[Step]) -> float:
        """Return the part of the steps' travel, and of the way home, that raises and lowers the torch, s."""
        if not steps:
            return 0.0
        homeward = self.machine.raise_s if self.options.return_home else 0.0
        between = sum(self.lift_s if step.travel.raised else self.options.low_lift_s for step in steps[1:])
        return self.machine.lower_s + between + homeward

    def settled_choices(self, order: IntArray, choices: IntArray) -> IntArray:
        """Return leads by which fewer travels pass over what lies loose, where that takes less.

        Where the straight way from one cut to the next is not free, the leads of the two are
        chosen anew between the cuts around them.

        Parameters
        ----------
        order : int64, shape (n,)
            Cuts in order.
        choices : int64, shape (n,)
            Lead of each cut, by cut.
        """
        settled = choices.copy()
        step_of = _step_of(order, len(self.cuts))
        for _ in range(SETTLING_PASSES):
            for k in np.flatnonzero(self._crossed_along(order, settled, step_of)[1:-1] > 0):
                self._choose_anew(order, settled, int(k), step_of)
        return settled

    def _crossed_along(self, order: IntArray, choices: IntArray, step_of: IntArray) -> IntArray:
        leads = [self.cuts[i].choices[choices[i]] for i in order]
        starts = np.array([self.machine.start, *(lead.end for lead in leads)], dtype=np.float64)
        ends = np.array([*(lead.pierce for lead in leads), self.machine.start], dtype=np.float64)
        return self.ground.crossed(starts, ends, np.arange(len(starts)) - 1, step_of)

    def _choose_anew(self, order: IntArray, choices: IntArray, k: int, step_of: IntArray) -> None:
        """Set the leads of the cuts at steps k and k + 1 to the best between the cuts around them."""
        here, there = self.cuts[order[k]], self.cuts[order[k + 1]]
        before = self.machine.start
        if k > 0:
            before = self.cuts[order[k - 1]].choices[choices[order[k - 1]]].end
        after = [self.machine.start]
        if k + 2 < len(order):
            after = [self.cuts[order[k + 2]].choices[choices[order[k + 2]]].pierce]
        cost = (
            self._hop_costs([before], [lead.pierce for lead in here.choices], k - 1, order, step_of).T
            + self._hop_costs(
                [lead.end for lead in here.choices],
                [lead.pierce for lead in there.choices],
                k,
                order,
                step_of,
            )
            + self._hop_costs([lead.end for lead in there.choices], after, k + 1, order, step_of).T
            + np.array([lead.penalty_s for lead in here.choices])[:, None]
            + np.array([lead.penalty_s for lead in there.choices])
        )
        first, second = np.unravel_index(int(cost.argmin()), cost.shape)
        if cost[first, second] < cost[choices[order[k]], choices[order[k + 1]]] - 1e-9:
            choices[order[k]], choices[order[k + 1]] = first, second

    def lead_costs(self, order: IntArray, step: int, choices: IntArray) -> FloatArray:
        """Return what each lead of the cut at a step costs between the cuts around it, s."""
        step_of = _step_of(order, len(self.cuts))
        leads = self.cuts[order[step]].choices
        before, after = self.machine.start, self.machine.start
        if step > 0:
            before = self.cuts[order[step - 1]].choices[choices[order[step - 1]]].end
        if step + 1 < len(order):
            after = self.cuts[order[step + 1]].choices[choices[order[step + 1]]].pierce
        there = self._hop_costs([before], [lead.pierce for lead in leads], step - 1, order, step_of)
        back = self._hop_costs([lead.end for lead in leads], [after], step, order, step_of)
        return np.asarray(there[0] + back[:, 0] + np.array([lead.penalty_s for lead in leads]))

    def _hop_costs(
        self, starts: list[Point], ends: list[Point], step: int, order: IntArray, step_of: IntArray
    ) -> FloatArray:
        """Return the cost of each straight hop after a step, shape (starts, ends)."""
        pairs = np.array([(p, q) for p in starts for q in ends], dtype=np.float64)
        crossed = self.ground.crossed(pairs[:, 0], pairs[:, 1], np.full(len(pairs), step), step_of)
        costs = self.move_times(np.hypot(*(pairs[:, 1] - pairs[:, 0]).T))
        low = (
            self.options.low_travel and 0 <= step < len(order) - 1 and not self.ground.wide_hole[order[step]]
        )
        if low:
            costs += np.where(crossed > 0, self.lift_s - self.options.low_lift_s, 0.0)
        costs += self.options.crossing_weight_s * crossed
        return np.asarray(costs.reshape(len(starts), len(ends)))

    def steps(self, order: IntArray, choices: IntArray) -> tuple[Step, ...]:
        """Return the order's steps with the quickest safe travel to each."""
        step_of = _step_of(order, len(self.cuts))
        steps: list[Step] = []
        at = self.machine.start
        for number, i in enumerate(order):
            lead = self.cuts[i].choices[choices[i]]
            travel = self._travel(at, lead.pierce, number - 1, order, step_of)
            steps.append(Step(cut=self.cuts[i], choice=int(choices[i]), travel=travel))
            at = lead.end
        return tuple(steps)

    def home_s(self, end: Point) -> float:
        """Return the time of the way home."""
        if not self.options.return_home:
            return 0.0
        return self._way_s(self.clamps.way(end, self.machine.start)) + self.machine.raise_s

    def _travel(self, start: Point, end: Point, step: int, order: IntArray, step_of: IntArray) -> Travel:
        straight = np.array([start, end], dtype=np.float64)
        over = self.clamps.way(start, end)
        over_s = self._way_s(over)
        if step < 0:
            return Travel(points=over, raised=True, seconds=over_s + self.machine.lower_s)
        raised = Travel(points=over, raised=True, seconds=over_s + self.lift_s)
        if not self.options.low_travel or self.ground.wide_hole[order[step]]:
            return raised
        length = float(np.hypot(*(straight[1] - straight[0])))
        longest = length + (self.lift_s - self.options.low_lift_s) * self.machine.rapid_mm_min / 60.0
        points = self._low_way(straight, step, step_of, longest)
        if points is None:
            return raised
        seconds = self._way_s(points) + self.options.low_lift_s
        return Travel(points=points, raised=False, seconds=seconds) if seconds < raised.seconds else raised

    def _low_way(
        self, straight: FloatArray, step: int, step_of: IntArray, longest: float
    ) -> FloatArray | None:
        when = np.array([step])
        free = not self.ground.crossed(straight[:1], straight[1:], when, step_of)[0]
        if free and not self.clamps.bar(straight[:1], straight[1:], raised=False)[0]:
            return straight
        return self.ground.way_round(straight[0], straight[1], step, step_of, longest, self.clamps.low)

    def _way_s(self, points: FloatArray) -> float:
        """Return the time along a way that stops at each of its corners, s."""
        return float(self.move_times(np.hypot(*np.diff(points, axis=0).T)).sum())


def _step_of(order: IntArray, cuts: int) -> IntArray:
    step_of = np.full(cuts, cuts, dtype=np.int64)
    step_of[order] = np.arange(len(order))
    return step_of


def low_crossings(steps: Sequence[Step], ground: Ground, order: IntArray) -> tuple[int, int]:
    """Return how many low, and how many raised, travels pass over what lies loose as drawn."""
    step_of = _step_of(order, max(len(order), len(ground.wide_hole)))
    low = raised = 0
    for number, step in enumerate(steps):
        way = shapely.linestrings(step.travel.points)
        there = ground.shapes[step_of[ground.cut] < number]
        if len(there) and shapely.intersects(there, way).any():
            low, raised = low + (not step.travel.raised), raised + step.travel.raised
    return low, raised
