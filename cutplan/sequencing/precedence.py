"""What must be cut before what, as a graph; how good an order is, is left to others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import networkx as nx

from cutplan.base.errors import SequencingError
from cutplan.cutting import Cut
from cutplan.sequencing.model import SequenceOptions

__all__ = ["MARKED", "cut_name", "must_precede", "precedence_graph"]

MARKED = "all marks made"
"""Node between the last mark and the first cut of a sheet; it stands for no cut."""


def cut_name(cut: Cut) -> str:
    """Return what a person calls the cut."""
    what = f"hole {cut.hole + 1}" if cut.kind == "hole" and cut.hole is not None else cut.kind
    return f"{what} of {cut.part} copy {cut.copy}"


def precedence_graph(cuts: Sequence[Cut], options: SequenceOptions) -> nx.DiGraph:
    """Return the graph whose edges lead from what comes first to what comes later.

    Nodes are indices into `cuts`, and `MARKED` where the whole sheet is marked first.  Each
    edge has a `reason`.

    Raises
    ------
    SequencingError
        If the demands go round in a circle; the message names the chain.
    """
    graph = nx.DiGraph()
    graph.add_nodes_from(range(len(cuts)))
    _add_marks(graph, cuts, options)
    _add_parts(graph, cuts)
    _add_nested(graph, cuts)
    _add_starts(graph, cuts)
    _add_pins(graph, cuts, options)
    _refuse_circles(graph, cuts)
    return graph


def _add(graph: nx.DiGraph, first: Any, then: Any, reason: str) -> None:
    if not graph.has_edge(first, then):
        graph.add_edge(first, then, reason=reason)


def _add_marks(graph: nx.DiGraph, cuts: Sequence[Cut], options: SequenceOptions) -> None:
    marks = [i for i, cut in enumerate(cuts) if cut.kind == "mark"]
    others = [i for i, cut in enumerate(cuts) if cut.kind != "mark"]
    if options.marks == "sheet" and marks:
        for i in marks:
            _add(graph, i, MARKED, "marks come first")
        for i in others:
            _add(graph, MARKED, i, "marks come first")
        return
    for i in marks:
        for j in others:
            if cuts[i].placement == cuts[j].placement:
                _add(graph, i, j, "marks come before the cuts of their part")


def _add_parts(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    outers = {cut.placement: i for i, cut in enumerate(cuts) if cut.kind == "outer"}
    for i, cut in enumerate(cuts):
        if cut.kind == "hole" and cut.placement in outers:
            _add(graph, i, outers[cut.placement], "holes come before the outside of their part")


def _add_nested(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    holes: dict[int, list[int]] = {}
    for i, cut in enumerate(cuts):
        if cut.kind == "hole":
            holes.setdefault(cut.placement, []).append(i)
    for i, cut in enumerate(cuts):
        if cut.inside_of is None:
            continue
        for j in _holes_around(cut, cuts, holes.get(cut.inside_of, [])):
            _add(graph, i, j, "parts in a hole come before that hole")


def _add_starts(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    outers = {cut.placement: i for i, cut in enumerate(cuts) if cut.kind == "outer"}
    for i, cut in enumerate(cuts):
        for placement in cut.starts_before:
            if placement in outers:
                _add(graph, i, outers[placement], "its start lies by the kerf of the other")


def _holes_around(cut: Cut, cuts: Sequence[Cut], holes: list[int]) -> list[int]:
    """Return the hole that the cut lies in; all of them where that cannot be told."""
    low, high = cut.contour.points.min(axis=0), cut.contour.points.max(axis=0)
    around = [
        j
        for j in holes
        if (cuts[j].contour.points.min(axis=0) <= low).all()
        and (cuts[j].contour.points.max(axis=0) >= high).all()
    ]
    return around or holes


def _add_pins(graph: nx.DiGraph, cuts: Sequence[Cut], options: SequenceOptions) -> None:
    for pin in options.pin:
        firsts = [i for i, cut in enumerate(cuts) if pin.first.matches(cut)]
        thens = [i for i, cut in enumerate(cuts) if pin.then.matches(cut)]
        for which, found in ((pin.first, firsts), (pin.then, thens)):
            if not found:
                raise SequencingError(
                    f"a pinned order names {which}, which is not on this sheet",
                    remedy="check part, copy, kind and hole",
                )
        for i in firsts:
            for j in thens:
                if i != j:
                    _add(graph, i, j, "pinned")


def _refuse_circles(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    try:
        circle = nx.find_cycle(graph)
    except nx.NetworkXNoCycle:
        return
    names = [node if node == MARKED else cut_name(cuts[node]) for node, _ in circle]
    chain = " → ".join([*names, names[0]])
    reasons = sorted({graph.edges[edge]["reason"] for edge in circle})
    first = next((node for node, _ in circle if node != MARKED), None)
    place = None if first is None else cuts[first].choices[0].pierce
    raise SequencingError(
        f"the demands on the order go round in a circle: {chain} ({'; '.join(reasons)})",
        place=place,
        remedy="take out a pin",
    )


def must_precede(graph: nx.DiGraph, count: int) -> list[set[int]]:
    """Return for each cut all cuts that must come before it, through any chain.

    The sheet's marks are left out: they are a stage of their own, before every other cut.
    """
    plain = graph.subgraph([node for node in graph if node != MARKED])
    before: list[set[int]] = [set() for _ in range(count)]
    for node in nx.topological_sort(plain):
        for earlier in plain.predecessors(node):
            before[node] |= before[earlier] | {earlier}
    return before
