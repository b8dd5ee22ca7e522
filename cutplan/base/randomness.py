"""Random numbers for compiled searches: the same with and without a compiler.

The state is a small array, so a kernel carries its own stream.  Method: combined multiplicative
generator (L'Ecuyer 1988, "Efficient and portable combined random number generators"), whose
products stay within 64 bits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit

__all__ = ["below", "new_stream", "uniform"]

_M1, _A1 = 2147483563, 40014
_M2, _A2 = 2147483399, 40692


def new_stream(seed: int, stream: int = 0) -> NDArray[np.int64]:
    """Return the state of a generator; different seeds, and streams of one seed, are unrelated.

    Parameters
    ----------
    seed : int
    stream : int
        Number of the stream, 0 or more.

    Returns
    -------
    ndarray of int64, shape (2,)
        State of the stream, which the kernels advance.
    """
    words = np.random.SeedSequence([abs(int(seed)), stream]).generate_state(2)
    return np.array([1 + int(words[0]) % (_M1 - 1), 1 + int(words[1]) % (_M2 - 1)], dtype=np.int64)


@njit(nogil=True)
def uniform(state: NDArray[np.int64]) -> float:
    """Return the next number from (0, 1)."""
    state[0] = (state[0] * _A1) % _M1
    state[1] = (state[1] * _A2) % _M2
    z = (state[0] - state[1]) % (_M1 - 1)
    return float((z + 0.5) / (_M1 - 1))


@njit(nogil=True)
def below(state: NDArray[np.int64], n: int) -> int:
    """Return the next whole number from 0 to n − 1."""
    return min(n - 1, int(uniform(state) * n))
