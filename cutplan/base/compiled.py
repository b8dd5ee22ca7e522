"""Compilation of hot loops: numba where it works, plain Python where it does not.

Kernels are written in the subset that both understand, so the package gives the same
results without a compiler, only slower.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar, cast, overload

__all__ = ["COMPILED", "drop_stale", "njit", "prange"]

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

    Returns
    -------
    callable
        The kernel, compiled or as it was.
    """

    def decorate(kernel: F) -> F:
        if not COMPILED:
            return kernel
        try:
            compiled = numba.njit(cache=True, **options)(kernel)
        except RuntimeError:
            # No folder to keep compiled loops in: they are compiled anew in each run.
            compiled = numba.njit(**options)(kernel)
        return cast(F, _without_literals(compiled))

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


def drop_stale(package: Path) -> bool:
    """Remove the kernels kept for a package if one of its compiled sources has changed; True where done.

    Numba looks only at a kernel's own file, but the kernels that it calls from other files are
    built into it, and would stay as they were.

    Parameters
    ----------
    package : Path
        Folder of the package.

    Returns
    -------
    bool
    """
    stamp = package / "__pycache__" / "kernels.stamp"
    try:
        sources = sorted(package.rglob("*.py"))
        seen = [(str(source), source.stat().st_mtime_ns) for source in sources]
        quick = hashlib.sha256(repr(seen).encode()).hexdigest()
        kept = stamp.read_text(encoding="ascii").split() if stamp.exists() else ["", ""]
        if kept[0] == quick:
            return False
        content = hashlib.sha256(b"".join(_built_in(package, sources))).hexdigest()
        stale = kept[1] != content
        for file in [*package.rglob("*.nbi"), *package.rglob("*.nbc")] if stale else ():
            file.unlink(missing_ok=True)
        stamp.parent.mkdir(exist_ok=True)
        stamp.write_text(f"{quick} {content}\n", encoding="ascii")
    except (OSError, ValueError, IndexError):
        # Where nothing may be written, nothing is kept here either.
        return False
    return stale


def _built_in(package: Path, sources: Sequence[Path]) -> list[bytes]:
    """Return the sources that kernels stand in, and those whose constants they may take."""
    texts = {source: source.read_bytes() for source in sources}
    kernels = [text for text in texts.values() if b"njit" in text]
    named = {name for text in kernels for name in re.findall(rb"^from ([\w.]+) import", text, re.M)}
    others = [
        text
        for source, text in texts.items()
        if b"njit" not in text
        and ".".join((package.name, *source.relative_to(package).with_suffix("").parts)).encode() in named
    ]
    return [*kernels, *others]


prange: Any = numba.prange if COMPILED else range
if COMPILED:
    settings: Any = numba.config
    if settings.CACHE_DIR:
        # Kept elsewhere: a folder for each state of the sources.
        home = Path(__file__).parents[1]
        state = hashlib.sha256(b"".join(_built_in(home, sorted(home.rglob("*.py"))))).hexdigest()[:16]
        settings.CACHE_DIR = os.path.join(settings.CACHE_DIR, state)
    else:
        drop_stale(Path(__file__).parents[1])
