"""What must be cut before what, as a graph; how good an order is, is left to others."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

import networkx as nx
import numpy as np

from cutplan.base.errors import SequencingError
from cutplan.cutting import Cut, CutKind, cut_name
from cutplan.sequencing.model import SequenceOptions

__all__ = ["MARKED", "must_precede", "precedence_graph"]

MARKED = "all marks made"
"""Node between the last mark and the first cut of a sheet; it stands for no cut."""


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
    _add_scrap(graph, cuts)
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
            if set(cuts[i].placements) & set(cuts[j].placements):
                _add(graph, i, j, "marks come before the cuts of their part")


def _cuts_by_placement(cuts: Sequence[Cut], kind: CutKind) -> dict[int, list[int]]:
    """Return for each placement the cuts of a kind that make something of it."""
    found: dict[int, list[int]] = {}
    for i, cut in enumerate(cuts):
        if cut.kind == kind:
            for placement in cut.placements:
                found.setdefault(placement, []).append(i)
    return found


def _add_parts(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    outers = _cuts_by_placement(cuts, "outside")
    for placement, holes in _cuts_by_placement(cuts, "hole").items():
        for i in holes:
            for j in outers.get(placement, ()):
                _add(graph, i, j, "holes come before the outside of their part")
    for placement, several in outers.items():
        turns = sorted((i for i in several if cuts[i].turn is not None), key=lambda i: cuts[i].turn or 0)
        for i, j in itertools.pairwise(turns):
            _add(graph, i, j, "the sides of a slender part are cut in turns")
        for j in several:
            if placement in cuts[j].frees:
                for i in several:
                    if i != j:
                        _add(graph, i, j, "the run that frees a part is its last")


def _add_nested(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    holes = _cuts_by_placement(cuts, "hole")
    for i, cut in enumerate(cuts):
        if cut.inside_of is None:
            continue
        for j in _holes_around(cut, cuts, cut.inside_of, holes.get(cut.inside_of, [])):
            _add(graph, i, j, "parts in a hole come before that hole")


def _add_starts(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    outers = _cuts_by_placement(cuts, "outside")
    for i, cut in enumerate(cuts):
        for placement in cut.starts_before:
            for j in outers.get(placement, ()):
                _add(graph, i, j, "its start lies by the kerf of the other")


def _add_scrap(graph: nx.DiGraph, cuts: Sequence[Cut]) -> None:
    """Add that the plate itself is cut up after the parts, and its rest parted last of all."""
    for kind, before in (("skeleton", ("hole", "outside")), ("rest", ("hole", "outside", "skeleton"))):
        for j in [j for j, cut in enumerate(cuts) if cut.kind == kind]:
            for i in [i for i, cut in enumerate(cuts) if cut.kind in before]:
                _add(graph, i, j, "the plate is cut up after the parts")


def _holes_around(cut: Cut, cuts: Sequence[Cut], host: int, holes: list[int]) -> list[int]:
    """Return the cuts of the hole that a cut lies in; all of them where that cannot be told."""
    points = np.vstack([made.contour.points for made in cut.makes])
    low, high = points.min(axis=0), points.max(axis=0)
    around = [
        j
        for j in holes
        for made in cuts[j].makes
        if made.placement == host
        and (made.contour.points.min(axis=0) <= low).all()
        and (made.contour.points.max(axis=0) >= high).all()
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
    if nx.is_directed_acyclic_graph(graph):
        return
    circle = nx.find_cycle(graph)
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
