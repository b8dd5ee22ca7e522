"""Chaining of directed pieces into closed loops, where touches leave more than one way on.

At every node of a sound set of pieces as many arrive as leave.  Nearly always that is one
and one, and the loops follow at once.  Where a neck closes exactly or two stretches touch,
pieces that run back over each other are taken out, doubtful pieces are taken in where a
node needs them, and loops part company at every node that they share.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.index import LENGTH, points_on
from cutplan.geometry.path import FloatArray

__all__ = ["Pieces", "chain"]

IntArray = NDArray[np.int64]

# Past the crossing of two curves that meet at a slight angle, stretches up to this, mm, keep
# the distance as far as can be told; they lead nowhere.
_LONGEST_SPUR = 0.05


@dataclass(frozen=True, eq=False)
class Pieces:
    """Directed pieces of curves between nodes, a row each.

    Attributes
    ----------
    tail, head : ndarray of int, shape (n,)
        Nodes at the first and the last point.
    sure : ndarray of bool, shape (n,)
        Whether a piece belongs to the loops beyond doubt; others are taken where the balance
        needs them.
    curves : ndarray, shape (m, 12)
        Table of the curves that the pieces belong to.
    curve : ndarray of int, shape (n,)
        The row of each.
    begin, end : ndarray, shape (n,)
        Fractions along the curve.
    """

    tail: IntArray
    head: IntArray
    sure: NDArray[np.bool_]
    curves: FloatArray
    curve: IntArray
    begin: FloatArray
    end: FloatArray

    def point(self, k: int, share: float) -> FloatArray:
        """Return the point at a share of the way along piece k."""
        t = self.begin[k : k + 1] + share * (self.end[k : k + 1] - self.begin[k : k + 1])
        return np.asarray(points_on(self.curves[self.curve[k : k + 1]], t)[0])

    def length(self, k: int) -> float:
        """Return the length of piece k, mm."""
        return float((self.end[k] - self.begin[k]) * self.curves[self.curve[k], LENGTH])


def chain(pieces: Pieces, tolerance: float) -> tuple[list[IntArray] | None, bool]:
    """Return loops of piece numbers in order, none through a node twice.

    None where the pieces do not close.  Points within the tolerance, mm, coincide.  Also
    return whether the pieces closed of themselves, without a touch to decide.
    """
    taken = np.flatnonzero(pieces.sure)
    plain = _plain(pieces, taken)
    if not plain:
        balanced = _balance(pieces, _without_copies(pieces, taken, tolerance))
        if balanced is None:
            return None, False
        taken = balanced
    following = _pairing(pieces, taken).tolist()
    loops: list[IntArray] = []
    seen = [False] * len(following)
    for start in range(len(following)):
        loop = []
        at = start
        while not seen[at]:
            seen[at] = True
            loop.append(at)
            at = following[at]
        if loop:
            loops += [taken[loop]] if plain else _parted(taken[loop], pieces)
    return loops, plain


def _plain(pieces: Pieces, taken: IntArray) -> bool:
    """Return whether one piece arrives at every node, and one leaves it."""
    tails, heads = np.sort(pieces.tail[taken]), np.sort(pieces.head[taken])
    return bool(np.array_equal(tails, heads) and (np.diff(tails) > 0).all())


def _without_copies(pieces: Pieces, taken: IntArray, tolerance: float) -> IntArray:
    """Take out one of two pieces that run the same way, and both of two that run opposite ways.

    The first are curves that meet almost in one direction, the second a neck of no width.
    """
    lower, upper = np.minimum(pieces.tail, pieces.head), np.maximum(pieces.tail, pieces.head)
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    gone: set[int] = set()
    for k in taken.tolist():
        group = groups[int(lower[k]), int(upper[k])]
        for other in group:
            if np.abs(pieces.point(k, 0.5) - pieces.point(other, 0.5)).max() <= tolerance:
                gone.add(k)
                if pieces.tail[k] != pieces.tail[other]:
                    gone.add(other)
                    group.remove(other)
                break
        else:
            group.append(k)
    return np.array([k for k in taken.tolist() if k not in gone], dtype=np.int64)


def _balance(pieces: Pieces, taken: IntArray) -> IntArray | None:
    """Add doubtful pieces, or take spurs out, until as many leave each node as arrive.

    None where nothing of the kind does it.
    """
    surplus: dict[int, int] = defaultdict(int)
    inside = set(taken.tolist())
    for k in inside:
        surplus[int(pieces.head[k])] += 1
        surplus[int(pieces.tail[k])] -= 1
    if not any(surplus.values()):
        return taken
    touching: dict[int, list[int]] = defaultdict(list)
    for k in range(len(pieces.tail)):
        touching[int(pieces.tail[k])].append(k)
        touching[int(pieces.head[k])].append(k)
    for node in [n for n, s in surplus.items() if s > 0]:
        while surplus[node] > 0:
            found = _way_on(node, surplus, pieces, inside, touching)
            if found is None:
                return None
            last, changed = found
            inside ^= set(changed)
            surplus[node] -= 1
            surplus[last] += 1
    return np.array(sorted(inside), dtype=np.int64)


def _way_on(
    node: int, surplus: dict[int, int], pieces: Pieces, inside: set[int], touching: dict[int, list[int]]
) -> tuple[int, list[int]] | None:
    """Find the cheapest change that leads a surplus of arrivals at a node to a node that lacks one.

    The way runs forwards along doubtful pieces, which are added, and backwards along short
    pieces taken before, which are taken out again (Dijkstra's algorithm).
    """
    queue: list[tuple[float, int, list[int]]] = [(0.0, node, [])]
    done: set[int] = set()
    while queue:
        cost, at, changed = heapq.heappop(queue)
        if surplus[at] < 0:
            return at, changed
        if at in done:
            continue
        done.add(at)
        for k in touching[at]:
            forwards = k not in inside
            if at != int(pieces.tail[k] if forwards else pieces.head[k]):
                continue
            size = pieces.length(k)
            if not forwards and size > _LONGEST_SPUR:
                continue
            to = int(pieces.head[k] if forwards else pieces.tail[k])
            heapq.heappush(queue, (cost + size, to, [*changed, k]))
    return None


def _pairing(pieces: Pieces, taken: IntArray) -> IntArray:
    """Return for each taken piece the one that follows it, as positions in `taken`.

    With several ways on, the sharpest turn to the left is taken: what lies left of the
    pieces falls apart at its touches.
    """
    order = np.argsort(pieces.tail[taken], kind="stable")
    tails, heads = pieces.tail[taken][order], pieces.head[taken]
    following = order[np.searchsorted(tails, heads)]
    for node in np.unique(tails[1:][tails[1:] == tails[:-1]]).tolist():
        incoming = np.flatnonzero(heads == node).tolist()
        outgoing = order[
            np.searchsorted(tails, node, "left") : np.searchsorted(tails, node, "right")
        ].tolist()
        for arriving, departing in _turns(pieces, taken, incoming, outgoing):
            following[arriving] = departing
    return following


def _turns(
    pieces: Pieces, taken: IntArray, incoming: list[int], outgoing: list[int]
) -> list[tuple[int, int]]:
    """Pair the pieces that arrive at a node with those that leave it, as positions in `taken`."""
    # Seen from as near as the shortest piece allows, tangent pieces part by their curvature.
    reach = 0.5 * min(pieces.length(taken[k]) for k in incoming + outgoing)
    choices = []
    for a in incoming:
        u = pieces.point(taken[a], 1.0 - reach / pieces.length(taken[a])) - pieces.point(taken[a], 1.0)
        for b in outgoing:
            v = pieces.point(taken[b], reach / pieces.length(taken[b])) - pieces.point(taken[b], 0.0)
            # Clockwise from the way back: the first way met is the sharpest left turn.
            angle = float(np.arctan2(v[0] * u[1] - v[1] * u[0], u @ v)) % (2.0 * np.pi)
            choices.append((angle, a, b))
    pairs: list[tuple[int, int]] = []
    for _, a, b in sorted(choices):
        if all(a != c and b != d for c, d in pairs):
            pairs.append((a, b))
    return pairs


def _parted(loop: IntArray, pieces: Pieces) -> list[IntArray]:
    """Split a loop at the nodes that it passes more than once."""
    tails = pieces.tail[loop]
    if len(np.unique(tails)) == len(tails):
        return [loop]
    loops: list[IntArray] = []
    open_pieces: list[int] = []
    seen: dict[int, int] = {}
    for k in loop.tolist():
        node = int(pieces.tail[k])
        if node in seen:
            start = seen[node]
            loops.append(np.array(open_pieces[start:], dtype=np.int64))
            for gone in open_pieces[start:]:
                seen.pop(int(pieces.tail[gone]), None)
            del open_pieces[start:]
        seen[node] = len(open_pieces)
        open_pieces.append(k)
    loops.append(np.array(open_pieces, dtype=np.int64))
    return loops
