"""Pieces of long parts: their areas and edges held against shapely (a general-purpose geometry library)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from cutplan.drawing import (
    BendLine,
    EdgePreparation,
    MarkText,
    Part,
    PartSplices,
    Splices,
    Split,
    barred_stretches,
    extent_along,
    long_direction,
    make_part,
    open_stretches,
    split_part,
)
from cutplan.geometry import Path, Pose, circle, place, point_at, polygon, polyline, to_polygon


def approx(stretches: list[tuple[float, float]], abs: float = 1e-6):
    return pytest.approx(np.array(stretches), abs=abs)


def web(camber: float = 40.0, turned: float = 0.0) -> Part:
    """A web of 9 m with an upper edge that rises by a camber, holes, marks and a bend along it."""
    bulge = -2.0 * camber / 9000.0  # of an arc from right to left that rises: tan(sweep/4) = 2h/c
    pose = Pose(x=120.0, y=-40.0, rotation_deg=turned)
    outer = place(Path(np.array([[0, 0, 0], [9000, 0, 0], [9000, 500, -bulge], [0, 500, 0]])), pose)
    holes = [place(circle((x, 250), 60, clockwise=True), pose) for x in (1000, 4000, 7000)]
    mark = place(polyline([(500, 100), (8500, 100)]), pose)
    (ax, ay), (bx, by) = place(polyline([(0, 480), (9000, 480)]), pose).points.tolist()
    text = MarkText("S1", tuple(place(polyline([(3000, 50), (3100, 50)]), pose).points[0].tolist()), 10.0)
    return make_part("web", outer, holes, marks=[mark], bends=[BendLine((ax, ay), (bx, by))], texts=[text])


def metal(part: Part) -> shapely.Polygon:
    return to_polygon(part.outer, part.holes, tolerance=1e-4)


@settings(max_examples=25, deadline=None)
@given(
    at=st.lists(st.floats(1300, 8480), min_size=1, max_size=3).map(sorted),
    gap=st.floats(0, 8),
    turned=st.sampled_from([0.0, 90.0, 30.0, 123.4]),
)
def test_pieces_and_gaps_are_the_part(at: list[float], gap: float, turned: float) -> None:
    at = [
        a for n, a in enumerate(at) if (n == 0 or a - at[n - 1] > 100) and min(abs(a % 3000 - 1000), 9e9) > 80
    ]
    part = web(turned=turned)
    direction = long_direction(part)
    assert math.remainder(direction - turned, 180.0) == pytest.approx(0.0, abs=0.3)
    start, length, _ = extent_along(part, turned)
    pieces = split_part(part, Split("web", length, tuple(at), gap, turned, 100.0))
    assert [piece.name for piece in pieces] == [f"web-{n + 1}of{len(pieces)}" for n in range(len(pieces))]
    way = np.array([math.cos(math.radians(turned)), math.sin(math.radians(turned))])
    normal = np.array([-way[1], way[0]])
    bands = []
    for splice in at:
        ends = [(start + splice + s * gap / 2) * way for s in (-1, 1)]
        bands.append(
            shapely.Polygon(
                [
                    ends[0] - 2e4 * normal,
                    ends[1] - 2e4 * normal,
                    ends[1] + 2e4 * normal,
                    ends[0] + 2e4 * normal,
                ]
            )
        )
    whole = metal(part)
    together = shapely.union_all([metal(piece) for piece in pieces])
    asked = whole.difference(shapely.union_all(bands)) if gap > 1e-6 else whole
    assert together.symmetric_difference(asked).area < 1.0
    assert sum(metal(piece).area for piece in pieces) == pytest.approx(together.area, abs=0.5)
    lengths = [extent_along(piece, turned)[1] for piece in pieces]
    assert sum(lengths) + gap * len(at) == pytest.approx(length, abs=1e-6)
    # Marks, bends and texts went with their pieces, nothing of a mark was lost but in the gaps.
    marked = sum(float(shapely.LineString(p.marks[0].points).length) for p in pieces)
    assert marked == pytest.approx(8000 - gap * sum(500 < a < 8500 for a in at), abs=1e-6)
    assert all(len(piece.bends) == 1 for piece in pieces)
    assert sum(text.text == "S1" for piece in pieces for text in piece.texts) == 1
    for piece in pieces:
        assert np.array_equal(
            metal(piece).buffer(0.01).contains(shapely.linestrings([m.points for m in piece.marks])),
            [True] * len(piece.marks),
        )


def test_a_taper_or_camber_does_not_turn_the_direction_of_a_part() -> None:
    tapered = polygon([(0, 0), (7500, 0), (9000, 260), (9000, 420), (0, 420)])
    for turned, expected in ((0.0, 0.0), (90.0, 90.0), (33.0, 33.0), (180.0, 0.0)):
        part = make_part("t", place(tapered, Pose(x=70, rotation_deg=turned)))
        assert long_direction(part) == pytest.approx(expected, abs=1e-9)
    assert long_direction(web(camber=60.0)) == 0.0
    # The long way where the many edges run across: a comb.
    teeth = [
        (x, y)
        for k in range(12)
        for x, y in ((100 * k, 0), (100 * k, 300), (100 * k + 50, 300), (100 * k + 50, 0))
    ]
    comb = make_part("c", polygon([*teeth, (1200, 0), (1200, -40), (0, -40)]))
    assert long_direction(comb) == 0.0


def test_both_sides_of_a_splice_carry_its_number_and_lines_at_the_same_distance() -> None:
    one, two = split_part(web(0.0), Split("web", 9000.0, (5500.0,), 3.0, 0.0, 120.0))
    assert [t.text for t in one.texts if "J" in t.text] == ["J1"]
    assert [t.text for t in two.texts if "J" in t.text] == ["J1"]
    # One drawn mark a piece; the rest are ticks that stand across, 240 mm apart over the joint.
    places = [
        [float(m.start[0]) for m in piece.marks if m.start[0] == pytest.approx(m.end[0])]
        for piece in (one, two)
    ]
    assert places[0] == pytest.approx([120 + 5380.0] * 2) and places[1] == pytest.approx([120 + 5620.0] * 2)


def test_edges_prepared_for_welding_go_with_their_pieces() -> None:
    """By hand: 9 m by 500; lower edge from 0, right from 9000, upper from 9500, left from 18500."""
    part = replace(
        make_part("w", polygon([(0, 0), (9000, 0), (9000, 500), (0, 500)]), [circle((8000, 250), 60)]),
        bevels=(
            EdgePreparation("V", 30.0, span=(0.0, 9000.0)),
            EdgePreparation("Y", 40.0, span=(18700.0, 200.0), land_mm=2.0),
            EdgePreparation("V", 45.0, hole=0),
            EdgePreparation("V", 20.0),
        ),
    )
    pieces = split_part(part, Split("w", 9000.0, (3000.0,), 2.0))

    def ends(piece: Part, n: int) -> list[tuple[float, float]]:
        asked = piece.bevels[n]
        assert asked.span is not None
        stations = [asked.span[0], asked.span[1]]
        return [tuple(np.round(p, 6).tolist()) for p in point_at(piece.outer, stations)]

    one, two = pieces
    assert [b.angle_deg for b in one.bevels] == [30.0, 40.0, 20.0]
    assert [b.angle_deg for b in two.bevels] == [30.0, 20.0, 45.0] and two.bevels[2].hole == 0
    assert ends(one, 0) == [(0, 0), (2999, 0)] and ends(two, 0) == [(3001, 0), (9000, 0)]
    assert ends(one, 1) == [(0, 300), (200, 0)]
    # All round the part, but not over the edge that the splice cut.
    assert ends(one, 2) == [(2999, 500), (2999, 0)] and ends(two, 1) == [(3001, 0), (3001, 500)]


def test_a_narrow_strip_has_a_whole_line_and_no_letters_that_could_not_be_read() -> None:
    strip = make_part("s", polygon([(0, 0), (7000, 0), (7000, 10), (0, 10)]))
    one, _ = split_part(strip, Split("s", 7000.0, (3000.0,), 2.0, 0.0, 100.0))
    assert len(one.marks) == 1 and one.texts == ()


def opened(part: Part, **keys: object) -> np.ndarray:
    _, length, _ = extent_along(part, 0.0)
    return np.array(open_stretches(barred_stretches(part, 0.0, Splices.model_validate(keys)), length))


def test_holes_corners_and_zones_bar_what_the_rules_say() -> None:
    part = make_part(
        "w",
        polygon([(0, 0), (9000, 0), (9000, 700), (6000, 700), (3000, 300), (0, 300)]),
        [circle((1000, 150), 50)],
    )
    assert opened(part, clearance=100) == approx([(100, 850), (1150, 2900), (3100, 5900), (6100, 8900)])
    assert opened(part, clearance=100, zones=[[2000, 4000], [5000, 5500]]) == approx(
        [(2000, 2900), (3100, 4000), (5000, 5500)]
    )


def test_zones_that_overlap_are_one() -> None:
    part = make_part("w", polygon([(0, 0), (9000, 0), (9000, 500), (0, 500)]))
    zones = [[4000, 4500], [1000, 3000], [2000, 2500], [2900, 3500]]
    assert opened(part, zones=zones) == approx([(1000, 3500), (4000, 4500)])


def test_a_cut_out_in_the_edge_bars_its_whole_width() -> None:
    part = make_part(
        "w",
        polygon([(0, 0), (4000, 0), (4000, 200), (4600, 200), (4600, 0), (9000, 0), (9000, 500), (0, 500)]),
    )
    assert opened(part, clearance=50) == approx([(50, 3950), (4650, 8950)], abs=0.2)
    # Wider than a piece may be short: the low stretch is part of the beam.
    assert opened(part, clearance=50, least_piece=500) == approx(
        [(50, 3950), (4050, 4550), (4650, 8950)], abs=0.2
    )


def test_a_slope_is_met_and_a_steep_edge_is_not() -> None:
    part = make_part("w", polygon([(0, 0), (9000, 0), (9000, 500), (5000, 500), (4500, 100), (0, 100)]))
    assert opened(part, clearance=0, least_piece=1000) == approx([(0, 4500), (5000, 9000)])


def test_bends_across_keep_off_and_a_bend_along_is_parted() -> None:
    outline = polygon([(0, 0), (9000, 0), (9000, 500), (0, 500)])
    across = make_part("w", outline, bends=[BendLine((6000, 0), (6000, 500))])
    along = make_part("w", outline, bends=[BendLine((0, 60), (9000, 60))])
    assert opened(across, clearance=0, bend_clearance=200) == approx([(0, 5800), (6200, 9000)])
    assert opened(along, clearance=0) == approx([(0, 9000)])


def test_an_outline_that_forks_is_not_parted_in_its_fork() -> None:
    fork = polygon(
        [(0, 0), (9000, 0), (9000, 150), (5000, 150), (5000, 350), (9000, 350), (9000, 500), (0, 500)]
    )
    assert opened(make_part("f", fork), clearance=0) == approx([(0, 5000)], abs=1e-3)


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"zones": [[3000, 2000]]}, "from up to to"),
        ({"fit_up_mm": 2000}, "less than least_piece"),
        ({"gap": 50}, "less than or equal to 20"),
        ({"most": 0}, "greater than or equal to 1"),
        ({"zone": [[0, 1]]}, "Extra inputs"),
    ],
)
def test_rules_that_make_no_sense_are_refused(keys: dict, told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Splices.model_validate(keys)


def test_a_parts_own_keys_go_over_the_jobs() -> None:
    usual = Splices(least_piece=2000, gap=3)
    own = PartSplices(least_piece=1500, beam="main").over(usual)
    assert (own.least_piece, own.gap, own.stagger, own.beam) == (1500, 3, 300, "main")
