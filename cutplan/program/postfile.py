"""The form of a post-processor file: its keys, what each may hold, and what must agree.

Reading and finding files is left to `catalogue`, the words on the page to `postprocessor`.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from cutplan.base.files import FileModel
from cutplan.base.units import plain_unit
from cutplan.control import MODES
from cutplan.program.numbers import NumberFormat
from cutplan.program.template import CUT_FIELDS, OFFSET_FIELDS, PROGRAM_FIELDS, Template, canonical

__all__ = ["PostForm"]

# A comment line with a digest must fit; NISTIR 6556, 3.2, allows up to 256 characters a line.
SHORTEST_LINE, LONGEST_LINE = 80, 256
HIGHEST_LINE_NUMBER = 99999  # NISTIR 6556, 3.3.1


def _program_line(text: str) -> str:
    Template.parse(text, PROGRAM_FIELDS)
    return text


def _cut_line(text: str) -> str:
    Template.parse(text, CUT_FIELDS)
    return text


def _m_word(text: str) -> str:
    if not re.fullmatch(r"(M[0-9]{1,3})?", text):
        raise ValueError(f'{text!r} is no M word, as "M3"')
    return text


def _offset_line(text: str) -> str:
    Template.parse(text, OFFSET_FIELDS)
    return text


MWord = Annotated[str, AfterValidator(_m_word)]
ProgramLine = Annotated[str, AfterValidator(_program_line)]
CutLine = Annotated[str, AfterValidator(_cut_line)]
OffsetLine = Annotated[str, AfterValidator(_offset_line)]
ProgramUnit = Annotated[Literal["mm", "in"], BeforeValidator(plain_unit)]


class Switches(FileModel):
    """The control's M words; an empty one means that the control has no such switch."""

    torch_on: MWord
    torch_off: MWord
    marker_on: MWord = ""
    marker_off: MWord = ""
    preheat_on: MWord = ""
    preheat_off: MWord = ""
    height_on: MWord = ""
    height_off: MWord = ""

    @model_validator(mode="after")
    def _check(self) -> Switches:
        if not self.torch_on or not self.torch_off:
            raise ValueError("torch_on and torch_off must both be an M word")
        for name in ("torch", "marker", "preheat", "height"):
            on, off = getattr(self, f"{name}_on"), getattr(self, f"{name}_off")
            if bool(on) != bool(off):
                raise ValueError(f"{name}_on and {name}_off must be given together")
            if on and canonical(on) == canonical(off):
                raise ValueError(f"{name}_on and {name}_off are the same word {on}")
        return self


class Numbers(FileModel):
    """How numbers are written."""

    decimals: int = Field(default=3, ge=1, le=6)
    centre_decimals: int | None = Field(default=None, ge=1, le=6)
    feed_decimals: int = Field(default=0, ge=0, le=3)
    dwell_decimals: int = Field(default=2, ge=0, le=3)
    trailing_zeros: bool = False
    leading_zero: bool = True
    decimal_point: Literal["as needed", "always"] = "as needed"
    dwell_unit: Literal["s", "ms"] = "s"

    @model_validator(mode="after")
    def _check(self) -> Numbers:
        if self.centre_decimals is not None and self.centre_decimals < self.decimals:
            raise ValueError("centre_decimals must not be below decimals")
        return self


class Words(FileModel):
    """Which words are repeated although the control would remember them."""

    spaces: bool = True
    repeat_motion: bool = False
    repeat_coordinates: bool = False
    repeat_feed: bool = False


class Arcs(FileModel):
    """How arcs are written.

    The steps of radius form are short by default, since a rounded end moves the centre of a
    wide one (NISTIR 6556, 3.5.3.1, warns of it).  Arcs wider than `largest_radius_mm` are written
    as lines: controls commonly hold five figures before the point and three behind it, so that a
    centre 100 m away is the farthest they know (common practice).
    """

    form: Literal["incremental", "absolute", "radius", "lines"] = "incremental"
    largest_sweep_deg: float | None = Field(default=None, ge=5.0, le=180.0)
    full_circles: bool = False
    chord_tolerance_mm: float = Field(default=0.01, gt=0.0, le=0.5)
    largest_radius_mm: float = Field(default=99_999.0, ge=1000.0, le=1e7)

    @property
    def sweep_deg(self) -> float:
        """Largest included angle of one block."""
        return self.largest_sweep_deg or (90.0 if self.form == "radius" else 180.0)

    @model_validator(mode="after")
    def _check(self) -> Arcs:
        if self.full_circles and self.form not in ("incremental", "absolute"):
            raise ValueError(f"full_circles needs arcs with a centre, and the form is {self.form}")
        if self.form == "radius" and self.sweep_deg > 120.0:
            raise ValueError("largest_sweep_deg above 120 makes the centre uncertain in the radius form")
        return self


class Comments(FileModel):
    """Comments in round brackets, as the standard has them."""

    style: Literal["brackets", "none"] = "brackets"
    notes: bool = True
    cuts: bool = True


class LineNumbers(FileModel):
    """N words; without this table there are none."""

    first: int = Field(default=10, ge=0, le=HIGHEST_LINE_NUMBER)
    step: int = Field(default=10, ge=1, le=1000)
    highest: int = Field(default=HIGHEST_LINE_NUMBER, ge=1, le=HIGHEST_LINE_NUMBER)
    on: Literal["lines", "cuts"] = "lines"

    @model_validator(mode="after")
    def _check(self) -> LineNumbers:
        if self.highest < self.first + self.step:
            raise ValueError(f"highest {self.highest} leaves no room after first {self.first}")
        return self


class Limits(FileModel):
    """What the control can hold; longer programs are split between cuts."""

    line_length: int = Field(default=LONGEST_LINE, ge=SHORTEST_LINE, le=LONGEST_LINE)
    file_lines: int | None = Field(default=None, ge=100)
    file_bytes: int | None = Field(default=None, ge=4000)

    @property
    def splits(self) -> bool:
        """Whether a program may be split at all."""
        return self.file_lines is not None or self.file_bytes is not None


class Heights(FileModel):
    """Heights written as Z moves; without this table they are left to the control.

    Where the cutting data give a `lowering_mm`, the torch comes down over it while it moves off,
    unless `lowers_moving` says that the control cannot move Z together with X and Y.
    """

    travel_mm: float = Field(gt=0.0, le=500.0)
    feed_mm_min: float = Field(gt=0.0)
    lowers_moving: bool = True


class HeightControl(FileModel):
    """Where the writer switches the height control on and off; without this table, never."""

    off_in_leads: bool = True
    off_in_slow_spans: bool = True
    off_in_small_holes: bool = True
    corner_mm: float = Field(default=0.0, ge=0.0)
    corner_deg: float = Field(default=30.0, ge=5.0, le=170.0)
    least_run_mm: float = Field(default=0.0, ge=0.0)


class Compensation(FileModel):
    """The control offsets by the kerf; without this table the paths are offset already."""

    left: OffsetLine = "G41 D1"
    right: OffsetLine = "G42 D1"
    off: OffsetLine = "G40"
    corner_reserve_mm: float = Field(default=0.02, ge=0.005, le=1.0)


class Bevel(FileModel):
    """What leans the torch, for programs that bevel edges; without this table it stands upright.

    `head` is "hand" where the operator sets it, "AB" where a torch that A turns is carried by B, and
    "BC" where it leans by B and C turns the way it leans (axes of NISTIR 6556, degrees).  X and Y are
    where the jet's axis meets the plate's top.
    """

    head: Literal["hand", "AB", "BC"]
    most_deg: float = Field(default=45.0, ge=5.0, le=60.0)
    set_torch: tuple[CutLine, ...] = ()


class Subprograms(FileModel):
    """Cuts that are repeated are written once, from O… to M99, and run by M98 P….

    One is made where it saves lines.  The standard has no subprograms; this form is common
    practice.  Without this table every cut is written out.
    """

    first: int = Field(default=1001, ge=1, le=99999)


class BlockDelete(FileModel):
    """Blocks that begin with a slash, so that the operator can have them passed over."""

    marks: bool = False


def _mode(name: str) -> str:
    if name not in MODES:
        raise ValueError(f"{name!r} is no mode; modes are {', '.join(MODES)}")
    return name


class Control(FileModel):
    """What the control does by itself, and what it permits.

    Everything that is not among `guarantees` is taken for unknown at a program's start, so the
    header has to state it.
    """

    guarantees: tuple[Annotated[str, AfterValidator(_mode)], ...] = ()
    permits: tuple[str, ...] = ()
    rotation: bool = False
    torch_word_waits: bool = True
    flows_by_control: bool = True
    work_offset: str = Field(default="G54", pattern=r"^G5(4|5|6|7|8|9(\.[123])?)$")


class Lines(FileModel):
    """Lines of text for each place of the program.

    Lines of `header`, `raise_torch` and `footer` know the fields of the program; the others
    know those of the cut as well.
    """

    header: tuple[ProgramLine, ...] = Field(min_length=1)
    raise_torch: tuple[ProgramLine, ...] = ()
    lower_torch: tuple[CutLine, ...] = ()
    cut_start: tuple[CutLine, ...] = Field(min_length=1)
    cut_end: tuple[CutLine, ...] = Field(min_length=1)
    mark_start: tuple[CutLine, ...] = ()
    mark_end: tuple[CutLine, ...] = ()
    footer: tuple[ProgramLine, ...] = Field(min_length=1)

    def at(self, place: str) -> tuple[str, ...]:
        """Return the lines of one place."""
        lines: tuple[str, ...] = getattr(self, place)
        return lines


class PostForm(FileModel):
    """A whole post-processor file, its tables each right by itself."""

    description: str = Field(min_length=1, max_length=200)
    extension: str = Field(default="nc", pattern=r"^[A-Za-z0-9]{1,8}$")
    units: ProgramUnit
    return_home: bool = True
    marker_feed_mm_min: float = Field(default=5000.0, gt=0.0)
    pierce_by_control: bool = False
    control: Control = Control()
    switches: Switches
    numbers: Numbers = Numbers()
    words: Words = Words()
    arcs: Arcs = Arcs()
    comments: Comments = Comments()
    line_numbers: LineNumbers | None = None
    limits: Limits = Limits()
    heights: Heights | None = None
    height_control: HeightControl | None = None
    compensation: Compensation | None = None
    subprograms: Subprograms | None = None
    block_delete: BlockDelete = BlockDelete()
    bevel: Bevel | None = None
    lines: Lines

    @property
    def number_format(self) -> NumberFormat:
        """The numbers' form."""
        numbers = self.numbers
        return NumberFormat(
            inch=self.units == "in",
            decimals=numbers.decimals,
            centre_decimals=numbers.centre_decimals or numbers.decimals,
            feed_decimals=numbers.feed_decimals,
            dwell_decimals=numbers.dwell_decimals,
            trailing_zeros=numbers.trailing_zeros,
            leading_zero=numbers.leading_zero,
            always_point=numbers.decimal_point == "always",
            dwell_ms=numbers.dwell_unit == "ms",
        )
