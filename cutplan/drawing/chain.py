"""Joining strokes end to end into closed contours.

Terminology, as in ezdxf's edge mining
--------------------------------------
node : a place where ends of strokes meet within a tolerance; its degree is their number.
leaf : a node of degree 1, a loose end.
junction : a node of degree above 2, where the way on is ambiguous.
chain : strokes joined at nodes of degree 2, from a leaf or junction to the next, or closed.

Joining happens twice: ends that coincide but for rounding first, so that strokes shorter
than the gap tolerance survive, then the loose ends that are left, over gaps.  The library's
own edge mining is not used: it takes about as long as loading the file, on drawings of many
thousands of lines, and knows one tolerance only.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.findings import Finding
from cutplan.drawing.notes import Notes, at
from cutplan.drawing.strokes import Source, Stroke
from cutplan.geometry import FloatArray

__all__ = ["WELD", "Chain", "Chains", "chain_marks", "chain_strokes", "refuse_open"]

# Ends nearer than this, mm, are one point: drawings are rounded to 1e-3 mm and finer.
WELD = 1e-3


class Chain(NamedTuple):
    """Strokes joined: vertices as in a path, and where they come from."""

    rows: FloatArray
    closed: bool
    sources: tuple[Source, ...]

    @property
    def layer(self) -> str:
        """Layer of the first entity."""
        return self.sources[0].layer

    @property
    def label(self) -> str:
        """The first entity, and how many more."""
        more = len(self.sources) - 1
        return f"{self.sources[0]}" + (f" and {more} more" if more else "")


@dataclass(frozen=True)
class Chains:
    """What strokes make when joined.

    Attributes
    ----------
    closed, loose, branching : list of Chain
        Contours, open chains, and open ones that end where more than two ends meet.
    junctions : list of Finding
        What is wrong at those places.
    """

    closed: list[Chain]
    loose: list[Chain]
    branching: list[Chain]
    junctions: list[Finding]


def chain_strokes(strokes: Sequence[Stroke], gap: float, notes: Notes) -> Chains:
    """Return what strokes make when joined where their ends meet.

    Parameters
    ----------
    strokes : sequence of Stroke
    gap : float
        Widest gap that is closed, mm.
    notes : Notes
    """
    chains = [Chain(s.rows, s.closed, (s.source,)) for s in strokes]
    closed = [chain for chain in chains if chain.closed]
    junctions: list[Finding] = []
    joined, branching = _joined([chain for chain in chains if not chain.closed], WELD, notes, junctions)
    loose = [chain for chain in joined if not chain.closed]
    closed += [chain for chain in joined if chain.closed]
    loose = _without_specks(loose, gap, notes)
    if loose and gap > WELD:
        bridged, ambiguous = _joined(loose, gap, notes, junctions)
        closed += [chain for chain in bridged if chain.closed]
        loose = [chain for chain in bridged if not chain.closed]
        branching += ambiguous
    return Chains(closed, loose, branching, junctions)


def _without_specks(chains: list[Chain], gap: float, notes: Notes) -> list[Chain]:
    """Return open chains without those that would fit into a gap: leftovers of drawing."""
    kept = []
    for chain in chains:
        if float(np.hypot(*np.ptp(chain.rows[:, :2], axis=0))) > max(gap, WELD):
            kept.append(chain)
        else:
            message = f"{chain.label} is a loose speck and was left out"
            notes.add("mended", "specks", message, at(chain.rows[0]))
    return kept


def chain_marks(strokes: Sequence[Stroke], gap: float) -> list[Chain]:
    """Return lines to mark joined where their ends meet; loose ends and crossings are fine."""
    silent = Notes()
    chains = [Chain(s.rows, s.closed, (s.source,)) for s in strokes]
    open_ones = [chain for chain in chains if not chain.closed]
    joined, branching = _joined(open_ones, max(gap, WELD), silent, [])
    return [chain for chain in chains if chain.closed] + joined + branching


def _joined(
    chains: list[Chain], tolerance: float, notes: Notes, junctions: list[Finding]
) -> tuple[list[Chain], list[Chain]]:
    """Return chains joined at nodes of degree 2, and those that end in a junction."""
    if not chains:
        return [], []
    ends = np.array([(c.rows[0, :2], c.rows[-1, :2]) for c in chains]).reshape(-1, 2)
    nodes = _nodes(ends, tolerance)
    degree = np.bincount(nodes)
    at_node: list[list[int]] = [[] for _ in degree]
    for end, node in enumerate(nodes.tolist()):
        at_node[node].append(end)
    junctions += _junctions(chains, ends, at_node)
    whole: list[Chain] = []
    branching: list[Chain] = []
    seen = np.zeros(len(chains), dtype=bool)
    # Loose ends and junctions first, so that what remains after them are closed rings.
    starts = [e for e in range(len(ends)) if degree[nodes[e]] != 2] + list(range(0, len(ends), 2))
    for start in starts:
        if seen[start // 2]:
            continue
        run, ring = _run(start, nodes, at_node, seen)
        chain = _spliced(chains, run, ring, notes)
        last = run[-1] ^ 1
        branches = not ring and max(degree[nodes[start]], degree[nodes[last]]) > 2
        (branching if branches else whole).append(chain)
    return whole, branching


def _nodes(ends: FloatArray, tolerance: float) -> NDArray[np.int64]:
    """Return a node number for each end; ends linked by steps within the tolerance share one."""
    rounded = np.round(ends / (0.01 * tolerance)).astype(np.int64)
    _, first, inverse = np.unique(rounded, axis=0, return_index=True, return_inverse=True)
    inverse = inverse.reshape(-1)
    places = shapely.points(ends[first])
    a, b = shapely.STRtree(places).query(places, predicate="dwithin", distance=tolerance)
    parent = list(range(len(first)))

    def root(node: int) -> int:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for i, j in zip(a[a < b].tolist(), b[a < b].tolist(), strict=True):
        low, high = sorted((root(i), root(j)))
        parent[high] = low
    roots = np.array([root(node) for node in range(len(parent))], dtype=np.int64)
    # Numbered in the order of the strokes, so that the order of contours is the drawing's.
    _, numbered = np.unique(roots, return_inverse=True)
    return np.asarray(numbered.reshape(-1)[inverse], dtype=np.int64)


def _run(
    start: int, nodes: NDArray[np.int64], at_node: list[list[int]], seen: NDArray[np.bool_]
) -> tuple[list[int], bool]:
    """Return the entry ends of the strokes from one end on, and whether they come back to it.

    End 2k is the start of stroke k and 2k + 1 its end; entered at one, it is left at the other.
    """
    run = [start]
    seen[start // 2] = True
    while True:
        leave = run[-1] ^ 1
        meeting = at_node[nodes[leave]]
        if len(meeting) != 2:
            return run, False
        onward = meeting[0] if meeting[1] == leave else meeting[1]
        if onward == start:
            return run, True
        if seen[onward // 2]:
            return run, False
        seen[onward // 2] = True
        run.append(onward)


def _spliced(chains: list[Chain], run: list[int], ring: bool, notes: Notes) -> Chain:
    """Return the strokes of a run as one chain, ends moved together."""
    pieces = [_travelled(chains[entry // 2].rows, backwards=bool(entry % 2)) for entry in run]
    sources = tuple(source for entry in run for source in chains[entry // 2].sources)
    label = str(sources[0])
    for before, after in itertools.pairwise(pieces):
        _meet(before, after, label, notes)
    if ring:
        _meet(pieces[-1], pieces[0], label, notes)
        return Chain(np.vstack([piece[:-1] for piece in pieces]), True, sources)
    return Chain(np.vstack([*(piece[:-1] for piece in pieces[:-1]), pieces[-1]]), False, sources)


def _travelled(rows: FloatArray, *, backwards: bool) -> FloatArray:
    if not backwards:
        return rows.copy()
    turned = rows[::-1].copy()
    turned[:-1, 2] = -rows[-2::-1, 2]
    turned[-1, 2] = 0.0
    return turned


def _meet(before: FloatArray, after: FloatArray, label: str, notes: Notes) -> None:
    """Move the end of one piece and the start of the next to one point, arcs before lines."""
    (ax, ay), (bx, by) = before[-1, :2].tolist(), after[0, :2].tolist()
    if ax == bx and ay == by:
        return
    gap = math.hypot(bx - ax, by - ay)
    a, b = np.array([ax, ay]), np.array([bx, by])
    straight = before[-2, 2] == 0.0, after[0, 2] == 0.0
    if gap <= WELD:
        point = b if straight[0] and not straight[1] else a
    else:
        notes.add("mended", "gaps", f"a gap of {gap:.3f} mm in the contour of {label} was closed", (ax, ay))
        met = _corner(before, after, gap) if all(straight) else None
        point = met if met is not None else b if straight[0] else a if straight[1] else 0.5 * (a + b)
    before[-1, :2] = after[0, :2] = point


def _corner(before: FloatArray, after: FloatArray, gap: float) -> FloatArray | None:
    """Return where two lines would meet, if that is not farther away than the gap is wide."""
    a, b = before[-1, :2], after[0, :2]
    u, v = a - before[-2, :2], after[1, :2] - b
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 0.1 * np.hypot(*u) * np.hypot(*v):
        return None
    share = ((b[0] - a[0]) * v[1] - (b[1] - a[1]) * v[0]) / cross
    point = np.asarray(a + share * u)
    near = max(np.hypot(*(point - a)), np.hypot(*(point - b))) <= 2.0 * gap
    return point if near else None


def _junctions(chains: list[Chain], ends: FloatArray, at_node: list[list[int]]) -> list[Finding]:
    remedy = "leave two of them, or put the others on a layer that is not cut"
    found = []
    for meeting in at_node:
        if len(meeting) > 2:
            names = Counter(str(chains[end // 2].sources[0]) for end in meeting)
            message = f"{len(meeting)} ends meet in one point ({', '.join(list(names)[:4])})"
            found.append(Finding("refused", message, at(ends[meeting[0]]), remedy, "branches"))
    return found


def refuse_open(loose: Sequence[Chain], others: Sequence[Chain], gap: float, notes: Notes) -> None:
    """Refuse open chains, with both ends and how far the nearest loose end is from the last.

    Parameters
    ----------
    loose : sequence of Chain
    others : sequence of Chain
        Open ones that are not refused here, but may be what is missing.
    gap : float
        mm.
    notes : Notes
    """
    if not loose:
        return
    ends = np.array([(c.rows[0, :2], c.rows[-1, :2]) for c in (*loose, *others)]).reshape(-1, 2)
    for k, (chain, apart) in enumerate(zip(loose, _nearest_ends(ends, len(loose)), strict=True)):
        start, end = ends[2 * k], ends[2 * k + 1]
        message = (
            f"the contour of {chain.label} is open: it ends at ({start[0]:.3f}, {start[1]:.3f}) and "
            f"({end[0]:.3f}, {end[1]:.3f}) mm, and the nearest loose end is {apart:.3f} mm away"
        )
        remedy = f"close it in the drawing, or allow a gap above {gap:g} mm"
        notes.add("refused", "open contours", message, at(end), remedy)


def _nearest_ends(ends: FloatArray, count: int) -> FloatArray:
    """Return how far the nearest other end is from the last end of each of the first chains."""
    places = shapely.points(ends)
    asked = np.arange(1, 2 * count, 2)
    (row, _), apart = shapely.STRtree(places).query_nearest(
        places[asked], exclusive=True, return_distance=True, all_matches=False
    )
    nearest = np.full(count, np.inf)
    nearest[row] = apart
    # The tree leaves out every end in the same place, which is no distance away.
    _, inverse, times = np.unique(ends, axis=0, return_inverse=True, return_counts=True)
    nearest[times[inverse.reshape(-1)][asked] > 1] = 0.0
    return nearest
