"""Draws the demo batch: the parts of a small builder of dollies and trailers.

Run ``python parts/make_drawings.py`` to write the DXF files beside this script again.  The
shop, its parts and its batch are invented for the demonstration.  Each drawing is made the
way drawing offices make them: contours as loose lines and arcs or as polylines, bolt holes as
circles or block references, titles, dimensions, borders and centre-lines on layers of their
own, in DXF versions from R12 to R2018.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing
from ezdxf.layouts import Modelspace

HERE = Path(__file__).parent
Corner = tuple[float, float, float]
Point = tuple[float, float]
INCH, MILLIMETRE = 1, 4


def rounded(corners: Sequence[Corner]) -> list[tuple[float, float, float]]:
    """Return vertices with bulges for a polygon whose corners carry fillet radii (0 is sharp)."""
    vertices: list[tuple[float, float, float]] = []
    count = len(corners)
    for i, (x, y, radius) in enumerate(corners):
        if radius == 0:
            vertices.append((x, y, 0.0))
            continue
        px, py, _ = corners[i - 1]
        nx, ny, _ = corners[(i + 1) % count]
        inward = math.atan2(y - py, x - px)
        outward = math.atan2(ny - y, nx - x)
        turn = math.remainder(outward - inward, math.tau)
        reach = radius * abs(math.tan(turn / 2))
        vertices.append((x - reach * math.cos(inward), y - reach * math.sin(inward), math.tan(turn / 4)))
        vertices.append((x + reach * math.cos(outward), y + reach * math.sin(outward), 0.0))
    return vertices


def rectangle(width: float, height: float, radius: float = 0.0) -> list[Corner]:
    """Return the corners of a rectangle from the origin, counter-clockwise."""
    return [(0, 0, radius), (width, 0, radius), (width, height, radius), (0, height, radius)]


def bolt_circle(centre: Point, diameter: float, count: int, first_deg: float = 0.0) -> list[Point]:
    """Return the hole centres of a bolt circle."""
    angles = [math.radians(first_deg) + math.tau * i / count for i in range(count)]
    return [(centre[0] + diameter / 2 * math.cos(a), centre[1] + diameter / 2 * math.sin(a)) for a in angles]


class Sheet:
    """One drawing with the office's layers, a border and a title."""

    def __init__(self, name: str, version: str, title: str, units: int = MILLIMETRE) -> None:
        self.name = name
        self.doc: Drawing = ezdxf.new(version, setup=["linetypes"])
        self.doc.header["$MEASUREMENT"] = 0 if units == INCH else 1
        if version != "R12":
            self.doc.units = units
        else:
            self.doc.header["$INSUNITS"] = units
        for layer, colour in [
            ("OUTLINE", 7), ("HOLES", 7), ("DIMENSIONS", 3), ("TITLE", 2), ("BORDER", 8),
            ("CENTERLINES", 1), ("BEND", 5), ("MARK", 4),
        ]:  # fmt: skip
            self.doc.layers.add(layer, color=colour)
        self.msp: Modelspace = self.doc.modelspace()
        self.title = title

    def contour(self, vertices: Sequence[tuple[float, float, float]], *, loose: bool, layer: str = "OUTLINE"):
        """Draw a closed contour, as loose lines and arcs or as one polyline."""
        attribs = {"layer": layer}
        if not loose:
            if self.doc.dxfversion == "AC1009":
                self.msp.add_polyline2d(vertices, format="xyb", close=True, dxfattribs=attribs)
            else:
                self.msp.add_lwpolyline(vertices, format="xyb", close=True, dxfattribs=attribs)
            return
        for (x0, y0, bulge), (x1, y1, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True):
            if bulge == 0:
                self.msp.add_line((x0, y0), (x1, y1), dxfattribs=attribs)
            else:
                centre, start, end, radius = ezdxf.math.bulge_to_arc((x0, y0), (x1, y1), bulge)
                self.msp.add_arc(centre, radius, math.degrees(start), math.degrees(end), dxfattribs=attribs)

    def holes(self, centres: Sequence[Point], diameter: float, *, as_block: bool = False) -> None:
        """Draw round holes with their centre-lines, as circles or as references to one block."""
        if as_block:
            name = f"HOLE_{diameter:g}".replace(".", "_")
            if name not in self.doc.blocks:
                block = self.doc.blocks.new(name)
                block.add_circle((0, 0), 0.5, dxfattribs={"layer": "0"})
        for x, y in centres:
            if as_block:
                scale = {"xscale": diameter, "yscale": diameter, "layer": "HOLES"}
                self.msp.add_blockref(name, (x, y), dxfattribs=scale)
            else:
                self.msp.add_circle((x, y), diameter / 2, dxfattribs={"layer": "HOLES"})
            reach = 0.7 * diameter
            centre_line = {"layer": "CENTERLINES", "linetype": "CENTER"}
            self.msp.add_line((x - reach, y), (x + reach, y), dxfattribs=centre_line)
            self.msp.add_line((x, y - reach), (x, y + reach), dxfattribs=centre_line)

    def slot(self, centre: Point, length: float, width: float) -> None:
        """Draw a slot along x: `length` over all."""
        half, r = (length - width) / 2, width / 2
        x, y = centre
        vertices = [(x - half, y - r, 0), (x + half, y - r, 1), (x + half, y + r, 0), (x - half, y + r, 1)]
        self.contour(vertices, loose=True, layer="HOLES")

    def save(self, width: float, height: float) -> None:
        """Add dimensions, border and title around a part of that size, and write the file."""
        gap = 0.08 * max(width, height)
        text = 0.025 * max(width, height)
        style = {"dimtxt": text, "dimasz": text}
        for p1, p2, base, angle in [
            ((0, 0), (width, 0), (0, -gap / 2), 0),
            ((0, 0), (0, height), (-gap / 2, 0), 90),
        ]:
            self.msp.add_linear_dim(
                base=base, p1=p1, p2=p2, angle=angle, override=style, dxfattribs={"layer": "DIMENSIONS"}
            ).render()
        left, bottom, right, top = -2 * gap, -3 * gap, width + gap, height + gap
        frame = [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]
        for a, b in itertools.pairwise(frame):
            self.msp.add_line(a, b, dxfattribs={"layer": "BORDER"})
        self.msp.add_text(
            self.title, height=text, dxfattribs={"layer": "TITLE", "insert": (left + text, bottom + text)}
        )
        self.doc.saveas(HERE / f"{self.name}.dxf")


def coupler_plate() -> None:
    s = Sheet("coupler-plate", "R2010", "COUPLER PLATE  10 S355")
    s.contour(rounded(rectangle(760, 620, 40)), loose=True)
    s.holes([(380, 310)], 92)
    s.holes(bolt_circle((380, 310), 250, 8, 22.5), 18, as_block=True)
    s.holes(bolt_circle((380, 310), 480, 12, 15), 22, as_block=True)
    s.holes([(50, 50), (710, 50), (710, 570), (50, 570)], 26)
    s.save(760, 620)


def ring_flange() -> None:
    s = Sheet("ring-flange", "R12", "RING FLANGE  10 S355")
    s.msp.add_circle((160, 160), 160, dxfattribs={"layer": "OUTLINE"})
    s.holes([(160, 160)], 180)
    s.holes(bolt_circle((160, 160), 260, 8), 22)
    s.save(320, 320)


def gusset() -> None:
    s = Sheet("gusset", "R2000", "GUSSET  10 S355")
    corners = [(0, 25, 0), (25, 0, 0), (240, 0, 0), (240, 40, 0), (70, 60, 45), (45, 210, 0), (0, 210, 0)]
    s.contour(rounded(corners), loose=True)
    s.save(240, 210)


def spring_hanger() -> None:
    s = Sheet("spring-hanger", "R2004", "SPRING HANGER  10 S355")
    corners = [(0, 0, 12), (260, 0, 12), (260, 70, 30), (178, 150, 60), (178, 250, 48), (82, 250, 48),
               (82, 150, 60), (0, 70, 30)]  # fmt: skip
    s.contour(rounded(corners), loose=False)
    s.holes([(130, 200)], 42)
    s.holes([(40, 35), (220, 35)], 18)
    s.save(260, 250)


def landing_leg_foot() -> None:
    s = Sheet("landing-leg-foot", "R2007", "LANDING LEG FOOT  10 S355")
    s.contour(rounded(rectangle(280, 280, 35)), loose=False)
    s.holes([(140, 140)], 76)
    for x in (60, 220):
        for y in (50, 230):
            s.slot((x, y), 44, 18)
    s.save(280, 280)


def cross_member_web() -> None:
    s = Sheet("cross-member-web", "R2013", "CROSS MEMBER WEB  10 S355")
    notched = [
        (0, 30, 0), (60, 30, 15), (60, 0, 0), (1440, 0, 0), (1440, 30, 15), (1500, 30, 0),
        (1500, 230, 0), (1440, 230, 15), (1440, 260, 0), (60, 260, 0), (60, 230, 15), (0, 230, 0),
    ]  # fmt: skip
    s.contour(rounded(notched), loose=True)
    s.holes([(250 + 200 * i, 130) for i in range(6)], 130, as_block=True)
    s.holes([(90, 130), (1410, 130)], 26)
    s.save(1500, 260)


def tie_plate() -> None:
    s = Sheet("tie-plate", "R2018", "TIE PLATE  10 S355")
    s.contour(rounded(rectangle(320, 110, 18)), loose=False)
    s.slot((80, 55), 90, 22)
    s.slot((240, 55), 90, 22)
    s.save(320, 110)


def wear_strip() -> None:
    s = Sheet("wear-strip", "R12", "WEAR STRIP  10 S355")
    corners = [(12, 0, 0), (1188, 0, 0), (1200, 12, 0), (1200, 68, 0), (1188, 80, 0), (12, 80, 0),
               (0, 68, 0), (0, 12, 0)]  # fmt: skip
    s.contour(rounded(corners), loose=False)
    s.holes([(60 + 180 * i, 40) for i in range(7)], 17)
    s.save(1200, 80)


def lashing_plate() -> None:
    s = Sheet("lashing-plate", "R2000", "LASHING PLATE  10 S355")
    corners = [(0, 0, 10), (180, 0, 10), (180, 60, 25), (150, 150, 55), (30, 150, 55), (0, 60, 25)]
    s.contour(rounded(corners), loose=True)
    d_ring = [(60, 70, 10), (120, 70, 10), (120, 112, 20), (60, 112, 20)]
    s.contour(rounded(d_ring), loose=False, layer="HOLES")
    s.save(180, 150)


def guard_bracket() -> None:
    s = Sheet("guard-bracket", "R2010", "GUARD BRACKET  10 S355  (edge by spline)")
    edge = [(420, 60), (380, 95), (310, 104), (240, 140), (190, 205), (120, 236), (60, 240)]
    s.msp.add_line((60, 240), (0, 240), dxfattribs={"layer": "OUTLINE"})
    s.msp.add_line((0, 240), (0, 0), dxfattribs={"layer": "OUTLINE"})
    s.msp.add_line((0, 0), (420, 0), dxfattribs={"layer": "OUTLINE"})
    s.msp.add_line((420, 0), (420, 60), dxfattribs={"layer": "OUTLINE"})
    spline = s.msp.add_spline(dxfattribs={"layer": "OUTLINE"})
    spline.dxf.degree = 3
    construction = ezdxf.math.fit_points_to_cad_cv(
        [(*p, 0) for p in edge], tangents=[(-1, 0.6, 0), (-1, 0, 0)]
    )
    spline.apply_construction_tool(construction)
    s.holes([(40, 40), (40, 200), (370, 40)], 18)
    s.msp.add_ellipse((150, 90), (55, 0), 0.5, dxfattribs={"layer": "HOLES"})
    s.save(420, 240)


def drawbar_shim() -> None:
    s = Sheet("drawbar-shim", "R2000", "DRAWBAR SHIM  10 S355  DRAWN IN INCHES", units=INCH)
    s.contour(rounded(rectangle(8.0, 5.0, 0.75)), loose=True)
    s.holes([(1.25, 1.25), (6.75, 1.25), (6.75, 3.75), (1.25, 3.75)], 0.8125)
    s.holes([(4.0, 2.5)], 2.0)
    s.save(8.0, 5.0)


def step_bracket() -> None:
    s = Sheet("step-bracket", "R2018", "STEP BRACKET  10 S355  2 BENDS")
    s.contour(rounded([(0, 0, 8), (360, 0, 8), (360, 300, 8), (0, 300, 8)]), loose=True)
    for y, note in [(90, "UP 90 R12"), (210, "DOWN 90 R12")]:
        s.msp.add_line((0, y), (360, y), dxfattribs={"layer": "BEND"})
        s.msp.add_text(note, height=8, dxfattribs={"layer": "BEND", "insert": (8, y + 3)})
    s.holes([(60, 30), (300, 30), (60, 270), (300, 270)], 18)
    s.holes([(180, 150)], 36)
    s.save(360, 300)


def serial_plate() -> None:
    s = Sheet("serial-plate", "R2013", "SERIAL PLATE  10 S355")
    s.contour(rounded(rectangle(220, 120, 12)), loose=False)
    s.holes([(18, 18), (202, 18), (202, 102), (18, 102)], 14)
    s.msp.add_text("DOLLY 7", height=24, dxfattribs={"layer": "MARK", "insert": (40, 62)})
    s.msp.add_line((40, 50), (180, 50), dxfattribs={"layer": "MARK"})
    s.save(220, 120)


def drawbar_eye() -> None:
    s = Sheet("drawbar-eye", "R2007", "DRAWBAR EYE BLANK  40 S355")
    corners = [(0, 60, 20), (300, 60, 80), (360, 0, 110), (600, 0, 110), (600, 240, 110), (360, 240, 110),
               (300, 180, 80), (0, 180, 20)]  # fmt: skip
    s.contour(rounded(corners), loose=True)
    s.holes([(480, 120)], 90)
    s.save(600, 240)


def boss_ring() -> None:
    s = Sheet("boss-ring", "R12", "KINGPIN BOSS RING  40 S355")
    s.msp.add_circle((150, 150), 150, dxfattribs={"layer": "OUTLINE"})
    s.holes([(150, 150)], 150)
    s.save(300, 300)


def axle_clamp() -> None:
    s = Sheet("axle-clamp", "R2018", "AXLE CLAMP  40 S355")
    s.contour(rounded([(0, 0, 20), (280, 0, 20), (280, 180, 20), (190, 180, 0), (190, 140, 25), (90, 140, 25),
                       (90, 180, 0), (0, 180, 20)]), loose=False)  # fmt: skip
    s.holes([(66, 68), (214, 68)], 46)
    s.save(280, 180)


def main() -> None:
    for draw in (
        coupler_plate, ring_flange, gusset, spring_hanger, landing_leg_foot, cross_member_web, tie_plate,
        wear_strip, lashing_plate, guard_bracket, drawbar_shim, step_bracket, serial_plate, drawbar_eye,
        boss_ring, axle_clamp,
    ):  # fmt: skip
        draw()


if __name__ == "__main__":
    main()
