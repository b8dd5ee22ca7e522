"""Drawings to parts wanted: every drawing of a job read, values taken from texts, all faults told at once.

What the process and the plates make of the parts is left to `cutplan.planning.preparation`.

Terminology
-----------
wanted : a part with how many, how thick and of what grade, from the job's entry or from a text.
problem : what no plan goes past: a drawing that cannot be read, something refused, a question.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from cutplan.base.errors import CutplanError, DrawingError
from cutplan.base.files import error_of
from cutplan.base.findings import Finding, stopping
from cutplan.base.names import checked_name
from cutplan.drawing import Drawing, Note, Part, Reading, ReadOptions, bevel_words, read_apart
from cutplan.planning.bevel_wishes import fate_of_bevels, heeds_bevel_notes, with_bevels, with_kept_edges
from cutplan.planning.engine import Progress
from cutplan.planning.entries import BlankEntry, PartEntry, PartInHand, WantedEntry
from cutplan.planning.job import Job

__all__ = ["Intake", "Wanted", "job_findings", "raise_problems", "read_options", "read_wanted", "with_values"]

# What a text may order beyond the flat shape; the rest are values.
ORDERS = ("bevel", "drill", "tap", "countersink", "hand", "bend")


@dataclass(frozen=True)
class Wanted:
    """A part wanted, with its values from the job or from a text."""

    entry: WantedEntry
    part: Part
    quantity: int
    thickness: float
    grade: str


@dataclass
class Intake:
    """What became of a job's drawings.

    Attributes
    ----------
    wanted : list of Wanted
    findings, problems : list of (str, Finding)
        Each with the drawing or part it is about.
    drawings : list of Drawing
    """

    wanted: list[Wanted] = field(default_factory=list)
    findings: list[tuple[str, Finding]] = field(default_factory=list)
    problems: list[tuple[str, Finding]] = field(default_factory=list)
    drawings: list[Drawing] = field(default_factory=list)

    def take(self, about: str, findings: Sequence[Finding]) -> None:
        """Note findings, and those that no plan goes past as problems too."""
        self.findings += [(about, finding) for finding in findings]
        self.problems += [(about, finding) for finding in stopping(findings)]


def read_options(job: Job, entry: PartEntry | None = None) -> ReadOptions:
    """Return how a drawing of the job is to be read: the entry's own word goes first."""
    options = job.drawings.options()
    plates = [max(p.length or 0.0, p.width or 0.0) for p in job.plates if p.outline is None]
    may_be_split = job.splices is not None or (entry is not None and bool(entry.splice))
    if plates and job.inventory is None and not may_be_split:
        options = replace(options, largest=max(plates))
    if entry is None:
        return options
    own = {key: getattr(entry, key) for key in ("units", "layers", "colours", "open", "frames")}
    given = {key: value for key, value in own.items() if value is not None}
    for key in ("choose", "leave_out"):
        if getattr(entry, key):
            given[key] = getattr(entry, key)
    return replace(options, mirror=entry.mirror, **given)


def read_wanted(job: Job, tell: Progress) -> Intake:
    """Read every drawing of a job and return the parts wanted; nothing is raised for a bad drawing."""
    intake = Intake()
    drawn = [entry for entry in job.parts if isinstance(entry, PartEntry) and entry.drawing is not None]
    tasks = [(job.folder / str(entry.drawing), read_options(job, entry)) for entry in drawn]
    tell("reading drawings", 0.0)
    readings = dict(zip(map(id, drawn), read_apart(tasks, os.cpu_count() or 1) if tasks else [], strict=True))
    tell("reading drawings", 0.9)
    for entry in job.parts:
        _read_entry(entry, job, readings.get(id(entry)), intake)
    _question_twins(intake)
    return intake


def raise_problems(problems: Sequence[tuple[str, Finding]], job: Job) -> None:
    """Raise one error that tells all problems.

    Raises
    ------
    DrawingError
        If there is any.
    """
    if not problems:
        return
    if len(problems) == 1:
        ((about, only),) = problems
        where = about if about else str(job.file)
        raise DrawingError(only.message, where=where, place=only.place, remedy=only.remedy or None)
    told = [(f"{about}: {replace(finding, remedy='')}", finding.remedy) for about, finding in problems]
    remedy = f"`cutplan check {job.file.name} --page drawings.html` shows them in pictures"
    raise DrawingError(error_of(told, "").message, where=str(job.file), remedy=remedy)


def _read_entry(entry: WantedEntry, job: Job, reading: Reading | None, intake: Intake) -> None:
    if isinstance(entry, PartInHand):
        parts = [replace(entry.part, name=entry.label)]
    elif isinstance(entry, BlankEntry):
        parts = _developed(entry, job, intake)
    elif isinstance(entry, PartEntry) and entry.shape is not None:
        parts = [replace(entry.shape.part(entry.label), source=str(job.file))]
    else:
        assert isinstance(entry, PartEntry) and reading is not None
        parts = _drawn(entry, job, reading, intake)
    for part in parts:
        if not job.machine.marker and (part.marks or part.texts):
            note = "the machine has no marker: marks are left out"
            intake.take(part.name, [Finding("warning", note)])
            part = replace(part, marks=(), texts=())
        intake.wanted.append(with_values(entry, part, job, intake))


def _developed(entry: BlankEntry, job: Job, intake: Intake) -> list[Part]:
    """Return the flat blank of an entry's flanges; none where they do not hold together."""
    try:
        blank = entry.blank(entry.label, entry.thickness, job.press)
    except CutplanError as problem:
        refused = Finding("refused", problem.message, problem.place, problem.remedy or "", "blanks")
        intake.take(f"{job.file}, blank {entry.label}", [refused])
        return []
    intake.take(entry.label, blank.findings)
    return [replace(blank.part, source=str(job.file))]


def _drawn(entry: PartEntry, job: Job, drawing: Reading, intake: Intake) -> list[Part]:
    """Return the parts of an entry's drawing under the entry's name."""
    assert entry.drawing is not None
    options = read_options(job, entry)
    if isinstance(drawing, CutplanError):
        refused = Finding("refused", drawing.message, drawing.place, drawing.remedy or "", "files")
        intake.take(str(job.folder / entry.drawing), [refused])
        return []
    intake.drawings.append(drawing)
    intake.take(entry.drawing, drawing.findings)
    parts = [replace(part, read_with=options) for part in drawing.parts]
    if stopping(drawing.findings):
        return []
    if entry.name is not None and "name" not in entry.from_text:
        single = len(parts) == 1
        names = [entry.name if single else f"{entry.name}-{n}" for n in range(1, len(parts) + 1)]
        parts = [replace(part, name=name) for part, name in zip(parts, names, strict=True)]
    return parts


def with_values(entry: WantedEntry, part: Part, job: Job, intake: Intake) -> Wanted:
    """Return a part with its values; what comes from a text is listed, and so is what was not heeded.

    Parameters
    ----------
    entry : WantedEntry
    part : Part
        One of the entry's.
    job : Job
    intake : Intake
        Takes the findings.

    Returns
    -------
    Wanted
    """
    values: dict[str, str] = {}
    for meaning in entry.from_text if isinstance(entry, PartEntry) else ():
        if meaning == "bevel":
            continue
        text = _text_value(meaning, part, intake)
        if text is not None:
            values[meaning] = text
    if "name" in values:
        try:
            part = replace(part, name=checked_name(values["name"]))
        except ValueError as problem:
            intake.take(part.name, [Finding("question", str(problem), None, "give it a name in the job")])
    quantity = int(values.get("quantity", part.drawn)) * entry.quantity
    thickness = float(values["thickness"].replace(",", ".")) if "thickness" in values else entry.thickness
    part, bevels = with_bevels(part, entry, thickness, job)
    part, kept = with_kept_edges(part, entry)
    intake.take(part.name, [*bevels, *fate_of_bevels(part, thickness, job), *kept])
    wanted = Wanted(entry, part, quantity, thickness, values.get("grade", entry.grade))
    told = _unheeded(wanted, values)
    intake.take(part.name, told)
    return replace(wanted, part=replace(part, findings=(*part.findings, *told)))


def _text_value(meaning: str, part: Part, intake: Intake) -> str | None:
    """Return what the texts of a part give for a meaning, or None where they give nothing clear."""
    notes = [note for note in part.notes if meaning in note.values]
    if not notes:
        told = f"no text gives its {meaning}: what the job says holds"
        intake.take(part.name, [Finding("warning", told, topic="texts")])
        return None
    doubt = _doubt(meaning, part, notes)
    if doubt:
        remedy = f"take {meaning!r} out of from_text and state it in an entry of its own"
        intake.take(part.name, [Finding("question", doubt, notes[0].place, remedy, "texts")])
        return None
    value = notes[0].values[meaning]
    if meaning == "quantity" and len(notes) > 1:
        value = str(sum(int(note.values[meaning]) for note in notes))
    told = f"{meaning} {value} is taken from the text{'s' if len(notes) > 1 else ''} {', '.join(map(str, notes))}"
    intake.take(part.name, [Finding("taken", told, notes[0].place, topic="texts")])
    return value


def _doubt(meaning: str, part: Part, notes: Sequence[Note]) -> str:
    """Return why a text's value is not to be taken without a word; empty where it is clear."""
    unsure = [note for note in notes if not note.sure]
    if unsure:
        return f"the text {unsure[0]} may belong to another part as well"
    values = dict.fromkeys(note.values[meaning] for note in notes)
    if meaning != "quantity":
        return (
            f"texts give several values for {meaning}: {', '.join(map(str, notes))}"
            if len(values) > 1
            else ""
        )
    hands = [note for note in part.notes if "hand" in note.values]
    if hands:
        return f"the text {hands[0]} speaks of mirrored copies, so that the quantity is not clear"
    if len(notes) not in (1, part.drawn):
        return f"texts give several quantities: {', '.join(map(str, notes))}"
    if len(notes) == 1 and part.drawn > 1:
        return f"it is drawn {part.drawn} times and the text {notes[0]} gives a quantity as well"
    return ""


def _unheeded(wanted: Wanted, taken: dict[str, str]) -> list[Finding]:
    """Return warnings of texts that order something, or differ from the job, and were not heeded."""
    part = wanted.part
    job_says = {"quantity": str(wanted.quantity), "thickness": f"{wanted.thickness:g}", "grade": wanted.grade}
    findings = []
    for note in part.notes:
        for meaning, value in note.values.items():
            told = ""
            if meaning in ORDERS:
                if meaning == "bend" and part.bends:
                    continue
                if meaning == "bevel" and heeds_bevel_notes(wanted.entry):
                    continue
                told = (
                    f"a note beside it that looks like an order ({meaning}) is not carried out: {note.text!r}"
                )
            elif (
                meaning in job_says
                and meaning not in taken
                and not _agrees(meaning, value, job_says[meaning])
            ):
                told = f"the text {note.text!r} gives the {meaning} {value}, the job says {job_says[meaning]}"
            if told and note.text.startswith("solid "):
                # A text may be old; a solid is what it is.
                remedy = f'heed it by from_text = ["{meaning}"], or mend the job'
                findings.append(Finding("question", told, note.place, remedy, "notes"))
            elif told:
                heeded = meaning not in ORDERS or (meaning == "bevel" and bevel_words(note.text))
                remedy = f'heed it by from_text = ["{meaning}"]' if heeded else "see to it in the shop"
                findings.append(Finding("warning", told, note.place, remedy, "notes"))
    return findings


def _agrees(meaning: str, text: str, job: str) -> bool:
    if meaning == "thickness":
        return abs(float(text.replace(",", ".")) - float(job)) < 1e-6
    if meaning == "grade":
        return text.upper().startswith(job.upper()) or job.upper().startswith(text.upper())
    return text == job


def _question_twins(intake: Intake) -> None:
    """Ask for other names where two parts share one: lists would add them up."""
    counts = Counter(wanted.part.name.casefold() for wanted in intake.wanted)
    for name, count in counts.items():
        if count > 1:
            twins = [wanted.part for wanted in intake.wanted if wanted.part.name.casefold() == name]
            sources = ", ".join(dict.fromkeys(Path(part.source).name for part in twins))
            message = f"{count} parts share the name {twins[0].name!r}, from {sources}"
            remedy = "give one of them a name of its own in the job"
            intake.take(twins[0].source, [Finding("refused", message, None, remedy, "names")])


def job_findings(job: Job) -> list[tuple[str, Finding]]:
    """Return what the job says that is not heeded."""
    findings = []
    if job.unread:
        findings.append(("parts list", Finding("warning", f"columns not read: {', '.join(job.unread)}")))
    if job.machine.torches > 1 and job.machine.torch_spacing_mm is None:
        told = f"planned for one torch of {job.machine.torches}: torch_spacing_mm is not given"
        findings.append(("machine", Finding("warning", told)))
    return findings
