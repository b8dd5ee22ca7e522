"""Copies of one shape are told from different shapes, with the pose between them."""

import math

import numpy as np
import pytest

from cutplan.drawing import BendLine, MarkText, Part, congruence, same_shapes
from cutplan.geometry import Path, Pose, circle, distance, place, place_points, polygon, polyline, reverse

# An L with two holes of its own: no turn and no mirror lays it on itself.
ELL = Part(
    "ell",
    polygon([(0, 0), (120, 0), (120, 30), (40, 30), (40, 80), (0, 80)]),
    (circle((20, 60), 8, clockwise=True), circle((100, 15), 6, clockwise=True)),
)
POSES = [
    Pose(),
    Pose(500.0, -200.0),
    Pose(10.0, 20.0, 90.0),
    Pose(-3.0, 7.0, 33.3),
    Pose(1e5, 2e5, 211.0),
]


def moved(part: Part, pose: Pose, *, start: int = 0) -> Part:
    """Return a copy whose contours begin at other vertices."""

    def contour(path: Path) -> Path:
        turned = place(path, pose)
        turned = reverse(turned) if pose.mirrored else turned
        return Path(np.roll(turned.vertices, -start, axis=0), closed=True)

    ends = [tuple(place_points([bend.start, bend.end], pose)) for bend in part.bends]
    return Part(
        part.name,
        contour(part.outer),
        tuple(map(contour, part.holes[::-1])),
        marks=tuple(place(mark, pose) for mark in part.marks),
        bends=tuple(BendLine(tuple(b), tuple(a), bend.angle_deg) for (a, b), bend in zip(ends, part.bends, strict=True)),
        texts=tuple(MarkText(t.text, tuple(place_points([t.place], pose)[0]), t.height) for t in part.texts),
    )  # fmt: skip


@pytest.mark.parametrize("pose", POSES)
def test_a_turned_and_moved_copy_is_the_same_shape(pose: Pose) -> None:
    copy = moved(ELL, pose, start=3)
    found = congruence(ELL, copy)
    assert found is not None and not found.mirrored
    assert math.remainder(found.rotation_deg - pose.rotation_deg, 360.0) == pytest.approx(0.0, abs=1e-7)
    assert distance(copy.outer, place(ELL.outer, found).points).max() < 1e-6


@pytest.mark.parametrize("turn", [0.0, 90.0, 12.5])
def test_a_mirrored_copy_counts_where_mirroring_is_allowed_only(turn: float) -> None:
    copy = moved(ELL, Pose(50.0, 60.0, turn, mirrored=True))
    assert congruence(ELL, copy) is None
    found = congruence(ELL, copy, mirror=True)
    assert found is not None and found.mirrored
    assert distance(copy.outer, place(ELL.outer, found).points).max() < 1e-6


def test_a_shape_that_is_its_own_mirror_image_is_had_without_mirroring() -> None:
    square = Part("square", polygon([(0, 0), (50, 0), (50, 50), (0, 50)]))
    found = congruence(square, moved(square, Pose(9.0, 9.0, 45.0, mirrored=True)), mirror=True)
    assert found is not None and not found.mirrored


@pytest.mark.parametrize("change", [0.05, 0.5])
def test_a_hole_moved_by_more_than_the_tolerance_makes_another_shape(change: float) -> None:
    other = Part("other", ELL.outer, (ELL.holes[0], circle((100 + change, 15), 6, clockwise=True)))
    assert congruence(ELL, other) is None
    slight = Part("slight", ELL.outer, (ELL.holes[0], circle((100 + 0.004, 15), 6, clockwise=True)))
    assert congruence(ELL, slight) is not None


def test_a_ring_is_the_same_however_its_circles_are_split() -> None:
    ring = Part("ring", circle((0, 0), 60), (circle((0, 0), 25, clockwise=True),))
    turned = Part(
        "turned", circle((300, 40), 60, start=1.0), (circle((300, 40), 25, clockwise=True, start=2.0),)
    )
    found = congruence(ring, turned)
    assert found is not None and (found.x, found.y) == pytest.approx((300, 40))


def test_a_flange_turns_by_its_hole_pitch_and_no_less() -> None:
    def flange(turn: float) -> Part:
        holes = [
            circle((80 * math.cos(turn + k), 80 * math.sin(turn + k)), 9, clockwise=True)
            for k in np.arange(6) * math.pi / 3
        ]
        return Part("flange", circle((0, 0), 100), tuple(holes))  # fmt: skip

    assert congruence(flange(0.0), flange(math.radians(20))) is not None
    odd = Part("odd", circle((0, 0), 100), (*flange(0.0).holes[:5], circle((80, 4), 9, clockwise=True)))
    assert congruence(flange(0.0), odd) is None


def test_lines_split_in_two_do_not_make_another_shape() -> None:
    split = Part(
        "split", polygon([(0, 0), (60, 0), (120, 0), (120, 30), (40, 30), (40, 80), (0, 80)]), ELL.holes
    )
    assert congruence(ELL, split) is not None


def test_marks_texts_and_bends_count_unless_outlines_alone_are_asked_for() -> None:
    marked = Part("marked", ELL.outer, ELL.holes, marks=(polyline([(10, 10), (60, 10)]),),
                  bends=(BendLine((40, 0), (40, 30)),), texts=(MarkText("B12", (5, 5), 6.0),))  # fmt: skip
    copy = moved(marked, Pose(5.0, 6.0, 90.0))
    assert congruence(marked, copy) is not None
    assert congruence(ELL, marked) is None
    assert congruence(ELL, marked, whole=False) is not None
    other = Part("other", ELL.outer, ELL.holes, marked.marks, marked.bends, (MarkText("B13", (5, 5), 6.0),))
    assert congruence(marked, other) is None


def test_parts_are_sorted_into_kinds_with_the_first_of_each_as_the_model() -> None:
    square = Part("square", polygon([(0, 0), (50, 0), (50, 50), (0, 50)]))
    parts = [
        square,
        ELL,
        moved(ELL, POSES[3]),
        moved(square, POSES[2]),
        moved(ELL, Pose(1, 2, 40.0, mirrored=True)),
    ]
    assert [kind.members for kind in same_shapes(parts)] == [(0, 3), (1, 2), (4,)]
    loose = same_shapes(parts, mirror=True)
    assert [kind.members for kind in loose] == [(0, 3), (1, 2, 4)]
    for kind in loose:
        model = parts[kind.members[0]]
        for member, pose in zip(kind.members, kind.poses, strict=True):
            assert distance(parts[member].outer, place(model.outer, pose).points).max() < 1e-6
