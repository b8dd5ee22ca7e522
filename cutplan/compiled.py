"""Compilation of hot loops: numba where it works, plain Python where it does not.

Kernels are written in the subset that both understand, so the package gives the same
results without a compiler, only slower.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, TypeVar, cast, overload

__all__ = ["COMPILED", "njit", "prange"]

F = TypeVar("F", bound=Callable[..., Any])

try:
    if os.environ.get("CUTPLAN_NO_COMPILE"):
        raise ImportError("compilation switched off by CUTPLAN_NO_COMPILE")
    import numba

    COMPILED = True
except ImportError:
    COMPILED = False


@overload
def njit(function: F) -> F: ...
@overload
def njit(function: None = None, **options: Any) -> Callable[[F], F]: ...
def njit(function: F | None = None, **options: Any) -> F | Callable[[F], F]:
    """Compile a kernel with a cache on disk, or hand it back unchanged.

    Parameters
    ----------
    function : callable, optional
        The kernel, when used as a bare decorator.
    **options
        Options of ``numba.njit`` (``fastmath``, ``parallel``, ``nogil``, …).
    """

    def decorate(kernel: F) -> F:
        if not COMPILED:
            return kernel
        return cast(F, _without_literals(numba.njit(cache=True, **options)(kernel)))

    return decorate if function is None else decorate(function)


def _without_literals(dispatcher: Any) -> Any:
    """Have a kernel that is called with 0 or True compiled for any number, once.

    While numba infers types, a variable that begins as 0 is first that literal and then an
    integer, and all that it is passed to would be compiled for both, the first for nothing.
    """
    resolve = dispatcher.get_call_template

    def get_call_template(args: Any, kws: Any) -> Any:
        plain: Any = numba.types.unliteral
        return resolve(tuple(map(plain, args)), {name: plain(kind) for name, kind in kws.items()})

    dispatcher.get_call_template = get_call_template
    return dispatcher


prange: Any = numba.prange if COMPILED else range
