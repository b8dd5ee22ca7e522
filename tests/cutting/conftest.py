"""Cutting data made by hand, sheets of a few parts, and a replay that shares no code with the planner."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from cutplan.cutting import Cut
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, chord_points, is_simple, place, polygon, reverse, to_polygon
from cutplan.process import CutData, Rules
from cutplan.stock import Keepout, NestedPlate, Placement, Plate

# Chords of the replay: far finer than the 0.01 mm that it answers for.
FINE = 2e-4
QUADRANT = 64


@pytest.fixture(scope="session")
def plasma() -> CutData:
    """Plasma on 10 mm mild steel, round figures (common practice)."""
    return CutData(
        process="plasma", material="mild steel", thickness=10.0, setting="120 A", source="by hand",
        kerf=2.0, feed_mm_min=2700.0, pierce_height=5.0, cut_height=2.5, pierce_s=0.3, preheat_s=0.0,
        gases=(),
        rules=Rules(
            part_gap=8.0, edge_gap=6.0, lead_in=6.0, lead_out=3.0, pierce_clearance=3.5, overburn=3.0,
            smallest_hole=10.0, small_hole=25.0, small_hole_feed=0.6, corner_feed=0.75, corner_length=5.0,
            thinnest_web=10.0,
        ),
    )  # fmt: skip


@pytest.fixture(scope="session")
def with_rules() -> Callable[..., CutData]:
    """Cutting data with some of its rules replaced."""
    return lambda data, **rules: replace(data, rules=replace(data.rules, **rules))


@pytest.fixture(scope="session")
def sheet_of() -> Callable[..., NestedPlate]:
    """A plate with parts at given poses."""

    def make(
        placed: Sequence[tuple[Part, Pose]],
        size: tuple[float, float] = (600.0, 400.0),
        thickness: float = 10.0,
        keepouts: tuple[Path, ...] = (),
    ) -> NestedPlate:
        outline = polygon([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]])
        plate = Plate("P", outline, thickness, "S355", "mild steel", keepouts=tuple(map(Keepout, keepouts)))
        placements = tuple(Placement(part, i + 1, pose) for i, (part, pose) in enumerate(placed))
        return NestedPlate(plate, 1, placements)

    return make


def sweep(path: Path, kerf: float) -> Any:
    """Return what the kerf of a torch path removes."""
    line = shapely.LineString(chord_points(path, FINE))
    return line.buffer(0.5 * kerf, quad_segs=QUADRANT)


def drawn(part: Part, pose: Pose, tolerance: float = FINE) -> Any:
    """Return a part as drawn, placed, as a shapely polygon."""
    return to_polygon(
        place(part.outer, pose), [place(hole, pose) for hole in part.holes], tolerance=tolerance
    )


@pytest.fixture(scope="session")
def swept() -> Callable[[Path, float], Any]:
    return sweep


@pytest.fixture(scope="session")
def metal_of() -> Callable[[Part, Pose], Any]:
    return drawn


@pytest.fixture(scope="session")
def assert_comes_out_as_drawn() -> Callable[..., None]:
    """Cut a part out of its plate by one choice for each contour, and hold it against the drawing."""

    def check(cuts: Sequence[Cut], part: Part, pose: Pose, kerf: float, pick: int = 0) -> None:
        metal = drawn(part, pose)
        plate = metal.envelope.buffer(60.0)
        lines = [cut.choices[pick % len(cut.choices)].path for cut in cuts if cut.kind != "mark"]
        rest = plate.difference(shapely.union_all([sweep(line, kerf) for line in lines]))
        inside = metal.representative_point()
        pieces = [piece for piece in shapely.get_parts(rest) if piece.buffer(0.01).contains(inside)]
        assert len(pieces) == 1, "the part is not in one piece"
        bite = metal.buffer(-0.01).difference(pieces[0])
        assert bite.area < 1e-6, f"bites into the part near {bite.representative_point()}"
        # A round jet leaves fillets in re-entrant corners: the closing of the part by its radius.
        reachable = metal.buffer(0.5 * kerf, quad_segs=QUADRANT).buffer(-0.5 * kerf, quad_segs=QUADRANT)
        left = pieces[0].difference(reachable.union(metal).buffer(0.01))
        assert left.area < 1e-6, f"metal is left on near {left.representative_point()}"

    return check


def random_contour(rng: np.random.Generator, size: float, corners: int) -> Path:
    """Return a random simple counter-clockwise contour of lines and arcs about the origin."""
    while True:
        angles = 2.0 * np.pi * (np.arange(corners) + rng.uniform(-0.3, 0.3, corners)) / corners
        radii = size * rng.uniform(0.55, 1.0, corners)
        bulges = np.where(rng.random(corners) < 0.5, rng.uniform(-0.5, 0.5, corners), 0.0)
        path = Path(np.column_stack([radii * np.cos(angles), radii * np.sin(angles), bulges]), closed=True)
        if is_simple(path):
            return path


@pytest.fixture(scope="session")
def random_part() -> Callable[[int], Part]:
    """A random part of lines and arcs with up to two holes, by its seed."""

    def make(seed: int) -> Part:
        rng = np.random.default_rng(seed)
        outer = random_contour(rng, rng.uniform(60.0, 120.0), int(rng.integers(3, 9)))
        whole = to_polygon(outer, tolerance=0.01).buffer(-12.0)
        holes: list[Path] = []
        for _ in range(int(rng.integers(0, 3))):
            hole = random_contour(rng, rng.uniform(9.0, 30.0), int(rng.integers(3, 8)))
            middle = np.append(rng.uniform(-30.0, 30.0, 2), 0.0)
            moved = Path(hole.vertices + middle, closed=True)
            shape = to_polygon(moved, tolerance=0.01)
            if whole.contains(shape):
                holes.append(reverse(moved))
                whole = whole.difference(shape.buffer(12.0))
        return Part(f"random-{seed}", outer, tuple(holes))

    return make
