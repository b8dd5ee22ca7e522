"""Chaining of directed pieces into closed loops, where touches leave more than one way on.

At every node of a sound set of pieces as many arrive as leave.  Nearly always that is one
and one, and the loops follow at once.  Where a neck closes exactly or two stretches touch,
pieces that run back over each other are taken out, doubtful pieces are taken in where a
node needs them, and loops part company at every node that they share.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import kernels, raw_offset
from cutplan.geometry.path import FloatArray

__all__ = ["Pieces", "chain"]

IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Pieces:
    """Directed pieces of curves between nodes, a row each.

    Attributes
    ----------
    tail, head : ndarray of int, shape (n,)
        Nodes at the first and the last point.
    sure : ndarray of bool, shape (n,)
        Whether a piece must be taken; others are taken where the balance needs them.
    curves : ndarray, shape (m, 12)
        Table of the curves that the pieces belong to, see `cutplan.geometry.kernels`.
    curve : ndarray of int, shape (n,)
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
        t = float(self.begin[k] + share * (self.end[k] - self.begin[k]))
        return np.array(kernels.point_on(self.curves, self.curve[k], t))

    def length(self, k: int) -> float:
        """Return the length of piece k, mm."""
        return float((self.end[k] - self.begin[k]) * self.curves[self.curve[k], kernels.LENGTH])


def chain(pieces: Pieces, tolerance: float) -> list[IntArray] | None:
    """Return loops of piece numbers in order, none through a node twice.

    None where the pieces do not close.
    """
    taken = np.flatnonzero(pieces.sure)
    if not _balanced(pieces, taken, once=True):
        resolved = _balance(pieces, _without_returns(pieces, taken, tolerance))
        if resolved is None:
            return None
        taken = resolved
    following = _pairing(pieces, taken)
    order, begins = raw_offset.follow(following)
    loops: list[IntArray] = []
    for k in range(len(begins) - 1):
        loops += _parted(taken[order[begins[k] : begins[k + 1]]], pieces)
    return loops


def _balanced(pieces: Pieces, taken: IntArray, *, once: bool) -> bool:
    """Return whether as many pieces arrive as leave everywhere (at most one, if `once`)."""
    size = int(max(pieces.tail.max(initial=0), pieces.head.max(initial=0))) + 1
    leaving = np.bincount(pieces.tail[taken], minlength=size)
    arriving = np.bincount(pieces.head[taken], minlength=size)
    return bool((leaving == arriving).all() and (not once or leaving.max(initial=0) <= 1))


def _without_returns(pieces: Pieces, taken: IntArray, tolerance: float) -> IntArray:
    """Take out pairs of pieces that run the same way back: a neck of no width."""
    waiting: dict[tuple[int, int], list[int]] = defaultdict(list)
    gone: set[int] = set()
    for k in taken.tolist():
        tail, head = int(pieces.tail[k]), int(pieces.head[k])
        for other in waiting[head, tail]:
            apart = pieces.point(k, 0.5) - pieces.point(other, 0.5)
            if other not in gone and np.abs(apart).max() <= tolerance:
                gone |= {k, other}
                break
        else:
            waiting[tail, head].append(k)
    return np.array([k for k in taken.tolist() if k not in gone], dtype=np.int64)


def _balance(pieces: Pieces, taken: IntArray) -> IntArray | None:
    """Add doubtful pieces until as many leave each node as arrive; None where none lead on."""
    surplus: dict[int, int] = defaultdict(int)
    for k in taken.tolist():
        surplus[int(pieces.head[k])] += 1
        surplus[int(pieces.tail[k])] -= 1
    ways: dict[int, list[int]] = defaultdict(list)
    for k in np.flatnonzero(~pieces.sure).tolist():
        ways[int(pieces.tail[k])].append(k)
    added: list[int] = []
    for node in [n for n, s in surplus.items() if s > 0]:
        while surplus[node] > 0:
            way = _way_on(node, surplus, ways, pieces.head)
            if way is None:
                return None
            for k in way:
                ways[int(pieces.tail[k])].remove(k)
            surplus[node] -= 1
            surplus[int(pieces.head[way[-1]])] += 1
            added += way
    return np.sort(np.concatenate([taken, np.array(added, dtype=np.int64)]))


def _way_on(
    node: int, surplus: dict[int, int], ways: dict[int, list[int]], head: IntArray
) -> list[int] | None:
    """Return the fewest doubtful pieces from a node to one that lacks an arrival."""
    came: dict[int, tuple[int, int]] = {}
    queue = deque([node])
    while queue:
        at = queue.popleft()
        for k in ways.get(at, []):
            to = int(head[k])
            if to == node or to in came:
                continue
            came[to] = (at, k)
            if surplus.get(to, 0) < 0:
                way = []
                while to != node:
                    to, k = came[to]
                    way.append(k)
                return way[::-1]
            queue.append(to)
    return None


def _pairing(pieces: Pieces, taken: IntArray) -> IntArray:
    """Return for each taken piece the one that follows it, as positions in `taken`.

    With several ways on, the sharpest turn to the left is taken: what lies left of the
    pieces falls apart at its touches.
    """
    by_tail = taken[np.argsort(pieces.tail[taken], kind="stable")]
    position = np.empty(len(pieces.tail), dtype=np.int64)
    position[taken] = np.arange(len(taken))
    tails = pieces.tail[by_tail]
    begin = np.searchsorted(tails, pieces.head[taken], side="left")
    following = position[by_tail[np.minimum(begin, len(by_tail) - 1)]]
    leaving, counts = np.unique(tails, return_counts=True)
    for node in leaving[counts > 1].tolist():
        outgoing = by_tail[
            np.searchsorted(tails, node, "left") : np.searchsorted(tails, node, "right")
        ].tolist()
        incoming = taken[pieces.head[taken] == node].tolist()
        for arriving, departing in _turns(pieces, incoming, outgoing):
            following[position[arriving]] = position[departing]
    return following


def _turns(pieces: Pieces, incoming: list[int], outgoing: list[int]) -> list[tuple[int, int]]:
    """Pair the pieces that arrive at a node with those that leave it."""
    # Seen from as near as the shortest piece allows, tangent pieces part by their curvature.
    reach = 0.5 * min(pieces.length(k) for k in incoming + outgoing)
    choices = []
    for a in incoming:
        u = pieces.point(a, 1.0 - reach / pieces.length(a)) - pieces.point(a, 1.0)
        for b in outgoing:
            v = pieces.point(b, reach / pieces.length(b)) - pieces.point(b, 0.0)
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
