"""How deep the jet bites into parts, and how thick it leaves metal on them.

Bite: the torch's path comes nearer to a part than half the kerf; the difference is the depth.
Both are lines and arcs, and their distance is exact.

Left: an edge point further than half the kerf from all of the torch's path keeps metal on it;
the difference is its thickness.  An edge is measured in pieces.  On a piece the distance from
one stroke of the torch is at most that at its ends, plus a bound on how much a curve can
exceed its chord; pieces are halved until the bound is small, and the bound is added, so the
figure errs to the strict side by no more than `FINE`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.geometry import FloatArray
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, distance_to, gap_between, on_sweep

__all__ = [
    "Bite",
    "BoxIndex",
    "Coverage",
    "bites",
    "post_gaps",
    "stretches_of",
    "uncut",
]

FINE = 0.0005  # mm; bounds smaller than this are not refined any further
SHORTEST_PIECE = 0.0005  # mm
MOST_ROUNDS = 40
LONGEST_ARC_PIECE = 0.5 * math.pi


@dataclass(frozen=True, eq=False)
class Bite:
    """Pairs of torch stroke and edge nearer than the jet's radius.

    Attributes
    ----------
    stroke, edge : ndarray of int64, shape (k,)
    depth : ndarray, shape (k,)
        mm; not more than the radius, also where the torch runs inside the part.
    place : ndarray, shape (k, 2)
    """

    stroke: IntArray
    edge: IntArray
    depth: FloatArray
    place: FloatArray


class BoxIndex:
    """Boxes (xmin, ymin, xmax, ymax) to look up by place."""

    def __init__(self, boxes: FloatArray) -> None:
        self.tree = shapely.STRtree(shapely.box(*boxes.T)) if len(boxes) else None

    def pairs(self, boxes: FloatArray, margin: float) -> tuple[IntArray, IntArray]:
        """Return which of some boxes come within a margin of which of the index's."""
        if self.tree is None or not len(boxes):
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        grown = boxes + margin * np.array([-1.0, -1.0, 1.0, 1.0])
        first, second = self.tree.query(shapely.box(*grown.T))
        return first.astype(np.int64), second.astype(np.int64)


def bites(torch: Strokes, edges: Strokes, radius: float) -> Bite:
    """Return where a jet of a radius along the torch's path reaches over edges."""
    stroke, edge = BoxIndex(edges.boxes()).pairs(torch.boxes(), radius)
    distances, places = gap_between(torch[stroke], edges[edge])
    over = distances < radius
    return Bite(stroke[over], edge[over], radius - distances[over], places[over])


@dataclass(eq=False)
class Coverage:
    """How far the torch's path is from the pieces of all edges.

    Attributes
    ----------
    left : ndarray, shape (n,)
        Thickness left on each piece, mm, never negative; inf where the torch never comes near.
    place : ndarray, shape (n, 2)
        Where on the piece.
    cut : list of (pieces, runs, lengths, again)
        Pieces, the runs of the torch that cut them clean, over what length, and whether an
        earlier run has cut that length already.
    """

    left: FloatArray
    place: FloatArray
    cut: list[tuple[IntArray, IntArray, FloatArray, BoolArray]]


def uncut(pieces: Strokes, torch: Strokes, owner: IntArray, radius: float, tolerance: float) -> Coverage:
    """Return how thick metal stays on each piece.

    Parameters
    ----------
    pieces : Strokes
        Stretches of edge; points as lines without length.
    torch : Strokes
    owner : ndarray of int64
        The run that each torch stroke belongs to.
    radius : float
        Half the kerf, mm.
    tolerance : float
        Metal thicker than this need not be measured more closely.
    """
    found = Coverage(np.full(len(pieces), -np.inf), pieces.start.copy(), [])
    index = BoxIndex(torch.boxes())
    reach = radius + 2.0 * tolerance + FINE
    active, origin = _split(pieces, torch, reach)
    for _ in range(MOST_ROUNDS):
        if not len(active):
            break
        low, high = np.minimum(active.start, active.end), np.maximum(active.start, active.end)
        piece, stroke = index.pairs(np.column_stack([low, high]), reach)
        values, nearest, sure = _piece_values(active, torch, piece, stroke)
        size = active.length
        hopeless = nearest > radius + tolerance + FINE
        done = (sure <= radius + FINE) | (sure <= nearest + 0.25 * FINE) | (size < SHORTEST_PIECE) | hopeless
        sure = np.where(hopeless, nearest, np.minimum(sure, nearest + size))
        at = origin[done]
        left = np.maximum(sure[done] - radius, 0.0)
        _keep_worst(found, at, left, active.at(np.full(len(active), 0.5))[done])
        good = done[piece] & (values <= radius + tolerance)
        runs = int(owner.max(initial=0)) + 1
        cut, run = np.divmod(np.unique(piece[good] * runs + owner[stroke[good]]), runs)
        # Runs are numbered as they burn, and come in that order for each stretch.
        again = np.concatenate([[False], cut[1:] == cut[:-1]]) if len(cut) else np.zeros(0, dtype=np.bool_)
        found.cut.append((origin[cut], run, size[cut], again))
        active, origin = _halved(active[~done]), np.tile(origin[~done], 2)
    return found


def _keep_worst(found: Coverage, at: IntArray, left: FloatArray, places: FloatArray) -> None:
    order = np.argsort(left, kind="stable")
    at, left, places = at[order], left[order], places[order]
    better = left > found.left[at]
    at, left, places = at[better], left[better], places[better]
    # Of several entries for one piece the last, which is the largest, stays.
    found.left[at] = left
    found.place[at] = places


def _split(pieces: Strokes, torch: Strokes, reach: float) -> tuple[Strokes, IntArray]:
    """Return pieces cut to quarter turns and beside the ends of strokes, and where each came from.

    Between such places one stroke usually runs beside the whole piece.
    """
    turns = np.maximum(1, np.ceil(np.abs(pieces.sweep) / LONGEST_ARC_PIECE - 1e-9)).astype(np.int64)
    quarters = np.repeat(np.arange(len(pieces)), turns + 1)
    number = np.arange(len(quarters)) - np.repeat(np.cumsum(turns + 1) - turns - 1, turns + 1)
    ends = np.vstack([torch.start, torch.end])
    piece, end = BoxIndex(np.column_stack([ends, ends])).pairs(pieces.boxes(), reach)
    share = pieces[piece].share_beside(ends[end])
    inner = (share > 0.0) & (share < 1.0)
    owner = np.concatenate([quarters, piece[inner]])
    share = np.concatenate([number / turns[quarters], share[inner]])
    order = np.lexsort((share, owner))
    owner, share = owner[order], share[order]
    kept = np.flatnonzero((owner[1:] == owner[:-1]) & (share[1:] > share[:-1]))
    single = np.flatnonzero(pieces.length == 0.0)
    kept = kept[~np.isin(owner[kept], single)]
    origin = np.concatenate([single, owner[kept]])
    first = np.concatenate([np.zeros(len(single)), share[kept]])
    last = np.concatenate([np.ones(len(single)), share[kept + 1]])
    return stretches_of(pieces[origin], first, last), origin


def stretches_of(strokes: Strokes, first: NDArray[np.float64], last: NDArray[np.float64]) -> Strokes:
    """Return what lies between two shares of the length of each stroke."""
    return Strokes(
        strokes.at(first), strokes.at(last), strokes.centre, strokes.radius, strokes.sweep * (last - first)
    )


def _halved(strokes: Strokes) -> Strokes:
    n = len(strokes)
    nothing, half, whole = np.zeros(n), np.full(n, 0.5), np.ones(n)
    return Strokes.joined([stretches_of(strokes, nothing, half), stretches_of(strokes, half, whole)])


def _piece_values(
    pieces: Strokes, torch: Strokes, piece: IntArray, stroke: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return bounds on the distance of pieces from the torch's path.

    Returns
    -------
    values : ndarray, shape (number of pairs,)
        No point of the piece is further from the stroke.
    nearest : ndarray, shape (number of pieces,)
        Some point of the piece is so far from all strokes.
    sure : ndarray, shape (number of pieces,)
        No point of the piece is further from all strokes.
    """
    own, near = pieces[piece], torch[stroke]
    at_start, at_end = distance_to(own.start, near), distance_to(own.end, near)
    values = np.maximum(at_start, at_end) + _excess(own, near)
    starts, ends, sure = (np.full(len(pieces), np.inf) for _ in range(3))
    np.minimum.at(starts, piece, at_start)
    np.minimum.at(ends, piece, at_end)
    np.minimum.at(sure, piece, values)
    return values, np.maximum(starts, ends), sure


def _excess(pieces: Strokes, torch: Strokes) -> FloatArray:
    """Bound how far the distance from a stroke can exceed the larger one at a piece's ends.

    Along a piece of length s a function whose second derivative stays above -m exceeds the
    larger end by at most m s^2 / 8.  The distance from a line is convex, so only the piece's
    own curvature counts.  The distance from an arc is that from its centre less its radius
    while the piece lies in its sweep, and that from its end beyond, with no kink between.
    Elsewhere the distance changes by no more than the way: half the length.
    """
    size = pieces.length
    own = np.where(pieces.is_arc, 1.0 / np.where(pieces.is_arc, pieces.radius, 1.0), 0.0)
    before, behind = pieces.start - torch.centre, pieces.end - torch.centre
    spoke = np.maximum(np.minimum(np.hypot(*before.T), np.hypot(*behind.T)), 1e-9)
    apart = np.hypot(*(pieces.centre - torch.centre).T)
    # On a circle about C, seen from a place e from C: |d2/ds2 of the distance| <= e/(R g) + e2/g3.
    circles = np.minimum(apart * own / spoke + apart**2 / spoke**3, own + 1.0 / spoke)
    curvature = np.where(torch.is_arc, np.where(pieces.is_arc, circles, 1.0 / spoke), own)
    smooth = ~torch.is_arc | _lies_in_sweep(before, behind, torch) | _passes_one_end(pieces, torch, size)
    return np.where(smooth, np.minimum(curvature * size**2 / 8.0, 0.5 * size), 0.5 * size)


def _lies_in_sweep(before: FloatArray, behind: FloatArray, torch: Strokes) -> NDArray[np.bool_]:
    """Tell whether all of a piece, seen from an arc's centre, lies within the arc's sweep."""
    turn = np.sign(torch.sweep)
    first = np.arctan2(before[:, 1], before[:, 0])
    step = np.arctan2(behind[:, 1], behind[:, 0]) - first
    step = (step + math.pi) % (2.0 * math.pi) - math.pi
    from_start = ((first - torch.first_angle) * turn) % (2.0 * math.pi)
    reached = from_start + step * turn
    sweep = np.abs(torch.sweep)
    whole = sweep >= 2.0 * math.pi
    inside = (from_start <= sweep) & (reached >= 0.0) & (reached <= sweep)
    return np.asarray(torch.is_arc & (whole | inside))


def _passes_one_end(pieces: Strokes, torch: Strokes, size: FloatArray) -> NDArray[np.bool_]:
    """Tell whether a piece leaves an arc's sweep by one end, well away from the other end."""
    first, last = on_sweep(torch, pieces.start), on_sweep(torch, pieces.end)
    outer = np.where(first[:, None], pieces.end, pieces.start)
    to_start = np.hypot(*(outer - torch.start).T)
    to_end = np.hypot(*(outer - torch.end).T)
    return np.asarray((first != last) & (np.abs(to_start - to_end) > 2.0 * size))


def post_gaps(posts: FloatArray, torch: Strokes, reach: float) -> tuple[FloatArray, IntArray]:
    """Return how far the torch's path stays from each post, and its nearest stroke.

    The distance is inf, and the stroke -1, where it is more than `reach`.
    """
    post, stroke = BoxIndex(torch.boxes()).pairs(np.column_stack([posts, posts]), reach)
    distances = distance_to(posts[post], torch[stroke])
    order = np.lexsort((distances, post))
    post, stroke, distances = post[order], stroke[order], distances[order]
    first = np.concatenate([[True], post[1:] != post[:-1]]) if len(post) else np.zeros(0, dtype=np.bool_)
    gaps = np.full(len(posts), np.inf)
    nearest = np.full(len(posts), -1, dtype=np.int64)
    gaps[post[first]] = distances[first]
    nearest[post[first]] = stroke[first]
    return gaps, nearest
