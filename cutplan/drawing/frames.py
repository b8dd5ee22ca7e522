"""Affine frames of the plane: units, block references and flipped extrusions, composed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.geometry import FloatArray

__all__ = ["FLIP", "Frame", "object_frame", "placement", "scaling", "similarity"]

# An extrusion this far off the z axis still lies in the plane of the sheet.
TILT = 1e-6
# A frame that distorts circles by less than this keeps arcs as they are.
SIMILAR = 1e-9


@dataclass(frozen=True, slots=True)
class Frame:
    """The map (x, y) → (xx·x + xy·y + x0, yx·x + yy·y + y0)."""

    xx: float = 1.0
    xy: float = 0.0
    yx: float = 0.0
    yy: float = 1.0
    x0: float = 0.0
    y0: float = 0.0

    def __matmul__(self, inner: Frame) -> Frame:
        """Return the frame that applies `inner` first and this one after it."""
        if inner is _PLAIN:
            return self
        x0, y0 = self.point(inner.x0, inner.y0)
        return Frame(
            self.xx * inner.xx + self.xy * inner.yx,
            self.xx * inner.xy + self.xy * inner.yy,
            self.yx * inner.xx + self.yy * inner.yx,
            self.yx * inner.xy + self.yy * inner.yy,
            x0,
            y0,
        )

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Return a point mapped."""
        return self.xx * x + self.xy * y + self.x0, self.yx * x + self.yy * y + self.y0

    def vector(self, x: float, y: float) -> tuple[float, float]:
        """Return a direction with length mapped."""
        return self.xx * x + self.xy * y, self.yx * x + self.yy * y

    def points(self, points: FloatArray) -> FloatArray:
        """Return points of shape (n, 2) mapped."""
        matrix = np.array([[self.xx, self.yx], [self.xy, self.yy]])
        return np.asarray(points @ matrix + np.array([self.x0, self.y0]))

    @property
    def determinant(self) -> float:
        """Area factor, negative where the frame mirrors."""
        return self.xx * self.yy - self.xy * self.yx

    @property
    def distortion(self) -> float:
        """How far from a circle the image of the unit circle is, in units of its mean radius."""
        a, b = math.hypot(self.xx, self.yx), math.hypot(self.xy, self.yy)
        skew = abs(self.xx * self.xy + self.yx * self.yy)
        mean = 0.5 * (a + b)
        return (abs(a - b) + (skew / mean if mean > 0.0 else 0.0)) / mean if mean > 0.0 else math.inf


@lru_cache(maxsize=256)
def similarity(frame: Frame) -> tuple[float, float, float] | None:
    """Return scale, rotation (rad) and sense (−1 where it mirrors) of a frame that keeps circles."""
    if frame.distortion > SIMILAR:
        return None
    scale = math.hypot(frame.xx, frame.yx)
    return scale, math.atan2(frame.yx, frame.xx), math.copysign(1.0, frame.determinant)


# Object coordinates under the extrusion (0, 0, −1): the arbitrary axis algorithm of the DXF
# reference puts their x axis at (−1, 0, 0) and their y axis at (0, 1, 0).
FLIP = Frame(xx=-1.0)
_PLAIN = Frame()


def object_frame(extrusion: Sequence[float]) -> Frame:
    """Return the frame from an entity's object coordinates to its parent's.

    Raises
    ------
    DrawingError
        If the extrusion leaves the plane of the sheet.
    """
    x, y, z = extrusion
    if x == 0.0 and y == 0.0 and z > 0.0:
        return _PLAIN
    length = math.sqrt(x * x + y * y + z * z)
    if not length > 0.0 or math.hypot(x, y) > TILT * length:
        raise DrawingError("it is drawn in a tilted plane", remedy="draw it flat in the xy plane")
    return _PLAIN if z > 0.0 else FLIP


def placement(
    insert: tuple[float, float], rotation_deg: float, scale: tuple[float, float], base: tuple[float, float]
) -> Frame:
    """Return the frame of a block reference: base point, then scale, rotation and insertion."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    turn = math.radians(rotation_deg)
    c, s = quarter.get(rotation_deg % 360.0, (math.cos(turn), math.sin(turn)))
    sx, sy = scale
    return Frame(c * sx, -s * sy, s * sx, c * sy, *insert) @ Frame(x0=-base[0], y0=-base[1])


def scaling(factor: float) -> Frame:
    """Return the frame that multiplies by a factor."""
    return Frame(xx=factor, yy=factor)
