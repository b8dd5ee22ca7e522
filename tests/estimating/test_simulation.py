"""The estimated time against a simulation of the same program in fine steps of time.

The simulator below shares no code with the estimator: it knows headings and curvature, moves
a torch along the path by two milliseconds at a time, and brakes when it must.
"""

import math
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutplan.base.machine import Machine
from cutplan.control import ARC_CCW, ARC_CW, DWELL, LINE, RAPID, SWITCH, Motions, read_program
from cutplan.cutting import CuttingOptions, Tabs, Techniques, make_cuts
from cutplan.drawing import read_drawing
from cutplan.estimating import estimate
from cutplan.geometry import Pose, bounds, polygon
from cutplan.process import CutData, Library
from cutplan.program import find_postprocessor, write_program
from cutplan.sequencing import Order, Step, Travel
from cutplan.stock import NestedPlate, Placement, Plate

DEMO = Path(__file__).parents[2] / "parts"
# Bolt circles and rounded corners, a spline edge, slots, lightening holes, text to mark.
DRAWINGS = ("coupler-plate", "guard-bracket", "tie-plate", "cross-member-web", "serial-plate")

STEP_S = 0.002
MARKER_SWITCH_S = 0.5
Reader = Callable[[str], Motions]


class Leg:
    """A stretch of the path: its length, top speed, and heading in space at both ends."""

    def __init__(self, motions: Motions, row: int, machine: Machine, data: CutData) -> None:
        (x0, y0, z0), (x1, y1, z1) = motions.start[row], motions.end[row]
        rapid = motions.kind[row] == RAPID
        feed = machine.rapid_mm_min if rapid else float(motions.feed_mm_min[row])
        self.top = (data.feed_mm_min if math.isnan(feed) else feed) / 60
        if motions.kind[row] in (ARC_CW, ARC_CCW):
            cx, cy = motions.centre[row]
            turn = float(motions.turns[row])
            radius = math.hypot(x0 - cx, y0 - cy)
            flat = radius * abs(turn)
            self.length = math.hypot(flat, z1 - z0)
            self.top = min(self.top, math.sqrt(machine.acceleration_mm_s2 * radius))
            side = math.copysign(math.pi / 2, turn)
            first, last = math.atan2(y0 - cy, x0 - cx) + side, math.atan2(y1 - cy, x1 - cx) + side
            level, climb = flat / self.length, (z1 - z0) / self.length
            self.heading_in = (level * math.cos(first), level * math.sin(first), climb)
            self.heading_out = (level * math.cos(last), level * math.sin(last), climb)
        else:
            self.length = math.dist((x0, y0, z0), (x1, y1, z1))
            way = (x1 - x0, y1 - y0, z1 - z0)
            self.heading_in = self.heading_out = tuple(each / max(self.length, 1e-12) for each in way)


def corner_speed(before: Leg, after: Leg, machine: Machine) -> float:
    a, b = before.heading_out, after.heading_in
    cross = (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
    turn = math.atan2(math.hypot(*cross), sum(p * q for p, q in zip(a, b, strict=True)))
    top = min(before.top, after.top)
    if turn < 1e-7:
        return top
    if turn > math.pi - 1e-7:
        return 0.0
    radius = machine.corner_deviation_mm / (1 / math.cos(turn / 2) - 1)
    radius = min(radius, min(before.length, after.length) / 2 / math.tan(turn / 2))
    return min(top, math.sqrt(machine.acceleration_mm_s2 * radius))


def drive(legs: list[Leg], machine: Machine) -> float:
    """Return the seconds from rest to rest along the legs, stepped in time."""
    a = machine.acceleration_mm_s2
    ends, gates = [], []
    distance = 0.0
    for i, leg in enumerate(legs):
        distance += leg.length
        ends.append(distance)
        gates.append(corner_speed(leg, legs[i + 1], machine) if i + 1 < len(legs) else 0.0)
    here, speed, elapsed, current = 0.0, 0.0, 0.0, 0
    while True:
        wanted = min(speed + a * STEP_S, legs[current].top)
        reach = here + (speed + wanted) / 2 * STEP_S + wanted**2 / (2 * a)
        k = current
        while k < len(legs) and ends[k] <= reach:
            # After this step the torch must still be able to brake to the gate's speed:
            # w² ≤ g² + 2a·(end − here − (v + w)/2·dt).
            half = a * STEP_S / 2
            room = gates[k] ** 2 + 2 * a * (ends[k] - here - speed * STEP_S / 2)
            wanted = min(wanted, math.sqrt(max(half**2 + room, 0.0)) - half)
            k += 1
        # Never quite at rest before the end, or it would be there for ever.
        wanted = max(wanted, 0.01)
        here += (speed + wanted) / 2 * STEP_S
        speed = wanted
        elapsed += STEP_S
        while here >= ends[current]:
            current += 1
            if current == len(legs):
                return elapsed
        if ends[-1] - here < 1e-3:
            return elapsed


def dies_on_the_way(motions: Motions, row: int) -> bool:
    """Whether the arc goes out here while the torch moves on at its feed."""
    if motions.kind[row] != SWITCH or motions.torch[row] or row + 1 == len(motions) or row == 0:
        return False
    feeds = {LINE, ARC_CW, ARC_CCW}
    return bool(motions.torch[row - 1]) and {int(motions.kind[k]) for k in (row - 1, row + 1)} <= feeds


def simulated(motions: Motions, machine: Machine, data: CutData) -> float:
    """Return the seconds of a whole program, told step by step as an operator would see it.

    At a start of the torch: it comes down (or, where the program gives the heights, feels for
    the plate); plasma then waits for gas, pilot arc and transfer; oxy-fuel was lit by hand once.
    """
    total, lit, marking, lights = 0.0, False, False, 0
    own_heights = bool(np.any(motions.start[:, 2] != motions.end[:, 2]))
    chain: list[Leg] = []
    for row in range(len(motions)):
        kind = motions.kind[row]
        if kind in (DWELL, SWITCH) and not dies_on_the_way(motions, row):
            total += drive(chain, machine) if chain else 0.0
            chain = []
        if kind == DWELL:
            total += float(motions.dwell_s[row])
        elif kind == SWITCH and bool(motions.torch[row]) != lit:
            lit = not lit
            if lit:
                total += machine.probe_s if own_heights else machine.lower_s
                if data.process == "plasma":
                    total += data.pre_flow_s + machine.ignition_s + data.transfer_s
                elif lights == 0:
                    total += machine.ignition_s
                lights += 1
            elif not own_heights:
                total += machine.raise_s
        elif kind == SWITCH and bool(motions.marker[row]) != marking:
            marking = not marking
            total += MARKER_SWITCH_S
        elif kind != SWITCH:
            leg = Leg(motions, row, machine, data)
            chain += [leg] if leg.length > 1e-9 else []
    return total + (drive(chain, machine) if chain else 0.0)


def believable_program(seed: int) -> str:
    """Parts with corners, radii, holes, slots and a chorded curve, cut one after another."""
    rng = random.Random(seed)
    blocks = []
    for i in range(14):
        x, y = 200 * (i % 5) + rng.uniform(0, 40), 180 * (i // 5) + rng.uniform(0, 30)
        blocks += [f"G0 X{x:.3f} Y{y:.3f}", "M3", "G4 P0.5", "F2400"]
        kind = i % 4
        if kind == 0:
            r = rng.uniform(3, 20)
            blocks += [f"G1 X{x + r:.3f} F1440", f"G2 X{x + r:.3f} Y{y:.3f} I{r:.3f} J0"]
        elif kind == 1:
            w, h, r = 120.0, 80.0, rng.uniform(2, 15)
            blocks += [
                f"G1 X{x + w - r:.3f}", f"G3 X{x + w:.3f} Y{y + r:.3f} I0 J{r:.3f}", f"G1 Y{y + h:.3f}",
                f"G1 X{x:.3f}", f"G1 Y{y:.3f}",
            ]  # fmt: skip
        elif kind == 2:
            for t in range(1, 61):
                u = t / 60 * 2 * math.pi
                blocks.append(f"G1 X{x + 30 * (1 - math.cos(u)):.3f} Y{y + 50 * math.sin(u):.3f}")
        else:
            blocks += [
                f"G1 X{x + 60:.3f}", f"G3 X{x + 60:.3f} Y{y + 12:.3f} I0 J6", f"G1 X{x:.3f}",
                f"G3 X{x:.3f} Y{y:.3f} I0 J-6",
            ]  # fmt: skip
        blocks.append("M5")
    return "\n".join(blocks)


def demo_program(
    data: CutData,
    machine: Machine,
    post: str = "rs274-metric",
    drawings: tuple[str, ...] = DRAWINGS,
    techniques: Techniques | None = None,
) -> str:
    """Return a program that cuts one of some of the demo's drawings, each cut from its first lead.

    With techniques the plate is longer, so that a rest is left.
    """
    parts = [part for name in drawings for part in read_drawing(DEMO / f"{name}.dxf").parts]
    placements, x, height = [], 80.0, 0.0
    for part in parts:
        left, bottom, right, top = bounds(part.outer)
        placements.append(Placement(part, 1, Pose(x - left, 80.0 - bottom)))
        x, height = x + right - left + 160.0, max(height, top - bottom + 160.0)
    x += 0.0 if techniques is None else 700.0
    outline = polygon([(0, 0), (x, 0), (x, height), (0, height)])
    plate = Plate("DEMO", outline, data.thickness, "S355", "mild steel")
    sheet = NestedPlate(plate, 1, tuple(placements))
    steps, here = [], np.zeros(2)
    options = CuttingOptions(techniques=techniques or Techniques(), table_mm=machine.table)
    for cut in make_cuts(sheet, data, options).cuts:
        lead = cut.choices[0]
        steps.append(Step(cut, 0, Travel(np.array([here, lead.pierce]), raised=True, seconds=0.0)))
        here = np.array(lead.end)
    order = Order(tuple(steps), travel_s=0.0, bound_s=0.0)
    return write_program(order, sheet, data, machine, find_postprocessor(post), name="demo").text


def assert_agrees(motions: Motions, data: CutData, machine: Machine) -> None:
    expected = simulated(motions, machine, data)
    result = estimate(motions, data, machine)
    assert result.time_s["total"] == pytest.approx(expected, rel=0.01)
    # The moves alone agree as well, so that waits and dwells do not hide an error.
    starts = result.pierces
    still = motions.dwell_s.sum() + (starts if data.process == "plasma" else 1) * machine.ignition_s
    still += starts * (data.pre_flow_s + data.transfer_s)
    own_heights = bool(np.any(motions.start[:, 2] != motions.end[:, 2]))
    still += starts * (machine.probe_s if own_heights else machine.lower_s + machine.raise_s)
    moving = result.time_s["total"] - still
    assert moving > 0.2 * expected
    assert moving == pytest.approx(expected - still, rel=0.002)


@pytest.mark.parametrize("seed", [1, 2])
def test_estimated_time_agrees_with_the_simulation(
    motions_of: Reader, plasma: CutData, machine: Machine, seed: int
) -> None:
    assert_agrees(motions_of(believable_program(seed)), plasma, machine)


def test_estimated_time_of_the_demos_parts_agrees_with_the_simulation() -> None:
    data, machine = Library.load().choose("plasma", "mild steel", 10.0), Machine(marker=True)
    assert data.pre_flow_s > 0.0 and data.transfer_s > 0.0
    motions = read_program(demo_program(data, machine))
    assert np.count_nonzero(motions.torch & (motions.kind == ARC_CW)) > 20
    assert_agrees(motions, data, machine)


def test_estimated_time_agrees_where_the_program_raises_and_probes() -> None:
    data, machine = Library.load().choose("plasma", "mild steel", 10.0), Machine(marker=True, probe_s=1.8)
    post = find_postprocessor("rs274-heights")
    motions = read_program(demo_program(data, machine, post.name), post.dialect_for(data))
    assert np.any(motions.start[:, 2] != motions.end[:, 2])
    assert_agrees(motions, data, machine)
    probed = estimate(motions, data, machine).time_s["total"]
    unprobed = estimate(motions, data, replace(machine, probe_s=0.0)).time_s["total"]
    assert probed - unprobed == pytest.approx(1.8 * np.count_nonzero(np.diff(motions.torch.astype(int)) > 0))


def test_estimated_time_agrees_where_the_arc_goes_out_on_the_way() -> None:
    data, machine = Library.load().choose("plasma", "mild steel", 10.0), Machine(marker=True)
    early = replace(data, rules=replace(data.rules, arc_off_before=2.0))
    motions = read_program(demo_program(early, machine))
    out = sum(dies_on_the_way(motions, row) for row in range(len(motions)))
    assert out > 20
    assert_agrees(motions, early, machine)


@pytest.mark.parametrize("thickness", [20.0, 40.0, 100.0])
def test_estimated_time_agrees_where_flames_have_heights_of_their_own(thickness: float) -> None:
    data = Library.load().choose("oxyfuel", "mild steel", thickness)
    machine = Machine(torch_clearance_mm=40.0, probe_s=2.5)
    post = find_postprocessor("rs274-oxyfuel-heights")
    text = demo_program(data, machine, post.name, drawings=("axle-clamp",))
    motions = read_program(text, post.dialect_for(data))
    slanted = np.abs(motions.end[:, 2] - motions.start[:, 2]) > 1.0
    slanted &= (motions.end[:, :2] != motions.start[:, :2]).any(axis=1)
    assert slanted[motions.torch].any()
    assert_agrees(motions, data, machine)


@pytest.mark.parametrize(
    ("process", "thickness", "current_a"), [("plasma", 50.0, 400), ("oxyfuel", 80.0, None)]
)
def test_estimated_time_agrees_where_thick_plate_is_pierced_moving(
    process: str, thickness: float, current_a: float | None
) -> None:
    data = Library.load().choose(process, "mild steel", thickness, current_a=current_a)  # type: ignore[arg-type]
    machine = Machine(torch_clearance_mm=40.0)
    motions = read_program(demo_program(data, machine, drawings=("axle-clamp",)))
    creep = data.feed_mm_min * data.moving_pierce_feed
    creeping = np.isclose(motions.feed_mm_min, creep, rtol=0.01) & motions.torch & (motions.kind != DWELL)
    assert data.moving_pierce_mm > 0.0 and creeping.any()
    assert_agrees(motions, data, machine)


@pytest.mark.parametrize("post", ["rs274-metric", "rs274-heights"])
def test_estimated_time_agrees_with_tabs_and_a_rest_cut(post: str) -> None:
    """More starts, runs that stop short, and a cut from edge to edge are timed like all others."""
    data, machine = Library.load().choose("plasma", "mild steel", 10.0), Machine(marker=True)
    voice = find_postprocessor(post)
    machine = replace(machine, table=(12000.0, 3000.0))
    techniques = Techniques(tabs=Tabs(count=3, width_mm=3.0), rest_cut=True, slender="tabs")
    text = demo_program(data, machine, post, techniques=techniques)
    plain = read_program(demo_program(data, machine, post), voice.dialect_for(data))
    motions = read_program(text, voice.dialect_for(data))
    starts = [np.count_nonzero(np.diff(m.torch.astype(int)) > 0) for m in (plain, motions)]
    # Two more starts for each outside, and the rest cut.
    assert starts[1] >= starts[0] + 2 * len(DRAWINGS) + 1 and "rest cut" in text
    assert_agrees(motions, data, machine)
