"""Ways and clamps of a whole sheet, replayed from its text and plan.json alone.

Shares no code with the package; what a control makes of a text is in `replay`, the pierces are
held in `replay_judge`.
"""

from __future__ import annotations

import re

import shapely
import shapely.affinity
from replay import arc_points, replay
from replay_judge import pierces_too_near


def outline_points(vertices):
    """Return points along a closed outline of x, y and bulge (DXF: tan of a quarter of the angle)."""
    points = []
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True):
        points.append((x0, y0))
        if bulge:
            # The centre stands off the chord's middle by (1 - b²) / 4b of the chord, to its left.
            off = (1.0 - bulge * bulge) / (4.0 * bulge)
            centre = (0.5 * (x0 + x1) - off * (y1 - y0), 0.5 * (y0 + y1) + off * (x1 - x0))
            points += arc_points((x0, y0), (x1, y1), centre, bulge < 0.0)[:-1]
    return points


def part_on_plate(record, placement):
    """Return a finished part on the plate, from what plan.json says of it."""
    part = shapely.Polygon(
        outline_points(record["outer"]), [outline_points(hole) for hole in record["holes"]]
    )
    if placement["mirrored"]:
        part = shapely.affinity.scale(part, -1, 1, origin=(0, 0))
    part = shapely.affinity.rotate(part, placement["rotation_deg"], origin=(0, 0))
    return shapely.affinity.translate(part, placement["x_mm"], placement["y_mm"])


def moves(text, start):
    """Return every move over the plate: its points, whether torch or marker is on, and the torch's Z."""
    found = []
    at, height, motion, lit, marking = start, None, "0", False, False
    for line in text.splitlines():
        words = {}
        for letter, value in re.findall(r"([A-Z])\s*([-+.\d]+)", re.sub(r"\(.*?\)", "", line)):
            if letter == "G" and value.lstrip("0") in ("", "1", "2", "3"):
                motion = value.lstrip("0") or "0"
            elif letter == "M" and float(value) in (3, 5):
                lit = float(value) == 3
            elif letter == "M" and float(value) in (7, 9):
                marking = float(value) == 7
            elif letter in "XYZIJ":
                words[letter] = float(value)
        to = (words.get("X", at[0]), words.get("Y", at[1]))
        over = (words.get("Z", height), height)
        height = over[0]
        if to == at and "I" not in words and "J" not in words:
            continue
        points = [to]
        if motion in "23":
            centre = (at[0] + words.get("I", 0.0), at[1] + words.get("J", 0.0))
            points = arc_points(at, to, centre, motion == "2")
        known = [z for z in over if z is not None]
        found.append(([at, *points], lit or marking, min(known) if known else None))
        at = to
    return found


def clamps_met(text, plate, machine, cut_height):
    """Return the moves of a program that come nearer to a clamp than the torch is wide.

    A clamp of unknown height is met at any height, one of height 0 never; others where less
    than 5 mm of air are left over them.
    """
    met = []
    ways = moves(text, tuple(machine["start"]))
    for clamp in plate["keepouts"]:
        box = shapely.Polygon(outline_points(clamp["outline"]))
        for points, lit, height in ways:
            if height is None:
                height = cut_height if lit else machine["travel_height_mm"]
            over = clamp["height_mm"]
            if over is not None and (over == 0.0 or over + 5.0 <= height):
                continue
            gap = box.distance(shapely.LineString(points))
            if gap < machine["torch_radius_mm"] - 0.05:
                met.append(
                    f"{points[0]} to {points[-1]} at {height:g} mm: {gap:.2f} mm from a clamp {over} high"
                )
    return met


def begun_at_once(text, sheet, plan):
    """Return how many parts are begun and not finished at once, at the most, by what the torch follows.

    Of torches side by side the first is looked at.
    """
    parts = [part_on_plate(plan["parts"][p["part"]], p).boundary for p in sheet["placements"]]
    edges = shapely.STRtree(parts)
    reach = 0.5 * sheet["kerf_mm"] + 0.2
    parts_of_cuts = []
    for cut in replay(text):
        way = shapely.LineString(cut)
        beside = edges.query(way, predicate="dwithin", distance=reach)
        parts_of_cuts.append(max(beside, key=lambda k: way.intersection(parts[k].buffer(reach)).length))
    return max(
        sum(part in parts_of_cuts[: n + 1] and part in parts_of_cuts[n + 1 :] for part in set(parts_of_cuts))
        for n in range(len(parts_of_cuts))
    )


def faults_of_sheet(text, sheet, plan):
    """Return what the replay finds wrong with the pierces and the ways of one sheet's program."""
    plate = sheet["plate"]
    metal = shapely.Polygon(outline_points(plate["outline"]), [outline_points(v) for v in plate["voids"]])
    parts = [part_on_plate(plan["parts"][p["part"]], p) for p in sheet["placements"]]
    rules, cuts = sheet["cut_data"]["rules"], replay(text)
    spacing = sheet["torch_spacing_mm"] or 0.0
    # Torches side by side make each cut together, each a spacing further across the plate.
    all_cuts = [[(x, y + k * spacing) for x, y in cut] for cut in cuts for k in range(sheet["torches"])]
    burns = [cut for cut in sheet["cuts"] if cut["kind"] != "mark" for _ in range(sheet["torches"])]
    beside = frozenset(n for n, cut in enumerate(burns) if cut["edge_start"])
    wrong = pierces_too_near(
        all_cuts, sheet["kerf_mm"], rules["pierce_mound"], rules["pierce_clearance"], parts, metal, beside
    )
    return wrong + clamps_met(text, plate, plan["machine"], sheet["cut_data"]["cut_height"])
