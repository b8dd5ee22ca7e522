"""The job file: what to cut, from which plates, on which machine, validated at the border.

Drawings are not read here; `cutplan.planning.flow` does that.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from cutplan.base.errors import JobError
from cutplan.base.files import FileModel, read_toml, validate
from cutplan.base.machine import Machine
from cutplan.planning.parts_list import read_part_list
from cutplan.planning.sections import (
    CuttingSection,
    DrawingsSection,
    JobSection,
    MachineSection,
    MarkingSection,
    NestingSection,
    OrderSection,
    PartEntry,
    PlateEntry,
    PressSection,
    StockSection,
)
from cutplan.stock import default_inventory

__all__ = ["Job", "load_job", "parse_job"]


class _JobFile(FileModel):
    job: JobSection
    machine: MachineSection | str = MachineSection()
    cutting: CuttingSection = CuttingSection()
    drawings: DrawingsSection = DrawingsSection()
    nesting: NestingSection = NestingSection()
    order: OrderSection = OrderSection()
    marking: MarkingSection = MarkingSection()
    press: PressSection | None = None
    stock: StockSection = StockSection()
    plate: tuple[PlateEntry, ...] = ()
    part: tuple[PartEntry, ...] = Field(min_length=1)
    parts_list: str | None = None
    grades: Mapping[str, Literal["mild steel", "stainless", "aluminium"]] = {}
    prices: str | None = None


@dataclass(frozen=True)
class Job:
    """A validated job.

    Attributes
    ----------
    file : Path
        Where it was read from; drawings are relative to its folder.
    name : str
    seed : int
    machine : Machine
    cutting, drawings, nesting, order, marking, press
        The sections of the file.
    plates : tuple of PlateEntry
    parts : tuple of PartEntry
    grades : mapping
        Material group by grade, beyond the table that ships.
    prices : Path or None
        Price file.
    warnings_are_errors : bool
    inventory : Path or None
        The inventory that plates are drawn from, beside those of the file.
    unread : tuple of str
        Headings of the parts list that mean nothing to a job.
    """

    file: Path
    name: str
    seed: int
    machine: Machine
    cutting: CuttingSection
    drawings: DrawingsSection
    nesting: NestingSection
    order: OrderSection
    marking: MarkingSection
    plates: tuple[PlateEntry, ...]
    parts: tuple[PartEntry, ...]
    grades: Mapping[str, str]
    prices: Path | None = None
    press: PressSection | None = None
    warnings_are_errors: bool = False
    inventory: Path | None = None
    unread: tuple[str, ...] = ()

    @property
    def folder(self) -> Path:
        """The folder that the job's paths are relative to."""
        return self.file.parent


def load_job(file: str | Path) -> Job:
    """Return the job of a TOML file.

    Raises
    ------
    JobError
        If the file is missing, not TOML, or wrong; the message names the key.
    """
    path = Path(file)
    return parse_job(read_toml(path, JobError), path)


def parse_job(data: Mapping[str, Any], file: Path) -> Job:
    """Return the job of data as a TOML file would hold it; `file` places relative paths."""
    whole, unread = _with_part_list(_with_machine_file(data, file), file)
    model = validate(_JobFile, whole, str(file), JobError)
    _refuse_twins([p.id for p in model.plate], "plate id", "give each [[plate]] its own id", file)
    _refuse_twins([p.label for p in model.part], "part name", "give one of them a name of its own", file)
    assert isinstance(model.machine, MachineSection)
    return Job(
        file=file,
        name=model.job.name,
        seed=model.job.seed,
        machine=Machine(**{f.name: getattr(model.machine, f.name) for f in fields(Machine)}),
        cutting=model.cutting,
        drawings=model.drawings,
        nesting=model.nesting,
        order=model.order,
        marking=model.marking,
        press=model.press,
        plates=model.plate,
        parts=model.part,
        grades=dict(model.grades),
        prices=file.parent / model.prices if model.prices else None,
        warnings_are_errors=model.job.warnings_are_errors,
        inventory=_inventory(model.stock.inventory, file),
        unread=unread,
    )


def _inventory(named: bool | str, file: Path) -> Path | None:
    if isinstance(named, str):
        return file.parent / named
    return default_inventory() if named else None


def _with_machine_file(data: Mapping[str, Any], file: Path) -> dict[str, Any]:
    """Follow ``machine = "file.toml"``; the file may hold the keys bare or in a [machine] table."""
    machine = data.get("machine")
    if not isinstance(machine, str):
        return dict(data)
    path = file.parent / machine
    content = read_toml(path, JobError)
    section = content.get("machine", content)
    validate(MachineSection, section, str(path), JobError)
    return {**data, "machine": section}


def _with_part_list(data: dict[str, Any], file: Path) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Follow ``parts_list = "file.csv"``: its rows are parts beside the [[part]] entries.

    Returns the headings that mean nothing, too.
    """
    name, own = data.get("parts_list"), data.get("part", [])
    if not isinstance(name, str) or not isinstance(own, list):
        return data, ()
    listed, unread = read_part_list(file.parent / name)
    return {**data, "part": [*own, *listed]}, unread


def _refuse_twins(names: Sequence[str], what: str, remedy: str, file: Path) -> None:
    # Program files are named after these, and some file systems do not tell cases apart.
    twins = [name for name, count in Counter(n.casefold() for n in names).items() if count > 1]
    if twins:
        shown = next(n for n in names if n.casefold() == twins[0])
        raise JobError(f"{what} {shown!r} is used twice", where=str(file), remedy=remedy)
