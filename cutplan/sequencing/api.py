"""Sets the order of cutting for one sheet: the story; each step is told in its own module."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from cutplan.base.errors import NoStartError, SequencingError
from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations, StoppingRule
from cutplan.cutting import Cut, CutTime, LeadChoice, Links, cut_name, cut_time
from cutplan.geometry import FloatArray
from cutplan.process import CutData
from cutplan.sequencing.anneal import Found, anneal
from cutplan.sequencing.begun import most_open
from cutplan.sequencing.bounding import at_places, travel_bound
from cutplan.sequencing.chaining import chain_up, link_table
from cutplan.sequencing.clamps import clamps_on
from cutplan.sequencing.clear_pierces import Clashes, choose_apart, find_clashes
from cutplan.sequencing.formulate import formulate
from cutplan.sequencing.ground import survey
from cutplan.sequencing.heat import PlateHeat, heat_per_mm, plate_heat
from cutplan.sequencing.kept import kept_order
from cutplan.sequencing.link_checks import hot_links, spoilt_links
from cutplan.sequencing.model import Kept, Order, OrderHeat, SequenceOptions, Step
from cutplan.sequencing.order_heat import HeatSource, cooler_order, heat_report
from cutplan.sequencing.precedence import must_precede, precedence_graph
from cutplan.sequencing.problem import IntArray, Problem
from cutplan.sequencing.stability import stages_of
from cutplan.sequencing.travelling import Traveller, low_crossings
from cutplan.stock import Plate

__all__ = ["sequence"]


def sequence(
    cuts: Sequence[Cut],
    machine: Machine,
    data: CutData,
    plate: Plate,
    *,
    links: Links | None = None,
    options: SequenceOptions = SequenceOptions(),
    seed: int = 0,
    stop: StoppingRule | None = None,
    progress: Callable[[float, float], None] | None = None,
    kept: Kept | None = None,
) -> Order:
    """Return the order of cutting, the lead of each cut and the travel between them.

    Parameters
    ----------
    cuts : sequence of Cut
    machine : Machine
    data : CutData
    plate : Plate
    links : Links, optional
        Ways on which the torch may burn on from cut to cut: where that pays, they are one run.
    options : SequenceOptions
    seed : int
        Same seed, same order.
    stop : StoppingRule, optional
        Default: work that grows with the number of cuts.
    progress : callable, optional
        Told the share of the effort spent and the best travel so far, s.
    kept : Kept, optional
        An order that is kept; nothing is searched but the start of each cut.

    Returns
    -------
    Order

    Raises
    ------
    SequencingError
        If the machine cannot move, its start lies off the table, a cut has no lead, or the
        demands on the order contradict each other.
    """
    _check(cuts, machine, options)
    posed = _pose(cuts, links, machine, data, plate, options)
    problem = posed.problem
    heat = plate_heat(plate, data, water_table=machine.water_table) if options.heat else None
    if kept is None:
        stop = stop or MaxIterations(round(options.effort * _usual_work(len(cuts))))
        found = anneal(problem, seed=seed, stop=stop, progress=progress)
        order = found.order if heat is None else _cooled(problem, found, posed.traveller, data, heat, seed)
    else:
        found = kept_order(cuts, problem, posed.graph, kept)
        order = found.order
    if links is None or not len(problem.links.to):
        choices = found.place[:-2] - problem.first[:-3]
        return _laid(posed, order[1:-1], choices, found.statistics, data, heat)
    return _chained(posed, links, order, found.statistics, data, heat)


@dataclass(frozen=True, eq=False)
class _Posed:
    """The cuts of a sheet, or their runs in chains, as a problem."""

    problem: Problem
    graph: nx.DiGraph
    before: Sequence[set[int]]
    traveller: Traveller
    plate: Plate


def _pose(
    cuts: Sequence[Cut],
    links: Links | None,
    machine: Machine,
    data: CutData,
    plate: Plate,
    options: SequenceOptions,
) -> _Posed:
    graph = precedence_graph(cuts, options)
    if options.fixed_leads:
        _add_clashes(graph, find_clashes(cuts, data, options.torch_shifts))
    before = must_precede(graph, len(cuts))
    ground = survey(cuts, data.kerf, machine.torch_clearance_mm)
    stages = stages_of(cuts, graph, plate, options)
    table = link_table(links, cuts, machine, data, options)
    problem = formulate(cuts, machine, options, before, stages, ground.wide_hole, table)
    traveller = Traveller(cuts, machine, ground, options, clamps_on(plate, machine))
    return _Posed(problem, graph, before, traveller, plate)


def _laid(
    posed: _Posed,
    order: IntArray,
    choices: IntArray,
    statistics: Mapping[str, float],
    data: CutData,
    heat: PlateHeat | None,
) -> Order:
    """Return the order with leads that keep clear of each other, and the travel along it."""
    traveller, cuts = posed.traveller, posed.traveller.cuts
    choices = traveller.settled_choices(order, choices)
    choices, moved = choose_apart(
        find_clashes(cuts, data, traveller.options.torch_shifts), cuts, order, choices,
        lambda step, now: traveller.lead_costs(order, step, now), data,
    )  # fmt: skip
    steps = traveller.steps(order, choices)
    bound = travel_bound(posed.problem, posed.before) + traveller.fixed_s
    at_starts = at_places(posed.problem, posed.problem.first[:-3] + choices)
    counts = {
        **statistics,
        "starts_moved": float(moved),
        "bound_at_starts_s": travel_bound(at_starts, posed.before) + traveller.fixed_s,
    }
    return _as_order(steps, order, traveller, bound, counts, data, heat)


def _chained(
    posed: _Posed,
    links: Links,
    order: IntArray,
    statistics: Mapping[str, float],
    data: CutData,
    heat: PlateHeat | None,
) -> Order:
    """Return the order with its cuts joined to chains, none of whose links comes near another's kerf.

    A link that does, or that leaves another cut without a start, is given up, and the places are
    chosen anew.
    """
    cuts, machine, options = posed.traveller.cuts, posed.traveller.machine, posed.traveller.options
    barred: set[tuple[int, int]] = set()
    while True:
        runs = chain_up(posed.problem, cuts, links, order, barred)
        joined = _pose(runs.cuts, None, machine, data, posed.plate, options)
        counts = {
            **statistics,
            "links": float(len(cuts) - len(runs.cuts)),
            "links_barred": float(len(barred)),
        }
        try:
            laid = _laid(joined, runs.order, runs.choices, counts, data, heat)
        except NoStartError as none:
            if not runs.pairs:
                raise
            barred.add(runs.nearest_pair(none.place))
            continue
        members = [runs.members[i] for i in runs.order.tolist()]
        spoilt = spoilt_links(laid.steps, members, data)
        source = None
        if heat is not None:
            times = [_cut_time(step.cut, step.lead, data, joined.traveller) for step in laid.steps]
            source = HeatSource(times, data, heat)
        spoilt |= hot_links(laid.steps, members, links, source, options.ambient_c)
        if not spoilt:
            return laid
        barred |= spoilt


def _add_clashes(graph: nx.DiGraph, clashes: Clashes) -> None:
    """Add that a cut whose only start another spoils comes before that."""
    for place, spoilt in clashes.spoils.items():
        for other in spoilt:
            first, then = int(clashes.owner[other]), int(clashes.owner[place])
            if not graph.has_edge(first, then):
                graph.add_edge(first, then, reason="its start lies by the kerf of the other")


def _cooled(
    problem: Problem, found: Found, traveller: Traveller, data: CutData, heat: PlateHeat, seed: int
) -> IntArray:
    """Return the order found, or a cooler one where the shop wishes it."""
    options = traveller.options
    if options.hottest_start_c is None and options.heat_weight_s <= 0.0:
        return found.order
    chosen = found.place - problem.first[:-1]
    times = [_cut_time(cut, cut.choices[chosen[i]], data, traveller) for i, cut in enumerate(traveller.cuts)]
    return cooler_order(
        problem, traveller.cuts, found.order, found.place, HeatSource(times, data, heat), options,
        seed=seed, lift_s=0.0 if options.low_travel else traveller.lift_s,
    )  # fmt: skip


def _as_order(
    steps: tuple[Step, ...],
    order: IntArray,
    traveller: Traveller,
    bound_s: float,
    statistics: Mapping[str, float],
    data: CutData,
    heat: PlateHeat | None,
) -> Order:
    home = traveller.home_s(steps[-1].lead.end) if steps else 0.0
    travel_s = sum(step.travel.seconds for step in steps) + home
    crossings, raised_crossings = low_crossings(steps, traveller.ground, order)
    times = [_cut_time(step.cut, step.lead, data, traveller) for step in steps]
    counts = {
        **statistics,
        "lifting_s": traveller.lifting_s(steps),
        "gap": (travel_s - bound_s) / bound_s if bound_s > 0.0 else 0.0,
        "low_travels": float(sum(not step.travel.raised for step in steps)),
        "raised_over_freed": float(raised_crossings),
    }
    timed = tuple(
        replace(step, start_s=time.start_s, run_s=time.run.seconds)
        for step, time in zip(steps, times, strict=True)
    )
    planned = Order(
        steps=timed,
        travel_s=travel_s,
        bound_s=bound_s if steps else 0.0,
        crossings=crossings,
        open_parts=most_open([step.cut for step in steps]),
        statistics=counts,
        heat=OrderHeat(ambient_c=traveller.options.ambient_c),
        clamps=traveller.clamps,
    )
    return planned if heat is None else _warmed(planned, HeatSource(times, data, heat), traveller.options)


def _warmed(order: Order, source: HeatSource, options: SequenceOptions) -> Order:
    """Return an order with what the heat model says of it."""
    report = heat_report(order.steps, source, options.torch_shifts)
    ambient, limit, counts = options.ambient_c, options.hottest_start_c, dict(order.statistics)
    if limit is not None:
        counts["starts_over_limit"] = float(np.count_nonzero(report.start_rises > limit - ambient))
    return replace(
        order,
        hottest_start_c=ambient + float(report.start_rises.max(initial=0.0)),
        greatest_difference_c=report.greatest_difference,
        statistics=counts,
        heat=_warmth(report.start_rises, source.heat, source.data, ambient),
    )


def _cut_time(cut: Cut, lead: LeadChoice, data: CutData, traveller: Traveller) -> CutTime:
    marker_feed = traveller.options.marker_feed_mm_min if cut.kind == "mark" else None
    return cut_time(lead, data, traveller.machine, marker_feed_mm_min=marker_feed)


def _warmth(rises: FloatArray, heat: PlateHeat, data: CutData, ambient: float) -> OrderHeat:
    return OrderHeat(
        start_c=tuple(ambient + float(rise) for rise in rises),
        ambient_c=ambient,
        joule_mm=heat_per_mm(data),
        conductance_w_k=heat.thickness * heat.conductivity,
        diffusivity_mm2_s=heat.diffusivity,
        loss_per_s=1.0 / heat.loss_time_s,
    )


def _usual_work(cuts: int) -> int:
    """Return iterations after which more of them gain little: some 50 a cut, on large sheets fewer."""
    return min(2_000 + 50 * cuts, 50_000 + 10 * cuts)


def _check(cuts: Sequence[Cut], machine: Machine, options: SequenceOptions) -> None:
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
                f"the {cut_name(cut)} has no lead to start from",
                place=next(((float(m.contour.start[0]), float(m.contour.start[1])) for m in cut.makes), None),
                remedy="widen the gap or shorten the leads",
            )
