"""Heads that lean: what their rotary words mean, and which way the jet points in each row of motion.

After NISTIR 6556, section 2.1: A, B and C turn about X, Y and Z, in degrees, and words on the
line of a move turn along with it.  How they carry each other is the head's own:

* "AB": the torch is carried by A, and A by B;
* "BC": the torch leans by B, and C turns the way it leans, 0 along X;
* "hand": nothing turns; a remark tells the operator how the torch is to be set.

Terminology
-----------
jet : the unit vector along the cutting jet, from the torch down through the plate.
tilt : the angle of the jet from straight down.
towards : the way, in the plane, that the jet goes as it goes down; degrees from X, counter-clockwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from cutplan.geometry import FloatArray

__all__ = ["Head", "HeadTurn", "head_angles", "jet_at", "rotary_letters"]

Head = Literal["fixed", "hand", "AB", "BC"]


@dataclass(frozen=True)
class HeadTurn:
    """A move on which the head turns: its row of motion, and A, B and C before and after, degrees."""

    row: int
    before: tuple[float, float, float]
    after: tuple[float, float, float]


def rotary_letters(head: Head) -> str:
    """Return the letters of the axes that a head turns by.

    Parameters
    ----------
    head : {"fixed", "hand", "AB", "BC"}

    Returns
    -------
    str
    """
    return head if head in ("AB", "BC") else ""


def jet_at(head: Head, angles: FloatArray) -> FloatArray:
    """Return the jet of a head at angles of its axes.

    Parameters
    ----------
    head : {"fixed", "hand", "AB", "BC"}
    angles : ndarray, shape (n, 3)
        A, B and C, degrees.

    Returns
    -------
    ndarray, shape (n, 3)
        Unit vectors; straight down where nothing turns.
    """
    a, b, c = np.radians(np.atleast_2d(angles)).T
    if head == "AB":
        # Down, turned about X by A and then about Y by B.
        return np.asarray(np.column_stack([-np.cos(a) * np.sin(b), np.sin(a), -np.cos(a) * np.cos(b)]))
    if head == "BC":
        return np.asarray(np.column_stack([np.sin(b) * np.cos(c), np.sin(b) * np.sin(c), -np.cos(b)]))
    return np.asarray(np.tile([0.0, 0.0, -1.0], (len(a), 1)))


def head_angles(head: Head, tilt_deg: float, towards_deg: float) -> tuple[float, float, float]:
    """Return A, B and C of a head whose jet leans by a tilt, degrees; 0 where there is no such axis.

    Parameters
    ----------
    head : {"fixed", "hand", "AB", "BC"}
    tilt_deg, towards_deg : float

    Returns
    -------
    tuple of float
    """
    if head == "BC":
        return (0.0, tilt_deg, towards_deg)
    if head != "AB":
        return (0.0, 0.0, 0.0)
    tilt, way = math.radians(tilt_deg), math.radians(towards_deg)
    x, y, z = math.sin(tilt) * math.cos(way), math.sin(tilt) * math.sin(way), -math.cos(tilt)
    return (math.degrees(math.asin(y)), math.degrees(math.atan2(-x, -z)), 0.0)
