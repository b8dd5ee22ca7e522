"""A plate as a picture: parts, torch paths, leads, pierces and the order of cutting, in SVG.

Legible in grey and to the colour-blind: every kind of line differs in width or dashes, not
in colour alone.  Arcs are drawn as arcs.
"""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from cutplan.base.cleaning import escaped
from cutplan.cutting import Tab
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path, Pose, bounds, chord_points, length, place, subpath, to_polygon
from cutplan.record import PlannedSheet
from cutplan.report.bevel_marks import slope_lines
from cutplan.report.link_marks import links_of, shared_of, step_links, step_shared
from cutplan.report.number_places import axis_ticks, number_places
from cutplan.sequencing import Order
from cutplan.stock import ONE_TORCH, Lanes, NestedPlate

__all__ = ["STYLE", "cut_apart_words", "nested_svg", "path_data", "plate_svg"]

STYLE = """
.plate{fill:#e9e6df;stroke:#55524b;stroke-width:1.5}
.keepout{fill:#bdb8ac;stroke:#55524b;stroke-width:1;stroke-dasharray:6 3}
.part{fill:#fbfaf6;stroke:#20242b;stroke-width:.8;fill-rule:evenodd}
.cut{fill:none;stroke:#1d5f8a;stroke-width:1.1}
.lead{fill:none;stroke:#b4501e;stroke-width:1.8}
.mark{fill:none;stroke:#555;stroke-width:.8;stroke-dasharray:4 2}
.travel{fill:none;stroke:#8a8679;stroke-width:.7;stroke-dasharray:8 5}
.bend{fill:none;stroke:#555;stroke-width:.8;stroke-dasharray:12 3 2 3}
.slope{fill:none;stroke:#20242b;stroke-width:.6;stroke-dasharray:1.5 2}
.pierce{fill:#b4501e;stroke:#fff;stroke-width:.5}
.number{font-weight:bold;fill:#20242b;text-anchor:middle}
.order{fill:#7a3311;text-anchor:middle}
.to{fill:none;stroke:#7a3311;stroke-width:.4;opacity:.6}
.tab{fill:#20242b;stroke:#fff;stroke-width:.4}
.link{fill:none;stroke:#fff;stroke-width:.9;stroke-dasharray:2 2}
.onward{fill:#20242b;stroke:#fff;stroke-width:.4}
.apart{fill:none;stroke:#20242b;stroke-width:2.4;stroke-dasharray:16 5}
.double{fill:none;stroke:#20242b;stroke-width:1.2}
.tick{stroke:#55524b;stroke-width:1}
.axis{text-anchor:middle}
text{font-family:DejaVu Sans,Verdana,sans-serif;fill:#20242b}
""".strip()


NUMBERS_ACROSS = 90.0
"""Heights of a cut's number along the longer side of the plate: 6 pt where that is 190 mm on paper."""
WIDEST_ARC = math.radians(120.0)
"""Widest arc that is drawn in one piece."""
LETTER = 0.62
"""Width of a letter in heights, on the average."""
DIGIT = 0.66
"""Width of a digit in heights, with the room beside it."""


def path_data(path: Path, height: float) -> str:
    """Return a path as SVG path data, y turned downwards from `height`; arcs stay arcs.

    Wide arcs go in pieces: the ends of a half circle, rounded, leave its centre in doubt by
    tenths of a millimetre.
    """
    segments = path.segments
    words = [f"M{path.start[0]:.3f} {height - path.start[1]:.3f}"]
    for start, end, centre, radius, sweep in zip(
        segments.start, segments.end, segments.centre, segments.radius, segments.sweep, strict=True
    ):
        if sweep == 0.0:
            words.append(f"L{end[0]:.3f} {height - end[1]:.3f}")
            continue
        turn, count = 0 if sweep > 0 else 1, math.ceil(abs(sweep) / WIDEST_ARC)
        angle = math.atan2(start[1] - centre[1], start[0] - centre[0]) + sweep * np.arange(1, count) / count
        between = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
        for x, y in [*between.tolist(), end.tolist()]:
            words.append(f"A{radius:.3f} {radius:.3f} 0 0 {turn} {x:.3f} {height - y:.3f}")
    return "".join(words) + ("Z" if path.closed else "")


def plate_svg(sheet: PlannedSheet) -> str:
    """Return the picture of a planned sheet as a complete SVG document.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    str
    """
    plate, data = sheet.nested.plate, sheet.data
    heat = f", heat {plate.heat}" if plate.heat else ""
    caption = (
        f"{sheet.name}: {plate.thickness:g} mm {plate.grade}{heat}, {data.title}, "
        f"kerf {data.kerf:.2f} mm, {len(sheet.order.steps)} cuts, "
        f"{100 * sheet.utilisation:.1f} % of the plate used. Origin: marked corner."
    )
    if sheet.torches > 1:
        caption += f" {sheet.torches} torches, {sheet.lanes.spacing:g} mm apart."
    caption += cut_apart_words(sheet)
    if sheet.tabs:
        caption += f" Diamonds: {len(sheet.tabs) * sheet.torches} tabs, to be broken."
    if any(placement.part.bevels for placement in sheet.nested.placements):
        caption += " Dotted: where the slopes of bevelled edges meet the plate's faces."
    if links := links_of(sheet):
        caption += (
            f" Arrowheads: {len(links) * sheet.torches} links, on which the torch burns on from part to part."
        )
    if shared := shared_of(sheet):
        caption += f" Double ticks: {len(shared) * sheet.torches} edges cut once for two parts."
    return _picture(sheet.nested, caption, sheet.order, sheet.lanes, sheet.tabs)


def cut_apart_words(sheet: PlannedSheet) -> str:
    """Return the sentence of a caption on cuts through the plate itself, empty where there are none."""
    kinds = Counter(step.cut.kind for step in sheet.order.steps if not step.cut.makes)
    told = [f"the {kind} cut" if n == 1 else f"{n} {kind} cuts" for kind, n in kinds.items()]
    return f" Heavy dashes: {' and '.join(told)}." if told else ""


def nested_svg(nested: NestedPlate) -> str:
    """Return the picture of a nested plate without cuts as a complete SVG document.

    Parameters
    ----------
    nested : NestedPlate

    Returns
    -------
    str
    """
    plate = nested.plate
    caption = f"{plate.id}-{nested.sheet}: {plate.thickness:g} mm {plate.grade}. Origin: marked corner."
    return _picture(nested, caption, None)


def _picture(
    nested: NestedPlate,
    caption: str,
    order: Order | None,
    lanes: Lanes = ONE_TORCH,
    tabs: Sequence[Tab] = (),
) -> str:
    plate = nested.plate
    x0, y0, x1, y1 = bounds(plate.outline)
    unit = max(x1 - x0, y1 - y0) / 100.0
    legend = _legend(nested)
    margin = 3.0 * unit
    numbers, left_out = _cut_numbers(order, nested, y1, unit) if order is not None else ([], 0)
    if left_out:
        caption += f" No room here for the numbers of {left_out} cuts: the cut list has them."
    body = [
        _element("path", d=path_data(plate.outline, y1), cls="plate"),
        *(_element("path", d=path_data(k, y1), cls="keepout") for k in plate.barred),
        *_parts(nested, legend, y1, unit),
        *(_element("path", d=_polyline(line, y1), cls="slope") for line in slope_lines(nested)),
        *(_cuts(order, y1, unit) if order is not None else ()),
        *numbers,
        *(_other_lanes(order, lanes, y1) if order is not None else ()),
        *_tabs(tabs, lanes, y1, unit),
        *(_links(order, lanes, y1, unit) if order is not None else ()),
        *(_shared(order, lanes, y1, unit) if order is not None else ()),
        *_axes(nested, y1, unit),
        _origin(y1, unit),
        *_caption(nested, caption, legend, y1 + 2.6 * unit, x1 - x0, unit),
    ]
    words = _words_height(caption, legend, x1 - x0, unit)
    width, height = x1 - x0 + 2 * margin, y1 - y0 + 2 * margin + words
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" '
        f'viewBox="{x0 - margin:.2f} {-margin:.2f} {width:.2f} {height:.2f}">\n'
        f"<title>{escaped(plate.id)}-{nested.sheet}</title>\n<style>{STYLE}</style>\n"
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _polyline(points: FloatArray, height: float) -> str:
    return "M" + "L".join(f"{x:.2f} {height - y:.2f}" for x, y in points.tolist())


def _legend(nested: NestedPlate) -> dict[str, int]:
    """Return a number for each different part, in order of appearance."""
    names = dict.fromkeys(p.part.name for p in nested.placements)
    return {name: number for number, name in enumerate(names, start=1)}


def _parts(nested: NestedPlate, legend: dict[str, int], height: float, unit: float) -> Iterable[str]:
    seats: dict[str, tuple[float, float]] = {}
    for placement in nested.placements:
        part, pose = placement.part, placement.pose
        contours = "".join(path_data(place(c, pose), height) for c in (part.outer, *part.holes))
        yield _element("path", d=contours, cls="part")
        for bend in part.bends:
            yield _line(_placed(bend.start, pose), _placed(bend.end, pose), height, "bend")
        if part.name not in seats:
            seats[part.name] = label_seat(part)
        x, y = _placed(seats[part.name], pose)
        yield _text(x, height - y + 0.5 * unit, str(legend[part.name]), 1.4 * unit, "number")


def label_seat(part: Part) -> tuple[float, float]:
    """Return the middle of the part's widest stretch of metal, drawing coordinates."""
    polygon = to_polygon(part.outer, part.holes, tolerance=0.5)
    centre = shapely.maximum_inscribed_circle(polygon, tolerance=1.0).coords[0]
    return (float(centre[0]), float(centre[1]))


def _cuts(order: Order, height: float, unit: float) -> Iterable[str]:
    size = 0.18 * unit
    for step in order.steps:
        travel = "M" + "L".join(f"{x:.2f} {height - y:.2f}" for x, y in step.travel.points)
        yield _element("path", d=travel, cls="travel")
        lead = step.lead
        if step.cut.kind == "mark":
            yield _element("path", d=path_data(lead.path, height), cls="mark")
            continue
        total = length(lead.path)
        if not step.cut.makes:
            words = escaped(f"{step.cut.kind} cut")
            yield f'<path class="apart" d="{path_data(lead.path, height)}"><title>{words}</title></path>'
            continue
        yield _element("path", d=path_data(lead.path, height), cls="cut")
        if lead.lead_in_length > 0:
            start = subpath(lead.path, 0.0, min(lead.lead_in_length, total))
            yield _element("path", d=path_data(start, height), cls="lead")
        x, y = lead.pierce
        yield f'<circle class="pierce" cx="{x:.2f}" cy="{height - y:.2f}" r="{size:.2f}"/>'


def _cut_numbers(order: Order, nested: NestedPlate, height: float, unit: float) -> tuple[list[str], int]:
    """The number of each cut beside its pierce, on no edge and on no other number; and how many find no room."""
    x0, y0, x1, y1 = bounds(nested.plate.outline)
    size = max(x1 - x0, y1 - y0) / NUMBERS_ACROSS
    edges = [place(c, p.pose) for p in nested.placements for c in (p.part.outer, *p.part.holes)]
    edges += [step.lead.path for step in order.steps]
    lines = [chord_points(path, 0.1 * size) * (1.0, -1.0) + (0.0, height) for path in edges]
    cuts = [(n, step.lead.pierce) for n, step in enumerate(order.steps, start=1) if step.cut.kind != "mark"]
    seats = {
        name: label_seat(part) for name, part in {p.part.name: p.part for p in nested.placements}.items()
    }
    words = [_placed(seats[p.part.name], p.pose) for p in nested.placements]
    places = number_places(
        [(x, height - y) for _, (x, y) in cuts],
        [(DIGIT * size * len(str(number)), size) for number, _ in cuts],
        lines,
        (x0, height - y1, x1, height - y0),
        [((x, height - y), (2.0 * unit, 1.4 * unit)) for x, y in words],
    )
    drawn: list[str] = []
    for (number, (x, y)), found in zip(cuts, places, strict=True):
        if found is None:
            continue
        (middle, line), led = found
        if led:
            drawn.append(f'<path class="to" d="M{x:.2f} {height - y:.2f}L{middle:.2f} {line:.2f}"/>')
        drawn.append(_text(middle, line + 0.36 * size, str(number), size, "order"))
    return drawn, sum(found is None for found in places)


def _axes(nested: NestedPlate, height: float, unit: float) -> Iterable[str]:
    """Figures along the lower and the left side, in mm."""
    x0, y0, x1, y1 = bounds(nested.plate.outline)
    for x in axis_ticks(x1):
        yield _element("path", d=f"M{x:.2f} {height - y0:.2f}v{0.4 * unit:.2f}", cls="tick")
        yield _text(x, height - y0 + 1.3 * unit, f"{x:g}", 0.8 * unit, "axis")
    for y in axis_ticks(y1):
        yield _element("path", d=f"M{x0:.2f} {height - y:.2f}h{-0.4 * unit:.2f}", cls="tick")
        turned = f"rotate(-90 {x0 - 0.6 * unit:.2f} {height - y:.2f})"
        yield (
            f'<text class="axis" transform="{turned}" x="{x0 - 0.6 * unit:.2f}" y="{height - y:.2f}" '
            f'font-size="{0.8 * unit:.2f}">{y:g}</text>'
        )


def _other_lanes(order: Order, lanes: Lanes, height: float) -> Iterable[str]:
    """The cuts of the torches beside the first."""
    paths = [_element("path", d=path_data(step.lead.path, height), cls="cut") for step in order.steps]
    for shift in lanes.shifts[1:]:
        yield f'<g transform="translate(0 {-shift:.3f})">' + "".join(paths) + "</g>"


def _tabs(tabs: Sequence[Tab], lanes: Lanes, height: float, unit: float) -> Iterable[str]:
    """Diamonds where outsides are left uncut, each with its width in words."""
    size = 0.3 * unit
    for tab in tabs:
        for shift in lanes.shifts:
            x, y = tab.at[0], height - tab.at[1] - shift
            shape = f"M{x:.2f} {y - size:.2f}l{size:.2f} {size:.2f}l{-size:.2f} {size:.2f}l{-size:.2f} {-size:.2f}Z"
            words = escaped(f"tab of {tab.part}, {tab.width_mm:g} mm wide")
            yield f'<path class="tab" d="{shape}"><title>{words}</title></path>'


def _links(order: Order, lanes: Lanes, height: float, unit: float) -> Iterable[str]:
    """Links as dashes in the kerf with an arrowhead half way, and words for whoever points at it."""
    for step in order.steps:
        for link in step_links(step):
            for shift in lanes.shifts:
                shape = "L".join(f"{x:.2f} {height - y - shift:.2f}" for x, y in link.arrow(0.4 * unit))
                words = f"{escaped(link.words)}"
                if shift == 0.0:
                    yield _element("path", d=path_data(link.path, height), cls="link")
                yield f'<path class="onward" d="M{shape}Z"><title>{words}</title></path>'


def _shared(order: Order, lanes: Lanes, height: float, unit: float) -> Iterable[str]:
    """Two ticks across each edge that two parts share, with their names for whoever points at it."""
    for step in order.steps:
        for mark in step_shared(step):
            for shift in lanes.shifts:
                lines = "".join(
                    "M" + "L".join(f"{x:.2f} {height - y - shift:.2f}" for x, y in tick)
                    for tick in mark.ticks(0.6 * unit)
                )
                yield f'<path class="double" d="{lines}"><title>{escaped(mark.words)}</title></path>'


def _origin(height: float, unit: float) -> str:
    reach = 2.2 * unit
    return (
        f'<path class="lead" d="M0 {height:.2f}h{reach:.2f}M0 {height:.2f}v{-reach:.2f}"/>'
        f'<circle class="pierce" cx="0" cy="{height:.2f}" r="{0.5 * unit:.2f}"/>'
    )


def _caption_lines(caption: str, width: float, unit: float) -> list[str]:
    return textwrap.wrap(caption, max(20, int(width / (LETTER * 1.3 * unit)))) or [""]


def _legend_columns(legend: dict[str, int], width: float, unit: float) -> int:
    """Return how many names stand beside each other below the picture, so that none is cut off."""
    longest = max((len(name) for name in legend), default=0) + 10
    return max(1, min(4, int(width / (LETTER * 1.2 * unit * longest))))


def _words_height(caption: str, legend: dict[str, int], width: float, unit: float) -> float:
    rows = math.ceil(len(legend) / _legend_columns(legend, width, unit))
    return (2.6 + 1.8 * len(_caption_lines(caption, width, unit)) + 1.9 * rows) * unit


def _caption(
    nested: NestedPlate, caption: str, legend: dict[str, int], top: float, width: float, unit: float
) -> Iterable[str]:
    lines = _caption_lines(caption, width, unit)
    for number, words in enumerate(lines):
        yield _text(0.0, top + (1.6 + 1.8 * number) * unit, words, 1.3 * unit)
    counts: dict[str, int] = {}
    for placement in nested.placements:
        counts[placement.part.name] = counts.get(placement.part.name, 0) + 1
    columns = _legend_columns(legend, width, unit)
    below = top + (2.0 + 1.8 * len(lines)) * unit
    for index, (name, number) in enumerate(legend.items()):
        row, column = divmod(index, columns)
        label = f"{number}  {name} × {counts[name]}"
        yield _text(column * width / columns, below + 1.9 * row * unit, label, 1.2 * unit)


def _placed(point: tuple[float, float], pose: Pose) -> tuple[float, float]:
    x, y = pose.matrix @ np.array(point) + (pose.x, pose.y)
    return (float(x), float(y))


def _line(a: tuple[float, float], b: tuple[float, float], height: float, cls: str) -> str:
    data = f"M{a[0]:.3f} {height - a[1]:.3f}L{b[0]:.3f} {height - b[1]:.3f}"
    return _element("path", d=data, cls=cls)


def _text(x: float, y: float, words: str, size: float, cls: str = "") -> str:
    attribute = f' class="{cls}"' if cls else ""
    return f'<text{attribute} x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}">{escaped(words)}</text>'


def _element(name: str, *, d: str, cls: str) -> str:
    return f'<{name} class="{cls}" d="{d}"/>'
