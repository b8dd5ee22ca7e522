"""Control-side compensation, G41 and G42, after NISTIR 6556, section 3.5.10 and appendix B."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutplan.base.errors import ProgramError
from cutplan.control import ARC_CCW, ARC_CW, DWELL, LINE, Dialect, Motions, read_program

RADIUS = 1.0
FIELDS = [
    "kind",
    "start",
    "end",
    "centre",
    "turns",
    "feed_mm_min",
    "dwell_s",
    "torch",
    "marker",
    "flame",
    "height_control",
    "line",
]
CONTROL = Dialect(compensation_radius_mm=RADIUS)


def read(*lines: str, dialect: Dialect = CONTROL) -> Motions:
    return read_program("\n".join(["G21 G90 G17 G40 G94 F100", *lines, "M30"]), dialect)


def gaps_from_square(m: Motions, side: float) -> np.ndarray:
    """Distance of every point of the torch's lines and arcs from the square's outline."""
    points = []
    for row in range(len(m)):
        share = np.linspace(0, 1, 50)[:, None]
        if np.isnan(m.centre[row, 0]):
            points.append(m.start[row, :2] + share * (m.end[row, :2] - m.start[row, :2]))
        else:
            spoke = m.start[row, :2] - m.centre[row]
            angle = math.atan2(spoke[1], spoke[0]) + share[:, 0] * m.turns[row]
            points.append(m.centre[row] + np.hypot(*spoke) * np.column_stack([np.cos(angle), np.sin(angle)]))
    p = np.vstack(points)
    outside = np.maximum(np.maximum(-p, p - side), 0.0)
    inside = np.minimum(p, side - p).min(axis=1)
    return np.where((outside > 0).any(axis=1), np.hypot(*outside.T), -np.maximum(inside, 0.0))


def test_a_square_is_gone_round_at_the_radius_with_arcs_at_its_corners() -> None:
    """Appendix B: convex corners get an arc about the corner."""
    m = read("G0 X-20 Y0", "G41 D1 G1 X0 Y0", "Y50", "X50", "Y0", "X0", "G40 X-20 Y-20")
    rounded = m.kind == ARC_CW
    assert m.centre[rounded].tolist() == [[0.0, 50.0], [50.0, 50.0], [50.0, 0.0]]
    contour = slice(2, len(m) - 1)  # without the way there, the entry and the exit
    pieces = Motions(**{name: getattr(m, name)[contour] for name in FIELDS})
    assert gaps_from_square(pieces, 50.0) == pytest.approx(RADIUS, abs=1e-9)


def test_the_entry_ends_beside_its_point_at_right_angles_to_the_way() -> None:
    """Appendix B, first move: the tool ends tangent to the programmed point's circle."""
    m = read("G0 X-20 Y0", "G41 D1 G1 X0 Y0", "Y-50", "G40 X-9 Y-60")
    way, spoke = m.end[1, :2] - m.start[1, :2], m.end[1, :2]
    assert np.hypot(*spoke) == pytest.approx(RADIUS) and way @ spoke == pytest.approx(0.0, abs=1e-9)
    assert spoke[1] > 0.0  # left of the way


def test_rows_stay_connected_and_arcs_keep_their_radius() -> None:
    m = read(
        "G0 X-20 Y5", "G42 D1 G1 X0 Y0", "X40", "G3 X50 Y10 J10", "G2 X60 Y20 I10", "G1 X60 Y60",
        "X30 Y40", "X0 Y60", "Y0", "G40 Y-20",
    )  # fmt: skip
    assert m.start[1:] == pytest.approx(m.end[:-1], abs=1e-9)
    arcs = np.flatnonzero(m.turns)
    before = np.hypot(*(m.start[arcs, :2] - m.centre[arcs]).T)
    behind = np.hypot(*(m.end[arcs, :2] - m.centre[arcs]).T)
    assert before == pytest.approx(behind, abs=1e-9)
    # G42 runs right of the path: an arc to the left grows, an arc to the right shrinks.
    radii = {round(r, 6) for r in before.tolist()}
    assert {11.0, 9.0} <= radii


def test_a_concave_corner_is_trimmed_where_the_offsets_meet() -> None:
    m = read("G0 X0 Y-20", "G41 D1 G1 X0 Y0", "X50", "Y50", "G40 X40 Y60")
    assert [49.0, 1.0] in [[round(v, 9) for v in p] for p in m.end[:, :2].tolist()]


def test_a_concave_corner_is_an_error_where_the_control_keeps_to_the_standard() -> None:
    strict = Dialect(compensation_radius_mm=RADIUS, concave_corners=False)
    with pytest.raises(ProgramError, match="a concave corner"):
        read("G0 X-20 Y0", "G41 D1 G1 X0 Y0", "X50", "Y50", "G40 X40 Y60", dialect=strict)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("G41 D1", "G42 D1"), "the compensation is on already"),
        (("G18 G41 D1",), "XY plane only"),
        (("G41 D-1",), "negative"),
        (("G41 D1.5",), "must be a whole number"),
        (("G0 X5", "D3 X6"), "nothing on the line uses D3"),
        (("G41 D1", "G20"), "the units cannot change under compensation"),
        (("G41 D1", "G18"), "the plane cannot change under compensation"),
        (("G41 D1", "G92 X0"), "G92 is an error under compensation"),
        (("G41 D1", "G53 G0 X3"), "G53 is an error under compensation"),
        (("G41 D1 G1 X0.5",), "not longer than the radius"),
        (("G41 D1 G1 X20", "X30", "G3 X30 Y1 J0.5"), "not larger than the compensation radius"),
        (("G42 D1 G1 X20", "X30", "X30.2 Y-0.5", "X30 Y-5"), "do not meet at the corner"),
    ],
)
def test_errors_of_compensation_are_refused(lines: tuple[str, ...], words: str) -> None:
    with pytest.raises(ProgramError, match=words):
        read("G0 X0 Y0", *lines)


def test_without_a_radius_in_the_register_nothing_is_guessed() -> None:
    with pytest.raises(ProgramError, match="state compensation_radius_mm"):
        read("G41 D1", dialect=Dialect())
    m = read("G0 X0 Y0", "G41 D0 G1 X5", "Y5", "G40 X9", dialect=Dialect())
    assert m.end[1, :2].tolist() == pytest.approx([5.0, 0.0])


def test_a_dwell_between_blocks_stays_at_the_trimmed_corner() -> None:
    m = read("G0 X0 Y-20", "G41 D1 G1 X0 Y0", "X50", "G4 P1", "Y50", "G40 X40 Y60")
    dwell = int(np.flatnonzero(m.kind == DWELL)[0])
    assert m.start[dwell, :2].tolist() == pytest.approx([49.0, 1.0])


def test_straight_back_is_a_half_turn_about_the_end() -> None:
    m = read("G0 X-20 Y0", "G41 D1 G1 X0 Y0", "X30", "X0", "G40 X-20")
    half = int(np.argmax(np.abs(m.turns)))
    assert abs(m.turns[half]) == pytest.approx(math.pi) and m.centre[half].tolist() == [30.0, 0.0]
    assert m.kind[half] in (ARC_CW, ARC_CCW) and m.kind[half + 1] == LINE
