"""Where long parts are split: held against every place on a fine grid, and rows against brute force."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.base.errors import NestingError
from cutplan.geometry import polygon
from cutplan.nesting import LongPart, NestGaps, PlateRows, best_splits, plate_rows, rows_taken, splits_of
from cutplan.stock import Keepout, Plate

ROWS = (PlateRows(5981.0, 9),)


def box(x0: float, y0: float, x1: float, y1: float):
    return polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def plate(*keepouts: Keepout, quantity: int = 1, outline=None) -> Plate:
    return Plate(
        "P", outline or box(0, 0, 6000, 2000), 10, "S355", "mild steel", quantity=quantity, keepouts=keepouts
    )


def least_rows(pieces: list[float], room: float, between: float) -> int:
    """The fewest rows of one length, by trying every way to share the pieces out."""
    best = len(pieces)

    def go(k: int, loads: list[float]) -> None:
        nonlocal best
        if len(loads) >= best:
            return
        if k == len(pieces):
            best = len(loads)
            return
        for n, load in enumerate(loads):
            if load + between + pieces[k] <= room + 1e-6:
                go(k + 1, [*loads[:n], load + between + pieces[k], *loads[n + 1 :]])
        go(k + 1, [*loads, pieces[k]])

    go(0, [])
    return best


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(300, 5900), min_size=1, max_size=3), st.integers(1, 3))
def test_rows_are_as_few_as_trying_everything_finds(pieces: list[int], copies: int) -> None:
    missed, taken, _ = rows_taken([float(p) for p in pieces], copies, [PlateRows(6001.0, 99)], 10.0)
    assert missed == 0
    assert taken == pytest.approx(6001.0 * least_rows([float(p) for p in pieces] * copies, 6000.0, 10.0))


def test_rows_that_are_not_there_leave_pieces_out() -> None:
    assert rows_taken([5000.0], 3, [PlateRows(6000.0, 2)], 10.0)[0] == 1
    assert rows_taken([5000.0, 900.0], 2, [PlateRows(6000.0, 1), PlateRows(5200.0, 1)], 10.0)[:2] == (
        1,
        11200.0,
    )


def keeps_rules(part: LongPart, split: tuple[float, ...]) -> bool:
    pieces = part.pieces(split)
    return (
        all(part.least - 1e-6 <= piece <= part.longest + 1e-6 for piece in pieces)
        and all(any(a - 1e-6 <= at <= b + 1e-6 for a, b in part.open) for at in split)
        and sum(pieces) + part.gap * len(split) == pytest.approx(part.length)
    )


@settings(max_examples=30, deadline=None)
@given(
    length=st.integers(6200, 11500),
    copies=st.integers(1, 3),
    zones=st.lists(st.tuples(st.integers(500, 10000), st.integers(0, 2500)), min_size=1, max_size=3),
    gap=st.sampled_from([0.0, 2.0, 3.5]),
    widths=st.sampled_from([(5981.0,), (5981.0, 3981.0), (4981.0, 7981.0)]),
)
def test_no_place_on_a_fine_grid_takes_less_plate(length, copies, zones, gap, widths) -> None:
    opened = tuple((float(a), float(min(a + w, length))) for a, w in zones if a < length)
    rows = tuple(PlateRows(width, 20) for width in widths)
    part = LongPart("p", float(length), opened, rows, copies, gap, 14.0, 1000.0, most=1)
    found = best_splits([part])
    grid = [a + n * 7.0 for a, b in opened for n in range(int((b - a) // 7.0) + 1)]
    fitting = [at for at in [*grid, *(b for _, b in opened)] if keeps_rules(part, (at,))]
    if not found:
        assert not fitting
        return
    (split,) = found.values()
    assert keeps_rules(part, split)
    best = rows_taken(part.pieces(split), copies, rows, 14.0)
    for at in fitting[:: max(1, len(fitting) // 60)]:
        assert best[:2] <= rows_taken(part.pieces((at,)), copies, rows, 14.0)[:2], (split, at)


@settings(max_examples=30, deadline=None)
@given(st.integers(6100, 30000), st.integers(1, 4), st.integers(800, 2500))
def test_long_members_take_the_fewest_splices_that_can_be(length: int, copies: int, least: int) -> None:
    part = LongPart("p", float(length), ((0.0, float(length)),), ROWS, copies, 2.0, 14.0, float(least))
    (split,) = best_splits([part]).values()
    assert keeps_rules(part, split)
    assert len(split) == -(-(length + 2) // 5982) - 1


def test_two_copies_share_a_row_where_their_short_pieces_fit_behind_each_other() -> None:
    # 8,950 mm: 5,980 and 2,968 would take four rows; two of 2,968 fit one row of 5,980 with 14 between.
    part = LongPart("web", 8950.0, ((0.0, 8950.0),), ROWS, 2, 2.0, 14.0, 1000.0)
    (split,) = best_splits([part]).values()
    assert rows_taken(part.pieces(split), 2, ROWS, 14.0)[1] == pytest.approx(3 * 5981.0)


@settings(max_examples=15, deadline=None)
@given(st.integers(6500, 11000), st.integers(6500, 11000), st.integers(-800, 800), st.integers(100, 900))
def test_splices_of_web_and_flange_keep_their_stagger(
    web: int, flange: int, offset: int, stagger: int
) -> None:
    common = {
        "rows": ROWS,
        "gap": 2.0,
        "between": 14.0,
        "least": 1000.0,
        "beam": "b",
        "stagger": float(stagger),
    }
    parts = [
        LongPart("web", float(web), ((0.0, float(web)),), **common),
        LongPart(
            "fl", float(flange), ((0.0, float(flange)),), member="flange", offset=float(offset), **common
        ),
    ]
    found = best_splits(parts)
    assert set(found) == {"web", "fl"}
    assert all(keeps_rules(part, found[part.name]) for part in parts)
    for at, other in itertools.product(found["web"], found["fl"]):
        assert abs(at - other - offset) >= stagger - 1e-6


def test_a_flange_that_finds_no_place_beside_its_web_is_missing() -> None:
    common = {"rows": ROWS, "gap": 2.0, "between": 14.0, "least": 1000.0, "beam": "b", "stagger": 400.0}
    web = LongPart("web", 9000.0, ((4000.0, 4100.0),), **common)
    flange = LongPart("fl", 9000.0, ((3900.0, 4200.0),), member="flange", **common)
    assert set(best_splits([web, flange])) == {"web"}
    assert splits_of(flange) and not splits_of(flange, [4050.0])


def test_twins_are_refused() -> None:
    part = LongPart("p", 9000.0, ((0.0, 9000.0),), ROWS)
    with pytest.raises(NestingError, match="share a name"):
        best_splits([part, part])


def test_rows_of_a_plate_are_counted_by_hand() -> None:
    """6000 x 2000 less 10 all round; rows of 500 with 14 between: 4 x 500 + 3 x 14 = 2042 > 1980, so 3."""
    gaps = NestGaps(14.0, 10.0)
    assert plate_rows(plate(quantity=2), gaps, 500.0, "x") == [PlateRows(5980.0, 6)]
    assert plate_rows(plate(), gaps, 500.0, "y") == [PlateRows(1980.0, 11)]
    assert plate_rows(plate(), gaps, 1981.0, "x") == []


def test_rows_run_beside_what_lies_on_the_plate() -> None:
    gaps = NestGaps(14.0, 10.0)
    rows = plate_rows(plate(Keepout(box(2000, 0, 2100, 300), 0.0)), gaps, 500.0, "x")
    # 314 of the height is gone at the keep-out; two rows of 500 fit above it, one stops before or behind.
    assert max(row.length for row in rows) == pytest.approx(5980.0)
    assert sum(row.count for row in rows) >= 3
    for row in rows:
        assert row.length == pytest.approx(5980.0) or row.length == pytest.approx(5990.0 - 2114.0, abs=0.2)


def test_a_skew_remnant_offers_what_lies_within_it() -> None:
    skew = polygon([(0, 0), (6000, 0), (4000, 2000), (0, 2000)])
    rows = plate_rows(plate(outline=skew), NestGaps(14.0, 0.0), 1000.0, "x")
    # A box of 1000 from the lower edge reaches the skew edge at x = 5000.
    assert rows[0].length == pytest.approx(5000.0, abs=0.5)
