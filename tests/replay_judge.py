"""What a program does to its plate, judged by the replay alone: no code of the package.

The sheet is read from the plan's record; lines and arcs are chorded, sweeps and pieces are
shapely's (a general-purpose geometry library).  `faults_of` holds a program against the
drawings; `harms` says what is worse in an edited program than in the one that was planned.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import shapely
import shapely.affinity
from replay import Point, Row, UnreadableError, arc_points, lit_runs, run

CHORD = 0.005
TOLERANCE_MM = 0.1
MARK_TOLERANCE_MM = 0.2
# A pierce's clearance from what is drawn is known to a chord and a rounding.
CLEARANCE_SLACK_MM = 0.02
LEAST_AREA = 0.3


def ring(vertices: Sequence[Sequence[float]], closed: bool = True, chord: float = CHORD) -> list[Point]:
    """Return points along a contour of x, y and bulge (the tangent of a quarter of the turn)."""
    points: list[Point] = [(vertices[0][0], vertices[0][1])]
    following = [*vertices[1:], *([vertices[0]] if closed else [])]
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, following, strict=False):
        if bulge == 0.0:
            points.append((x1, y1))
            continue
        # The centre lies on the chord's normal, (1 - b^2) / 4b chords to the left.
        rise = (1 - bulge * bulge) / (4 * bulge)
        centre = ((x0 + x1) / 2 - rise * (y1 - y0), (y0 + y1) / 2 + rise * (x1 - x0))
        points += arc_points((x0, y0), (x1, y1), centre, bulge < 0, chord)
    return points


def placed(points: Sequence[Point], placement: Mapping[str, Any]) -> list[Point]:
    """Return points of a drawing where a placement puts them on the plate."""
    angle = math.radians(placement["rotation_deg"])
    c, s = math.cos(angle), math.sin(angle)
    sign = -1.0 if placement["mirrored"] else 1.0
    return [
        (placement["x_mm"] + c * sign * x - s * y, placement["y_mm"] + s * sign * x + c * y)
        for x, y in points
    ]


@dataclass(frozen=True)
class Sheet:
    """A sheet of a plan's record."""

    plate: Mapping[str, Any]
    drawn: Mapping[str, Any]

    @property
    def data(self) -> Mapping[str, Any]:
        """The cutting data."""
        return dict(self.plate["cut_data"])

    @property
    def radius(self) -> float:
        """Half the kerf, mm."""
        return float(self.data["kerf"]) / 2

    @cached_property
    def own(self) -> list[Mapping[str, Any]]:
        """The placements that the program's own torch cuts: of several torches the first's."""
        every = list(self.plate["placements"])
        torches = int(self.plate.get("torches") or 1)
        return every[: len(every) // torches]

    @cached_property
    def parts(self) -> list[Any]:
        """The finished parts on the plate."""
        made = []
        for placement in self.own:
            record = self.drawn[placement["part"]]
            outer, *holes = [placed(ring(path), placement) for path in (record["outer"], *record["holes"])]
            made.append(shapely.Polygon(outer, holes))
        return made

    @cached_property
    def metal(self) -> Any:
        """The plate before the first cut."""
        shape = self.plate["plate"]
        return shapely.Polygon(ring(shape["outline"]), [ring(void) for void in shape.get("voids") or ()])

    @cached_property
    def clamps(self) -> list[Any]:
        """What no torch may touch."""
        return [shapely.Polygon(_contour(entry)) for entry in self.plate["plate"]["keepouts"]]


def _contour(entry: Any) -> list[Point]:
    """Return the contour of a keep-out, recorded alone or with its height."""
    if isinstance(entry, Mapping):
        entry = next(value for value in entry.values() if isinstance(value, list))
    return ring(entry)


def sweep_of(rows: Sequence[Row], radius: float) -> Any:
    """Return what a run of the torch removes."""
    moves = [row for row in rows if row.moves]
    if not moves:
        return shapely.Point(rows[0].end[:2]).buffer(radius)
    plain = [row for row in moves if not row.side]
    shapes = [_beside(row, 2 * radius) for row in moves if row.side]
    for row in plain:
        shapes.append(shapely.LineString([row.start[:2], *row.points(CHORD)]).buffer(radius, quad_segs=32))
    return shapely.union_all(shapes)


def _beside(row: Row, width: float) -> Any:
    """Return a strip on one side of a row, where the control offsets the torch by half of it."""
    if row.kind != "arc":
        (x0, y0), (x1, y1) = row.start[:2], row.end[:2]
        size = math.dist((x0, y0), (x1, y1))
        nx, ny = -(y1 - y0) / size * width * row.side, (x1 - x0) / size * width * row.side
        return shapely.Polygon([(x0, y0), (x1, y1), (x1 + nx, y1 + ny), (x0 + nx, y0 + ny)])
    inner = [row.start[:2], *row.points(CHORD)]
    radius = math.dist(row.start[:2], row.centre)
    # Left of a counter-clockwise arc is towards its centre.
    towards = (row.side > 0) != row.clockwise
    other = max(radius - width, 0.0) if towards else radius + width
    share = other / radius
    outer = [
        (row.centre[0] + share * (x - row.centre[0]), row.centre[1] + share * (y - row.centre[1]))
        for x, y in inner
    ]
    return shapely.Polygon([*inner, *outer[::-1]]).buffer(0)


@dataclass
class Deeds:
    """What a program does: runs, what each removes, marks, ways, and what is wrong in itself."""

    sheet: Sheet
    rows: list[Row]

    def __post_init__(self) -> None:
        self.runs = list(lit_runs(self.rows))
        self.marks = list(lit_runs(self.rows, "marker"))
        self.sweeps = [sweep_of(rows, self.sheet.radius) for rows in self.runs]

    @cached_property
    def removed(self) -> Any:
        """All kerf."""
        return shapely.union_all(self.sweeps)

    @cached_property
    def scribed(self) -> Any:
        """All strokes of the marker."""
        lines = [
            shapely.LineString([row.start[:2], *row.points(CHORD)])
            for rows in self.marks
            for row in rows
            if row.moves
        ]
        return shapely.union_all(lines) if lines else shapely.Point()

    @cached_property
    def lit_feeds(self) -> list[tuple[Any, float]]:
        """Where the torch runs, and how fast."""
        return [
            (shapely.LineString([row.start[:2], *row.points(CHORD)]), row.feed)
            for rows in self.runs
            for row in rows
            if row.moves
        ]


def switch_faults(deeds: Deeds) -> list[str]:
    """Return what is wrong with what burns when."""
    found = []
    for rows in deeds.runs:
        moved = False
        for row in rows:
            moved = moved or row.moves
            if row.kind == "rapid":
                found.append(f"line {row.line + 1}: a rapid with the torch lit")
            if row.kind in ("stop", "end"):
                found.append(f"line {row.line + 1}: a {row.kind} with the torch lit")
            if row.kind == "dwell" and moved and row.seconds > 0:
                found.append(f"line {row.line + 1}: a dwell in a cut")
            if row.marker:
                found.append(f"line {row.line + 1}: marker and torch together")
        if sum(row.kind == "torch" for row in rows) > 1:
            found.append(f"line {rows[0].line + 1}: lit twice")
        if not moved:
            found.append(f"line {rows[0].line + 1}: a pierce without a cut")
    flames = bool(deeds.sheet.plate["dialect"].get("flame_on"))
    for row in deeds.rows:
        if row.marker and row.kind in ("rapid", "stop", "end"):
            found.append(f"line {row.line + 1}: {row.kind} with the marker down")
        if flames and row.flame and row.kind in ("rapid", "end"):
            found.append(f"line {row.line + 1}: {row.kind} with the flames up")
    return found


def metal_faults(deeds: Deeds) -> list[str]:
    """Return bites into parts, parts that do not come off whole, and metal left on them."""
    sheet, found = deeds.sheet, []
    pieces = list(shapely.get_parts(sheet.metal.difference(deeds.removed)))
    tree = shapely.STRtree(pieces)
    radius = sheet.radius
    marked = deeds.scribed
    for placement, part in zip(sheet.own, sheet.parts, strict=True):
        name = f"{placement['part']} {placement['copy']}"
        if not part.intersection(deeds.removed).buffer(-TOLERANCE_MM / 2).is_empty:
            found.append(f"{name}: bitten")
        holes = [hole for hole in part.interiors if not _is_drilled(sheet, hole, marked)]
        whole = shapely.Polygon(part.exterior, holes)
        mine = [pieces[k] for k in tree.query(part.representative_point(), predicate="within")]
        if not mine:
            found.append(f"{name}: not there")
            continue
        # A jet of radius r leaves its fillets in re-entrant corners: the closing by r.
        allowed = whole.buffer(radius, quad_segs=32).buffer(TOLERANCE_MM - radius, quad_segs=32)
        over = mine[0].difference(allowed)
        if over.area > LEAST_AREA:
            found.append(f"{name}: {over.area:.1f} mm² left on it")
    return found


def _is_drilled(sheet: Sheet, hole: Any, marked: Any) -> bool:
    """Whether a hole is too small to cut, and marked at its middle."""
    x0, y0, x1, y1 = hole.bounds
    middle = shapely.Point((x0 + x1) / 2, (y0 + y1) / 2)
    small = min(x1 - x0, y1 - y0) < sheet.data["rules"]["smallest_hole"]
    return small and middle.distance(marked) < MARK_TOLERANCE_MM


def order_faults(deeds: Deeds) -> list[str]:
    """Return cuts, pierces and marks on metal that earlier cuts have freed."""
    found = []
    radius = deeds.sheet.radius
    left = deeds.sheet.metal
    loose: list[Any] = []
    order = sorted(
        [(rows[0], rows, sweep) for rows, sweep in zip(deeds.runs, deeds.sweeps, strict=True)]
        + [(rows[0], rows, None) for rows in deeds.marks],
        key=lambda item: (item[0].file, deeds.rows.index(item[0])),
    )
    for first, rows, sweep in order:
        lines = [shapely.LineString([row.start[:2], *row.points(CHORD)]) for row in rows if row.moves]
        way = shapely.union_all(lines) if lines else shapely.Point(first.end[:2])
        if any(piece.intersection(way).length > radius for piece in loose):
            found.append(f"line {first.line + 1}: on loose metal")
        if sweep is None:
            continue
        left = left.difference(sweep)
        pieces = sorted(shapely.get_parts(left), key=lambda piece: piece.area)
        loose += [piece for piece in pieces[:-1] if piece.area > 1.0]
        left = pieces[-1] if pieces else left
    return found


def place_faults(deeds: Deeds) -> list[str]:
    """Return pierces too near to parts, edges and earlier cuts, and ways through clamps."""
    sheet = deeds.sheet
    data, rules = sheet.data, sheet.data["rules"]
    cuts = [
        [rows[0].end[:2], *(p for row in rows if row.moves for p in row.points(CHORD))] for rows in deeds.runs
    ]
    mound = max(float(rules.get("pierce_mound", 0.0)), sheet.radius)
    return [
        *pierces_too_near(cuts, data["kerf"], mound, rules["pierce_clearance"], sheet.parts, sheet.metal),
        *clamp_faults(deeds),
    ]


def pierces_too_near(cuts, kerf, mound, clearance, parts, plate, beside=frozenset()):
    """Return what is wrong with each pierce, held by shapely against all that was there before it.

    `parts` are the finished parts on the plate, `plate` its metal; a hole too narrow for the
    clearance is pierced at nine tenths of its half width from its edge, or further in.  Cuts
    `beside` the plate, by their numbers, are planned to begin there, where nothing is pierced.
    """
    ways = [shapely.LineString(cut) if len(cut) > 1 else shapely.Point(cut[0]) for cut in cuts]
    spots = [shapely.Point(cut[0]) for cut in cuts]
    kerfs, slag = shapely.STRtree(ways), shapely.STRtree(spots)
    edges = shapely.STRtree([part.boundary for part in parts])
    holes = [shapely.Polygon(ring) for part in parts for ring in part.interiors]
    wrong = []
    for n, spot in enumerate(spots):
        if n in beside:
            wrong += (
                [f"start {n + 1} at {cuts[n][0]} is not beside the plate"] if plate.intersects(spot) else []
            )
            continue
        gaps = {"the plate's edge": plate.boundary.distance(spot)}
        for k in kerfs.query(spot, predicate="dwithin", distance=clearance + kerf / 2):
            if k < n:
                gaps[f"the kerf of cut {k + 1}"] = ways[k].distance(spot) - kerf / 2
        for k in slag.query(spot, predicate="dwithin", distance=clearance + mound):
            if k < n:
                gaps[f"the slag of pierce {k + 1}"] = spots[k].distance(spot) - mound
        for k in edges.query(spot, predicate="dwithin", distance=clearance):
            gaps[f"part {k + 1}"] = edges.geometries[k].distance(spot)
        what = min(gaps, key=gaps.get)
        needed = clearance
        if gaps[what] < needed - CLEARANCE_SLACK_MM:
            around = [hole for hole in holes if hole.contains(spot)]
            if around:
                tightest = min(around, key=lambda hole: hole.area)
                half = shapely.maximum_inscribed_circle(tightest, tolerance=0.002).length
                needed = min(needed, 0.9 * half)
        if not plate.contains(spot) or gaps[what] < needed - CLEARANCE_SLACK_MM:
            wrong.append(f"pierce {n + 1} at {cuts[n][0]}: {gaps[what]:.3f} of {needed:.3f} mm from {what}")
    return wrong


def clamp_faults(deeds: Deeds) -> list[str]:
    """Return ways that run through a clamp."""
    found = []
    for row in deeds.rows:
        if not row.moves:
            continue
        way = shapely.LineString([row.start[:2], *row.points(0.1)])
        for clamp in deeds.sheet.clamps:
            if way.intersects(clamp):
                found.append(f"line {row.line + 1}: through a clamp")
    return found


def height_faults(deeds: Deeds) -> list[str]:
    """Return heights that the data do not have, where the program moves Z."""
    if not any(row.end[2] for row in deeds.rows):
        return []
    data, found = deeds.sheet.data, []
    for rows in deeds.runs:
        way, before = 0.0, data["pierce_height"]
        for row in rows:
            if row.moves:
                way += sum(math.dist(a, b) for a, b in pairwise([row.start[:2], *row.points(0.01)]))
            coming_down = row.moves and way <= 1.02 * data["lowering_mm"] + 0.1
            if coming_down and data["cut_height"] - 0.05 <= row.end[2] <= before + 0.05:
                before = row.end[2]
                continue
            wanted = (
                data["cut_height"] if row.moves else data["pierce_height"] if row.kind == "dwell" else None
            )
            if wanted is not None and abs(row.end[2] - wanted) > 0.05:
                found.append(f"line {row.line + 1}: at {row.end[2]:g} mm in place of {wanted:g} mm")
    for row in deeds.rows:
        heats = row.kind == "dwell" and row.flame and not row.torch
        if heats and abs(row.end[2] - data["preheat_height"]) > 0.05:
            found.append(f"line {row.line + 1}: preheats at {row.end[2]:g} mm")
        if (
            row.kind == "rapid"
            and row.moves
            and min(row.start[2], row.end[2]) < data["pierce_height"]
            and not row.torch
        ):
            found.append(f"line {row.line + 1}: travel at {min(row.start[2], row.end[2]):g} mm")
    return found


def faults_of(
    plate: Mapping[str, Any], parts: Mapping[str, Any], texts: Sequence[str], delete: bool = False
) -> list[str]:
    """Return all that is wrong with a program by itself.

    Raises
    ------
    UnreadableError
        If the replay does not know what a control would make of the text.
    """
    deeds = Deeds(Sheet(plate, parts), run(texts, plate["dialect"], delete))
    return [
        *switch_faults(deeds),
        *metal_faults(deeds),
        *order_faults(deeds),
        *place_faults(deeds),
        *height_faults(deeds),
    ]


def harms(
    plate: Mapping[str, Any], parts: Mapping[str, Any], good: Sequence[str], edited: Sequence[str]
) -> tuple[str, ...]:
    """Return what an edited program does worse than the planned one; empty where it does no harm."""
    sheet = Sheet(plate, parts)
    before = Deeds(sheet, run(good, plate["dialect"]))
    try:
        after = Deeds(sheet, run(edited, plate["dialect"]))
    except (UnreadableError, ValueError, ZeroDivisionError) as problem:
        return (f"no control can be trusted with it: {problem}",)
    found = []
    for check in (switch_faults, metal_faults, order_faults, place_faults, height_faults):
        was, now = check(before), check(after)
        found += now[len(was) :] if len(now) > len(was) else []
    return (*found, *_changes(before, after))


def _changes(before: Deeds, after: Deeds) -> list[str]:
    """Return what is scribed, dwelt, cut and fed otherwise than planned."""
    found = []
    for one, other, told in ((before, after, "missing"), (after, before, "extra")):
        stray = one.scribed.difference(other.scribed.buffer(MARK_TOLERANCE_MM))
        if stray.length > 2 * MARK_TOLERANCE_MM:
            found.append(f"{stray.length:.1f} mm of marks {told}")
    if len(before.runs) != len(after.runs):
        found.append(f"{len(after.runs)} cuts in place of {len(before.runs)}")
    for one, other in zip(before.runs, after.runs, strict=False):
        dwells = [sum(row.seconds for row in rows) for rows in (one, other)]
        if dwells[1] < 0.9 * dwells[0] - 0.05 or dwells[1] > 2.1 * dwells[0] + 0.05:
            found.append(f"line {other[0].line + 1}: pierced for {dwells[1]:g} s in place of {dwells[0]:g} s")
    if any(row.kind == "stop" for row in after.rows):
        found.append("a stop")
    tree = shapely.STRtree([line for line, _ in before.lit_feeds])
    for line, feed in after.lit_feeds:
        middle = line.interpolate(0.5, normalized=True)
        near = tree.query(middle, predicate="dwithin", distance=0.3)
        if len(near) and not any(
            abs(before.lit_feeds[k][1] - feed) <= 0.12 * before.lit_feeds[k][1] for k in near
        ):
            found.append(f"fed at {feed:g} mm/min")
    return found
