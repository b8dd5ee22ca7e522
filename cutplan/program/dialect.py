"""What a program's words mean beyond the standard: which switch is which, and a few modes.

The reader follows NISTIR 6556 for everything else.  A post-processor gives the dialect of the
programs that it writes.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Dialect"]


@dataclass(frozen=True)
class Dialect:
    """The words of one control that the standard leaves open.

    Attributes
    ----------
    torch_on, torch_off : tuple of str
        M words that begin and end a cut, as "M3".
    marker_on, marker_off : tuple of str
        M words of the marker.
    flame_on, flame_off : tuple of str
        M words of the preheat flames, where the program switches them.
    absolute_centres : bool
        I and J are the arc's centre in program coordinates instead of steps from its start.
    dwell_ms : bool
        G4 P counts milliseconds instead of the standard's seconds.
    compensation_radius_mm : float or None
        Radius in the control's offset register (any D word), for programs with G41 or G42.
    """

    torch_on: tuple[str, ...] = ("M3",)
    torch_off: tuple[str, ...] = ("M5",)
    marker_on: tuple[str, ...] = ("M7",)
    marker_off: tuple[str, ...] = ("M9",)
    flame_on: tuple[str, ...] = ()
    flame_off: tuple[str, ...] = ()
    absolute_centres: bool = False
    dwell_ms: bool = False
    compensation_radius_mm: float | None = None
