"""Every cut of a nested sheet, each with the starts that its neighbours leave room for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np
import shapely

from cutplan.base.findings import Finding
from cutplan.cutting.blocks import find_blocks, none_shared
from cutplan.cutting.chosen_starts import nearest_start
from cutplan.cutting.edge import edge_leads, placed_contour
from cutplan.cutting.gaps import gaps_for
from cutplan.cutting.kept import on_kept_edge
from cutplan.cutting.leads import LEAST_METAL
from cutplan.cutting.links import find_links
from cutplan.cutting.marks import mark_choices
from cutplan.cutting.model import ByHand, Cut, CuttingOptions, LeadChoice, Made, SheetCuts, Tab
from cutplan.cutting.obstacles import KEEPOUT, NOTHING, PLATE_EDGE, Obstacles
from cutplan.cutting.part_cuts import ContourLeads, PartCuts, cuts_of_part, lead_field
from cutplan.cutting.rest import part_rest
from cutplan.cutting.shared import as_blocks, share_cuts
from cutplan.cutting.starts import PlacedContour, Start, Starts, Turns, clear_starts
from cutplan.cutting.tabbed import tabbed_outsides
from cutplan.cutting.techniques import PLAIN
from cutplan.drawing import Part, marks_off_metal, wanted_strokes
from cutplan.geometry import Path, Pose, chord_points, place, place_points
from cutplan.process import CutData
from cutplan.stock import NestedPlate, Placement

__all__ = ["make_cuts"]

PartKey = tuple[str, Path, tuple[Path, ...]]

# A contour with fewer starts than this is looked at more widely: its neighbours' leads may take some.
FEWEST_CHOICES = 3
# Parts may be this much nearer than the kerf before they are refused, mm: rounding and views.
KERF_ROUNDING = 0.02
# Marks that miss the metal by less are not worth a word, mm.
LEAST_OFF_METAL = 0.5
# Chords of a torch contour that is looked at for other parts near its loops, mm.
CONTOUR_TOLERANCE = 0.02

# What is asked of a block as a whole: nothing, that is its parts' affair.
UNSHARED = replace(PLAIN, slender="leave")


def make_cuts(
    sheet: NestedPlate,
    data: CutData,
    options: CuttingOptions | None = None,
    *,
    untabbed: Collection[int] = (),
) -> SheetCuts:
    """Return every cut of a sheet with the starts it could have.

    Parameters
    ----------
    sheet : NestedPlate
    data : CutData
    options : CuttingOptions, optional
    untabbed : collection of int
        Placements that get no tabs, since the runs between these found no clear starts.

    Returns
    -------
    SheetCuts
        By placement: marks, holes, outside.  Torch paths are the exact offset of the drawn
        contours by half the kerf, with the part on the side of the travel that has the
        square edge.  Leads lie in scrap only.  A contour that cannot be cut, or finds no
        start, is missing and has a finding that says why.

    Notes
    -----
    Copies share all work that does not depend on where they lie.
    """
    options = options or CuttingOptions()
    blocks = find_blocks(sheet, data, options)
    if not blocks:
        made = _cuts_of(sheet, data, options, untabbed)
        return replace(made, findings=(*made.findings, *none_shared(sheet, data, options)))
    blocked = as_blocks(sheet, blocks)
    apart = replace(options, of_parts={**options.of_parts, **dict.fromkeys(blocked.names, UNSHARED)})
    numbers = [k for k, real in enumerate(blocked.own) if real in untabbed]
    return share_cuts(_cuts_of(blocked.sheet, data, apart, numbers), blocked, sheet, data)


def _cuts_of(
    sheet: NestedPlate, data: CutData, options: CuttingOptions, untabbed: Collection[int]
) -> SheetCuts:
    """Return every cut of a sheet on which no parts lie kerf to kerf."""
    obstacles = Obstacles(sheet, data.cut_height, options.torch_radius_mm)
    cuts, findings, tabs = _of_parts(sheet, data, options, obstacles, untabbed)
    parted = part_rest(sheet, cuts, data, options, obstacles)
    links, told = find_links(parted.cuts, sheet, data, options, obstacles)
    findings += [*parted.findings, *told]
    return SheetCuts(tuple(parted.cuts), tuple(findings), tuple(tabs), links)


def _of_parts(
    sheet: NestedPlate,
    data: CutData,
    options: CuttingOptions,
    obstacles: Obstacles,
    untabbed: Collection[int],
) -> tuple[list[Cut], list[Finding], list[Tab]]:
    """Return the cuts that make parts, what is told of them, and the tabs between them."""
    parts = _part_cuts(sheet, data, options, obstacles)
    found = _starts(sheet, data, parts, obstacles, options.by_hand)
    hosts = obstacles.hosts
    turns = Turns(hosts)
    over_edge = data.thickness > data.rules.edge_start_above
    tabbed = tabbed_outsides(sheet, parts, data, options, obstacles, untabbed)
    findings = [*_place_findings(sheet, data, obstacles), *_part_findings(sheet, parts), *tabbed.findings]
    cuts: list[Cut] = []
    for index, (placement, of_part) in enumerate(zip(sheet.placements, parts, strict=True)):
        name, copy, host = placement.part.name, placement.copy, hosts[index]
        cuts += _marks(index, placement, of_part, host)
        for placed, starts in found[index]:
            torch = placed.contour.torch
            if torch.kind == "outside" and index in tabbed.cuts:
                cuts += tabbed.cuts[index]
                continue
            chosen, before = turns.starts_of(index, starts)
            chosen, refused = nearest_start(placed, chosen, options.by_hand, placement)
            if refused is not None:
                findings.append(refused)
                continue
            choices = _choices(placed, chosen, options.candidates, over_edge=over_edge)
            if choices:
                made = Made(name, copy, index, place(torch.finished, placed.pose), torch.hole)
                frees = () if torch.kind == "hole" else (index,)
                cuts.append(Cut(torch.kind, (made,), choices, frees, host, before))
                findings += on_kept_edge(choices, made)
            else:
                findings.append(_no_start(placed, starts, sheet, data, over_edge=over_edge))
    return cuts, findings, tabbed.tabs


def _marks(index: int, placement: Placement, of_part: PartCuts, host: int | None) -> Iterator[Cut]:
    for stroke in wanted_strokes(placement.part, placement.pose, of_part.drills):
        mark = Made(placement.part.name, placement.copy, index, stroke.path, stroke.hole)
        yield Cut("mark", (mark,), mark_choices(stroke.path), inside_of=host)


def _part_cuts(
    sheet: NestedPlate, data: CutData, options: CuttingOptions, obstacles: Obstacles
) -> list[PartCuts]:
    """Return the cuts of each placement's part; equal ones are shared."""
    round_only = replace(options, corners="round")
    made: dict[tuple[PartKey, bool, bool], PartCuts] = {}

    def cuts_of(index: int, styled: bool) -> PartCuts:
        placement = sheet.placements[index]
        mirrored = placement.pose.mirrored
        key = _key(placement.part), mirrored, styled
        if key not in made:
            chosen = options if styled else round_only
            made[key] = cuts_of_part(placement.part, data, chosen, mirrored=mirrored)
        return made[key]

    parts = [cuts_of(index, options.corners != "round") for index in range(len(sheet.placements))]
    if options.corners == "round":
        return parts
    crowded = _crowded(sheet, parts, data, obstacles)
    return [cuts_of(index, False) if index in crowded else of_part for index, of_part in enumerate(parts)]


def _key(part: Part) -> PartKey:
    """Return what makes two copies the same part, also where a nest was handed between processes."""
    return part.name, part.outer, part.holes


def _crowded(sheet: NestedPlate, parts: list[PartCuts], data: CutData, obstacles: Obstacles) -> set[int]:
    """Return the placements whose outside, with its loops or plain corners, comes too near something."""
    outsides = [
        (index, place(of_part.contours[-1].torch.path, sheet.placements[index].pose))
        for index, of_part in enumerate(parts)
        if of_part.contours and of_part.contours[-1].torch.kind == "outside"
    ]
    rings = np.array(
        [shapely.LinearRing(chord_points(path, CONTOUR_TOLERANCE)) for _, path in outsides], dtype=np.object_
    )
    owners = np.array([index for index, _ in outsides], dtype=np.int64)
    margin = 0.5 * data.kerf + LEAST_METAL
    in_way = obstacles.near(rings, owners, margin, edge_clearance=margin)
    return set(owners[in_way != NOTHING].tolist())


def _starts(
    sheet: NestedPlate, data: CutData, parts: list[PartCuts], obstacles: Obstacles, by_hand: ByHand
) -> list[list[tuple[PlacedContour, Starts]]]:
    """Return, for each placement, its contours with their clear starts."""
    over_edge = data.thickness > data.rules.edge_start_above
    contours = [
        _placed_contour(index, contour, sheet, obstacles, over_edge)
        for index, of_part in enumerate(parts)
        for contour in of_part.contours
    ]
    found = clear_starts(contours, obstacles, data, over_edge=over_edge)
    short = [
        i
        for i, starts in enumerate(found)
        if (len(starts.clear) < FEWEST_CHOICES or _of(contours[i]) in by_hand.starts) and not over_edge
    ]
    wider = [replace(contours[i], leads=contours[i].contour.wide_field) for i in short]
    for i, more in zip(short, clear_starts(wider, obstacles, data), strict=True):
        found[i].add(more)
    grouped: list[list[tuple[PlacedContour, Starts]]] = [[] for _ in parts]
    for placed, starts in zip(contours, found, strict=True):
        grouped[placed.placement].append((placed, starts))
    return grouped


def _of(placed: PlacedContour) -> tuple[int, int | None]:
    return placed.placement, placed.contour.torch.hole


def _placed_contour(
    index: int, contour: ContourLeads, sheet: NestedPlate, obstacles: Obstacles, over_edge: bool
) -> PlacedContour:
    pose = sheet.placements[index].pose
    if not over_edge:
        return PlacedContour(index, contour, contour.full_field, pose)
    of_part = placed_contour(contour, pose)
    return PlacedContour(index, of_part, lead_field(edge_leads(of_part, obstacles.edge)), Pose())


def _choices(
    placed: PlacedContour, starts: list[Start], most: int, *, over_edge: bool
) -> tuple[LeadChoice, ...]:
    """Return the starts of a contour as whole paths on the plate, in the order of travel."""
    best = sorted(starts, key=lambda start: (start.lead.penalty_s, start.lead.at))[:most]
    choices = []
    for start in sorted(best, key=lambda start: start.lead.at):
        lead = start.lead
        path = place(placed.contour.path(lead, depart=start.depart), placed.pose)
        choices.append(
            LeadChoice(
                path=path,
                pierce=(float(path.start[0]), float(path.start[1])),
                end=(float(path.end[0]), float(path.end[1])),
                lead_in_length=lead.lead_in,
                lead_out_length=lead.overburn + (lead.lead_out if start.depart else 0.0),
                spans=placed.contour.feed_spans(lead, depart=start.depart),
                edge_start=over_edge,
                penalty_s=lead.penalty_s,
            )
        )
    return tuple(choices)


def _place_findings(sheet: NestedPlate, data: CutData, obstacles: Obstacles) -> list[Finding]:
    """Return which parts lie nearer each other than the kerf, or too near the plate's edge."""
    gaps = gaps_for(data)
    findings = []
    for one, other, apart, where in obstacles.close_pairs(data.kerf - KERF_ROUNDING):
        a, b = sheet.placements[one], sheet.placements[other]
        told = f"'{a.part.name}' copy {a.copy} and '{b.part.name}' copy {b.copy} "
        if apart > 0.0:
            told += f"are {apart:.2f} mm apart, less than the {data.kerf:.2f} mm kerf"
        else:
            told += "touch or overlap"
        remedy = f"{gaps.gap:.1f} mm between parts would do"
        findings.append(Finding("refused", told, where, remedy))
    for index in np.flatnonzero(obstacles.off_plate(0.5 * data.kerf - KERF_ROUNDING)).tolist():
        a = sheet.placements[index]
        told = (
            f"'{a.part.name}' copy {a.copy} lies nearer the plate's edge than half the {data.kerf:.2f} mm "
            "kerf"
        )
        remedy = f"{gaps.edge:.1f} mm to the plate's edge would do"
        findings.append(Finding("refused", told, obstacles.middle(index), remedy))
    for index in np.flatnonzero(obstacles.by_clamps(data.kerf)).tolist():
        a = sheet.placements[index]
        told = f"'{a.part.name}' copy {a.copy} lies nearer a clamp than the torch's radius"
        remedy = "move it, or say the clamp's height where the torch passes over it"
        findings.append(Finding("refused", told, obstacles.middle(index), remedy))
    return findings


def _part_findings(sheet: NestedPlate, parts: list[PartCuts]) -> list[Finding]:
    """Return what is wrong with each part, once, at the place of its first copy."""
    findings = []
    told: set[PartKey] = set()
    for placement, of_part in zip(sheet.placements, parts, strict=True):
        key = _key(placement.part)
        if key in told:
            continue
        told.add(key)
        off = marks_off_metal(placement.part)
        if off > LEAST_OFF_METAL:
            lost = f"{off:.1f} mm of the marks of '{placement.part.name}' lie over holes or off the part"
            findings.append(Finding("warning", f"{lost} and are left out"))
        for finding in of_part.findings:
            if finding.place is not None:
                x, y = place_points([finding.place], placement.pose)[0]
                finding = replace(finding, place=(float(x), float(y)))
            findings.append(finding)
    return findings


def _no_start(
    placed: PlacedContour, starts: Starts, sheet: NestedPlate, data: CutData, *, over_edge: bool
) -> Finding:
    """Return why a contour has no start, where, and which gap would do."""
    placement, torch = sheet.placements[placed.placement], placed.contour.torch
    called = "the outside" if torch.hole is None else f"hole {torch.hole + 1}"
    x, y = place_points([torch.path.start], placed.pose)[0]
    told = f"no start fits {called} of '{placement.part.name}' copy {placement.copy}: "
    if over_edge:
        told += (
            f"{data.thickness:g} mm plate is too thick to pierce, and no straight way from the plate's "
            "edge reaches it clear of other parts"
        )
        remedy = "move it to the edge, or drill a start hole"
    elif starts.blocked_by or starts.early:
        gaps = gaps_for(data)
        kerfs = [placement for start in starts.early for placement in start.before]
        told += f"{_obstacle_words([*starts.blocked_by, *kerfs], sheet)} too near"
        remedy = f"{gaps.gap:.1f} mm between parts and {gaps.edge:.1f} mm to the plate's edge would do"
    else:
        told += "its own edges leave no room for a lead"
        remedy = "take a setting with a smaller kerf, or drill it"
    return Finding("refused", told, (float(x), float(y)), remedy)


def _obstacle_words(obstacles: list[int], sheet: NestedPlate) -> str:
    """Return obstacles in words, those most often met first."""
    counts = Counter(obstacles)
    words = []
    for obstacle in sorted(counts, key=lambda o: (-counts[o], o))[:3]:
        if obstacle == PLATE_EDGE:
            words.append("the plate's edge")
        elif obstacle == KEEPOUT:
            words.append("a keep-out")
        else:
            other = sheet.placements[obstacle]
            words.append(f"'{other.part.name}' copy {other.copy}")
    return " and ".join(words) + (" are" if len(words) > 1 else " is")
