"""What the cutting process does to plate: one record for a process, material and thickness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["PROCESS_WORDS", "SHARP_CORNER_DEG", "CutData", "GasFlow", "GasName", "Process", "Rules"]

Process = Literal["plasma", "oxyfuel"]
PROCESS_WORDS: dict[Process, str] = {"plasma": "plasma", "oxyfuel": "oxy-fuel"}
SHARP_CORNER_DEG = 20.0
"""Breaks of an edge under this are kinks that the torch takes in its stride (common practice)."""
# Share of a narrow hole's half width that a pierce keeps from its edge (common practice).
NARROW_HOLE_SHARE = 0.9
GasName = Literal[
    "oxygen", "air", "nitrogen", "argon-hydrogen", "nitrogen-hydrogen", "acetylene", "propane", "natural gas"
]


@dataclass(frozen=True)
class GasFlow:
    """A gas in one phase of the cut.

    Attributes
    ----------
    gas : str
        "oxygen", "air", "nitrogen", "argon-hydrogen", "nitrogen-hydrogen",
        "acetylene", "propane", "natural gas".
    phase : {"preheat", "pierce", "cut"}
        Preheat flames burn on while cutting: their flow counts in all three phases.
    flow_m3_h : float
        At 15 °C and 1.013 bar.
    pressure_bar : float or None
        Gauge pressure at the torch.
    """

    gas: str
    phase: Literal["preheat", "pierce", "cut"]
    flow_m3_h: float
    pressure_bar: float | None = None


@dataclass(frozen=True)
class Rules:
    """Rules of the process at this thickness, lengths in mm.

    Attributes
    ----------
    part_gap, edge_gap : float
        Least metal between parts, and between a part and the plate's edge.
    lead_in, lead_out : float
        Usual length of leads.
    pierce_clearance : float
        Least distance from a pierce point to a part's finished edge, to the plate's edge and
        to whatever was cut before (spatter and blow-out).
    pierce_mound : float
        Radius of the slag that a pierce piles up around it, mm; never less than half the kerf.
    overburn : float
        How far a hole's cut runs past its start.
    arc_off_before : float
        How far before the end of a hole plasma's arc goes out while the torch moves on, so that it
        burns no notch where it stops; never further than the over-burn.  0 puts it out at the end.
    smallest_hole : float
        Diameter under which a hole is not worth cutting.
    small_hole : float
        Diameter under which the small-hole feed applies.
    small_hole_feed, corner_feed : float
        Factors on the feed in small holes, and near sharp corners.
    corner_length : float
        Length before and after a sharp corner that is cut with the corner feed.
    thinnest_web : float
        Least width of metal that stands the heat.
    square_side : {"right", "left", "both"}
        Side of the travel that has the square edge.
    edge_start_above : float
        Thickness above which piercing is not possible and the cut starts at an edge.
    """

    part_gap: float
    edge_gap: float
    lead_in: float
    lead_out: float
    pierce_clearance: float
    overburn: float
    smallest_hole: float
    small_hole: float
    small_hole_feed: float = 1.0
    corner_feed: float = 1.0
    corner_length: float = 0.0
    thinnest_web: float = 0.0
    square_side: Literal["right", "left", "both"] = "right"
    edge_start_above: float = float("inf")
    pierce_mound: float = 0.0
    arc_off_before: float = 0.0

    def pierce_clearance_in(self, half_width: float) -> float:
        """Return the clearance of a pierce in a hole that its largest circle half fills, mm.

        A hole too narrow for the full clearance is pierced in or near its middle.
        """
        return min(self.pierce_clearance, NARROW_HOLE_SHARE * half_width)


@dataclass(frozen=True)
class CutData:
    """Cutting data for one process, material and thickness.

    Attributes
    ----------
    process : {"plasma", "oxyfuel"}
    material : str
        Material group.
    thickness : float
        mm.
    setting : str
        Name of the torch or tip setting ("120 A oxygen", "tip 2 propane").
    source : str
        Data file it comes from.
    kerf : float
        Full width of the cut, mm.
    feed_mm_min : float
        Feed on the straight.
    pierce_height, cut_height : float
        Torch heights over the plate, mm.
    pierce_s : float
        Dwell of a standing pierce.
    preheat_s : float
        Preheating before a pierce; 0 for plasma.
    edge_preheat_s : float
        Preheating before an edge start.
    gases : tuple of GasFlow
    rules : Rules
    current_a, voltage_v : float
        Arc current and voltage; 0 for oxy-fuel.
    starts_per_set, hours_per_set : float
        Life of a set of electrode and nozzle (or tip) in starts, and in hours of cutting.
    iso9013_tolerance_class : int
        Tolerance class usually reached.
    iso9013_range : int
        Perpendicularity range usually reached.
    moving_pierce_mm, moving_pierce_feed : float
        Length over which the torch creeps while it pierces, and the factor on the feed there;
        0 mm for a standing pierce.
    lowering_mm : float
        Way over which the torch comes down from pierce to cutting height while it moves off;
        0 where it comes down standing.
    preheat_height : float
        Torch height while oxy-fuel preheats, mm; the torch then rises to pierce.
    pre_flow_s : float
        Gas flows this long before the arc is struck.
    transfer_s : float
        From the pilot arc until the arc has passed to the plate; no motion before.
    post_flow_s : float
        Gas flows on this long after the arc has gone out.
    high_preheat : float
        Flow of the preheat flame while it preheats, over that of the steady flame.
    bleed_s : float
        Hoses are blown through this long at full flow, once a program.
    feed_trim : float
        Share by which an operator may trim the feed up or down at the table.
    dwell_trim : float
        How many times as long as the data say an operator may let a pierce dwell.
    height_trim : float
        Share by which an operator may trim a torch height up or down at the table.
    water_feed : float
        Factor on the feed with the plate under water; `feed_mm_min` holds it already where
        the choice asked for it.
    origin : str
        Where the values come from, in the words of the file.
    reason : str
        Why this process and setting were chosen.
    cautions : tuple of str
        What the operator should know of this choice.
    """

    process: Process
    material: str
    thickness: float
    setting: str
    source: str
    kerf: float
    feed_mm_min: float
    pierce_height: float
    cut_height: float
    pierce_s: float
    preheat_s: float
    gases: tuple[GasFlow, ...]
    rules: Rules
    edge_preheat_s: float = 0.0
    current_a: float = 0.0
    voltage_v: float = 0.0
    starts_per_set: float = 0.0
    hours_per_set: float = 0.0
    iso9013_tolerance_class: int = 2
    iso9013_range: int = 4
    moving_pierce_mm: float = 0.0
    moving_pierce_feed: float = 1.0
    lowering_mm: float = 0.0
    preheat_height: float = 0.0
    pre_flow_s: float = 0.0
    transfer_s: float = 0.0
    post_flow_s: float = 0.0
    high_preheat: float = 1.0
    bleed_s: float = 0.0
    feed_trim: float = 0.1
    dwell_trim: float = 2.0
    height_trim: float = 0.25
    water_feed: float = 1.0
    origin: str = ""
    reason: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def mound_radius(self) -> float:
        """Radius of what a pierce leaves on the plate, mm: its slag, or at least its own kerf."""
        return max(self.rules.pierce_mound, 0.5 * self.kerf)

    @property
    def title(self) -> str:
        """Process and setting as people write them: "oxy-fuel acetylene"."""
        return f"{PROCESS_WORDS[self.process]} {self.setting}"
