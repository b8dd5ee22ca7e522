"""How long a plate must be ordered, and how near the search comes to the best that there is."""

from __future__ import annotations

import json
import os
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity

from cutplan.base.errors import NestingError
from cutplan.base.stopping import MaxIterations
from cutplan.drawing import Part
from cutplan.geometry import polygon
from cutplan.nesting import Demand, NestGaps, nest_strip
from cutplan.nesting.outline_strip import OutlineStrip, StripItem, pack_outlines

Box = tuple[float, float, float, float]


def guillotine(length: float, width: float, pieces: int, seed: int) -> list[Polygon]:
    """Rectangles cut from one plate edge to edge: laid back together they fill it wholly."""
    chance = np.random.default_rng(seed)
    boxes: list[Box] = [(0.0, 0.0, length, width)]
    while len(boxes) < pieces:
        boxes.sort(key=lambda b: (b[2] - b[0]) * (b[3] - b[1]))
        x0, y0, x1, y1 = boxes.pop()
        share = chance.uniform(0.3, 0.7)
        if x1 - x0 > y1 - y0:
            cut = round(x0 + share * (x1 - x0))
            boxes += [(x0, y0, cut, y1), (cut, y0, x1, y1)]
        else:
            cut = round(y0 + share * (y1 - y0))
            boxes += [(x0, y0, x1, cut), (x0, cut, x1, y1)]
    return [shapely.box(0.0, 0.0, x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes]


def placed(items: list[StripItem], strip: OutlineStrip) -> list[Polygon]:
    return [
        affinity.translate(affinity.rotate(items[p.item].outline, p.rotation_deg, origin=(0, 0)), p.x, p.y)
        for p in strip.places
    ]


def assert_right(items: list[StripItem], width: float, strip: OutlineStrip) -> None:
    """All copies are there, within the strip, and overlap nowhere (shapely is the judge)."""
    shapes = placed(items, strip)
    assert len(shapes) == sum(item.quantity for item in items)
    room = shapely.box(0.0, 0.0, strip.length, width)
    assert all(shape.difference(room).area <= 1e-6 * shape.area for shape in shapes)
    assert all(a.intersection(b).area <= 1e-6 * min(a.area, b.area) for a, b in combinations(shapes, 2))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_plate_cut_up_edge_to_edge_is_put_together_again(seed: int) -> None:
    """The optimum is known by construction: the plate itself, without waste."""
    items = [StripItem(box, 1, (0.0,)) for box in guillotine(200.0, 100.0, 8, seed)]
    strip = pack_outlines(items, 100.0, seed=seed, stop=MaxIterations(8))
    assert_right(items, 100.0, strip)
    assert strip.length == pytest.approx(200.0, rel=1e-6)


def test_a_plate_of_many_pieces_is_nearly_put_together_again() -> None:
    items = [StripItem(box, 1, (0.0, 90.0)) for box in guillotine(300.0, 100.0, 20, 7)]
    strip = pack_outlines(items, 100.0, seed=1, stop=MaxIterations(4))
    assert_right(items, 100.0, strip)
    assert 300.0 * (1.0 - 1e-6) <= strip.length <= 300.0 * 1.12


def test_triangles_that_may_turn_freely_are_paired() -> None:
    items = [StripItem(Polygon([(0, 0), (80, 0), (0, 60)]), 8, None)]
    strip = pack_outlines(items, 100.0, seed=1, stop=MaxIterations(3))
    assert_right(items, 100.0, strip)
    assert strip.length < 240.0


def test_more_work_never_makes_a_strip_longer() -> None:
    items = [StripItem(box, 1, (0.0, 90.0)) for box in guillotine(300.0, 100.0, 16, 5)]
    lengths = [pack_outlines(items, 100.0, seed=4, stop=MaxIterations(n)).length for n in (0, 1, 3)]
    assert lengths == sorted(lengths, reverse=True)


def test_the_same_seed_gives_the_same_strip_with_two_workers() -> None:
    items = [StripItem(box, 1, (0.0, 90.0)) for box in guillotine(300.0, 100.0, 12, 5)]
    first, second = (
        pack_outlines(items, 100.0, seed=2, stop=MaxIterations(2), workers=2).places for _ in range(2)
    )
    assert first == second


# Densities of the literature, 2013, as the instances' own files give them (from memory there);
# a second's work is not held to more than this share of them.
@pytest.mark.parametrize(("name", "share"), [("dagli", 0.91), ("marques", 0.94)])
def test_open_instances_come_near_the_literature_in_seconds(name: str, share: float) -> None:
    beside = Path(__file__).parents[2].parent / "shared" / "benchmarks"
    file = Path(os.environ.get("CUTPLAN_BENCHMARKS", beside)) / "nesting" / f"{name}.json"
    if not file.is_file():
        pytest.skip("the open instances are not here")
    instance = json.loads(file.read_text())
    items = [StripItem(Polygon(i["outline"]), i["quantity"], i["rotations_deg"]) for i in instance["items"]]
    width = instance["strip_width"]
    strip = pack_outlines(items, width, seed=1, stop=MaxIterations(5))
    assert_right(items, width, strip)
    density = 100.0 * sum(i.outline.area * i.quantity for i in items) / (width * strip.length)
    assert density >= share * instance["best_published_density_percent"]


def test_a_plate_to_be_ordered_has_edges_and_gaps() -> None:
    blank = Part("blank", polygon([(0, 0), (480, 0), (480, 200), (0, 200)]))
    strip = nest_strip([Demand(blank, 6, 10.0, "S355")], 500.0, NestGaps(gap=10.0, edge=5.0))
    # Six blanks upright side by side: 6 × 200 and five gaps and two edges.
    assert strip.length == pytest.approx(6 * 200 + 5 * 10 + 2 * 5, abs=1e-2)
    assert len(strip.placements) == 6
    assert strip.least_length <= strip.length


def test_a_part_wider_than_the_strip_is_named() -> None:
    slab = Part("slab", polygon([(0, 0), (600, 0), (600, 600), (0, 600)]))
    strip = nest_strip([Demand(slab, 2, 10.0, "S355")], 500.0, NestGaps(10.0, 5.0))
    assert [(u.part, u.quantity) for u in strip.unplaced] == [("slab", 2)]


def test_a_strip_of_two_thicknesses_is_refused() -> None:
    blank = Part("blank", polygon([(0, 0), (480, 0), (480, 200), (0, 200)]))
    with pytest.raises(NestingError, match="one thickness"):
        nest_strip([Demand(blank, 1, 10.0, "S355"), Demand(blank, 1, 12.0, "S355")], 500.0, NestGaps(10, 5))


def test_outlines_of_many_points_are_packed_closely_and_do_not_overlap() -> None:
    """Cogs of 400 points: the search sees fewer points, the answer holds for all of them."""
    angles = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    radius = 50.0 + 6.0 * np.sin(9.0 * angles) + 0.5 * np.sin(60.0 * angles)
    cog = Polygon(np.column_stack([radius * np.cos(angles), 0.7 * radius * np.sin(angles)]))
    answer = pack_outlines([StripItem(cog, 8, (0.0, 180.0))], 250.0, stop=MaxIterations(2))
    shapes = [
        affinity.translate(affinity.rotate(cog, p.rotation_deg, origin=(0, 0)), p.x, p.y)
        for p in answer.places
    ]
    assert all(a.intersection(b).area < 1e-6 for i, a in enumerate(shapes) for b in shapes[:i])
    assert all(s.bounds[0] > -1e-6 and s.bounds[1] > -1e-6 and s.bounds[3] < 250.0 + 1e-6 for s in shapes)
    assert max(s.bounds[2] for s in shapes) == pytest.approx(answer.length)
    assert 8 * cog.area / (250.0 * answer.length) > 0.62
