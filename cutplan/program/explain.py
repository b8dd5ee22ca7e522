"""A sample program of a post-processor, with what each line is for, and what is wrong with it."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import ProgramError
from cutplan.base.machine import Machine
from cutplan.control import ARC_CCW, ARC_CW, LINE, RAPID, Motions, read_program
from cutplan.cutting import make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, circle, length, polyline, reverse
from cutplan.process import CutData, Rules
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.stretches import coasting_way
from cutplan.program.template import canonical
from cutplan.program.writer import program_lines
from cutplan.sequencing import Order, Step, Travel
from cutplan.stock import NestedPlate, Placement, Plate

__all__ = ["ExplainedLine", "Explanation", "explain_postprocessor"]

# What the words mean in NISTIR 6556 (tables 5 and 7), and in common practice where it is silent.
_MEANINGS = {
    "G0": "rapid", "G4": "dwell", "G17": "plane XY", "G20": "inches", "G21": "millimetres",
    "G40": "no offset by the control", "G41": "offset to the left", "G42": "offset to the right",
    "G49": "no tool length", "G54": "the plate's zero", "G64": "corners run through", "G80": "no canned cycle", "G90": "plate coordinates", "G90.1": "arc centres in plate coordinates",
    "G91": "distances from point to point", "G91.1": "arc centres as steps", "G94": "feed a minute",
    "M2": "end of the program", "M30": "end of the program, ready to start again",
    "M98": "call of a subprogram", "M99": "return from a subprogram",
}  # fmt: skip
_SPOKEN = {
    "torch_on": "torch on", "torch_off": "torch off", "marker_on": "marker down", "marker_off": "marker up",
    "preheat_on": "preheat flames up", "preheat_off": "preheat flames down",
    "height_on": "height control on", "height_off": "height control off",
}  # fmt: skip
_EXPLAINED = re.compile(r"[GM][0-9.]+")
# The cut length of the sample may differ from the planned one by this, mm: rounding, the
# chords of lines-only programs, and the corners that a control rounds under its own offset.
_LENGTH_SLACK_MM = 0.5
_FEED_KINDS = (LINE, ARC_CW, ARC_CCW)


@dataclass(frozen=True)
class ExplainedLine:
    """A line of the sample program: its number in the file, its text, what it is for."""

    number: int
    text: str
    purpose: str


@dataclass(frozen=True)
class Explanation:
    """The sample program of a post-processor.

    Attributes
    ----------
    name : str
        Name of the post-processor.
    lines : tuple of ExplainedLine
    findings : tuple of str
        What is wrong; empty where the strict reader reads the program and it does what was
        planned.
    """

    name: str
    lines: tuple[ExplainedLine, ...]
    findings: tuple[str, ...]

    @property
    def passed(self) -> bool:
        """Whether nothing is wrong."""
        return not self.findings


def explain_postprocessor(post: PostProcessor) -> Explanation:
    """Return a sample program with an explanation of each line, read back strictly.

    The sample marks and cuts two plates with a hole, by oxy-fuel where the post-processor
    switches preheat flames and by plasma otherwise.

    Parameters
    ----------
    post : PostProcessor

    Returns
    -------
    Explanation

    Raises
    ------
    ProgramError
        The sample cannot be written at all; the message says why.
    """
    data = _sample_data(oxyfuel=bool(post.settings.switches.preheat_on))
    order, sheet = _sample(data, marker=bool(post.settings.switches.marker_on))
    machine = Machine(marker=True, torches=2 if post.lights_several else 1)
    files = program_lines(order, sheet, data, machine, post, name="sample", torch_spacing=130.0)
    lines: list[ExplainedLine] = []
    findings: list[str] = []
    if not post.settings.pierce_by_control and not any(
        "{pierce}" in t for t in post.settings.lines.cut_start
    ):
        findings.append(
            "cut_start has no {pierce}, and no program would pass its proof: write the dwell, or say "
            "pierce_by_control = true where the control waits by itself"
        )
    cut = marked = 0.0
    for file in files:
        lines += [
            ExplainedLine(k, line.text, _why(line.text, line.why, post)) for k, line in enumerate(file, 1)
        ]
        text = "".join(f"{line.text}\n" for line in file)
        try:
            motions = read_program(text, post.dialect_for(data), name=post.name)
        except ProgramError as problem:
            findings.append(f"the strict reader refuses it: {problem}")
            continue
        findings += _faults(motions)
        cut += _feed_length(motions, motions.torch)
        marked += _feed_length(motions, motions.marker)
    if not findings:
        findings += _differences(order, cut, marked, data, post)
    return Explanation(post.name, tuple(lines), tuple(findings))


def _faults(motions: Motions) -> list[str]:
    rapid = motions.kind == RAPID
    checks = (
        (motions.torch & rapid, "the torch is lit in a rapid"),
        (motions.marker & rapid, "the marker is down in a rapid"),
        (motions.torch & motions.marker, "the torch is lit while the marker is down"),
        (motions.flame & rapid, "the preheat flames are up in a rapid"),
        (motions.end[:, 2] < 0.0, "the torch goes below the plate's surface"),
    )
    return [f"line {motions.line[bad][0]}: {what}" for bad, what in checks if bad.any()]


def _differences(order: Order, cut: float, marked: float, data: CutData, post: PostProcessor) -> list[str]:
    """Say where the lengths cut and marked are not the planned ones."""
    planned, slack = {"cut": 0.0, "marked": 0.0}, _LENGTH_SLACK_MM
    if post.settings.compensation is not None:
        # The control comes to its offset on a way of its own in each lead.
        slack += 0.5 * data.kerf * len(order.steps)
    for step in order.steps:
        planned["marked" if step.cut.kind == "mark" else "cut"] += length(step.lead.path)
        # On the last of a hole's over-burn the arc is out already.
        planned["cut"] -= coasting_way(step.cut, step.lead, data)
    return [
        f"the program has {found:.3f} mm {what}, the plan {planned[what]:.3f} mm"
        for what, found in (("cut", cut), ("marked", marked))
        if abs(found - planned[what]) > slack
    ]


def _feed_length(motions: Motions, during: NDArray[np.bool_]) -> float:
    rows = during & np.isin(motions.kind, _FEED_KINDS)
    start, end = motions.start[rows, :2], motions.end[rows, :2]
    arc = motions.turns[rows] != 0.0
    radius = np.hypot(*(start - motions.centre[rows]).T)
    chord = np.hypot(*(end - start).T)
    return float(np.where(arc, radius * np.abs(motions.turns[rows]), chord).sum())


def _why(text: str, why: str, post: PostProcessor) -> str:
    """Return what a line is for, with the meaning of its G and M words."""
    spoken = dict(_MEANINGS)
    for name, word in post.settings.switches:
        if word:
            spoken[canonical(word)] = " / ".join(
                _SPOKEN[other] for other, same in post.settings.switches if same == word and _SPOKEN[name]
            )
    bare = re.sub(r"\([^)]*\)", "", text)
    codes = [(word, spoken.get(canonical(word))) for word in _EXPLAINED.findall(bare)]
    said = [f"{word} {meaning}" for word, meaning in codes if meaning and canonical(word) not in ("G1", "G0")]
    if "Z" in bare:
        said.append("Z height over the plate")
    return f"{why}: {', '.join(said)}" if said else why


def _sample_data(*, oxyfuel: bool) -> CutData:
    rules = Rules(
        part_gap=10.0, edge_gap=10.0, lead_in=5.0, lead_out=3.0, pierce_clearance=3.0, overburn=2.0,
        smallest_hole=10.0, small_hole=18.0, small_hole_feed=0.6, corner_feed=0.7, corner_length=4.0,
        arc_off_before=0.0 if oxyfuel else 1.0,
    )  # fmt: skip
    return CutData(
        process="oxyfuel" if oxyfuel else "plasma", material="mild steel", thickness=12.0,
        setting="sample", source="sample", kerf=2.0, feed_mm_min=500.0 if oxyfuel else 2000.0,
        pierce_height=6.0, cut_height=3.0, pierce_s=0.8, preheat_s=20.0 if oxyfuel else 0.0, gases=(),
        rules=rules, edge_preheat_s=10.0 if oxyfuel else 0.0, preheat_height=4.0 if oxyfuel else 0.0,
        lowering_mm=4.0 if oxyfuel else 0.0,
    )  # fmt: skip


def _sample(data: CutData, *, marker: bool) -> tuple[Order, NestedPlate]:
    """Two plates with a round hole, a mark and one round corner."""
    rim = [[0, 0, 0], [90, 0, 0], [90, 40, np.tan(np.pi / 8)], [70, 60, 0], [0, 60, 0]]
    outer = Path(np.array(rim, dtype=np.float64), closed=True)
    hole = reverse(circle((40.0, 30.0), 12.0))
    marks = (polyline([(10.0, 10.0), (20.0, 10.0)]),) if marker else ()
    part = Part("sample-plate", outer, (hole,), marks)
    outline = polyline([(0, 0), (300, 0), (300, 120), (0, 120)])
    plate = Plate("SAMPLE", Path(outline.vertices, closed=True), data.thickness, "S355", data.material)
    places = [Placement(part, k + 1, Pose(25.0 + 130.0 * k, 25.0)) for k in range(2)]
    sheet = NestedPlate(plate, 1, tuple(places))
    here = (0.0, 0.0)
    steps = []
    for cut in make_cuts(sheet, data).cuts:
        lead = cut.choices[0]
        steps.append(Step(cut, 0, Travel(np.array([here, lead.pierce]), True, 0.0)))
        here = lead.end
    return Order(tuple(steps), 0.0, 0.0), sheet
