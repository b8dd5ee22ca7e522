"""What a program's words mean beyond the standard: which switch is which, and a few modes.

The reader follows NISTIR 6556 for everything else.  A post-processor gives the dialect of the
programs that it writes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutplan.control.head import Head

__all__ = ["MODES", "Dialect"]

MODES: dict[str, str] = {
    "units": "G20 or G21 (inches or millimetres)",
    "distance": "G90 (plate coordinates) or G91 (steps)",
    "plane": "G17 (the XY plane)",
    "arc centres": "G90.1 or G91.1 (arc centres in plate coordinates, or as steps)",
    "feed mode": "G94 (feed a minute) or G93",
    "compensation": "G40 (no offset by the control)",
    "work offset": "G54 (which zero the coordinates count from)",
    "path mode": "G64, G61 or G61.1 (how corners are run)",
    "rotation": "G69 (coordinates not rotated)",
    "tool length": "G49 (no length added to Z)",
    "torch": "the torch's off word",
    "marker": "the marker's off word",
    "flame": "the off word of the preheat flames",
    "height": "the off word of the height control",
}
"""What a control holds from one program to the next, and the words that state it."""


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
    height_on, height_off : tuple of str
        M words of the height control, where the program switches it.
    heights : {"control", "program"}
        Who moves the torch up and down: where the control does, a program holds no Z at all.
    travel_height_mm, height_feed_mm_min : float or None
        Height of raised travel, and feed from pierce to cutting height, where the program
        moves Z.
    lowers_moving : bool
        Where the program moves Z and the data give a way for it, the torch comes down from
        pierce to cutting height over that way; otherwise standing.
    slow_without_height_control : bool
        The height control must be off wherever the torch runs slower than its feed.
    height_control_from_mm : float or None
        A stretch at the full feed that is longer, clear of leads and corners, has the height
        control on throughout; None where the program does not switch it.
    height_control_corner_mm, height_control_corner_deg : float
        It may be off so far before and behind a turn of more than that.
    marker_feed_mm_min : float or None
        Feed of the marker; None where it is not held.
    flows_by_control : bool
        Gas flows before and behind each cut by itself; otherwise the program waits for it.
    absolute_centres : bool
        I and J are the arc's centre in program coordinates instead of steps from its start.
    arc_distance_words : bool
        The control knows G90.1 (absolute centres) and G91.1 (steps), which the standard lacks.
    bare_circles : bool
        An arc without X and Y is a full circle; the standard asks for one of them.
    dwell_ms : bool
        G4 P counts milliseconds instead of the standard's seconds.
    compensation_radius_mm : float or None
        Radius in the control's offset registers, for programs with G41 or G42.
    registers : tuple of int
        The registers (D words) that hold that radius; what is in any other is unknown.
    concave_corners : bool
        Under compensation the control trims both blocks at a concave corner; the standard
        makes such corners an error.
    subprograms : bool
        Blocks from O… to M99 behind the program's end are run by M98 P… (L times).
    block_delete : bool
        The operator has the blocks that begin with a slash passed over.
    deletes_marks : bool
        Marks may stand under block delete; nothing else may differ with it.
    feed_by_control, pierce_by_control : bool
        The control holds the feed, or the pierce dwell, and the program need not state it.
    torch_word_waits : bool
        The control goes on from the torch word only when the arc has transferred, so that the
        pierce dwell counts from there; otherwise the dwell counts from the command itself.
    torches_in_t : bool
        The T word says how many torches the torch word lights.
    spacing_remark : tuple of str
        What stands before and behind the distance of torches side by side, in the remark that
        tells the operator; empty where no remark does.
    work_offset : str
        The coordinate system whose zero is the plate's lower left corner.
    path_modes : tuple of str
        Words for how corners are run that programs may state.
    guarantees : tuple of str
        Modes that the control is known to hold at a program's start, by the names in `MODES`;
        whatever is not among them is unknown until the program states it.
    has_rotation : bool
        The control can rotate its coordinates (G68), so that a program must end that (G69).
    permits : tuple of str
        Foreign words that programs may hold all the same, as "G53", "M6", "S", or "MSG".
    step_mm : float
        The control's grid: the least difference of two places that it tells apart.
    head : {"fixed", "hand", "AB", "BC"}
        How the torch leans: never, as the operator sets it, or by rotary words.
    tilt_remark : tuple of str
        What stands before, between and behind the tilt and the way it goes, in the remark that
        tells the operator how to set the torch; empty where no remark does.
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
    height_on: tuple[str, ...] = ()
    height_off: tuple[str, ...] = ()
    heights: Literal["control", "program"] = "control"
    travel_height_mm: float | None = None
    height_feed_mm_min: float | None = None
    lowers_moving: bool = True
    slow_without_height_control: bool = False
    height_control_from_mm: float | None = None
    height_control_corner_mm: float = 0.0
    height_control_corner_deg: float = 30.0
    flows_by_control: bool = True
    absolute_centres: bool = False
    arc_distance_words: bool = False
    bare_circles: bool = False
    dwell_ms: bool = False
    compensation_radius_mm: float | None = None
    registers: tuple[int, ...] = (1,)
    concave_corners: bool = True
    subprograms: bool = False
    block_delete: bool = False
    deletes_marks: bool = False
    feed_by_control: bool = False
    pierce_by_control: bool = False
    torch_word_waits: bool = True
    torches_in_t: bool = False
    spacing_remark: tuple[str, ...] = ()
    work_offset: str = "G54"
    path_modes: tuple[str, ...] = ("G64",)
    guarantees: tuple[str, ...] = ()
    has_rotation: bool = False
    permits: tuple[str, ...] = ()
    step_mm: float = 0.001
    marker_feed_mm_min: float | None = None
    ignored: tuple[str, ...] = ()
    head: Head = "fixed"
    tilt_remark: tuple[str, ...] = ()
