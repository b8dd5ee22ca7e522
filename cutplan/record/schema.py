"""plan.json as one model, written and read by the same classes (schema ``cutplan.plan/1``).

Fields are the keys of the file in their order; units are mm, seconds, degrees, and m³ at 15 °C
and 1.013 bar.  How to add a key is said in `cutplan.record.shapes`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field

from cutplan.base.findings import Finding
from cutplan.base.lifting import Lifting
from cutplan.base.machine import Machine
from cutplan.control import Dialect, digest
from cutplan.geometry import bounds
from cutplan.nesting import Nest, Unplaced
from cutplan.program import find_postprocessor
from cutplan.record.bending import BendTableRecord
from cutplan.record.bevels import BevelRecord, bevel_records
from cutplan.record.cuts import BeforeRecord, ChainRecord, CutRecord, ProgramRecord, SharedRecord, TabRecord
from cutplan.record.estimates import EstimateRecord
from cutplan.record.identity import marked_parts, plan_name
from cutplan.record.joints import JointRecord, joints_of
from cutplan.record.model import Plan, PlannedSheet
from cutplan.record.programs import BevelProgramRecord, CutDataField, VerdictRecord
from cutplan.record.saved import Ran, SavedPlan, SavedSheet
from cutplan.record.shapes import (
    PartRecord,
    Place,
    PlacementRecord,
    PlateRecord,
    Record,
    Rounded1,
    Rounded3,
    Rounded6,
)
from cutplan.sequencing import Order
from cutplan.stock import Lanes, NestedPlate
from cutplan.verification import TOLERANCE_MM, Before

__all__ = ["SCHEMA", "NestRecord", "PlanRecord"]

SCHEMA = "cutplan.plan/1"


def _known_keys(value: Any) -> Any:
    names = {field.name for field in fields(Machine)}
    return {key: value[key] for key in value if key in names} if isinstance(value, Mapping) else value


# A machine's keys are held to those that a job may give; a later version may know more.
MachineField = Annotated[Machine, BeforeValidator(_known_keys)]


class OrderRecord(Record):
    """How the order of cutting stands to its bound, and how hot it leaves the plate."""

    travel_s: Rounded3
    bound_s: Rounded3
    hottest_start_c: Rounded1 | None = None
    greatest_difference_c: Rounded1 | None = None
    crossings: int = 0
    open_parts: int = 0

    @classmethod
    def of(cls, order: Order) -> Self:
        """Return the record of an order."""
        return cls(
            travel_s=order.travel_s,
            bound_s=order.bound_s,
            hottest_start_c=order.hottest_start_c,
            greatest_difference_c=order.greatest_difference_c,
            crossings=order.crossings,
            open_parts=order.open_parts,
        )


class SheetRecord(Record):
    """One sheet, from nest to proved program."""

    id: str
    sheet: int
    program: str = ""
    programs: tuple[ProgramRecord, ...]
    bound: Mapping[str, str] = {}
    process: str = ""
    setting: str = ""
    postprocessor: str
    dialect: Dialect | None = None
    torches: int = Field(1, ge=1)
    torch_spacing_mm: float | None = None
    torch_bands: int = Field(1, ge=1)
    thickness_mm: float
    grade: str
    heat: str | None
    length_mm: Rounded6 = 0.0
    width_mm: Rounded6 = 0.0
    kerf_mm: float = 0.0
    utilisation: Rounded6 = 0.0
    placements: tuple[PlacementRecord, ...]
    cuts: tuple[CutRecord, ...] = ()
    tabs: tuple[TabRecord, ...] = ()
    chains: tuple[ChainRecord, ...] = ()
    shared: tuple[SharedRecord, ...] = ()
    bevel_programs: tuple[BevelProgramRecord, ...] = ()
    order: OrderRecord | None = None
    before: tuple[BeforeRecord, ...] = ()
    plate: PlateRecord
    cut_data: CutDataField
    estimate: EstimateRecord | None = None
    verification: VerdictRecord

    @classmethod
    def of(cls, sheet: PlannedSheet, marks: Sequence[str]) -> Self:
        """Return the record of a planned sheet, with the marks of its placements."""
        plate, data, program = sheet.nested.plate, sheet.data, sheet.program
        x0, y0, x1, y1 = bounds(plate.outline)
        return cls(
            id=plate.id,
            sheet=sheet.nested.sheet,
            program=program.file_name,
            programs=tuple(ProgramRecord(file=p.file_name, digest=digest(p.text)) for p in program.files),
            bound=sheet.bound,
            process=data.process,
            setting=data.setting,
            postprocessor=program.postprocessor,
            dialect=program.dialect,
            torches=sheet.torches,
            torch_spacing_mm=sheet.lanes.spacing or None,
            torch_bands=sheet.lanes.bands,
            thickness_mm=plate.thickness,
            grade=plate.grade,
            heat=plate.heat,
            length_mm=x1 - x0,
            width_mm=y1 - y0,
            kerf_mm=data.kerf,
            utilisation=sheet.utilisation,
            placements=tuple(map(PlacementRecord.of, sheet.nested.placements, marks)),
            cuts=tuple(CutRecord.of(n, s, data.feed_mm_min) for n, s in enumerate(sheet.cuts, start=1)),
            tabs=tuple(map(TabRecord.of, sheet.tabs)),
            chains=ChainRecord.all_of(sheet.cuts),
            shared=SharedRecord.all_of(sheet.cuts),
            bevel_programs=tuple(map(BevelProgramRecord.of, sheet.bevels)),
            order=OrderRecord.of(sheet.order),
            plate=PlateRecord.of(plate),
            cut_data=data,
            estimate=EstimateRecord.of(sheet.estimate),
            verification=VerdictRecord.of(sheet.verdict),
        )

    def saved(self, parts: Mapping[str, PartRecord]) -> SavedSheet:
        """Return what a program of the sheet is proved against."""
        plate = self.plate.plate(self.id, self.thickness_mm, self.grade, self.heat)
        traces = {p.part: p.trace for p in self.placements}
        known = {name: replace(parts[name].part(name), trace=trace) for name, trace in traces.items()}
        placements = tuple(p.placement(known[p.part]) for p in self.placements)
        # Plans once left the dialect to the post-processor's name.
        dialect = self.dialect or find_postprocessor(self.postprocessor).dialect_for(self.cut_data)
        return SavedSheet(
            name=f"{self.id}-{self.sheet}",
            programs=tuple((p.file, p.digest) for p in self.programs),
            postprocessor=self.postprocessor,
            dialect=dialect,
            nested=NestedPlate(plate, self.sheet, placements),
            data=self.cut_data,
            cuts=tuple(cut.saved() for cut in self.cuts),
            tabs=tuple(tab.saved() for tab in self.tabs),
            before=tuple(map(_ran, self.before)),
            bevels=tuple(each.saved() for each in self.bevel_programs),
            bound=dict(self.bound),
            marks=tuple(p.mark for p in self.placements if p.mark is not None),
            lanes=Lanes(self.torches, self.torch_spacing_mm or 0.0, self.torch_bands),
            time_s={} if self.estimate is None else dict(self.estimate.time_s),
            calibrated=any(
                line.startswith("calibrated") for line in (self.estimate.inputs if self.estimate else ())
            ),
        )


def _ran(before: BeforeRecord) -> Ran:
    cuts = tuple(cut.saved() for cut in before.cuts)
    programs = tuple((p.file, p.digest) for p in before.programs)
    return Ran(programs, Before((), cuts, before.until_mm, before.until_way_mm))


class CountsRecord(Record):
    """How many, of how much plate."""

    plates: int
    parts: int
    unplaced: int
    utilisation: Rounded6


class TotalsRecord(EstimateRecord, CountsRecord):
    """The batch as a whole: counts first, then the sum of the estimates."""

    @classmethod
    def of_plan(cls, plan: Plan) -> Self:
        """Return the totals of a plan."""
        metal = sum(sheet.nested.plate.metal_mm2 for sheet in plan.sheets)
        return cls(
            plates=len(plan.sheets),
            parts=sum(len(sheet.nested.placements) for sheet in plan.sheets),
            unplaced=sum(item.quantity for item in plan.unplaced),
            utilisation=sum(sheet.part_area for sheet in plan.sheets) / metal if metal else 0.0,
            **dict(EstimateRecord.of(plan.total)),
        )


class NestedPlateRecord(Record):
    """What lies on one plate, uncut as yet."""

    id: str
    sheet: int
    placements: tuple[PlacementRecord, ...]


class NestRecord(Record):
    """A nest for scripts, as `nest --json` prints it."""

    least_plates: int
    plates: tuple[NestedPlateRecord, ...]
    unplaced: tuple[Unplaced, ...]

    @classmethod
    def of(cls, nest: Nest) -> Self:
        """Return the record of a nest."""
        plates = (
            NestedPlateRecord(
                id=each.plate.id, sheet=each.sheet, placements=tuple(map(PlacementRecord.of, each.placements))
            )
            for each in nest.plates
        )
        return cls(least_plates=nest.least_plates, plates=tuple(plates), unplaced=nest.unplaced)


class FindingRecord(Record):
    """What was mended or warned of."""

    about: str
    kind: str
    message: str
    place_mm: Place | None = None

    @classmethod
    def of(cls, about: str, finding: Finding) -> Self:
        """Return the record of a finding."""
        return cls(about=about, kind=finding.kind, message=finding.message, place_mm=finding.place)


class PlanRecord(Record):
    """The whole of plan.json."""

    # `schema` would hide a method of the base.
    form: str = Field(SCHEMA, alias="schema", pattern=r"^cutplan\.plan/1$")
    job: str
    plan: str = ""
    seed: int = 0
    version: str = ""
    tolerance_mm: float = Field(TOLERANCE_MM, gt=0)
    from_rack: tuple[str, ...] = ()
    plates: tuple[SheetRecord, ...]
    unplaced: tuple[Unplaced, ...] = ()
    totals: TotalsRecord | None = None
    findings: tuple[FindingRecord, ...] = ()
    bending: tuple[BendTableRecord, ...] = ()
    bevels: tuple[BevelRecord, ...] = ()
    joints: tuple[JointRecord, ...] = ()
    machine: MachineField
    parts: Mapping[str, PartRecord]
    kits: Mapping[str, str] = {}
    due: Mapping[str, str] = {}
    wanted: Mapping[str, int] = {}
    lifting: Lifting = Lifting()
    files: tuple[str, ...] = ()
    file_digests: Mapping[str, str] = {}
    # Of all the rest, taken when the file is written.
    digest: str = ""

    @classmethod
    def of(cls, plan: Plan, files: Mapping[str, str] | None = None) -> Self:
        """Return the record of a plan; `files` are the names written with it, with their digests."""
        marks: dict[str, list[str]] = {}
        for sheet, _, mark in marked_parts(plan):
            marks.setdefault(sheet.name, []).append(mark)
        parts = {p.part.name: p.part for sheet in plan.sheets for p in sheet.nested.placements}
        return cls(
            form=SCHEMA,
            job=plan.job,
            plan=plan_name(plan),
            seed=plan.seed,
            version=plan.version,
            tolerance_mm=plan.tolerance_mm,
            from_rack=plan.from_rack,
            plates=tuple(SheetRecord.of(sheet, marks[sheet.name]) for sheet in plan.sheets),
            unplaced=plan.unplaced,
            totals=TotalsRecord.of_plan(plan),
            findings=tuple(FindingRecord.of(about, finding) for about, finding in plan.findings),
            bending=tuple(map(BendTableRecord.of, plan.bending)),
            bevels=tuple(bevel_records(plan)),
            joints=tuple(map(JointRecord.of, joints_of(plan))),
            machine=plan.machine,
            parts={name: PartRecord.of(part) for name, part in parts.items()},
            kits=dict(plan.kits),
            due=dict(plan.due),
            wanted=dict(plan.wanted),
            lifting=plan.lifting,
            files=tuple(sorted([*files, "plan.json"])) if files else (),
            file_digests=files or {},
        )

    def saved(self) -> SavedPlan:
        """Return what programs of the plan are proved against."""
        sheets = tuple(sheet.saved(self.parts) for sheet in self.plates)
        return SavedPlan(
            self.job, self.machine, sheets, self.plan, self.tolerance_mm, from_rack=self.from_rack,
            kits=self.kits, due=self.due,
        )  # fmt: skip
