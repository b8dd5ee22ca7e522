"""The bend table: an order of strokes that a replay of the tests' own finds to hit nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from cutplan.drawing import BendLine, Part
from cutplan.forming import Blank, FlangeProfile, Press, bend_table
from cutplan.geometry import polygon

DIES = (16, 24, 32, 40, 50, 63, 80, 100)
PRESS = Press(3000, 4000, DIES)
GOOSE_NECK = ((0, 0), (10, 12), (10, 25), (-25, 60), (-25, 130), (10, 160), (-45, 160), (-55, 60), (-12, 14))


def blank_of(flanges: list[dict], thickness: float = 6, press: Press = PRESS) -> Blank:
    return FlangeProfile(flanges=flanges, width=100).blank("part", thickness, press)


def table_of(flanges: list[dict], thickness: float = 6, press: Press = PRESS):
    part = blank_of(flanges, thickness, press).part
    return bend_table(part, thickness, "S355", "mild steel", press)


def test_an_angle_takes_one_stroke_with_the_rules_force_and_the_longer_flange_in_front_or_behind() -> None:
    table = table_of([{"length": 60}, {"length": 90}])
    (stroke,) = table.strokes
    # Handbook rule 575·t²/V in US tons a foot and inches, scaled by 630/415 MPa, over 100 mm.
    tons = 575 * (6 / 25.4) ** 2 / (stroke.die_mm / 25.4) * 630 / 415
    assert stroke.force_kn == pytest.approx(tons * 8.896443 / 0.3048 * 0.1, rel=1e-6)
    assert stroke.die_mm == 50 and stroke.direction == "up" and not stroke.turned_over
    flat = blank_of([{"length": 60}, {"length": 90}])
    either = {"A": flat.bends[0].at_mm, "B": flat.length_mm - flat.bends[0].at_mm}
    assert stroke.gauge_mm == pytest.approx(either[stroke.gauge_edge], abs=1e-6)
    assert stroke.gauge_on == "edge"


def test_a_z_is_turned_over_once() -> None:
    table = table_of([{"length": 60}, {"length": 150}, {"length": 60, "direction": "down"}])
    assert [stroke.turned_over for stroke in table.strokes] == [False, True]


def test_a_deep_channel_hits_the_straight_punch_and_is_bent_round_a_goose_neck() -> None:
    deep = [{"length": 90}, {"length": 110}, {"length": 90}]
    straight = table_of(deep, press=Press(3000, 4000, DIES, punch_width_mm=100))
    assert straight.strokes == ()
    (finding,) = straight.findings
    assert finding.kind == "refused" and "would hit the punch" in finding.message
    bent = table_of(deep, press=Press(3000, 4000, DIES, punch_outline=GOOSE_NECK))
    assert len(bent.strokes) == 2 and bent.findings == ()


def test_a_channel_narrower_than_the_ram_and_as_deep_is_refused_with_what_it_hits() -> None:
    table = table_of([{"length": 200}, {"length": 70}, {"length": 200}])
    assert not table.strokes
    assert "after 1 of 2 bends" in table.findings[0].message and "the ram" in table.findings[0].message


def test_a_sharp_bend_needs_sharp_tools() -> None:
    sharp = [{"length": 80}, {"length": 80, "angle": 130}]
    assert table_of(sharp).strokes == ()
    acute = Press(3000, 4000, DIES, punch_angle_deg=30, die_angle_deg=30)
    assert len(table_of(sharp, press=acute).strokes) == 1


def test_a_flange_that_hangs_down_beside_a_low_die_hits_the_table() -> None:
    hat = [{"length": 150}, {"length": 85}, {"length": 200, "direction": "down"}]
    high = Press(3000, 4000, DIES, die_height_mm=200)
    low = Press(3000, 4000, DIES, die_height_mm=60, table_width_mm=500)
    assert len(table_of(hat, press=high).strokes) == 2
    assert (
        table_of(hat, press=low).strokes == ()
        or table_of(hat, press=low).strokes != table_of(hat, press=high).strokes
    )


def test_the_gauge_goes_to_the_scribed_line_where_it_does_not_reach() -> None:
    short = Press(3000, 4000, DIES, gauge_mm=(8, 40))
    (stroke,) = table_of([{"length": 160}, {"length": 190}], press=short).strokes
    assert stroke.gauge_on == "scribed line"


def test_a_bent_flange_at_the_gauge_stands_by_its_outside() -> None:
    flanges = [{"length": 60}, {"length": 150}, {"length": 150}, {"length": 60}]
    table, blank = table_of(flanges), blank_of(flanges)
    assert [stroke.bend for stroke in table.strokes] in ([1, 3, 2], [3, 1, 2])
    last = table.strokes[-1]
    assert last.gauge_on == "bent flange"
    # The web is still flat: 150 mm outside, its round not made, half of that behind the die's middle.
    bend = blank.bends[1]
    assert last.gauge_mm == pytest.approx(150 - (bend.radius_mm + 6) + bend.allowance_mm / 2, abs=0.05)


def test_bends_that_are_not_parallel_are_told_and_not_ordered() -> None:
    bends = (BendLine((0, 100), (400, 100)), BendLine((150, 100), (150, 300)))
    part = Part("box", polygon([(0, 0), (400, 0), (400, 300), (0, 300)]), bends=bends)
    table = bend_table(part, 6, "S355", "mild steel", PRESS)
    assert table.strokes == () and "not parallel" in table.findings[0].message


def test_lines_in_one_line_are_one_stroke_and_a_drawn_part_without_directions_is_told() -> None:
    bends = (BendLine((100, 0), (100, 120)), BendLine((100, 180), (100, 300)))
    part = Part("slit", polygon([(0, 0), (400, 0), (400, 300), (0, 300)]), bends=bends)
    table = bend_table(part, 6, "S355", "mild steel", PRESS)
    (stroke,) = table.strokes
    assert stroke.length_mm == pytest.approx(240)
    assert "taken as up" in table.findings[0].message


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"gauge_mm": (50, 20)}, "nearest, farthest"),
        ({"punch_outline": ((0, 0), (5, 5))}, "three points or more"),
        ({"punch_outline": ((1, 1), (5, 5), (0, 9))}, "its edge"),
        ({"punch_outline": ((0, 0), (5, -5), (0, 9))}, "above its edge"),
        ({"punch_outline": ((0, 0), (9, 9), (9, 1), (0, 9))}, "crosses itself"),
        ({"die_angle_deg": 5}, "die_angle_deg"),
    ],
)
def test_tools_that_cannot_be_are_refused(keys, told) -> None:
    with pytest.raises(ValidationError, match=told):
        TypeAdapter(Press).validate_python({"capacity_kn": 100, "bed_mm": 1000, **keys})


# --- The replay: rigid plates turned about the middles of their rounds, no code of the package. ---


def _rotation(angle: float) -> np.ndarray:
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def _samples(blank: Blank, thickness: float, angles: list[float], own: int) -> tuple[np.ndarray, np.ndarray]:
    """Return points on both faces of the section with `own` level under the punch, and which face."""
    ends = [0.0]
    for bend in blank.bends:
        ends += [bend.at_mm - bend.allowance_mm / 2, bend.at_mm + bend.allowance_mm / 2]
    ends.append(blank.length_mm)
    pieces = [np.linspace(a, b, max(3, int((b - a) / 2))) for a, b in zip(ends[::2], ends[1::2], strict=True)]
    plates = [
        np.vstack([np.column_stack([x, np.zeros_like(x)]), np.column_stack([x, np.full_like(x, thickness)])])
        for x in pieces
    ]
    for number in reversed(range(len(blank.bends))):
        bend, angle = blank.bends[number], angles[number]
        if angle == 0.0:
            continue
        # The round keeps its radius; what is not bent yet of it lies straight, half on either side.
        share = abs(angle) / math.radians(bend.angle_deg)
        first = bend.at_mm - bend.allowance_mm * share / 2
        centre = np.array([first, thickness + bend.radius_mm if angle > 0 else -bend.radius_mm])
        for k in range(number + 1, len(plates)):
            back = plates[k] - np.array([bend.allowance_mm * share, 0.0])
            plates[k] = centre + (back - centre) @ _rotation(angle).T
    # Turn the whole so that the bend under the punch opens evenly, then set its middle at x = 0.
    bend, angle = blank.bends[own], angles[own]
    share = abs(angle) / math.radians(bend.angle_deg)
    # The plate before the bend lies as the turns before it left it: its direction tells.
    before = plates[own]
    count = len(before) // 2
    way = before[count - 1] - before[0]
    heading = math.atan2(way[1], way[0])
    turn = _rotation(-heading - angle / 2)
    last = before[count - 1] + (way / np.linalg.norm(way)) * bend.allowance_mm * (1 - share) / 2
    normal = np.array([-way[1], way[0]]) / np.linalg.norm(way)
    centre = last + normal * (thickness + bend.radius_mm)
    points = np.vstack(plates)
    placed = (points - centre) @ turn.T
    return placed, np.repeat(np.arange(len(plates)), [len(p) for p in plates])


def _inside(points: np.ndarray, outline: np.ndarray, margin: float) -> np.ndarray:
    """Return which points lie deeper than a margin inside an outline, by crossing numbers."""
    inside = np.zeros(len(points), bool)
    depth = np.full(len(points), np.inf)
    for (ax, ay), (bx, by) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        crossing = (ay > points[:, 1]) != (by > points[:, 1])
        with np.errstate(divide="ignore", invalid="ignore"):
            at = ax + (points[:, 1] - ay) * (bx - ax) / (by - ay)
        inside ^= crossing & (points[:, 0] < at)
        edge = np.array([bx - ax, by - ay])
        t = np.clip(((points - [ax, ay]) @ edge) / (edge @ edge), 0, 1)
        depth = np.minimum(depth, np.hypot(*(points - [ax, ay] - t[:, None] * edge).T))
    return inside & (depth > margin)


def _replayed(blank: Blank, thickness: float, table, press: Press) -> None:
    done: set[int] = set()
    for stroke in table.strokes:
        own = stroke.bend - 1
        sign = -1.0 if stroke.turned_over else 1.0
        mirror = 1.0 if stroke.gauge_edge == "B" else -1.0
        opening = stroke.die_mm
        half = opening / 2 + press.die_shoulder_mm
        depth = min(opening / 2 / math.tan(math.radians(press.die_angle_deg) / 2), 0.9 * press.die_height_mm)
        die = np.array([(-half, -press.die_height_mm), (half, -press.die_height_mm), (half, 0), (opening / 2, 0),
                        (0, -depth), (-opening / 2, 0), (-half, 0)])  # fmt: skip
        w, h = press.punch_width_mm / 2, press.punch_height_mm
        rise = w / math.tan(math.radians(press.punch_angle_deg) / 2)
        punch = np.array([(0, 0), (w, rise), (w, h), (-w, h), (-w, rise)])
        r = press.ram_width_mm / 2
        ram = np.array([(-r, h), (r, h), (r, h + 2000), (-r, h + 2000)])
        t = press.table_width_mm / 2
        table_box = np.array([(-t, -press.die_height_mm - 2000), (t, -press.die_height_mm - 2000),
                              (t, -press.die_height_mm), (-t, -press.die_height_mm)])  # fmt: skip
        for share in np.linspace(0.1, 1.0, 10):
            faced = [
                sign * (1 if b.direction == "up" else -1) * math.radians(b.angle_deg)
                * (share if k == own else k in done)
                for k, b in enumerate(blank.bends)
            ]  # fmt: skip
            points, _ = _samples(blank, thickness, faced, own)
            alpha = abs(faced[own]) / 2
            out = blank.bends[own].radius_mm + thickness
            centre = (
                math.sqrt(out**2 - opening**2 / 4)
                if opening / 2 <= out * math.sin(alpha)
                else (out - opening / 2 * math.sin(alpha)) / math.cos(alpha)
            )
            points = points * np.array([mirror, 1.0]) + np.array([0.0, centre])
            edge = np.array([0.0, centre - blank.bends[own].radius_mm])
            for tool in (die, table_box, punch + edge, ram + edge):
                assert not _inside(points, tool, 0.5).any(), (stroke, share)
        done.add(own)
    assert done == set(range(len(blank.bends)))


flange = st.tuples(st.floats(70, 220), st.sampled_from([45.0, 90.0]), st.sampled_from(["up", "down"]))


@settings(max_examples=25, deadline=None)
@given(st.floats(70, 220), st.lists(flange, min_size=1, max_size=4), st.sampled_from([3.0, 6.0]))
def test_every_order_that_is_found_bends_all_and_hits_nothing(first, rest, thickness) -> None:
    flanges = [{"length": first}] + [
        {"length": length, "angle": angle, "direction": way} for length, angle, way in rest
    ]
    blank = blank_of(flanges, thickness)
    table = bend_table(blank.part, thickness, "S355", "mild steel", PRESS)
    if table.strokes:
        _replayed(blank, thickness, table, PRESS)
    else:
        assert any(finding.kind == "refused" for finding in table.findings)


def test_the_replay_finds_an_order_that_hits() -> None:
    # The check of the check: a deep channel bent as though its web were wide.
    blank = blank_of([{"length": 200}, {"length": 70}, {"length": 200}])
    wide = table_of([{"length": 60}, {"length": 300}, {"length": 60}])
    with pytest.raises(AssertionError):
        _replayed(blank, 6, wide, PRESS)
