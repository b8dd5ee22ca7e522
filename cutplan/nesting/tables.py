"""Collision tables for the kernels, made on demand: a pair of forms that never meets costs nothing.

Every pair of orientations shares the no-fit polygon of its relative angle, so the store stays
small for many rotations.  Where it outgrows its share of memory, it begins anew; tables that
were handed out stay right.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.nofit import no_fit_rows
from cutplan.nesting.shapes import Form, turned

__all__ = ["Orientation", "TableStore", "Tables"]

IntArray = NDArray[np.int64]

# Rows that a store holds at most, 80 MB, before it begins anew.
_MOST_ROWS = 1_000_000
# Tables of subsets of the orientations that are kept.
_KEPT = 16
# Forms whose points differ by less than this share of their size are one, up to float noise.
_NOISE = 1e-10
_MICRO = 1_000_000
_FULL_TURN = 360 * _MICRO


class Orientation(NamedTuple):
    """A form, by its number, turned by an angle in degrees."""

    form: int
    angle_deg: float


class Tables(NamedTuple):
    """Collision tables for the kernels; O orientations.

    Attributes
    ----------
    pairs : ndarray, shape (O, O, 10)
        For fixed and moving orientation, side by side for the cache: box (4) of the places of
        the moving one, relative to the fixed one, at which they can overlap; cosine and sine
        into the no-fit polygon's frame; rows of its first side, of its first sum and past its
        last sum, the latter two the same where it is convex; and the weight of the pair's overlaps.
    sides : ndarray, shape (n, 10)
        Rows as `no_fit_rows` gives them, one no-fit polygon after another.
    reach : ndarray, shape (O, 4)
        Box of each orientation about its origin.
    """

    pairs: FloatArray
    sides: FloatArray
    reach: FloatArray


class TableStore:
    """The no-fit polygons of a problem, made when first asked for.

    Parameters
    ----------
    forms : sequence of Form
    orientations : sequence of Orientation
    movable : int, optional
        Only the first so many move (default all); the others never meet each other.
    scale : ndarray, shape (O,), optional
        Factor of each orientation: a pair's loss is its depth times both factors.
    """

    def __init__(
        self,
        forms: Sequence[Form],
        orientations: Sequence[Orientation],
        movable: int | None = None,
        scale: FloatArray | None = None,
    ) -> None:
        self.orientations = tuple(orientations)
        self.movable = len(orientations) if movable is None else movable
        self.reach = _reaches(forms, orientations)
        self.scale = np.ones(len(orientations)) if scale is None else scale
        # Equal forms, whatever part they come from, share their polygons.
        shapes: dict[bytes, int] = {}
        same = [shapes.setdefault(_look(form), len(shapes)) for form in forms]
        self._pieces = [_packed(forms[same.index(n)].pieces) for n in range(len(shapes))]
        self._form = np.array([same[o.form] for o in orientations], dtype=np.int64)
        self._micro = np.array([round(o.angle_deg * _MICRO) % _FULL_TURN for o in orientations])
        cosine_sine = [turned(np.array([[1.0, 0.0]]), o.angle_deg)[0] for o in orientations]
        self._frame = np.array(cosine_sine).reshape(-1, 2)
        self._lock = threading.Lock()
        self._begin()

    def __getstate__(self) -> dict[str, object]:
        state = self.__dict__.copy()
        del state["_lock"]
        return state

    def __setstate__(self, state: dict[str, object]) -> None:
        self.__dict__.update(state)
        self._lock = threading.Lock()

    def _begin(self) -> None:
        self._numbers: dict[int, int] = {}
        self._ranges = np.zeros((256, 3), dtype=np.int64)
        self._rows = _Rows(10)
        self._kept: OrderedDict[tuple[int, ...], Tables] = OrderedDict()

    def tables(self, among: Sequence[int]) -> Tables:
        """Return the tables of some orientations, in the order given."""
        key = tuple(among)
        with self._lock:
            known = self._kept.get(key)
            if known is not None:
                self._kept.move_to_end(key)
                return known
            chosen = np.array(among, dtype=np.int64)
            made = Tables(*self._gathered(chosen, chosen), self.reach[chosen])
            self._kept[key] = made
            if len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
            return made

    def rows(self, fixed: IntArray, moving: int) -> tuple[FloatArray, FloatArray]:
        """Return pairs of fixed orientations and one moving, shape (n, 1, 10), and their sides."""
        with self._lock:
            return self._gathered(np.asarray(fixed, dtype=np.int64), np.array([moving], dtype=np.int64))

    def _gathered(self, fixed: IntArray, moving: IntArray) -> tuple[FloatArray, FloatArray]:
        if self._rows.count > _MOST_ROWS:
            self._begin()
        # One polygon serves both orders of a pair: seen from the other form the place changes sign.
        i, j = (axis.ravel() for axis in np.meshgrid(fixed, moving, indexing="ij"))
        swap = self._form[i] > self._form[j]
        base, other = np.where(swap, j, i), np.where(swap, i, j)
        relative = (self._micro[other] - self._micro[base]) % _FULL_TURN
        codes = (self._form[base] * len(self._pieces) + self._form[other]) * _FULL_TURN + relative
        apart = (i >= self.movable) & (j >= self.movable)
        unique, inverse = np.unique(codes[~apart], return_inverse=True)
        wanted = np.zeros(len(unique), dtype=np.int64)
        for k, code in enumerate(unique.tolist()):
            number = self._numbers.get(code)
            wanted[k] = self._made(code) if number is None else number
        numbers = np.full(len(codes), -1, dtype=np.int64)
        numbers[~apart] = wanted[inverse]
        sides = self._rows.table
        pairs = np.zeros((len(fixed), len(moving), 10))
        flat = pairs.reshape(-1, 10)
        flat[:, 9] = self.scale[i] * self.scale[j]
        _set_pairs(flat, numbers, self._ranges, np.where(swap, -1.0, 1.0), self._frame[base], sides)
        return pairs, sides

    def _made(self, code: int) -> int:
        """Make the no-fit polygon of a code; returns its number."""
        forms, micro = divmod(code, _FULL_TURN)
        first, second = divmod(forms, len(self._pieces))
        c, s = turned(np.array([[1.0, 0.0]]), micro / _MICRO)[0]
        rows, sides, sums = no_fit_rows(*self._pieces[first], *self._pieces[second], float(c), float(s))
        number, at = len(self._numbers), self._rows.count
        if number == len(self._ranges):
            self._ranges = np.vstack([self._ranges, np.zeros_like(self._ranges)])
        rows[sides : sides + sums, 4:6] += at
        self._rows.append(rows)
        self._ranges[number] = at, at + sides, at + sides + sums
        self._numbers[code] = number
        return number


class _Rows:
    """A table that grows; what was handed out before stays as it is."""

    def __init__(self, columns: int) -> None:
        self.table: FloatArray = np.zeros((1024, columns))
        self.count = 0

    def append(self, rows: FloatArray) -> None:
        end = self.count + len(rows)
        if end > len(self.table):
            longer = np.zeros((max(end, 2 * len(self.table)), self.table.shape[1]))
            longer[: self.count] = self.table[: self.count]
            self.table = longer
        self.table[self.count : end] = rows
        self.count = end


def _look(form: Form) -> bytes:
    return b"|".join(np.round(ring / (_NOISE * form.size)).tobytes() for ring in form.rings)


def _packed(pieces: Sequence[FloatArray]) -> tuple[FloatArray, IntArray]:
    starts = np.zeros(len(pieces) + 1, dtype=np.int64)
    starts[1:] = np.cumsum([len(piece) for piece in pieces])
    return np.ascontiguousarray(np.vstack(pieces)), starts


def _reaches(forms: Sequence[Form], orientations: Sequence[Orientation]) -> FloatArray:
    reach = np.zeros((len(orientations), 4))
    for k, (form, angle) in enumerate(orientations):
        outer = turned(forms[form].rings[0], angle)
        reach[k, :2], reach[k, 2:] = outer.min(axis=0), outer.max(axis=0)
    return reach


@njit(nogil=True)
def _set_pairs(
    pairs: FloatArray,
    numbers: IntArray,
    ranges: IntArray,
    signs: FloatArray,
    frames: FloatArray,
    sides: FloatArray,
) -> None:
    """Write box, frame and ranges of each pair from the no-fit polygon of its number."""
    for p in range(len(numbers)):
        if numbers[p] < 0:
            continue
        c, s = signs[p] * frames[p, 0], signs[p] * frames[p, 1]
        x0, y0, x1, y1 = np.inf, np.inf, -np.inf, -np.inf
        first, last = ranges[numbers[p], 0], ranges[numbers[p], 1]
        for k in range(first, last):
            x, y = sides[k, 0], sides[k, 1]
            for _ in range(2):
                px, py = c * x - s * y, s * x + c * y
                x0, y0, x1, y1 = min(x0, px), min(y0, py), max(x1, px), max(y1, py)
                x, y = x + sides[k, 3], sides[k, 2]
        pairs[p, 0], pairs[p, 1], pairs[p, 2], pairs[p, 3] = x0, y0, x1, y1
        pairs[p, 4], pairs[p, 5] = c, s
        for k in range(3):
            pairs[p, 6 + k] = ranges[numbers[p], k]
