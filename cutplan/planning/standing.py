"""What stands in a folder that a plan is to be written into, and what of it may be replaced.

Only files that an earlier plan wrote, by its plan.json and the digest of each, go when new ones
come; folders, links and all else stay.  Moving files is left to `cutplan.planning.folders`.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cutplan.base.errors import InputError, OutputError
from cutplan.planning.folders import replaced_files

__all__ = [
    "Standing",
    "put_in_place",
    "refuse_alike",
    "refuse_another",
    "refuse_the_plans_own",
    "standing_in",
]

PLAN_FILE = "plan.json"
SCHEMA = re.compile(r"cutplan\.plan/[0-9]+\Z")
"""The schemas of plan.json, older and newer ones too: their files are known by name and digest."""
MOST_NAMED = 4
"""Files that a message names; the rest are counted."""


@dataclass(frozen=True)
class Standing:
    """The plan that a folder holds, as its plan.json tells.

    Attributes
    ----------
    folder : Path
    job, plan : str or None
        Names of its job and of itself; None where there is no plan.
    foreign : bool
        There is a plan.json that is none of this program's.
    digests : mapping
        The files that it wrote, by name, with the digest of each; None where it kept none.
    from_rack : tuple of str
        Labels of the pieces that it reserved.
    """

    folder: Path
    job: str | None = None
    plan: str | None = None
    foreign: bool = False
    digests: Mapping[str, str | None] = field(default_factory=dict)
    from_rack: tuple[str, ...] = ()

    def own(self) -> list[str]:
        """Return the files in the folder that the plan wrote, changed since or not."""
        names = [name for name in self.digests if _is_plain_file(self.folder / name)]
        return [*names, PLAN_FILE] if self.plan is not None else names

    def changed(self) -> list[str]:
        """Return the files that are not as the plan wrote them, or of which it kept no digest."""
        return [
            name
            for name, digest in self.digests.items()
            if _is_plain_file(self.folder / name) and _digest(self.folder / name) != digest
        ]


def standing_in(folder: Path) -> Standing:
    """Return what a folder's plan.json tells; one that cannot be read is foreign."""
    file = folder / PLAN_FILE
    try:
        record = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return Standing(folder)
    except (OSError, ValueError, RecursionError):
        return Standing(folder, foreign=True)
    if not isinstance(record, dict) or not SCHEMA.match(str(record.get("schema"))):
        return Standing(folder, foreign=True)
    return Standing(
        folder,
        job=_text(record.get("job")) or "",
        plan=_text(record.get("plan")) or "",
        digests=_digests(record),
        from_rack=tuple(_texts(record.get("from_rack"))),
    )


def _digests(record: Mapping[str, Any]) -> dict[str, str | None]:
    kept = record.get("file_digests")
    kept = kept if isinstance(kept, dict) else {}
    names = [name for name in _texts(record.get("files")) if Path(name).name == name and name != PLAN_FILE]
    return {name: _text(kept.get(name)) for name in names}


def _text(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _texts(values: Any) -> list[str]:
    return [value for value in values if isinstance(value, str)] if isinstance(values, list) else []


def _is_plain_file(file: Path) -> bool:
    return file.is_file() and not file.is_symlink()


def put_in_place(
    out: Path, write: Callable[[Path], None], record: Callable[[Mapping[str, str]], str]
) -> list[str]:
    """Put files and the plan.json that names them into a folder, all or nothing.

    Parameters
    ----------
    out : Path
        What an earlier plan wrote there goes.
    write : callable
        Writes all files but plan.json into the folder that it is given.
    record : callable
        Takes the digest of each file by its name, and returns the text of plan.json.

    Returns
    -------
    list of str
        The names of the files.

    Raises
    ------
    OutputError
        If something else of such a name stands in the folder.
    """
    with replaced_files(out, lambda folder: standing_in(folder).own()) as folder:
        write(folder)
        digests = {file.name: _digest(file) for file in sorted(folder.iterdir())}
        (folder / PLAN_FILE).write_bytes(record(digests).encode())
    return sorted([*digests, PLAN_FILE])


def refuse_the_plans_own(out: Path, plan_file: Path) -> None:
    """Refuse to write what comes of a plan over the plan itself."""
    if out.resolve() == plan_file.parent.resolve():
        raise InputError(
            "holds the plan as it was made", where=str(out), remedy="give another --out; it is needed there"
        )


def _digest(file: Path) -> str:
    """Return the SHA-256 of a file's content, in hexadecimal."""
    return hashlib.sha256(file.read_bytes()).hexdigest()


def refuse_another(folder: Path, job: str, *, replace: bool = False) -> None:
    """Refuse a folder whose plan is another job's, was changed by hand, or is not cutplan's.

    Parameters
    ----------
    folder : Path
    job : str
        Name of the job whose plan is to be written there.
    replace : bool
        Another job's plan, and files changed by hand, may go.

    Raises
    ------
    OutputError
        Nothing in the folder was touched.
    """
    there = standing_in(folder)
    if there.foreign:
        raise OutputError(
            "holds a plan.json that cutplan did not write",
            where=str(folder),
            remedy="give another --out; nothing was touched",
        )
    if replace or there.plan is None:
        return
    if there.job != job:
        raise OutputError(
            f"holds the plan of another job, {there.job!r}",
            where=str(folder),
            remedy="give another --out, or --replace to have this job's plan in its place",
        )
    changed = there.changed()
    if changed:
        raise OutputError(
            f"holds files changed since they were planned: {_listed(changed)}",
            where=str(folder),
            remedy="move them away, or --replace to lose the changes",
        )


def refuse_alike(names: Iterable[str]) -> None:
    """Refuse files whose names are the same, or would be where cases are not told apart.

    Raises
    ------
    OutputError
        Names them; nothing was written.
    """
    names = list(names)
    twice = [name for name, count in Counter(name.casefold() for name in names).items() if count > 1]
    if twice:
        shown = [name for name in names if name.casefold() in twice]
        raise OutputError(
            f"two files of this plan would have one name: {_listed(shown)}",
            remedy="give the plates other ids, or the post-processor another extension; nothing was written",
        )


def _listed(names: Iterable[str]) -> str:
    shown = list(dict.fromkeys(names))
    more = f" and {len(shown) - MOST_NAMED} more" if len(shown) > MOST_NAMED else ""
    return ", ".join(shown[:MOST_NAMED]) + more
