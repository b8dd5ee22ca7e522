"""What plan.json says of a program: its file, its cutting data, its proof; and of one that bevels."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, PlainSerializer

from cutplan.control import Dialect, digest
from cutplan.process import CutData
from cutplan.record.cuts import CutRecord, ProgramRecord
from cutplan.record.digests import data_record
from cutplan.record.estimates import EstimateRecord
from cutplan.record.model import BevelProgram
from cutplan.record.saved import SavedBevels
from cutplan.record.shapes import Place, Record, Rounded3, Rounded4
from cutplan.verification import Planned, PlannedBevels, Verdict

__all__ = ["BevelProgramRecord", "CutDataField", "VerdictRecord"]


def _cut_data(value: Any) -> CutData:
    from pydantic import TypeAdapter

    # Validated by itself: infinity stands in it, and nowhere else in the file.
    return value if isinstance(value, CutData) else TypeAdapter(CutData).validate_python(value)


CutDataField = Annotated[CutData, BeforeValidator(_cut_data), PlainSerializer(data_record)]


class VerdictRecord(Record):
    """What the proof found before the program was written."""

    passed: bool = True
    worst_bite_mm: Rounded4 = 0.0
    worst_left_mm: Rounded4 = 0.0
    parts_freed: int = 0
    pierces: int
    cut_length_mm: Rounded3

    @classmethod
    def of(cls, verdict: Verdict) -> Self:
        """Return the record of a verdict."""
        return cls(
            passed=verdict.passed,
            worst_bite_mm=verdict.worst_bite_mm,
            worst_left_mm=verdict.worst_left_mm,
            parts_freed=verdict.parts_freed,
            pierces=verdict.pierces,
            cut_length_mm=verdict.cut_length_mm,
        )


class BevelProgramRecord(Record):
    """A program that bevels edges: when it runs, how the torch is set, its runs, its proof and its estimate.

    `tilt_deg` counts from the plate's normal; `towards_deg` says which way the jet goes as it goes
    down, from X, where the torch is set by hand.
    """

    program: ProgramRecord
    when: Literal["before", "after"]
    slope: Literal["upper", "lower"]
    tilt_deg: float
    towards_deg: float | None = None
    postprocessor: str
    dialect: Dialect
    bound: Mapping[str, str]
    kerf_mm: float
    feed_mm_min: Rounded3
    cuts: tuple[CutRecord, ...]
    square_starts: tuple[Place, ...] = ()
    cut_data: CutDataField
    estimate: EstimateRecord
    verification: VerdictRecord

    @classmethod
    def of(cls, made: BevelProgram) -> Self:
        """Return the record of a program that bevels."""
        asked, data, program = made.asked, made.data, made.program
        steps = enumerate(made.order.steps, start=1)
        return cls(
            program=ProgramRecord(file=program.file_name, digest=digest(program.text)),
            when=asked.when,
            slope=asked.slope,
            tilt_deg=asked.tilt_deg,
            towards_deg=asked.towards_deg,
            postprocessor=program.postprocessor,
            dialect=program.dialect,
            bound=made.bound,
            kerf_mm=data.kerf,
            feed_mm_min=data.feed_mm_min,
            cuts=tuple(CutRecord.of(n, step, data.feed_mm_min) for n, step in steps),
            square_starts=asked.square_starts,
            cut_data=data,
            estimate=EstimateRecord.of(made.estimate),
            verification=VerdictRecord.of(made.verdict),
        )

    def saved(self) -> SavedBevels:
        """Return what the program is proved against."""
        planned = Planned(tuple(cut.saved() for cut in self.cuts))
        asked = PlannedBevels(
            self.when, self.slope, self.tilt_deg, self.towards_deg, planned, self.square_starts
        )
        return SavedBevels(
            self.program.file, self.program.digest, self.dialect, self.cut_data, asked, dict(self.bound)
        )
