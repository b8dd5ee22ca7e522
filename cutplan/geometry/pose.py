"""Where a drawing lies on a plate: mirror, rotation, shift, applied to paths exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from cutplan.geometry.path import FloatArray, Path

__all__ = ["Pose", "place", "place_points"]

_QUARTERS = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}


@dataclass(frozen=True)
class Pose:
    """A rigid placement of drawing coordinates on a plate.

    Attributes
    ----------
    x, y : float
        Shift, mm, applied last.
    rotation_deg : float
        Counter-clockwise rotation about the drawing's origin, applied second.
    mirrored : bool
        Mirror in the drawing's y axis (x becomes −x), applied first.
    """

    x: float = 0.0
    y: float = 0.0
    rotation_deg: float = 0.0
    mirrored: bool = False

    @property
    def matrix(self) -> FloatArray:
        """The linear part, shape (2, 2); quarter turns are exact."""
        turn = self.rotation_deg % 360.0
        radians = math.radians(turn)
        c, s = _QUARTERS.get(turn, (math.cos(radians), math.sin(radians)))
        m = -1.0 if self.mirrored else 1.0
        return np.array([[c * m, -s], [s * m, c]])


def place_points(points: ArrayLike, pose: Pose) -> FloatArray:
    """Return points of shape (n, 2) moved from drawing to plate coordinates.

    Parameters
    ----------
    points : array_like, shape (n, 2)
    pose : Pose

    Returns
    -------
    ndarray, shape (n, 2)
        mm.
    """
    moved = np.asarray(points, dtype=np.float64) @ pose.matrix.T
    return np.asarray(moved + np.array([pose.x, pose.y]))


def place(path: Path, pose: Pose) -> Path:
    """Return a path moved from drawing to plate coordinates.

    A mirrored pose turns counter-clockwise contours clockwise; use
    `cutplan.geometry.oriented` where the direction matters.

    Parameters
    ----------
    path : Path
    pose : Pose

    Returns
    -------
    Path
    """
    bulges = -path.vertices[:, 2] if pose.mirrored else path.vertices[:, 2]
    return Path(np.column_stack([place_points(path.points, pose), bulges]), closed=path.closed)
