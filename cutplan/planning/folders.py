"""The folder that a plan is written into: all or nothing, even if the process is killed.

New files are written beside the folder and moved in by renaming.  What moves is listed first,
so that a move cut short by a kill or a power failure is taken back the next time.  A lock that
the system drops with the process tells a process that is writing from one that is dead.
"""

from __future__ import annotations

import glob
import json
import os
import re
import shutil
import signal
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from cutplan.base.errors import OutputError

__all__ = ["folder_key", "locked", "mended", "replaced_files", "uninterrupted"]

MOVES = "moves.json"

_held: dict[Path, int] = {}
"""The folders that this process holds, each with the open file that the lock is on."""


def _forget_in_copy() -> None:
    """Let a copy of this process hold nothing: a lock must end with the process that took it."""
    for handle in _held.values():
        os.close(handle)
    _held.clear()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forget_in_copy)


def folder_key(folder: Path) -> Path:
    """Return a folder's path as the system knows it, however it was spelled."""
    return Path(os.path.normcase(os.path.realpath(folder)))


@contextmanager
def locked(target: Path) -> Iterator[None]:
    """Hold a folder against other processes that write plans into it.

    A process may hold the same folder more than once.

    Parameters
    ----------
    target : Path
        The folder; it need not be there yet.

    Yields
    ------
    None

    Raises
    ------
    OutputError
        If another process holds it, or its place cannot be written.
    """
    key = folder_key(target)
    if key in _held:
        yield
        return
    try:
        key.parent.mkdir(parents=True, exist_ok=True)
        handle = _taken(_lock_file(key))
    except OSError as problem:
        raise OutputError(
            f"cannot be written: {problem.strerror}", where=str(target), remedy=_OTHER_PLACE
        ) from None
    if handle is None:
        raise OutputError(
            "is being written by another process",
            where=str(target),
            remedy="wait until that one is done, or give another --out",
        )
    _held[key] = handle
    try:
        yield
    finally:
        _held.pop(key, None)
        _let_go(handle, _lock_file(key))


def _lock_file(key: Path) -> Path:
    return key.parent / f".{key.name}.cutplan-lock"


def _taken(file: Path) -> int | None:
    """Take the system's lock on a file; None where another has it."""
    while True:
        handle = os.open(file, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            if os.name == "nt":
                import msvcrt

                msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
            else:
                import fcntl

                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(handle)
            return None
        # The one before may have removed the file that was opened here: then it is opened anew.
        with suppress(FileNotFoundError):
            if os.path.samestat(os.fstat(handle), file.stat()):
                return handle
        os.close(handle)


def _let_go(handle: int, file: Path) -> None:
    with suppress(OSError):
        file.unlink()
    os.close(handle)


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Leave Ctrl-C unheard while a few quick steps are done that belong together."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def replaced_files(target: Path, stale: Callable[[Path], Iterable[str]]) -> Iterator[Path]:
    """Yield an empty folder whose files are put into `target` together, all or nothing.

    The new files are written beside the target and moved in by renaming when the block ends
    without an error; until then the old content stays as it was, and after an error it still
    does.  Files in the target that are not stale are left alone; a new one of the same name is
    refused.

    Parameters
    ----------
    target : Path
        Folder for the results; made if missing.
    stale : callable
        Given the target, names the files of an earlier result that go when the new ones come,
        or are replaced by them.

    Raises
    ------
    OutputError
        If the place cannot be written, is a file, is being written by another process, or holds
        something of the same name that is not stale.
    """
    # A link is followed, so that the files beside the folder lie on the folder's own disk.
    target = folder_key(target)
    if target.exists() and not target.is_dir():
        raise OutputError("is a file, not a folder", where=str(target), remedy="give another --out")
    if target.is_dir() and not os.access(target, os.W_OK | os.X_OK):
        raise OutputError("cannot be written: permission denied", where=str(target), remedy=_OTHER_PLACE)
    staging: Path | None = None
    with locked(target):
        try:
            mended(target)
            staging = Path(tempfile.mkdtemp(prefix=_prefix(target), dir=target.parent))
            fresh = staging / "new"
            fresh.mkdir()
            (staging / "old").mkdir()
            yield fresh
            with uninterrupted():
                if target.exists():
                    _exchange(staging, target, stale(target))
                else:
                    os.replace(fresh, target)
        except OSError as problem:
            raise OutputError(
                f"cannot be written: {problem.strerror}", where=str(target), remedy=_OTHER_PLACE
            ) from None
        finally:
            # A move that could not be taken back is left for the next time, with all its files.
            if staging is not None and not (staging / MOVES).exists():
                shutil.rmtree(staging, ignore_errors=True)


_OTHER_PLACE = "free some space or give another --out; what was there is untouched"


def mended(target: Path) -> bool:
    """Take back a move into a folder that was cut short; True where there was one.

    Files that a dead process wrote beside the folder and never moved in are removed.  The
    caller holds the folder's lock.

    Raises
    ------
    OutputError
        If the place cannot be written.
    """
    target = folder_key(target)
    found = False
    try:
        for staging in sorted(target.parent.glob(f"{glob.escape(_prefix(target))}*")):
            # Other folders' names may begin alike; what mkdtemp adds is eight letters.
            if not re.fullmatch(r"[a-z0-9_]{8}", staging.name[len(_prefix(target)) :]):
                continue
            moves = _moves(staging)
            if moves is not None:
                _take_back(staging, target, moves)
                found = True
            shutil.rmtree(staging, ignore_errors=True)
    except OSError as problem:
        raise OutputError(
            f"cannot be mended: {problem.strerror}", where=str(target), remedy=_OTHER_PLACE
        ) from None
    return found


def _prefix(target: Path) -> str:
    return f".{target.name}.cutplan~"


def _exchange(staging: Path, target: Path, stale: Iterable[str]) -> None:
    """Move old files out and new ones in by renaming, and back again if one fails."""
    coming = sorted(item.name for item in (staging / "new").iterdir())
    leaving = [name for name in sorted({*stale}) if os.path.lexists(target / name)]
    for name in coming:
        if name not in leaving and os.path.lexists(target / name):
            raise OutputError(
                f"holds {name}, which no plan of cutplan wrote",
                where=str(target),
                remedy="move it away, or give another --out; nothing was touched",
            )
    listed = staging / f"{MOVES}.part"
    with listed.open("w", encoding="utf-8") as file:
        json.dump(coming, file)
        file.flush()
        os.fsync(file.fileno())
    os.replace(listed, staging / MOVES)
    try:
        for name in leaving:
            os.replace(target / name, staging / "old" / name)
        for name in coming:
            os.replace(staging / "new" / name, target / name)
    except BaseException:
        _take_back(staging, target, coming)
        (staging / MOVES).unlink()
        raise
    (staging / MOVES).unlink()


def _moves(staging: Path) -> list[str] | None:
    """Return what was to be moved in from a place beside the folder, None where no move began."""
    try:
        return [str(name) for name in json.loads((staging / MOVES).read_text(encoding="utf-8"))]
    except (OSError, ValueError):
        return None


def _take_back(staging: Path, target: Path, coming: Iterable[str]) -> None:
    """Put a folder back as it was before a move, unless all is in."""
    fresh, old = staging / "new", staging / "old"
    if not any((fresh / name).exists() for name in coming):
        return
    for name in coming:
        if not (fresh / name).exists():
            os.replace(target / name, fresh / name)
    for item in sorted(old.iterdir()):
        os.replace(item, target / item.name)
