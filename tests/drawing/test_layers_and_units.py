"""Layers to roles, what is hidden, and units: what the header says and what makes sense."""

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import pytest

from cutplan.base.errors import InputError
from cutplan.drawing import Drawing, ReadOptions, inspect_drawing
from cutplan.drawing.layers import default_role, is_construction_linetype
from cutplan.geometry import bounds

Inspect = Callable[..., Drawing]
INCH, METRE, UNITLESS = 1, 6, 0


@pytest.mark.parametrize(
    ("names", "role"),
    [
        ("0 OUTLINE Profile cut holes CENTER_HOLE PLASMA Layer1 DIMPLE FASTENER", "cut"),
        ("MARK Marking scribe ETCH engrave CENTRE_PUNCH TEXT-MARK", "mark"),
        ("BEND Bend_Lines FOLD bend-up BEND-TEXT", "bend"),
        ("DIM Dimensions A-DIMS TITLE TitleBlock BORDER Frame Defpoints NO_PLOT VIEWPORT", "ignore"),
        ("TEXT Notes CENTER Centerlines CL centre-line HIDDEN Construction ANNO center_mark AXES", "ignore"),
    ],
)
def test_layer_names_tell_their_role(names: str, role: str) -> None:
    assert {name: default_role(name) for name in names.split()} == dict.fromkeys(names.split(), role)


def test_the_job_may_give_layers_other_roles(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        for k, layer in enumerate(["Dimensions", "Rand", "0", "Gravur"]):
            m.add_circle((100 * k, 0), 20, dxfattribs={"layer": layer})
        m.add_line((90, 0), (110, 0), dxfattribs={"layer": "GRAVUR-2"})

    assert len(inspect(content, ReadOptions(equal="apart")).parts) == 3
    options = ReadOptions(
        equal="apart", layers={"cut": ["dimens*", "rand"], "mark": ["gravur*"], "ignore": ["0"]}
    )
    drawing = inspect(content, options)
    assert [bounds(part.outer)[0] for part in drawing.parts] == [-20, 80]
    assert [len(part.marks) for part in drawing.parts] == [0, 1]


@pytest.mark.parametrize(
    "bad",
    [
        {"units": "furlong"},
        {"layers": {"etch": ["a"]}},
        {"layers": {"cut": "0"}},
        {"gap": -1},
        {"tolerance": 0},
    ],
)
def test_options_that_cannot_be_are_refused(bad: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        ReadOptions(**bad)


@pytest.mark.parametrize("how", ["off", "freeze"])
def test_hidden_layers_and_invisible_entities_are_not_cut(inspect: Inspect, how: str) -> None:
    def content(doc: Any, m: Any) -> None:
        getattr(doc.layers.add("OLD"), how)()
        m.add_circle((0, 0), 40)
        m.add_circle((0, 0), 10, dxfattribs={"layer": "OLD"})
        m.add_circle((0, 0), 20, dxfattribs={"invisible": 1})

    drawing = inspect(content)
    assert [len(part.holes) for part in drawing.parts] == [0]
    assert sum(drawing.ignored.values()) == 2


def test_centre_lines_and_hidden_edges_are_known_by_their_linetype(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        doc.layers.add("Layer7", linetype="HIDDEN")
        m.add_circle((0, 0), 40)
        m.add_line((-50, 0), (50, 0), dxfattribs={"linetype": "CENTER"})
        m.add_circle((0, 0), 20, dxfattribs={"layer": "Layer7"})

    drawing = inspect(content)
    assert drawing.parts[0].holes == ()
    assert drawing.ignored == {"linetype CENTER": 1, "linetype HIDDEN": 1}
    asked = inspect(content, ReadOptions(layers={"cut": ["layer7"]}))
    assert len(asked.parts[0].holes) == 1


def test_the_linetypes_of_iso_128_for_edges_that_are_not_cut_are_known() -> None:
    assert all(map(is_construction_linetype, ["CENTER2", "hiddenX2", "PHANTOM", "DASHDOT", "ISO04W100"]))
    assert not any(map(is_construction_linetype, ["CONTINUOUS", "BYLAYER", "ISO01W100"]))


@pytest.mark.parametrize(
    ("code", "unit", "mm"), [(4, "mm", 1), (1, "in", 25.4), (5, "cm", 10), (2, "ft", 304.8)]
)
def test_units_come_from_the_header(inspect: Inspect, code: int, unit: str, mm: float) -> None:
    drawing = inspect(lambda doc, m: m.add_circle((2, 0), 3), units=code)
    assert drawing.units == unit
    assert bounds(drawing.parts[0].outer) == pytest.approx((-1 * mm, -3 * mm, 5 * mm, 3 * mm))


def test_the_job_overrides_the_header(inspect: Inspect) -> None:
    drawing = inspect(lambda doc, m: m.add_circle((0, 0), 4), ReadOptions(units="in"))
    assert bounds(drawing.parts[0].outer)[2] == pytest.approx(101.6)
    assert drawing.findings == ()


@pytest.mark.parametrize("how", [{"units": UNITLESS}, {"version": "R12"}])
def test_no_unit_means_millimetres_with_a_warning(inspect: Inspect, how: dict[str, Any]) -> None:
    drawing = inspect(lambda doc, m: m.add_circle((0, 0), 40), **how)
    assert drawing.units == "mm"
    assert [f.kind for f in drawing.findings] == ["warning"] and "no unit" in drawing.findings[0].message


def test_a_file_without_a_header_has_no_unit_either(folder: FilePath) -> None:
    file = folder / "bare.dxf"
    file.write_text("0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n30\n0\nENDSEC\n0\nEOF\n")
    drawing = inspect_drawing(file)
    assert drawing.units == "mm" and "no unit" in drawing.findings[0].message


@pytest.mark.parametrize(("radius", "units"), [(500.0, INCH), (1.5, 4)])
def test_a_size_that_makes_sense_in_another_unit_only_is_questioned(
    inspect: Inspect, radius: float, units: int
) -> None:
    drawing = inspect(lambda doc, m: m.add_circle((0, 0), radius), units=units)
    (doubt,) = drawing.findings
    assert doubt.kind == "question" and "measures" in doubt.message and "units" in doubt.remedy


def test_metres_that_would_make_a_part_of_a_hundred_metres_are_millimetres(inspect: Inspect) -> None:
    # A header of metres is what some writers leave in files drawn in millimetres.
    drawing = inspect(lambda doc, m: m.add_circle((0, 0), 50), units=METRE)
    assert bounds(drawing.parts[0].outer)[2] == pytest.approx(50)
    assert [f.kind for f in drawing.findings] == ["warning"]
    plain = inspect(lambda doc, m: m.add_circle((0, 0), 0.25), units=METRE)
    assert plain.units == "m" and bounds(plain.parts[0].outer)[2] == pytest.approx(250)


def test_parts_read_with_layers_of_the_jobs_own_can_be_told_apart_and_counted() -> None:
    asked = ReadOptions(layers={"ignore": ["TITLE*"]})
    assert len({asked, ReadOptions(layers={"ignore": ["TITLE*"]}), ReadOptions()}) == 2
