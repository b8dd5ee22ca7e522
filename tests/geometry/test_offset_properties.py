"""The offset held against its definition, Steiner's formula and an independent buffer."""

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cutplan.geometry import (
    Path,
    area,
    chord_points,
    contains,
    distance,
    fit_arcs,
    is_simple,
    length,
    normal_at,
    offset,
    oriented,
    path_distance,
    point_at,
    subpath,
    vertex_lengths,
)


def repeatable(examples: int) -> settings:
    """The same cases on every run, with time to compile."""
    return settings(max_examples=examples, derandomize=True, deadline=None, database=None)


DISTANCES = st.sampled_from([-3.0, -2.0, -1.0, -0.5, 0.5, 1.0, 2.0, 3.0]) | st.floats(-4.0, 6.0).filter(
    lambda d: abs(d) > 0.05
)


@st.composite
def convex_contours(draw: st.DrawFn) -> Path:
    """Convex contours: vertices on a circle, every edge between its chord and that circle."""
    count = draw(st.integers(2, 12))
    steps = np.array(draw(st.lists(st.floats(0.2, 1.0), min_size=count, max_size=count)))
    steps *= 2 * math.pi / steps.sum()
    assume(steps.max() < 0.9 * math.pi or count == 2)
    shares = np.array(draw(st.lists(st.floats(0.0, 1.0), min_size=count, max_size=count)))
    if count == 2:
        shares = np.maximum(shares, 0.2)
    shares[shares < 0.1] = 0.0
    angles = draw(st.floats(0.0, 6.0)) + np.cumsum(steps)
    radius = draw(st.floats(1.0, 500.0))
    bulges = shares * np.tan(np.roll(steps, -1) / 4)
    return Path(np.column_stack([radius * np.cos(angles), radius * np.sin(angles), bulges]))


@st.composite
def wild_contours(draw: st.DrawFn) -> Path:
    """Star-shaped contours with corners of any angle and arcs bulging either way."""
    count = draw(st.integers(3, 24))
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    angles = (np.arange(count) + rng.uniform(-0.4, 0.4, count)) * 2 * math.pi / count
    radii = rng.uniform(8.0, 30.0, count)
    bulges = np.where(rng.random(count) < 0.6, rng.uniform(-0.5, 0.5, count), 0.0)
    path = Path(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges]))
    assume(is_simple(path))
    return path


@st.composite
def skylines(draw: st.DrawFn, radii: tuple[float, ...] = (0.0, 0.5, 1.0)) -> Path:
    """Combs of square towers, gaps and round corners on a grid of 2 mm, full of coincidences."""
    heights = draw(st.lists(st.integers(1, 6), min_size=2, max_size=8))
    corners = [(0.0, 0.0), (4.0 * len(heights), 0.0)]
    for k in range(len(heights) - 1, -1, -1):
        for x in (4.0 * k + 4.0, 4.0 * k):
            corners.append((x, 2.0 * heights[k]))
    points = [p for k, p in enumerate(corners) if k == 0 or p != corners[k - 1]]
    points = [
        p for k, p in enumerate(points) if not _straight(points[k - 1], p, points[(k + 1) % len(points)])
    ]
    return rounded(points, draw(st.sampled_from(radii)))


def rounded(points: list[tuple[float, float]], radius: float) -> Path:
    """A contour of level and upright edges with all its corners rounded."""
    rows = []
    for k, corner in enumerate(points):
        before, here = np.array(points[k - 1]), np.array(corner)
        after = np.array(points[(k + 1) % len(points)])
        into, out = (here - before) / math.dist(here, before), (after - here) / math.dist(after, here)
        if radius == 0.0:
            rows.append([*here, 0.0])
            continue
        turn = 1.0 if into[0] * out[1] - into[1] * out[0] > 0 else -1.0
        rows.append([*(here - radius * into), turn * math.tan(math.pi / 8)])
        rows.append([*(here + radius * out), 0.0])
    kept = [row for k, row in enumerate(rows) if math.dist(row[:2], rows[(k + 1) % len(rows)][:2]) > 1e-9]
    return Path(np.array(kept))


@st.composite
def worn_contours(draw: st.DrawFn) -> Path:
    """Skylines as a careless export leaves them: split edges, coordinates off by a little."""
    path = draw(skylines())
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    error = 10.0 ** -draw(st.integers(3, 11))
    rows: list[list[float]] = []
    for row, end in zip(path.vertices, np.roll(path.points, -1, axis=0), strict=True):
        rows.append(row.tolist())
        if row[2] == 0.0:
            for share in np.sort(rng.uniform(0.1, 0.9, rng.integers(0, 4))):
                rows.append([*(row[:2] + share * (end - row[:2])), 0.0])
    worn = np.array(rows)
    worn[:, :2] += rng.normal(0.0, error, (len(worn), 2))
    moved = Path(worn)
    assume(is_simple(moved))
    return moved


@st.composite
def kinked_contours(draw: st.DrawFn) -> Path:
    """Wavy ellipses fitted by arcs, with slight kinks between the arcs and specks of segments."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    wide, high = rng.uniform(10.0, 80.0, 2)
    turn = np.linspace(0.0, 2.0 * math.pi, 401)[:-1]
    reach = 1.0 + rng.uniform(0.0, 0.2) * np.cos(rng.integers(2, 6) * turn)
    points = np.column_stack([wide * reach * np.cos(turn), high * reach * np.sin(turn)])
    fitted = fit_arcs(points, draw(st.sampled_from([0.002, 0.01, 0.05])), closed=True)
    specks = rng.uniform(0.0, length(fitted), 4)
    stations = np.concatenate([vertex_lengths(fitted)[:-1], specks, specks + 10.0 ** rng.uniform(-6, -3, 4)])
    stations = np.unique(stations[stations < length(fitted)])
    stretches = [subpath(fitted, *ends) for ends in itertools.pairwise([*stations, length(fitted)])]
    rows = np.vstack([stretch.vertices[:-1] for stretch in stretches])
    rows[:, :2] += rng.normal(0.0, 10.0 ** -draw(st.integers(4, 9)), (len(rows), 2))
    assume(is_simple(Path(rows)))
    return Path(rows)


def _straight(before: tuple[float, float], here: tuple[float, float], after: tuple[float, float]) -> bool:
    return (here[0] - before[0]) * (after[1] - here[1]) == (here[1] - before[1]) * (after[0] - here[0])


def assert_is_the_offset(source: Path, size: float, result: list[Path]) -> None:
    """Hold an offset against its definition.

    Every point of it lies at the distance, and on which side of it a place lies is decided
    by that place's own distance from the source.
    """
    for contour in result:
        assert is_simple(contour)
        assert distance(source, contour.points) == pytest.approx(abs(size), abs=1e-6)
        between = point_at(contour, np.linspace(0, length(contour), 64))
        assert distance(source, between) == pytest.approx(abs(size), abs=1e-6)
    rng = np.random.default_rng(len(source))
    s = rng.uniform(0, length(source), 300)
    outward = -normal_at(oriented(source), s)
    near = point_at(oriented(source), s) + outward * (size * rng.uniform(0.8, 1.2, 300))[:, None]
    places = np.vstack([near, near + rng.normal(0, abs(size), near.shape)])
    apart = distance(source, places)
    signed = np.where(contains(source, places), -apart, apart)
    depth = sum((np.where(contains(c, places), np.sign(area(c)), 0.0) for c in result), np.zeros(len(places)))
    clear = np.abs(signed - size) > 1e-6
    assert (depth == (signed < size))[clear].all()


@repeatable(100)
@given(convex_contours(), st.floats(0.01, 50.0))
def test_a_grown_convex_contour_follows_steiners_formula(contour: Path, size: float) -> None:
    # area = A + P d + π d², perimeter = P + 2 π d (convex geometry, any textbook).
    (grown,) = offset(contour, size)
    expected = area(contour) + length(contour) * size + math.pi * size**2
    assert area(grown) == pytest.approx(expected, rel=1e-9)
    assert length(grown) == pytest.approx(length(contour) + 2 * math.pi * size, rel=1e-9)


@repeatable(60)
@given(convex_contours(), st.floats(0.01, 50.0))
def test_a_convex_contour_grown_and_shrunk_back_returns(contour: Path, size: float) -> None:
    (grown,) = offset(contour, size)
    (back,) = offset(grown, -size)
    assert area(back) == pytest.approx(area(contour), rel=1e-9)
    assert distance(contour, back.points).max() < 1e-6
    assert distance(back, contour.points).max() < 1e-6


@repeatable(120)
@given(wild_contours(), DISTANCES)
def test_offsets_of_wild_contours_keep_the_definition(contour: Path, size: float) -> None:
    assert_is_the_offset(contour, size, offset(contour, size))


@repeatable(120)
@given(skylines(), DISTANCES)
def test_offsets_full_of_exact_coincidences_keep_the_definition(contour: Path, size: float) -> None:
    assert_is_the_offset(contour, size, offset(contour, size))


@repeatable(120)
@given(worn_contours(), DISTANCES)
def test_offsets_of_careless_exports_keep_the_definition(contour: Path, size: float) -> None:
    assert_is_the_offset(contour, size, offset(contour, size))


@repeatable(60)
@given(wild_contours() | skylines(), DISTANCES)
def test_offsets_of_offsets_keep_the_definition(contour: Path, size: float) -> None:
    for first in offset(contour, size)[:2]:
        assume(abs(area(first)) > 0.1)
        for second in (-size, 0.5 * size):
            assert_is_the_offset(first, second, offset(first, second))


@repeatable(16)
@given(kinked_contours(), st.sampled_from([0.01, 0.5, 1.085, 2.0]))
def test_contours_with_slight_kinks_and_specks_go_back_and_forth(contour: Path, size: float) -> None:
    for there in (size, -size):
        moved = offset(contour, there)
        assert_is_the_offset(contour, there, moved)
        for first in moved[:1]:
            for second in (-there, there, 0.5 * there, -0.5 * there):
                assert_is_the_offset(first, second, offset(first, second))


@repeatable(80)
@given(wild_contours() | skylines(), DISTANCES)
def test_offsets_agree_with_an_independent_buffer(contour: Path, size: float) -> None:
    # shapely (GEOS) buffers the contour chorded to 0.001 mm; its circles are chorded as finely.
    chord = 1e-3
    quarter = max(2, math.ceil(math.pi / 4 / math.acos(1 - chord / abs(size))))
    buffered = shapely.Polygon(chord_points(contour, chord)).buffer(size, quad_segs=quarter)
    ours = shapely.Polygon()
    for part in sorted(offset(contour, size), key=lambda c: area(c) < 0):
        view = shapely.Polygon(chord_points(part, chord))
        ours = ours.union(view) if area(part) > 0 else ours.difference(view)
    # Each border may stand off by the chords of both views; GEOS joins input points closer than
    # a hundredth of the distance in addition.
    border = length(contour) + buffered.length
    assert ours.symmetric_difference(buffered).area < 4 * chord * border + 1e-6


@repeatable(40)
@given(skylines(radii=(1.0,)), st.floats(0.05, 0.9))
def test_a_rounded_contour_returns_from_either_side(contour: Path, size: float) -> None:
    # Every corner is rounded by 1 mm and no gap is narrower than 4 mm, so nothing is lost.
    for there in (size, -size):
        (moved,) = offset(contour, there)
        (back,) = offset(moved, -there)
        assert area(back) == pytest.approx(area(contour), rel=1e-9)
        assert len(back) == len(contour)
        assert distance(contour, back.points).max() < 1e-6


@repeatable(40)
@given(wild_contours(), st.floats(0.1, 5.0))
def test_grown_and_shrunk_contours_keep_twice_the_distance(contour: Path, size: float) -> None:
    grown, shrunk = offset(contour, size), offset(contour, -size)
    outside = min(path_distance(contour, c) for c in grown)
    assert outside == pytest.approx(size, abs=1e-6)
    for c in shrunk:
        assert path_distance(contour, c) == pytest.approx(size, abs=1e-6)
        assert path_distance(grown[0], c) >= 2 * size - 1e-6


def test_growing_a_washer_gap_encloses_voids_that_shrink_with_it() -> None:
    # A C of 20 mm inside radius and a mouth of 2 mm, made of 10 mm wide bar.
    gap = math.asin(0.05)
    c, s = math.cos(gap), math.sin(gap)
    outer, inner = math.tan((math.pi - gap) / 2), -math.tan((math.pi - gap) / 2)
    ring = Path(
        np.array(
            [[30 * c, 30 * s, outer], [30 * c, -30 * s, 0], [20 * c, -20 * s, inner], [20 * c, 20 * s, 0]]
        )
    )
    assert area(ring) > 0
    for size in (2.0, 5.0, 19.0):
        grown = offset(ring, size)
        assert [area(x) > 0 for x in grown] == [True, False]
        assert_is_the_offset(ring, size, grown)
    assert len(offset(ring, 20.5)) == 1


def test_a_contour_far_from_the_origin_is_offset_as_well() -> None:
    near = rounded([(0, 0), (20, 0), (20, 12), (8, 12), (8, 4), (0, 4)], 0.5)
    far = Path(near.vertices + np.array([250_000.0, -140_000.0, 0.0]))
    (grown,), (expected,) = offset(far, 1.5), offset(near, 1.5)
    assert area(grown) == pytest.approx(area(expected), rel=1e-9)


def test_a_full_gear_comes_through_with_all_its_teeth() -> None:
    angles = np.arange(240) * 2 * math.pi / 240
    radii = np.where(np.arange(240) // 2 % 2 == 0, 100.0, 92.0)
    gear = Path(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), np.zeros(240)]))
    for size in (1.0, -1.0, 2.5, -2.5):
        assert_is_the_offset(gear, size, offset(gear, size))
