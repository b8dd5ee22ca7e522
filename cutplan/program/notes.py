"""What a program says to people: the comments at its head, and the values of its fields."""

from __future__ import annotations

from collections import Counter

from cutplan.base.machine import Machine
from cutplan.base.version import __version__
from cutplan.cutting import Cut
from cutplan.geometry import bounds
from cutplan.process import CutData, water_cautions
from cutplan.program.compensation import LOWER_BY_MM
from cutplan.program.leaning import heading_deg
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.stretches import lowering_way
from cutplan.sequencing import Order, Step
from cutplan.stock import NestedPlate

__all__ = ["cut_fields", "header_notes", "program_fields", "remark_of"]

_KINDS = {
    "outside": "outsides", "hole": "holes", "mark": "marks", "rest": "rest cuts",
    "skeleton": "skeleton cuts", "bevel": "bevels",
}  # fmt: skip
# Those that are told where there are none, too.
_TOLD = ("outsides", "holes", "marks")
_HAZARDS = {
    "plasma": "fumes, ultraviolet, noise, fire, electric shock",
    "oxyfuel": "fumes, fire, oxygen and fuel gas, flashback",
}
CAUTIONS = (
    "CAUTION: dry run with the torch off before cutting",
    "CAUTION: the operator stays in charge, local codes and licensed practice go first",
)

_PLATES_FACE = (
    "CAUTION: Z 0 is the face of the plate, set it before the start; a bent plate or slag stands higher"
)


def program_fields(
    order: Order,
    sheet: NestedPlate,
    data: CutData,
    machine: Machine,
    post: PostProcessor,
    *,
    name: str,
    torch_spacing: float | None,
) -> dict[str, str]:
    """Return the fields that hold for a whole program, as text in the control's units."""
    numbers = post.numbers
    heights = post.settings.heights
    _, _, length, width = bounds(sheet.plate.outline)
    several = machine.torches > 1 and torch_spacing is not None
    switches = post.settings.switches.model_dump()
    if data.process == "plasma":
        switches |= {"preheat_on": "", "preheat_off": ""}
    return {
        **switches,
        "name": name,
        "plate": sheet.plate.id,
        "sheet": str(sheet.sheet),
        "grade": sheet.plate.grade,
        "material": data.material,
        "process": data.process,
        "setting": data.setting,
        "current": f"{data.current_a:g}" if data.current_a else "",
        "file": "1",
        "files": "1",
        "cuts": str(len(order.steps)),
        "thickness": numbers.length(sheet.plate.thickness),
        "length": numbers.length(length),
        "width": numbers.length(width),
        "kerf": numbers.length(data.kerf),
        "kerf_radius": numbers.length(data.kerf / 2.0),
        "travel_height": numbers.length(heights.travel_mm) if heights else "",
        "torches": str(machine.torches) if several else "1",
        "torch_spacing": numbers.length(torch_spacing) if several and torch_spacing is not None else "",
    }


def cut_fields(step: Step, n: int, data: CutData, post: PostProcessor) -> dict[str, str]:
    """Return the fields that hold for one cut, as text in the control's units."""
    numbers = post.numbers
    heights = post.settings.heights
    marking = step.cut.kind == "mark"
    edge = step.lead.edge_start
    # Where the control does not wait for the arc to transfer, the program does.
    waited = 0.0 if marking or post.settings.control.torch_word_waits else data.transfer_s
    preheat = 0.0 if marking else data.edge_preheat_s if edge else data.preheat_s
    down_moving = lowering_way(step.cut, step.lead, data, heights) > 0.0
    # Flames heat an edge at their own height, and the cut begins at its own: nothing is pierced.
    tilt, towards = ("", "") if step.cut.lean is None else _leaning(step)
    at_edge = edge and data.process == "oxyfuel" and post.preheats_apart
    return {
        "n": str(n),
        **_of_first(step.cut),
        "contour": step.cut.kind,
        "feed": numbers.feed(post.settings.marker_feed_mm_min if marking else data.feed_mm_min),
        "preheat": numbers.dwell(preheat),
        "pierce": numbers.dwell(waited + (0.0 if marking or edge else data.pierce_s)),
        "pre_flow": numbers.dwell(0.0 if marking else data.pre_flow_s),
        "post_flow": numbers.dwell(0.0 if marking else data.post_flow_s),
        "preheat_height": numbers.length(data.preheat_height) if data.process == "oxyfuel" else "",
        "pierce_height": numbers.length(data.cut_height if at_edge else data.pierce_height),
        "cut_height": "" if down_moving or at_edge else numbers.length(data.cut_height),
        "height_feed": numbers.feed(heights.feed_mm_min) if heights else "",
        "tilt": tilt,
        "towards": towards,
    }


def _leaning(step: Step) -> tuple[str, str]:
    """Return how far the jet of a run leans where it begins, and which way it goes down, degrees."""
    assert step.cut.lean is not None
    towards = step.cut.lean.towards_deg(heading_deg(step.lead.path, 0.0)) % 360.0
    return f"{step.cut.lean.tilt_deg:.10g}", f"{round(towards, 2) % 360.0:.10g}"


def _counted(order: Order) -> str:
    """Return how many cuts there are, and of what."""
    kinds: Counter[str] = Counter(step.cut.kind for step in order.steps)
    told = [f"{name} {kinds[kind]}" for kind, name in _KINDS.items() if kinds[kind] or name in _TOLD]
    return f"{len(order.steps)} cuts: {', '.join(told)}"


def _of_first(cut: Cut) -> dict[str, str]:
    """Return the part that a cut makes first; a cut that makes none is the plate's."""
    if not cut.makes:
        return {"part": "plate", "copy": "1"}
    return {"part": cut.makes[0].part, "copy": str(cut.makes[0].copy)}


def remark_of(cut: Cut) -> str:
    """Return what a program's remark says that a cut makes: "gusset copy 1, outside"."""
    if not cut.makes:
        return f"{cut.kind} cut"
    first = cut.makes[0]
    if cut.lean is not None:
        return f"{first.part} copy {first.copy}, {cut.lean.slope} bevel {cut.lean.tilt_deg:g} deg"
    more = f" and {len(cut.makes) - 1} more in one run" if len(cut.makes) > 1 else ""
    stretch = " up to a tab" if first.span is not None else ""
    if cut.choices[0].again_mm > 0.0:
        stretch = ", taken up"
    return f"{first.part} copy {first.copy}, {cut.kind}{stretch}{more}"


def header_notes(
    order: Order,
    sheet: NestedPlate,
    data: CutData,
    post: PostProcessor,
    fields: dict[str, str],
    *,
    water_table: bool = False,
) -> list[str]:
    """Return the remarks at the head of a program, one sentence a line."""
    plate = sheet.plate
    unit = "mm" if post.settings.units == "mm" else "in"
    numbers = post.numbers
    file = f", file {fields['file']} of {fields['files']}" if fields["files"] != "1" else ""
    heat = f", grade {plate.grade}" + (f", heat {plate.heat}" if plate.heat else "")
    notes = [
        f"{fields['name']}{file}",
        f"plate {plate.id}, sheet {sheet.sheet}: {fields['length']} x {fields['width']} x "
        f"{fields['thickness']} {unit}, {data.material}{heat}",
        f"{data.title}: kerf {fields['kerf']} {unit}, feed {numbers.feed(data.feed_mm_min)} {unit}/min",
        _times(data),
        f"heights: {_heights(data, post)} {unit}",
        _counted(order),
    ]
    copies = Counter(placement.part.name for placement in sheet.placements)
    notes += [f"part: {copies[part]} x {part}" for part in sorted(copies)]
    notes += _setting_up(post, fields, unit)
    notes.append(f"written by cutplan {__version__}, post-processor {post.name}")
    told = (*data.cautions, *water_cautions(data, water_table=water_table))
    flat = () if post.settings.heights is None else (_PLATES_FACE,)
    return [
        *notes,
        *CAUTIONS,
        *flat,
        f"CAUTION: {_HAZARDS[data.process]}",
        *(f"CAUTION: {words}" for words in told),
    ]


def _setting_up(post: PostProcessor, fields: dict[str, str], unit: str) -> list[str]:
    """Return what the operator sets before the start: torches and offset registers."""
    notes = []
    if fields["torch_spacing"] and not post.dialect.spacing_remark:
        notes.append(f"{fields['torches']} torches lit together, {fields['torch_spacing']} {unit} apart")
    elif post.lights_several and not fields["torch_spacing"]:
        notes.append("one torch alone")
    if post.settings.compensation is not None:
        lower = post.numbers.length(LOWER_BY_MM)
        notes.append(
            f"the control offsets: register radius {fields['kerf_radius']} {unit} "
            f"[diameter {fields['kerf']}]; it may be set up to {lower} lower, not higher"
        )
    return notes


def _heights(data: CutData, post: PostProcessor) -> str:
    length = post.numbers.length
    told = f"pierce {length(data.pierce_height)}, cut {length(data.cut_height)}"
    return f"preheat {length(data.preheat_height)}, {told}" if data.process == "oxyfuel" else told


def _times(data: CutData) -> str:
    pierce = f"pierce {data.pierce_s:g} s"
    if data.process == "plasma":
        return pierce
    return f"preheat {data.preheat_s:g} s, {pierce}"
