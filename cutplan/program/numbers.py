"""Numbers as a control wants them: rounded once, onto a grid of whole steps, then written.

A coordinate is held as a whole number of the smallest step that the format can write, so two
places are the same exactly where their text is the same.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MM_PER_INCH", "NumberFormat"]

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class NumberFormat:
    """How the numbers of a program are written.

    Attributes
    ----------
    inch : bool
        Lengths in inches instead of mm.
    decimals, centre_decimals, feed_decimals, dwell_decimals : int
        Decimals of coordinates, of arc centres, of feeds and of dwells.
    trailing_zeros : bool
        Keep zeros at the end of the decimals.
    leading_zero : bool
        Write 0.5, not .5.
    always_point : bool
        Write the decimal point of whole numbers.
    dwell_ms : bool
        Dwells in milliseconds instead of seconds.
    """

    inch: bool = False
    decimals: int = 3
    centre_decimals: int = 3
    feed_decimals: int = 0
    dwell_decimals: int = 2
    trailing_zeros: bool = False
    leading_zero: bool = True
    always_point: bool = False
    dwell_ms: bool = False

    @property
    def unit_mm(self) -> float:
        """Length of the program's unit in mm."""
        return MM_PER_INCH if self.inch else 1.0

    @property
    def _scale(self) -> float:
        return float(10**self.decimals) / self.unit_mm

    @property
    def step_mm(self) -> float:
        """Smallest difference of coordinates that can be written, mm."""
        return float(self.unit_mm / 10**self.decimals)

    def steps(self, length_mm: float) -> int:
        """Return a coordinate in whole steps of the format."""
        return round(length_mm * self._scale)

    def coordinate(self, steps: int) -> str:
        """Return the text of a coordinate in whole steps."""
        return self._fixed(steps, self.decimals)

    def centre(self, steps: int) -> str:
        """Return the text of an arc centre's coordinate in whole steps of its decimals."""
        return self._fixed(steps, self.centre_decimals)

    def length(self, length_mm: float) -> str:
        """Return the text of a length given in mm."""
        return self.coordinate(self.steps(length_mm))

    def feed(self, feed_mm_min: float) -> str:
        """Return the text of a feed given in mm/min, never rounded to nothing."""
        steps = round(feed_mm_min / self.unit_mm * 10**self.feed_decimals)
        return self._fixed(max(1, steps), self.feed_decimals)

    def dwell(self, seconds: float) -> str:
        """Return the text of a dwell; empty where it is shorter than can be written."""
        steps = round(seconds * (1000.0 if self.dwell_ms else 1.0) * 10**self.dwell_decimals)
        return self._fixed(steps, self.dwell_decimals) if steps > 0 else ""

    def _fixed(self, steps: int, decimals: int) -> str:
        whole, part = divmod(abs(steps), 10**decimals)
        fraction = f"{part:0{decimals}d}" if decimals else ""
        if not self.trailing_zeros:
            fraction = fraction.rstrip("0")
        integer = str(whole) if whole or self.leading_zero or not fraction else ""
        point = "." if fraction or self.always_point else ""
        sign = "-" if steps < 0 else ""
        return f"{sign}{integer}{point}{fraction}"
