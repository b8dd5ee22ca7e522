"""The job file: what to cut, from which plates, on which machine, validated at the border.

Drawings are not read here; `cutplan.planning.flow` does that.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from pydantic import field_validator, model_validator

from cutplan.base.errors import JobError
from cutplan.base.files import FileModel, read_toml, validate
from cutplan.base.lifting import Lifting
from cutplan.base.machine import Machine
from cutplan.base.names import PathText
from cutplan.cutting import Techniques
from cutplan.drawing import Splices
from cutplan.estimating import EstimateOptions, refuse_wrong_options
from cutplan.forming import Press
from cutplan.planning.entries import BlankEntry, PartEntry, PlateEntry, WantedEntry
from cutplan.planning.parts_list import read_part_list
from cutplan.planning.sections import (
    BevelsSection,
    CuttingSection,
    DrawingsSection,
    JobSection,
    MarkingSection,
    NestingSection,
    StockSection,
)
from cutplan.process import Process
from cutplan.scheduling import read_shop_file
from cutplan.sequencing import OrderWishes
from cutplan.stock import default_inventory

__all__ = ["Job", "load_job", "parse_job"]


class _JobFile(FileModel):
    """What to cut, from which plates, on which machine; drawings and folders are relative to it.

    Attributes
    ----------
    blank : list of tables
        Bent parts wanted, given by their flanges.
    parts_list : str or None
        CSV or XLSX list whose rows are parts, beside the [[part]] entries.
    grades : mapping
        Material group of grades that the table does not know: "MY-GRADE" = "mild steel".
    prices : str or None
        Price file; without it there is no cost.
    shop : str or None
        Shop file: what one person, two and the crane may lift.
    """

    job: JobSection
    machine: Machine | PathText = Machine()
    cutting: CuttingSection = CuttingSection()
    drawings: DrawingsSection = DrawingsSection()
    nesting: NestingSection = NestingSection()
    order: OrderWishes = OrderWishes()
    techniques: Techniques = Techniques()
    bevels: BevelsSection = BevelsSection()
    splices: Splices | None = None
    marking: MarkingSection = MarkingSection()
    press: Press | None = None
    stock: StockSection = StockSection()
    plate: tuple[PlateEntry, ...] = ()
    part: tuple[PartEntry, ...] = ()
    blank: tuple[BlankEntry, ...] = ()
    parts_list: PathText | None = None
    grades: Mapping[str, Literal["mild steel", "stainless", "aluminium"]] = {}
    prices: PathText | None = None
    shop: PathText | None = None
    estimate: EstimateOptions | str = EstimateOptions()

    @model_validator(mode="after")
    def _wants_something(self) -> _JobFile:
        if not self.part and not self.blank:
            raise ValueError("nothing is wanted: add a [[part]] or a [[blank]]")
        return self

    @field_validator("machine")
    @classmethod
    def _start_is_on_the_table(cls, machine: Machine | str) -> Machine | str:
        if isinstance(machine, Machine) and not _starts_on_its_table(machine):
            raise ValueError(f"start {list(machine.start)} lies off the table {list(machine.table)}")
        return machine


@dataclass(frozen=True, repr=False)
class Job:
    """What to cut, from which plates, on which machine: read from a file, or made in Python.

    Attributes
    ----------
    name : str
    parts : sequence of WantedEntry
        What is wanted, parts and blanks; `wanted` makes an entry.
    plates : sequence of PlateEntry
        What is on offer; `on_offer` makes an entry.
    machine : Machine
    cutting, drawings, nesting, order, techniques, bevels, marking, press, stock
        The sections of a job file.
    splices : Splices or None
        How parts longer than every plate are split; without it none is, unless its entry says so.
    grades : mapping
        Material group by grade, beyond the table that ships.
    seed : int
    prices : Path or None
        Price file.
    lifting : Lifting
        What one person, two and the crane may lift.
    estimate : EstimateOptions
        What the shop knows of its own handling, energy, overhead and the like.
    warnings_are_errors : bool
    inventory : Path or None
        The inventory that plates are drawn from, beside those of the job.
    reopen : bool
        Plan only what the job still owes by that inventory.
    settings : mapping of (float, str) to (str, str)
        By thickness and grade a process and setting that goes before [cutting]: set by edits.
    unread : tuple of str
        Headings of the parts list that mean nothing to a job.
    file : Path
        Where it was read from; drawings are relative to its folder.

    Raises
    ------
    JobError
        If two parts or two plates share a name, or nothing is wanted.
    """

    name: str
    parts: tuple[WantedEntry, ...]
    plates: tuple[PlateEntry, ...] = ()
    machine: Machine = field(default=Machine(), kw_only=True)
    cutting: CuttingSection = field(default=CuttingSection(), kw_only=True)
    drawings: DrawingsSection = field(default=DrawingsSection(), kw_only=True)
    nesting: NestingSection = field(default=NestingSection(), kw_only=True)
    order: OrderWishes = field(default=OrderWishes(), kw_only=True)
    techniques: Techniques = field(default=Techniques(), kw_only=True)
    bevels: BevelsSection = field(default=BevelsSection(), kw_only=True)
    splices: Splices | None = field(default=None, kw_only=True)
    marking: MarkingSection = field(default=MarkingSection(), kw_only=True)
    press: Press | None = field(default=None, kw_only=True)
    grades: Mapping[str, str] = field(default_factory=dict, kw_only=True)
    seed: int = field(default=0, kw_only=True)
    prices: Path | None = field(default=None, kw_only=True)
    lifting: Lifting = field(default=Lifting(), kw_only=True)
    estimate: EstimateOptions = field(default=EstimateOptions(), kw_only=True)
    warnings_are_errors: bool = field(default=False, kw_only=True)
    inventory: Path | None = field(default=None, kw_only=True)
    reopen: bool = field(default=False, kw_only=True)
    settings: Mapping[tuple[float, str], tuple[Process, str]] = field(default_factory=dict, kw_only=True)
    unread: tuple[str, ...] = field(default=(), kw_only=True)
    file: Path = field(default=Path("job.toml"), kw_only=True)

    def __post_init__(self) -> None:
        object.__setattr__(self, "parts", tuple(self.parts))
        object.__setattr__(self, "plates", tuple(self.plates))
        if not self.parts:
            raise JobError("nothing is wanted", where=str(self.file), remedy="add a part")
        if not _starts_on_its_table(self.machine):
            message = f"start {list(self.machine.start)} lies off the table {list(self.machine.table)}"
            raise JobError(message, where=str(self.file), remedy="move the start")
        _refuse_twins([p.id for p in self.plates], "plate id", "give each plate its own id", self.file)
        _refuse_twins(
            [p.label for p in self.parts], "part name", "give one of them a name of its own", self.file
        )

    def __repr__(self) -> str:
        copies = sum(entry.quantity for entry in self.parts)
        plates = ", ".join(f"{entry.quantity} × {entry.id}" for entry in self.plates)
        if self.inventory is not None:
            plates = f"{plates}, the rack".removeprefix(", ")
        return (
            f"<Job {self.name!r}: {copies} copies of {len(self.parts)} parts from {plates or 'no plate yet'}>"
        )

    def with_quantity(self, part: str, quantity: int) -> Job:
        """Return the job with another quantity of one part.

        Parameters
        ----------
        part : str
            Its name, or its drawing's file name without the ending.
        quantity : int
            0 leaves the part out.

        Returns
        -------
        Job

        Raises
        ------
        JobError
            If no part has that name, or the quantity is below zero.
        """
        names = [entry.label for entry in self.parts]
        if part not in names:
            close = difflib.get_close_matches(part, names, n=1)
            remedy = f"did you mean {close[0]!r}?" if close else f"the job has {', '.join(names)}"
            raise JobError(f"no part is named {part!r}", where=str(self.file), remedy=remedy)
        if quantity < 0:
            raise JobError(f"part {part!r} cannot be wanted {quantity} times", remedy="give 0 or more")
        changed = (e.model_copy(update={"quantity": quantity}) if e.label == part else e for e in self.parts)
        return replace(self, parts=tuple(entry for entry in changed if entry.quantity))

    @property
    def folder(self) -> Path:
        """The folder that the job's paths are relative to."""
        return self.file.parent


def load_job(file: str | Path) -> Job:
    """Return the job of a TOML file.

    Parameters
    ----------
    file : str or Path
        The file.

    Returns
    -------
    Job

    Raises
    ------
    JobError
        If the file is missing, not TOML, or wrong; the message names the key.
    """
    path = Path(file)
    return parse_job(read_toml(path, JobError), path)


def parse_job(data: Mapping[str, Any], file: Path) -> Job:
    """Return the job of data as a TOML file would hold it; `file` places relative paths.

    Parameters
    ----------
    data : mapping
        As a TOML file would hold it.
    file : Path
        Places relative paths.

    Returns
    -------
    Job
    """
    whole, unread, called = _with_part_list(_with_files(data, file), file)
    model = validate(_JobFile, whole, str(file), JobError, called)
    assert isinstance(model.machine, Machine) and isinstance(model.estimate, EstimateOptions)
    refuse_wrong_options(model.estimate)
    return Job(
        file=file,
        name=model.job.name,
        seed=model.job.seed,
        machine=model.machine,
        cutting=model.cutting,
        drawings=model.drawings,
        nesting=model.nesting,
        order=model.order,
        techniques=model.techniques,
        bevels=model.bevels,
        splices=model.splices,
        marking=model.marking,
        press=model.press,
        plates=model.plate,
        parts=(*model.part, *model.blank),
        grades=dict(model.grades),
        prices=file.parent / model.prices if model.prices else None,
        lifting=read_shop_file(file.parent / model.shop).lifting if model.shop else Lifting(),
        estimate=model.estimate,
        warnings_are_errors=model.job.warnings_are_errors,
        inventory=_inventory(model.stock.inventory, file),
        reopen=model.stock.reopen,
        unread=unread,
    )


def _starts_on_its_table(machine: Machine) -> bool:
    return all(0 <= s <= t for s, t in zip(machine.start, machine.table, strict=True))


def _inventory(named: bool | str, file: Path) -> Path | None:
    if isinstance(named, str):
        return file.parent / named
    return default_inventory() if named else None


def _with_files(data: Mapping[str, Any], file: Path) -> dict[str, Any]:
    """Follow ``machine = "file.toml"`` and ``estimate = "file.toml"``.

    Such a file may hold the keys bare, or in a table named like the section.
    """
    whole = dict(data)
    models: tuple[tuple[str, type[Any]], ...] = (("machine", Machine), ("estimate", EstimateOptions))
    for name, model in models:
        named = data.get(name)
        if isinstance(named, str):
            path = file.parent / named
            content = read_toml(path, JobError)
            section = content.get(name, content)
            validate(model, section, str(path), JobError)
            whole[name] = section
    return whole


def _with_part_list(
    data: dict[str, Any], file: Path
) -> tuple[dict[str, Any], tuple[str, ...], dict[tuple[int | str, ...], str]]:
    """Follow ``parts_list = "file.csv"``: its rows are parts beside the [[part]] entries.

    Returns the headings that mean nothing, too, and what the entries from the list are called.
    """
    name, own = data.get("parts_list"), data.get("part", [])
    if not isinstance(name, str) or not isinstance(own, list):
        return data, (), {}
    listed = read_part_list(file.parent / name)
    called: dict[tuple[int | str, ...], str] = {
        ("part", len(own) + n): f"{name}, row {row}" for n, row in enumerate(listed.rows)
    }
    return {**data, "part": [*own, *listed.entries]}, listed.unread, called


def _refuse_twins(names: Sequence[str], what: str, remedy: str, file: Path) -> None:
    # Program files are named after these, and some file systems do not tell cases apart.
    twins = [name for name, count in Counter(n.casefold() for n in names).items() if count > 1]
    if twins:
        shown = next(n for n in names if n.casefold() == twins[0])
        raise JobError(f"{what} {shown!r} is used twice", where=str(file), remedy=remedy)
