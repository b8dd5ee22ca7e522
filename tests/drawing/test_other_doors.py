"""SVG and STEP drawings, what the tool itself writes, and samples that libraries carry."""

import math
from pathlib import Path as FilePath

import pytest

from cutplan.base.errors import CutplanError, DrawingError
from cutplan.base.findings import stopping
from cutplan.drawing import (
    Part,
    ReadOptions,
    inspect_drawing,
    metal_area,
    part_layers,
    read_drawing,
    write_dxf,
)
from cutplan.geometry import area, bounds, circle, polygon

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def svg(
    folder: FilePath, body: str, attributes: str = 'width="400mm" height="300mm" viewBox="0 0 400 300"'
) -> FilePath:
    file = folder / "plate.svg"
    file.write_text(f"{HEAD} {attributes}>{body}</svg>", encoding="utf-8")
    return file


def only(folder: FilePath, body: str, options: ReadOptions = ReadOptions()) -> Part:
    drawing = inspect_drawing(svg(folder, body), options)
    assert not stopping(drawing.findings), drawing.findings
    (part,) = drawing.parts
    return part


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('<rect x="10" y="20" width="100" height="50"/>', 5000.0),
        ('<rect x="10" y="20" width="100" height="50" rx="10"/>', 5000.0 - (4 - math.pi) * 100),
        ('<circle cx="100" cy="80" r="40"/>', math.pi * 1600),
        ('<polygon points="0,0 100,0 100,60"/>', 3000.0),
        ('<path d="M0 0h100v50h-100z"/>', 5000.0),
        ('<path d="M0 0H100A25 25 0 0 1 100 50H0Z"/>', 5000.0 + math.pi * 312.5),
        ('<path d="M50 0A50 50 0 1 1 50 100 50 50 0 1 1 50 0Z"/>', math.pi * 2500),
        ('<g transform="translate(200 40) rotate(30)"><rect width="100" height="50"/></g>', 5000.0),
        (
            '<g transform="scale(2)"><g transform="matrix(-1 0 0 1 90 0)"><rect width="50" height="25"/></g></g>',
            5000.0,
        ),
        ('<defs><rect id="a" width="100" height="50"/></defs><use href="#a" x="30" y="10"/>', 5000.0),
        ('<line x1="0" y1="0" x2="90" y2="0"/><polyline points="90,0 90,40 0,40 0,0"/>', 3600.0),
        ('<path d="M0 0L100 0L100 50L0 50Z M20 20L40 20L40 40L20 40Z"/>', 4600.0),
    ],
)
def test_svg_shapes_have_the_areas_of_their_formulas(tmp_path: FilePath, body: str, expected: float) -> None:
    # Shapes and path commands by the SVG recommendation of the W3C, areas by hand.
    assert metal_area(only(tmp_path, body)) == pytest.approx(expected, rel=1e-9)


def test_svg_curves_keep_within_the_tolerance(tmp_path: FilePath) -> None:
    # Four cubic arcs make a circle to 0.03 % of its radius (the usual constant 0.5523).
    k = 50 * 0.5522847498
    d = (
        f"M150 100C150 {100 + k} {100 + k} 150 100 150C{100 - k} 150 50 {100 + k} 50 100"
        f"C50 {100 - k} {100 - k} 50 100 50C{100 + k} 50 150 {100 - k} 150 100Z"
    )
    assert metal_area(only(tmp_path, f'<path d="{d}"/>')) == pytest.approx(math.pi * 2500, rel=1e-3)
    ellipse = only(tmp_path, '<ellipse cx="100" cy="100" rx="80" ry="40"/>')
    assert metal_area(ellipse) == pytest.approx(math.pi * 3200, rel=1e-4)


def test_svg_points_up_and_its_groups_are_layers(tmp_path: FilePath) -> None:
    body = (
        '<rect width="100" height="50"/><g id="MARK"><path d="M10 10h30"/><text x="10" y="40" font-size="10">B12</text></g>'
        '<g id="title"><rect width="390" height="290"/></g><circle style="display:none" cx="50" cy="25" r="9"/>'
        '<text x="10" y="100" font-size="8">2 OFF</text>'
    )
    part = only(tmp_path, body)
    assert bounds(part.outer) == pytest.approx((0, -50, 100, 0))
    assert len(part.marks) == 1 and part.texts[0].text == "B12" and not part.holes
    assert {"quantity": "2"} in [dict(note.values) for note in part.notes]


@pytest.mark.parametrize(
    ("attributes", "size"),
    [
        ('width="4in" viewBox="0 0 4 3"', 2540.0),
        ('width="200mm" viewBox="0 0 400 300"', 50.0),
        ('width="40cm" height="30cm"', 1000.0),
    ],
)
def test_svg_units_come_from_its_stated_size(tmp_path: FilePath, attributes: str, size: float) -> None:
    file = svg(tmp_path, '<rect width="100" height="50"/>', attributes)
    x0, _, x1, _ = bounds(inspect_drawing(file).parts[0].outer)
    assert x1 - x0 == pytest.approx(size)


def test_svg_without_a_size_is_asked_about(tmp_path: FilePath) -> None:
    file = svg(tmp_path, '<rect width="100" height="50"/>', 'width="400" height="300"')
    (question,) = stopping(inspect_drawing(file).findings)
    assert "no size in mm" in question.message
    assert not stopping(inspect_drawing(file, ReadOptions(units="mm")).findings)


@pytest.mark.parametrize(
    "content",
    [
        "<svg",
        "<html/>",
        '<!DOCTYPE svg [<!ENTITY a "b">]><svg>&a;</svg>',
        "<svg>" + "<g>" * 5000 + "</g>" * 5000 + "</svg>",
    ],
)
def test_svg_that_cannot_be_read_is_refused_by_name(tmp_path: FilePath, content: str) -> None:
    file = tmp_path / "bad.svg"
    file.write_text(content)
    with pytest.raises(DrawingError, match=r"bad\.svg"):
        inspect_drawing(file)


def test_what_the_tool_writes_reads_back_to_the_same_parts(tmp_path: FilePath) -> None:
    hole = circle((60, 40), 9, clockwise=True)
    part = Part("plate", polygon([(0, 0), (200, 0), (200, 80), (0, 80)]), (hole,))
    write_dxf(tmp_path / "plate.dxf", part_layers([part]))
    (again,) = read_drawing(tmp_path / "plate.dxf").parts
    assert again.outer == part.outer and area(again.holes[0]) == pytest.approx(area(hole))


def samples() -> list[FilePath]:
    """Pictures in SVG that the packages at hand carry: dask's logos, import-linter's icon, Sphinx's artwork."""
    home = FilePath(pytest.__file__).parents[1]
    return sorted(
        file
        for name in ("distributed", "importlinter", "sphinx", "alabaster")
        for file in (home / name).rglob("*.svg")
    )


def independent_areas(file: FilePath) -> list[float]:
    """Return the area of each contour in an SVG, as fontTools reads and integrates it."""
    from fontTools.pens.areaPen import AreaPen
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.svgLib import SVGPath

    recorded = RecordingPen()
    SVGPath(str(file)).draw(recorded)
    areas, pen = [], AreaPen()
    for operation, points in recorded.value:
        if operation == "moveTo":
            pen = AreaPen()
        getattr(pen, operation)(*points)
        if operation in ("closePath", "endPath"):
            areas.append(abs(pen.value))
    return sorted(areas)


def test_samples_of_other_packages_are_read_and_agree_with_an_independent_reading() -> None:
    if not samples():
        pytest.skip("no package here carries a drawing")
    compared = 0
    asked = ReadOptions(units="mm", colours={"cut": ["*"]}, equal="apart", frames="cut", largest=1e6)
    for file in samples():
        try:
            drawing = inspect_drawing(file, asked)
        except CutplanError as error:
            assert file.name in str(error)
            continue
        if not stopping(drawing.findings):
            found = sorted(abs(area(c)) for part in drawing.parts for c in (part.outer, *part.holes))
            assert found == pytest.approx(independent_areas(file), rel=1e-3)
            compared += 1
    assert compared > 0


def test_svg_paths_agree_with_fonttools(tmp_path: FilePath) -> None:
    d = "M10 10C60 -20 120 40 160 10S200 80 150 120Q100 160 60 120T10 60Z M60 60A20 12 30 1 0 90 70 20 12 30 1 0 60 60Z"
    file = svg(tmp_path, f'<path d="{d}"/>')
    (part,) = inspect_drawing(file).parts
    found = sorted(abs(area(c)) for c in (part.outer, *part.holes))
    assert found == pytest.approx(independent_areas(file), rel=1e-3)


def plate_solid(thickness: float, *, drill: bool = True, chamfer: bool = False) -> object:
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    shape = BRepPrimAPI_MakeBox(200.0, 100.0, thickness).Shape()
    if drill:
        axis = gp_Ax2(gp_Pnt(50, 50, -1), gp_Dir(0, 0, 1))
        shape = BRepAlgoAPI_Cut(shape, BRepPrimAPI_MakeCylinder(axis, 12.0, thickness + 2).Shape()).Shape()
    if chamfer:
        maker = BRepFilletAPI_MakeChamfer(shape)
        edges = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_EDGE)
        cast = getattr(TopoDS, "Edge_s", None) or TopoDS.Edge
        while BRepAdaptor_Curve(cast(edges.Current())).Line().Direction().Z() != 0.0:
            edges.Next()
        maker.Add(2.0, cast(edges.Current()))
        shape = maker.Shape()
    return shape


def step(folder: FilePath, *shapes: object) -> FilePath:
    from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

    writer = STEPControl_Writer()
    for shape in shapes:
        writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs)
    file = folder / "plates.step"
    writer.Write(str(file))
    return file


def test_step_plates_give_outline_and_thickness_of_the_solid(tmp_path: FilePath) -> None:
    pytest.importorskip("OCP", reason="the extra 'step' is not installed")
    drawing = inspect_drawing(step(tmp_path, plate_solid(10.0), plate_solid(12.5, drill=False)))
    assert not stopping(drawing.findings), drawing.findings
    assert sorted(round(metal_area(part), 3) for part in drawing.parts) == [
        round(20_000 - math.pi * 144, 3),
        20_000.0,
    ]
    assert sorted(note.values["thickness"] for part in drawing.parts for note in part.notes) == ["10", "12.5"]


def test_a_step_solid_that_is_no_flat_plate_is_refused(tmp_path: FilePath) -> None:
    pytest.importorskip("OCP", reason="the extra 'step' is not installed")
    (refused,) = [
        f
        for f in inspect_drawing(step(tmp_path, plate_solid(10.0, chamfer=True))).findings
        if f.kind == "refused"
    ]
    assert "flat pattern" in refused.remedy
