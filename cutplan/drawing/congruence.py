"""Which parts are one shape: turned, moved or mirrored copies, each with the pose between them.

Terminology
-----------
landmark : a place that every copy of a shape has in the same spot: a corner, the end of an arc,
    the middle of a hole.
class : landmarks of one kind and measure at one distance from the centroid; a turn of the shape
    maps a class onto itself.
kind : parts that are copies of each other.

A pose is proposed from the rarest class and proved by distances between the contours, so that
it does not matter how a drawing splits its lines and arcs.  Where landmarks are not clear, as on
free curves fitted anew for each copy, two copies may count as two kinds; two shapes that differ
by more than the tolerance never count as one.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.drawing.landmarks import Shape, shapes_of
from cutplan.drawing.model import BendLine, Part
from cutplan.geometry import (
    FloatArray,
    Path,
    Pose,
    centroid,
    distance,
    place,
    place_points,
    point_at,
    reverse,
)

__all__ = ["SHAPE_TOLERANCE", "Kind", "congruence", "same_shapes"]

# Copies of one shape differ by less than this, mm: drawings are rounded to 0.001 mm, and curves
# are replaced by arcs within 0.01 mm.
SHAPE_TOLERANCE = 0.01
# Poses this near to a quarter turn, mm at the part's edge, are one.
SQUARE = 1e-6
# Copies that differ by less than this, mm, are shifted and no more.
GRAIN = 1e-5
# Landmarks nearer to the centroid than this many tolerances give no direction.
NO_DIRECTION = 100.0


@dataclass(frozen=True)
class Kind:
    """Parts that are copies of one shape.

    Attributes
    ----------
    members : tuple of int
        Their places in the sequence asked about, the first of them the model.
    poses : tuple of Pose
        For each member the pose that takes the model's drawing coordinates to the member's own.
    """

    members: tuple[int, ...]
    poses: tuple[Pose, ...]


def same_shapes(
    parts: Sequence[Part], *, mirror: bool = False, whole: bool = True, tolerance: float = SHAPE_TOLERANCE
) -> tuple[Kind, ...]:
    """Return the kinds among parts, in the order of their first members.

    Parameters
    ----------
    parts : sequence of Part
    mirror : bool
        Whether a mirrored copy is of the same kind.
    whole : bool
        Whether marks, texts and bend lines must agree too; else outside and holes alone.
    tolerance : float
        How far the contours of copies may be apart, mm.

    Returns
    -------
    tuple of Kind
        Every part is in one of them.
    """
    twins = _moved_only(parts)
    firsts = [members[0] for members in twins]
    kinds = _kinds([parts[k] for k in firsts], mirror, whole, tolerance)
    result = []
    for kind in kinds:
        members: list[tuple[int, Pose]] = []
        for k, pose in zip(kind.members, kind.poses, strict=True):
            start = parts[firsts[k]].outer.start
            for twin in twins[k]:
                x, y = parts[twin].outer.start - start
                members.append((twin, _after(Pose(float(x), float(y)), pose)))
        members.sort(key=lambda each: each[0])
        result.append(Kind(tuple(k for k, _ in members), tuple(pose for _, pose in members)))
    return tuple(sorted(result, key=lambda kind: kind.members))


def _moved_only(parts: Sequence[Part]) -> list[list[int]]:
    """Return parts that are the same but for a shift, to a thousandth of the tolerance, together."""
    contours = [contour.vertices for part in parts for contour in (part.outer, *part.holes)]
    counts = np.array([len(rows) for rows in contours], dtype=np.int64)
    sizes = np.array([1 + len(part.holes) for part in parts], dtype=np.int64)
    starts = np.array([part.outer.vertices[0, :2] for part in parts]).reshape(-1, 2)
    rows = np.concatenate([np.zeros((0, 3)), *contours])
    rows[:, :2] -= np.repeat(np.repeat(starts, sizes, axis=0), counts, axis=0)
    grains = np.round(rows / GRAIN).astype(np.int64)
    ends = np.cumsum(counts)
    alike: dict[tuple[bytes, bytes], list[int]] = {}
    last = 0
    for k, part in enumerate(parts):
        plain = not (part.marks or part.bends or part.texts)
        own = slice(last, last + sizes[k])
        stretch = grains[ends[last] - counts[last] : ends[last + sizes[k] - 1]]
        last += sizes[k]
        key = (counts[own].tobytes(), stretch.tobytes())
        alike.setdefault(key if plain else (b"", str(k).encode()), []).append(k)
    return list(alike.values())


def _kinds(parts: Sequence[Part], mirror: bool, whole: bool, tolerance: float) -> tuple[Kind, ...]:
    """Return the kinds among parts by their shapes."""
    shapes = shapes_of(parts)
    order = sorted(range(len(parts)), key=lambda k: float(shapes[k].measures[0]))
    sizes: list[float] = []
    models: list[int] = []
    found: dict[int, list[tuple[int, Pose]]] = {}
    for k in order:
        slack = tolerance * float(shapes[k].measures[1])
        near = models[bisect_left(sizes, float(shapes[k].measures[0]) - slack) :]
        for model in near:
            pose = _pose(shapes[model], shapes[k], mirror, whole, tolerance)
            if pose is not None:
                found[model].append((k, pose))
                break
        else:
            models.append(k)
            sizes.append(float(shapes[k].measures[0]))
            found[k] = [(k, Pose())]
    return tuple(sorted((_kind(members) for members in found.values()), key=lambda kind: kind.members))


def _kind(found: list[tuple[int, Pose]]) -> Kind:
    """Return a kind with its lowest member as the model."""
    members = sorted(found, key=lambda each: each[0])
    back = _inverse(members[0][1])
    poses = tuple(_after(pose, back) for _, pose in members)
    return Kind(tuple(k for k, _ in members), (Pose(), *poses[1:]))


def congruence(
    model: Part,
    copy: Part,
    *,
    mirror: bool = False,
    whole: bool = True,
    tolerance: float = SHAPE_TOLERANCE,
) -> Pose | None:
    """Return the pose that lays one part on another, or None where they differ.

    Parameters
    ----------
    model, copy : Part
    mirror : bool
        Whether a mirrored copy counts; one that can be had without is preferred.
    whole : bool
        Whether marks, texts and bend lines must agree too.
    tolerance : float
        mm.

    Returns
    -------
    Pose or None
        Takes the model's drawing coordinates to the copy's.
    """
    shapes = shapes_of([model, copy])
    return _pose(shapes[0], shapes[1], mirror, whole, tolerance)


def _pose(model: Shape, copy: Shape, mirror: bool, whole: bool, tolerance: float) -> Pose | None:
    if not _alike(model, copy, tolerance):
        return None
    for mirrored in (False, True) if mirror else (False,):
        for pose in _proposals(model, copy, mirrored, tolerance):
            if _lies_on(model, copy, pose, tolerance) and (
                not whole or _marked_alike(model, copy, pose, tolerance)
            ):
                return pose
    return None


def _alike(a: Shape, b: Shape, tolerance: float) -> bool:
    """Return whether area, length and number of contours leave room for congruence."""
    slack = tolerance * float(a.measures[1])
    apart = np.abs(a.measures - b.measures)
    # A contour within the tolerance of another may be longer by some tolerances a corner.
    turns = 8.0 * tolerance * (1 + len(a.spots))
    return bool(apart[0] <= slack and apart[1] <= turns + 1e-3 * slack and apart[2] == 0)


def _proposals(model: Shape, copy: Shape, mirrored: bool, tolerance: float) -> Iterator[Pose]:
    """Yield the poses that lay the rarest class of landmarks on itself."""
    flip = np.array([-1.0, 1.0]) if mirrored else np.array([1.0, 1.0])
    a, b = (model.spots - model.centre) * flip, copy.spots - copy.centre
    chosen = _rarest(model, tolerance)
    if chosen is None:
        yield _posed(0.0, mirrored, model, copy)
        return
    kind, away = model.classes[chosen]
    slack = 8.0 * tolerance
    alike = (np.abs(copy.classes[:, 0] - kind) <= slack) & (
        np.abs(copy.classes[:, 1] - away) <= 2.0 * tolerance
    )
    heading = math.atan2(a[chosen, 1], a[chosen, 0])
    for spot in b[alike]:
        turn = math.atan2(spot[1], spot[0]) - heading
        yield _posed(_settled(a, b, turn, tolerance), mirrored, model, copy)


def _rarest(shape: Shape, tolerance: float) -> int | None:
    """Return a landmark of the class with the fewest members, the farthest out of several."""
    far = np.flatnonzero(shape.classes[:, 1] > NO_DIRECTION * tolerance)
    if len(far) == 0:
        return None
    keys = np.round(shape.classes[far] / np.array([1.0, 4.0 * tolerance])).astype(np.int64)
    _, inverse, counts = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    rank = counts[inverse.reshape(-1)]
    return int(far[np.lexsort((-shape.classes[far, 1], rank))[0]])


def _settled(a: FloatArray, b: FloatArray, turn: float, tolerance: float) -> float:
    """Return a turn settled by all landmarks that have a partner, by least squares."""
    c, s = math.cos(turn), math.sin(turn)
    turned = a @ np.array([[c, s], [-s, c]])
    partner = np.argmin(np.hypot(*(turned[:, None, :] - b[None, :, :]).transpose(2, 0, 1)), axis=1)
    near = np.hypot(*(turned - b[partner]).T) <= 4.0 * tolerance
    if not near.any():
        return turn
    p, q = turned[near], b[partner[near]]
    return turn + math.atan2(float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum()), float((p * q).sum()))


def _posed(turn: float, mirrored: bool, model: Shape, copy: Shape) -> Pose:
    degrees = math.degrees(turn) % 360.0
    quarter = 90.0 * round(degrees / 90.0)
    if math.radians(abs(degrees - quarter)) * max(model.reach, 1.0) <= SQUARE:
        degrees = quarter % 360.0
    bare = Pose(0.0, 0.0, degrees, mirrored)
    shift = copy.centre - place_points(model.centre[None, :], bare)[0]
    return Pose(float(shift[0]), float(shift[1]), degrees, mirrored)


def _lies_on(model: Shape, copy: Shape, pose: Pose, tolerance: float) -> bool:
    """Return whether every contour of the model, so placed, is a contour of the copy.

    Round holes are held against each other by middle and radius, all at once.
    """
    if len(model.spots) and not _near_each(place_points(model.spots, pose), copy.spots, 4.0 * tolerance):
        return False
    if not _coincide(place(model.part.outer, pose), copy.part.outer, tolerance):
        return False
    rounds, others = model.radii[1:] > 0.0, copy.radii[1:] > 0.0
    here = np.column_stack([place_points(model.middles[1:][rounds], pose), model.radii[1:][rounds]])
    there = np.column_stack([copy.middles[1:], copy.radii[1:]])[others]
    if len(here) != len(there) or not _near_each(here, there, 0.5 * tolerance):
        return False
    shaped = [place(hole, pose) for hole, r in zip(model.part.holes, rounds, strict=True) if not r]
    return _paired(shaped, [h for h, r in zip(copy.part.holes, others, strict=True) if not r], tolerance)


def _near_each(a: FloatArray, b: FloatArray, reach: float) -> bool:
    """Return whether each row of both tables has one of the other within a reach."""
    if len(a) == 0 or len(b) == 0:
        return len(a) == len(b)
    apart = np.abs(a[:, None, :] - b[None, :, :]).max(axis=2)
    return bool(apart.min(axis=0).max() <= reach and apart.min(axis=1).max() <= reach)


def _paired(a: list[Path], b: list[Path], tolerance: float) -> bool:
    """Return whether each path of one list has a partner of its own in the other."""
    if len(a) != len(b):
        return False
    if not a:
        return True
    here, there = (np.array([_middle(path) for path in paths]) for paths in (a, b))
    free = np.ones(len(b), dtype=bool)
    for k, path in enumerate(a):
        apart = np.hypot(*(there - here[k]).T)
        near = np.flatnonzero(free & (apart <= 4.0 * tolerance))
        partner = next((j for j in near[np.argsort(apart[near])] if _coincide(path, b[j], tolerance)), None)
        if partner is None:
            return False
        free[partner] = False
    return True


def _middle(path: Path) -> FloatArray:
    """Return a place that does not depend on how a path is split: its centroid, or its middle."""
    return centroid(path) if path.closed else 0.5 * (path.start + path.end)


def _coincide(a: Path, b: Path, tolerance: float) -> bool:
    if a.closed != b.closed:
        return False
    if len(a.vertices) == len(b.vertices) and (
        _in_step(a, b, tolerance) or _in_step(reverse(a), b, tolerance)
    ):
        return True
    return bool(max(distance(b, _samples(a)).max(), distance(a, _samples(b)).max()) <= tolerance)


def _in_step(a: Path, b: Path, tolerance: float) -> bool:
    """Return whether two paths have the same vertices and bulges, from whichever vertex on."""
    first = int(np.argmin(np.hypot(*(a.points - b.points[0]).T))) if a.closed else 0
    rows = np.roll(a.vertices, -first, axis=0)
    if np.hypot(*(rows[:, :2] - b.points).T).max() > tolerance:
        return False
    rise = np.abs(rows[:, 2] - b.vertices[:, 2]) * 0.5 * _chords(b)
    return bool(rise.max(initial=0.0) <= tolerance)


def _chords(path: Path) -> FloatArray:
    chord = np.hypot(*(np.roll(path.points, -1, axis=0) - path.points).T)
    return chord if path.closed else np.append(chord[:-1], 0.0)


def _samples(path: Path) -> FloatArray:
    """Return the vertices of a path and three points in each segment."""
    lengths = path.segments.length
    begin = np.cumsum(lengths) - lengths
    inner = (begin[:, None] + lengths[:, None] * np.array([0.25, 0.5, 0.75])).ravel()
    return np.vstack([path.points, point_at(path, inner)])


def _marked_alike(model: Shape, copy: Shape, pose: Pose, tolerance: float) -> bool:
    """Return whether marks, bends and texts agree; a text has no mirrored copy."""
    a, b = model.part, copy.part
    if len(a.texts) != len(b.texts) or len(a.bends) != len(b.bends) or (pose.mirrored and a.texts):
        return False
    if not _paired([place(mark, pose) for mark in a.marks], list(b.marks), tolerance):
        return False
    said = [(t.text, tuple(place_points([t.place], pose)[0])) for t in a.texts]
    for text, spot in said:
        near = [t for t in b.texts if t.text == text and math.dist(t.place, spot) <= 4.0 * tolerance]
        if not near:
            return False
    return all(any(_same_bend(bend, other, pose, tolerance) for other in b.bends) for bend in a.bends)


def _same_bend(a: BendLine, b: BendLine, pose: Pose, tolerance: float) -> bool:
    ends = place_points([a.start, a.end], pose)
    told = (a.angle_deg, a.radius_mm, a.direction) == (b.angle_deg, b.radius_mm, b.direction)
    ways = (np.array([b.start, b.end]), np.array([b.end, b.start]))
    return told and any(float(np.hypot(*(ends - way).T).max()) <= tolerance for way in ways)


def _inverse(pose: Pose) -> Pose:
    """Return the pose that takes everything back."""
    back = pose.matrix.T @ np.array([-pose.x, -pose.y])
    # A mirror undoes itself with the same turn, a turn by the opposite one.
    turn = pose.rotation_deg if pose.mirrored else -pose.rotation_deg % 360.0
    return Pose(float(back[0]), float(back[1]), turn, pose.mirrored)


def _after(outer: Pose, inner: Pose) -> Pose:
    """Return the pose that places by one pose and then by another."""
    turn = outer.rotation_deg + (-inner.rotation_deg if outer.mirrored else inner.rotation_deg)
    x, y = outer.matrix @ np.array([inner.x, inner.y]) + np.array([outer.x, outer.y])
    return Pose(float(x), float(y), turn % 360.0, outer.mirrored != inner.mirrored)
