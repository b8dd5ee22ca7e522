"""One order exported in twelve careless ways: the same parts, or a question, never a silent difference."""

import itertools
import math
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import numpy as np
import pytest

from cutplan.base.findings import stopping
from cutplan.drawing import Drawing, Part, ReadOptions, inspect_drawing, metal_area
from cutplan.geometry import Path, Pose, arc, area, circle, join, length, place, polygon, polyline


def slot(x: float, y: float, long: float, radius: float) -> Path:
    return join(
        [
            polyline([(x, y - radius), (x + long, y - radius)]),
            arc((x + long, y), radius, -math.pi / 2, math.pi),
            polyline([(x + long, y + radius), (x, y + radius)]),
            arc((x, y), radius, math.pi / 2, math.pi),
        ],
        closed=True,
    )


# Outside and holes of each part: a gusset, a web with a slot, a flange, and the same disc twice.
ORDER: list[list[Path]] = [
    [polygon([(0, 0), (240, 0), (240, 40), (40, 210), (0, 210)]), circle((40, 40), 11), circle((180, 30), 11)],
    [polygon([(300, 0), (520, 0), (520, 120), (300, 120)]), slot(340, 60, 80, 12)],
    [circle((700, 110), 100), *(circle((700 + 75 * math.cos(k), 110 + 75 * math.sin(k)), 9) for k in np.arange(6) * math.pi / 3)],
    [circle((900, 60), 50)],
    [circle((1050, 60), 50)],
]  # fmt: skip

Pieces = list[tuple[str, tuple[Any, ...]]]


def pieces(path: Path) -> Pieces:
    """Return a contour as loose lines, arcs and circles."""
    segments = path.segments
    if segments.is_arc.all() and len(path) == 2:
        return [("circle", (tuple(segments.centre[0]), float(segments.radius[0])))]
    made: Pieces = []
    for a, b, c, r, sweep in zip(
        segments.start, segments.end, segments.centre, segments.radius, segments.sweep, strict=True
    ):
        if sweep == 0.0:
            made.append(("line", (tuple(a), tuple(b))))
        else:
            begin, end = (math.degrees(math.atan2(p[1] - c[1], p[0] - c[0])) for p in (a, b))
            made.append(("arc", (tuple(c), float(r), *((begin, end) if sweep > 0 else (end, begin)))))
    return made


def add(space: Any, made: Pieces, **attributes: Any) -> None:
    for kind, values in made:
        getattr(space, f"add_{kind}")(*values, dxfattribs=attributes)


def all_of(space: Any, order: list[list[Path]] = ORDER) -> None:
    for contours in order:
        for contour in contours:
            add(space, pieces(contour))


def r12_lines(document: Any, space: Any) -> None:
    all_of(space)


def chorded(document: Any, space: Any) -> None:
    for contours in ORDER:
        for contour in contours:
            for kind, values in pieces(contour):
                if kind == "line":
                    space.add_line(*values)
                    continue
                centre, radius = values[:2]
                begin, end = values[2:] if kind == "arc" else (0.0, 360.0)
                angles = np.radians(np.linspace(begin, begin + ((end - begin) % 360.0 or 360.0), 37))
                points = [
                    (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles
                ]
                for a, b in itertools.pairwise(points):
                    space.add_line(a, b)


def in_blocks(document: Any, space: Any) -> None:
    for k, contours in enumerate(ORDER):
        block = document.blocks.new(f"PART{k}")
        x, y = contours[0].start
        for contour in contours:
            add(block, pieces(place(contour, Pose(-float(x), -float(y)))))
        space.add_blockref(f"PART{k}", (float(x), float(y)))


def in_mirrored_blocks(document: Any, space: Any) -> None:
    for k, contours in enumerate(ORDER):
        block = document.blocks.new(f"PART{k}")
        for contour in contours:
            add(block, pieces(place(contour, Pose(mirrored=True))))
        space.add_blockref(f"PART{k}", (0, 0), dxfattribs={"xscale": -1})


def exploded_texts(document: Any, space: Any) -> None:
    all_of(space)
    # The letters "T" and "L" and "N" as an export to lines leaves them, off the parts.
    for x, y in [(0, 300), (60, 300), (500, 300)]:
        add(space, [("line", ((x, y), (x + 8, y))), ("line", ((x + 4, y), (x + 4, y - 12)))])
        add(
            space, [("line", ((x + 12, y), (x + 12, y - 12))), ("line", ((x + 12, y - 12), (x + 19, y - 12)))]
        )


def framed(document: Any, space: Any) -> None:
    all_of(space)
    add(space, pieces(polygon([(-100, -100), (1300, -100), (1300, 800), (-100, 800)])))
    add(space, pieces(polygon([(1000, -90), (1290, -90), (1290, 0), (1000, 0)])))
    for k, word in enumerate(["DRAWN", "SCALE 1:2", "DATE"]):
        space.add_text(word, height=8, dxfattribs={"insert": (1010, -80 + 25 * k)})


def in_inches(document: Any, space: Any) -> None:
    document.header["$INSUNITS"] = 1
    for contours in ORDER:
        for contour in contours:
            scaled = contour.vertices * np.array([1 / 25.4, 1 / 25.4, 1.0])
            add(space, pieces(Path(scaled, closed=True)))


def by_colour(document: Any, space: Any) -> None:
    for contours in ORDER:
        for k, contour in enumerate(contours):
            add(space, pieces(contour), color=7 if k == 0 else 3)
    # What is to be scribed is red, and closed: cut, it would be a hole.
    space.add_circle((420, 60), 5, dxfattribs={"color": 1})
    space.add_circle((120, 60), 15, dxfattribs={"color": 1})


def duplicated(document: Any, space: Any) -> None:
    all_of(space)
    all_of(space)


def split(document: Any, space: Any) -> None:
    for contours in ORDER:
        for contour in contours:
            for kind, values in pieces(contour):
                if kind != "line":
                    add(space, [(kind, values)])
                    continue
                a, b = np.array(values)
                for s, t in ((0.0, 0.31), (0.31, 0.7), (0.7, 1.0)):
                    space.add_line(tuple(a + s * (b - a)), tuple(a + t * (b - a)))


def shifted(document: Any, space: Any) -> None:
    all_of(space, [[place(contour, Pose(1e6, 1e6)) for contour in contours] for contours in ORDER])


def with_gaps(document: Any, space: Any) -> None:
    for contours in ORDER:
        for contour in contours:
            for kind, values in pieces(contour):
                if kind == "line":
                    a, b = np.array(values)
                    values = (tuple(a), tuple(b - 0.2 * (b - a) / np.hypot(*(b - a))))
                add(space, [(kind, values)])


COLOURS = {"cut": ["white", "green"], "mark": ["red"]}
EXPORTS: list[tuple[Callable[[Any, Any], None], str, dict[str, Any] | None]] = [
    (r12_lines, "R12", {"units": "mm"}),
    (chorded, "R2010", {}),
    (in_blocks, "R2010", {}),
    (in_mirrored_blocks, "R2010", {}),
    (exploded_texts, "R2010", {"open": "leave out"}),
    (framed, "R2010", {"frames": "leave out"}),
    (in_inches, "R2010", {}),
    (by_colour, "R2010", {"colours": COLOURS}),
    (duplicated, "R2010", {}),
    (split, "R2010", {}),
    (shifted, "R2010", {}),
    (with_gaps, "R2010", {"gap": 0.5}),
]


def export(how: Callable[[Any, Any], None], version: str, folder: FilePath) -> FilePath:
    document = ezdxf.new(version, units=4)
    how(document, document.modelspace())
    file = folder / "order.dxf"
    document.saveas(file)
    return file


def signature(parts: tuple[Part, ...]) -> list[tuple[float, float, int, int]]:
    """Return what tells the parts of the order from each other: area, outline, holes, number."""
    rows = [(metal_area(p), length(p.outer), len(p.holes), p.drawn) for p in parts]
    return sorted(rows)


def wanted() -> list[tuple[float, float, int, int]]:
    rows = []
    for contours, drawn in zip(ORDER[:4], (1, 1, 1, 2), strict=True):
        holes = sum(abs(area(hole)) for hole in contours[1:])
        rows.append((abs(area(contours[0])) - holes, length(contours[0]), len(contours) - 1, drawn))
    return sorted(rows)


def same(drawing: Drawing) -> bool:
    found = signature(drawing.parts)
    return len(found) == 4 and bool(np.allclose(found, wanted(), rtol=1e-3))


@pytest.mark.parametrize(("how", "version", "answer"), EXPORTS, ids=[how.__name__ for how, *_ in EXPORTS])
def test_a_careless_export_gives_the_same_parts_or_a_question(
    tmp_path: FilePath, how: Callable[[Any, Any], None], version: str, answer: dict[str, Any]
) -> None:
    file = export(how, version, tmp_path)
    asked = inspect_drawing(file)
    assert same(asked) or stopping(asked.findings), asked.findings
    # The answer that the finding names gives the parts of the order.
    answered = inspect_drawing(file, ReadOptions(**answer))
    assert not stopping(answered.findings), stopping(answered.findings)
    assert same(answered), signature(answered.parts)


def test_the_comparison_tells_a_changed_order(tmp_path: FilePath) -> None:
    def changed(document: Any, space: Any) -> None:
        all_of(space, [*ORDER[:4], [circle((1050, 60), 51)]])

    assert not same(inspect_drawing(export(changed, "R2010", tmp_path)))
