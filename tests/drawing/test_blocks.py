"""Block references: moved, turned, mirrored, stretched, nested, in arrays and flipped."""

import math
from collections.abc import Callable
from typing import Any

import ezdxf
import ezdxf.disassemble
import numpy as np
import pytest
import shapely

from cutplan.base.errors import DrawingError
from cutplan.drawing import Drawing, ReadOptions
from cutplan.geometry import area, distance, length

Inspect = Callable[..., Drawing]
TRIANGLE = [(0, 0), (30, 0), (0, 20)]


def with_triangle(attributes: dict[str, Any], insert: tuple[float, float] = (100, 50)) -> Callable[..., None]:
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("TRI").add_lwpolyline(TRIANGLE, close=True)
        m.add_blockref("TRI", insert, dxfattribs=attributes)

    return content


@pytest.mark.parametrize(
    ("attributes", "corners"),
    [
        ({}, [(100, 50), (130, 50), (100, 70)]),
        ({"rotation": 90}, [(100, 50), (100, 80), (80, 50)]),
        ({"xscale": -1}, [(100, 50), (70, 50), (100, 70)]),
        ({"xscale": 2, "yscale": 0.5}, [(100, 50), (160, 50), (100, 60)]),
        # Scale first, then rotation: (30, 0) → (60, 0) → (0, 60).
        ({"xscale": 2, "yscale": 1, "rotation": 90}, [(100, 50), (100, 110), (80, 50)]),
        # All of it flipped: x changes sign, the insertion point's too.
        ({"extrusion": (0, 0, -1)}, [(-100, 50), (-130, 50), (-100, 70)]),
        ({"extrusion": (0, 0, -1), "rotation": 90}, [(-100, 50), (-100, 80), (-80, 50)]),
    ],
)
def test_a_block_lands_where_its_reference_puts_it(
    inspect: Inspect, attributes: dict[str, Any], corners: list[tuple[float, float]]
) -> None:
    (part,) = inspect(with_triangle(attributes)).parts
    np.testing.assert_allclose(sorted(part.outer.points.tolist()), sorted(corners), atol=1e-9)
    assert area(part.outer) > 0


def test_the_base_point_of_a_block_lands_on_the_insertion_point(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("TRI", base_point=(30, 0)).add_lwpolyline(TRIANGLE, close=True)
        m.add_blockref("TRI", (0, 0), dxfattribs={"rotation": 180})

    (part,) = inspect(content).parts
    np.testing.assert_allclose(sorted(part.outer.points.tolist()), [(0, 0), (30, -20), (30, 0)], atol=1e-12)


def test_arcs_stay_arcs_under_rotation_mirror_and_even_scale(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        block = doc.blocks.new("SLOT")
        block.add_lwpolyline([(0, 0, 0), (40, 0, 1), (40, 10, 0), (0, 10, 1)], format="xyb", close=True)
        m.add_blockref("SLOT", (0, 0), dxfattribs={"xscale": -3, "yscale": 3, "rotation": 33})

    (part,) = inspect(content).parts
    assert len(part.outer) == 4
    np.testing.assert_allclose(sorted(part.outer.segments.radius)[:2], 15, rtol=1e-12)


def test_a_circle_stretched_is_an_ellipse(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("DISC").add_circle((0, 0), 10)
        m.add_blockref("DISC", (5, 0), dxfattribs={"xscale": 4, "yscale": 2})

    (part,) = inspect(content).parts
    t = np.linspace(0, 2 * math.pi, 361)
    assert distance(part.outer, np.column_stack([5 + 40 * np.cos(t), 20 * np.sin(t)])).max() < 0.0101


def test_an_ellipse_stretched_back_is_a_circle(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("OVAL").add_ellipse((0, 0), (20, 0), 0.5)
        m.add_blockref("OVAL", (0, 0), dxfattribs={"yscale": 2})

    (part,) = inspect(content).parts
    assert len(part.outer) == 2
    assert area(part.outer) == pytest.approx(400 * math.pi, rel=1e-12)


def test_blocks_within_blocks_compose(inspect: Inspect) -> None:
    # Inner: x → 2x + 10; outer: quarter turn, then + (0, 100).  (30, 0) → (70, 0) → (0, 170).
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("IN").add_lwpolyline(TRIANGLE, close=True)
        doc.blocks.new("OUT").add_blockref("IN", (10, 0), dxfattribs={"xscale": 2, "yscale": 2})
        m.add_blockref("OUT", (0, 100), dxfattribs={"rotation": 90})

    (part,) = inspect(content).parts
    np.testing.assert_allclose(
        sorted(part.outer.points.tolist()), [(-40, 110), (0, 110), (0, 170)], atol=1e-9
    )


def test_an_array_turns_with_its_block_but_does_not_scale(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("DISC").add_circle((0, 0), 2)
        array = {"row_count": 2, "row_spacing": 50, "column_count": 3, "column_spacing": 40}
        m.add_blockref("DISC", (0, 0), dxfattribs={**array, "rotation": 90, "xscale": 5, "yscale": 5})

    parts = inspect(content, ReadOptions(equal="apart")).parts
    centres = sorted(tuple(np.round(p.outer.segments.centre[0], 9) + 0.0) for p in parts)
    assert centres == [(-50, 0), (-50, 40), (-50, 80), (0, 0), (0, 40), (0, 80)]


def test_layer_nought_in_a_block_is_the_layer_of_its_reference(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        block = doc.blocks.new("B")
        block.add_circle((0, 0), 20)
        block.add_circle((0, 0), 9, dxfattribs={"layer": "HOLES"})
        m.add_blockref("B", (0, 0))
        m.add_blockref("B", (100, 0), dxfattribs={"layer": "BORDER"})

    drawing = inspect(content)
    assert [len(part.holes) for part in drawing.parts] == [1]
    assert drawing.ignored == {"layer BORDER": 1}


def test_a_title_block_does_not_become_a_part(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("A3 Title Block").add_lwpolyline([(0, 0), (420, 0), (420, 297)], close=True)
        m.add_blockref("A3 Title Block", (0, 0))
        m.add_circle((100, 100), 30)

    assert len(inspect(content).parts) == 1


@pytest.mark.parametrize("missing", [True, False])
def test_a_block_that_is_missing_or_holds_itself_is_refused(inspect: Inspect, missing: bool) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_circle((0, 0), 40)
        if missing:
            m.add_blockref("NOWHERE", (1, 2))
        else:
            block = doc.blocks.new("LOOP")
            block.add_blockref("LOOP", (1, 0))
            m.add_blockref("LOOP", (1, 2))

    refused = [f for f in inspect(content).findings if f.kind == "refused"]
    assert len(refused) == 1 and "block" in refused[0].message and refused[0].place is not None


def test_blocks_that_unfold_without_end_are_refused_at_once(inspect: Inspect) -> None:
    # Eight levels of ten references each: a hundred million circles.
    def content(doc: Any, m: Any) -> None:
        doc.blocks.new("L0").add_circle((0, 0), 1)
        for level in range(1, 9):
            block = doc.blocks.new(f"L{level}")
            for k in range(10):
                block.add_blockref(f"L{level - 1}", (3 * k, 0))
        m.add_blockref("L8", (0, 0))

    with pytest.raises(DrawingError, match="unfolds to more than"):
        inspect(content)


@pytest.mark.parametrize("seed", range(6))
def test_random_references_agree_with_the_library_that_wrote_them(inspect: Inspect, seed: int) -> None:
    # ezdxf takes references apart by its own code, into lines, arcs and ellipses; its chords of
    # 0.001 mm are the reference here (its Bézier paths would stray by 0.027 percent).
    random = np.random.default_rng(seed)
    kept: list[Any] = []

    def content(doc: Any, m: Any) -> None:
        block = doc.blocks.new("B", base_point=tuple(random.uniform(-5, 5, 2)))
        block.add_lwpolyline(
            [(0, 0, 0.3), (60, 0, 0), (60, 40, -0.4), (0, 40, 0)], format="xyb", close=True,
            dxfattribs={"extrusion": (0, 0, random.choice([-1, 1]))},
        )  # fmt: skip
        m.add_blockref(
            "B",
            tuple(random.uniform(-100, 100, 2)),
            dxfattribs={
                "xscale": random.choice([-1, 1]) * random.uniform(0.5, 2),
                "yscale": random.choice([-1, 1]) * random.uniform(0.5, 2),
                "rotation": random.uniform(0, 360),
                "extrusion": (0, 0, random.choice([-1, 1])),
            },
        )
        for entity in ezdxf.disassemble.recursive_decompose(m):
            line = entity.dxftype() == "LINE"
            points = [entity.dxf.start, entity.dxf.end] if line else entity.flattening(0.001)
            kept.append([(p.x, p.y) for p in points])

    (part,) = inspect(content).parts
    assert distance(part.outer, np.vstack(kept)).max() < 0.0101
    theirs = sum(shapely.LineString(points).length for points in kept)
    assert length(part.outer) == pytest.approx(theirs, rel=2e-4)
