"""A small random generator that compiled kernels and plain Python run alike.

The state is an int64 array of one element, so a kernel carries its own stream and the same
seed gives the same numbers with and without a compiler.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit

__all__ = ["below", "new_stream", "uniform"]

_MASK = 0xFFFFFFFF
_SCALE = 1.0 / 4294967296.0


def new_stream(seed: int) -> NDArray[np.int64]:
    """Return the state of a stream; different seeds give unrelated streams.

    Parameters
    ----------
    seed : int
        0 or more.

    Returns
    -------
    ndarray of int64
        State of the stream, which the kernels move on.
    """
    state = np.random.SeedSequence(seed).generate_state(1)[0]
    return np.array([int(state) or 1], dtype=np.int64)


@njit
def uniform(stream: Any) -> Any:
    """Return a number from [0, 1): xorshift, Marsaglia 2003, "Xorshift RNGs"."""
    x = stream[0]
    x ^= (x << 13) & _MASK
    x ^= x >> 17
    x ^= (x << 5) & _MASK
    stream[0] = x
    return x * _SCALE


@njit
def below(stream: Any, count: Any) -> Any:
    """Return an integer from 0 to count − 1."""
    return int(uniform(stream) * count)
