"""An order kept from before, or held by hand: what must come first goes first, the rest stays."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import networkx as nx
import numpy as np

from cutplan.base.errors import SequencingError
from cutplan.cutting import Cut, cut_name, made_name
from cutplan.sequencing.anneal import Found
from cutplan.sequencing.best_places import best_places
from cutplan.sequencing.model import CutKey, Kept
from cutplan.sequencing.precedence import MARKED
from cutplan.sequencing.problem import FloatArray, Problem

__all__ = ["cut_keys", "kept_order"]


def cut_keys(cuts: Sequence[Cut]) -> list[CutKey]:
    """Return what names each cut of a sheet, in whatever order they are given.

    Parameters
    ----------
    cuts : sequence of Cut
        All cuts of the sheet.

    Returns
    -------
    list of CutKey
        Runs of one contour are numbered along it, marks and cuts of the plate by where they begin.
    """
    several: dict[tuple[str, int, str], list[int]] = {}
    for i, cut in enumerate(cuts):
        first = cut.makes[0] if cut.makes else None
        name = ("", 0, cut.kind) if first is None else (first.part, first.copy, made_name(cut.kind, first))
        several.setdefault(name, []).append(i)
    keys: list[CutKey] = [("", 0, "", 0)] * len(cuts)
    for name, members in several.items():
        for run, i in enumerate(sorted(members, key=lambda i: _along(cuts[i])), start=1):
            keys[i] = (*name, run)
    return keys


def _along(cut: Cut) -> tuple[float, float, float]:
    first = cut.makes[0] if cut.makes else None
    at = 0.0 if first is None or first.span is None else first.span[0]
    x, y = cut.choices[0].pierce
    return (at, x, y)


def kept_order(cuts: Sequence[Cut], problem: Problem, graph: nx.DiGraph, kept: Kept) -> Found:
    """Return an order that keeps to another, each cut with its best start.

    Raises
    ------
    SequencingError
        If the order is to be kept exactly and something must be cut otherwise.
    """
    rank = _ranks(cuts, kept)
    plain = graph.subgraph([node for node in graph if node != MARKED])
    order = list(
        nx.lexicographical_topological_sort(plain, key=lambda i: (int(problem.stage[i]), float(rank[i]), i))
    )
    if kept.exactly:
        _refuse_others(cuts, plain, order, rank)
    stops = len(cuts)
    whole = np.array([stops, *order, stops + 1], dtype=np.int64)
    place = problem.first[:-1].copy()
    cost = float(best_places(problem, whole, place))
    return Found(
        whole,
        place,
        cost,
        {"iterations": 0.0, "accepted": 0.0, "first_cost": cost, "stopped": 0.0, "cost": cost},
    )


def _ranks(cuts: Sequence[Cut], kept: Kept) -> FloatArray:
    """Return where each cut stands in the order; one that is not named stands behind the named one nearest to it."""
    place = {key: float(n) for n, key in enumerate(kept.keys)}
    keys = cut_keys(cuts)
    rank = np.array([place.get(key, np.nan) for key in keys])
    named = np.flatnonzero(~np.isnan(rank))
    if not len(named):
        return np.zeros(len(cuts))
    pierces = np.array([cut.choices[0].pierce for cut in cuts])
    for i in np.flatnonzero(np.isnan(rank)).tolist():
        mine = [j for j in named.tolist() if set(cuts[j].placements) & set(cuts[i].placements)]
        among = np.array(mine or named.tolist())
        away = np.hypot(*(pierces[among] - pierces[i]).T)
        rank[i] = place[keys[int(among[int(away.argmin())])]] + 0.5
    return rank


def _refuse_others(cuts: Sequence[Cut], graph: nx.DiGraph, order: Sequence[int], rank: FloatArray) -> None:
    for here, then in pairwise(order):
        if rank[then] >= rank[here]:
            continue
        # The earlier one had to wait: for what?
        waits = [i for i in graph.predecessors(then) if rank[i] > rank[then]]
        first = max(waits, key=lambda i: rank[i]) if waits else here
        reason = (
            graph.edges[first, then]["reason"] if graph.has_edge(first, then) else "its stage comes later"
        )
        raise SequencingError(
            f"the order asks for the {cut_name(cuts[then])} before the {cut_name(cuts[first])}: {reason}",
            place=cuts[then].choices[0].pierce,
            remedy="change the order",
        )
