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

    One word may work two switches: M9 puts out all that M7 and M8 put on.

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
    arc_distance_words : bool
        The control knows G90.1 (absolute centres) and G91.1 (steps), which the standard lacks.
    bare_circles : bool
        An arc without X and Y is a full circle; the standard asks for one of them.
    dwell_ms : bool
        G4 P counts milliseconds instead of the standard's seconds.
    compensation_radius_mm : float or None
        Radius in the control's offset register (any D word), for programs with G41 or G42.
    concave_corners : bool
        Under compensation the control trims both blocks at a concave corner; the standard
        makes such corners an error.
    subprograms : bool
        Blocks from O… to M99 behind the program's end are run by M98 P… (L times).
    block_delete : bool
        The operator has the blocks that begin with a slash passed over.
    feed_by_control, pierce_by_control : bool
        The control holds the feed, or the pierce dwell, and the program need not state it.
    torches_in_t : bool
        The T word says how many torches the torch word lights.
    ignored : tuple of str
        Words without meaning for the motion, as "M20", or a letter alone, as "S", for that
        letter with any number.
    """

    torch_on: tuple[str, ...] = ("M3",)
    torch_off: tuple[str, ...] = ("M5",)
    marker_on: tuple[str, ...] = ("M7",)
    marker_off: tuple[str, ...] = ("M9",)
    flame_on: tuple[str, ...] = ()
    flame_off: tuple[str, ...] = ()
    absolute_centres: bool = False
    arc_distance_words: bool = False
    bare_circles: bool = False
    dwell_ms: bool = False
    compensation_radius_mm: float | None = None
    concave_corners: bool = True
    subprograms: bool = False
    block_delete: bool = False
    feed_by_control: bool = False
    pierce_by_control: bool = False
    torches_in_t: bool = False
    ignored: tuple[str, ...] = ()
