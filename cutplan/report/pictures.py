"""Painters for a notebook: parts, drawings, nests and plans show themselves as pictures."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree

from cutplan.base.pictures import picture_of
from cutplan.drawing import Drawing, Part
from cutplan.nesting import Nest
from cutplan.record import Plan, PlannedSheet
from cutplan.report.drawing_svg import drawing_svg
from cutplan.report.svg import nested_svg, plate_svg
from cutplan.stock import NestedPlate

__all__ = ["stacked_svg"]

NOTEBOOK_WIDTH = 900.0
"""Pixels; a cell of a notebook is about as wide."""
SVG = "http://www.w3.org/2000/svg"


def stacked_svg(pictures: Sequence[str], width: float = NOTEBOOK_WIDTH) -> str:
    """Return pictures one above the other as one SVG document.

    Parameters
    ----------
    pictures : sequence of str
        Complete SVG documents with a viewBox.
    width : float
        Of all of them, pixels.

    Returns
    -------
    str
        A complete SVG document.
    """
    ElementTree.register_namespace("", SVG)
    whole, top = ElementTree.Element(f"{{{SVG}}}svg"), 0.0
    for picture in pictures:
        sheet = ElementTree.fromstring(picture)
        _, _, across, down = (float(number) for number in sheet.attrib["viewBox"].split())
        height = width * down / across
        sheet.attrib |= {"y": f"{top:.1f}", "width": f"{width:.1f}", "height": f"{height:.1f}"}
        whole.append(sheet)
        top += height
    whole.attrib |= {"width": f"{width:.1f}", "height": f"{top:.1f}", "viewBox": f"0 0 {width:.1f} {top:.1f}"}
    return ElementTree.tostring(whole, encoding="unicode")


@picture_of.register
def _(part: Part) -> str:
    return stacked_svg([drawing_svg(Drawing(part.source, (part,)), part.findings)], NOTEBOOK_WIDTH / 2)


@picture_of.register
def _(drawing: Drawing) -> str:
    return stacked_svg([drawing_svg(drawing, drawing.findings)])


@picture_of.register
def _(nested: NestedPlate) -> str:
    return stacked_svg([nested_svg(nested)])


@picture_of.register
def _(nest: Nest) -> str:
    return stacked_svg([nested_svg(plate) for plate in nest.plates])


@picture_of.register
def _(sheet: PlannedSheet) -> str:
    return stacked_svg([plate_svg(sheet)])


@picture_of.register
def _(plan: Plan) -> str:
    return stacked_svg([plate_svg(sheet) for sheet in plan.sheets])
