"""plan.json of one sheet whose plate lies turned: what its turned program is proved against."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutplan.base.files import read_json, validate
from cutplan.control import digest
from cutplan.geometry import Pose, bounds, place, place_points
from cutplan.record.cuts import ChainRecord, CutRecord, ProgramRecord, path_in, path_text
from cutplan.record.digests import content_digest
from cutplan.record.saved import SavedSheet
from cutplan.record.schema import PlanRecord
from cutplan.record.shapes import PlacementRecord, PlateRecord
from cutplan.stock import NestedPlate
from cutplan.verification import Planned

__all__ = ["LyingSheet", "lying_plan_json", "planned_as_it_lies"]


@dataclass(frozen=True)
class LyingSheet:
    """A sheet as it lies, with its turned program.

    Attributes
    ----------
    sheet : SavedSheet
        As it was planned.
    nested : NestedPlate
        As it lies.
    lie : Pose
    texts : tuple of str
        The program's files, turned.
    bound : mapping of str to str
        Digests of what they are bound to.
    """

    sheet: SavedSheet
    nested: NestedPlate
    lie: Pose
    texts: tuple[str, ...]
    bound: Mapping[str, str]


def planned_as_it_lies(planned: Planned, lie: Pose) -> Planned:
    """Return the cuts of a plan where they are on a plate that lies so.

    Parameters
    ----------
    planned : Planned
    lie : Pose

    Returns
    -------
    Planned
        Places rounded as plan.json has them.
    """
    cuts = tuple(
        replace(cut, place=_moved(cut.place, lie), end=None if cut.end is None else _moved(cut.end, lie))
        for cut in planned.cuts
    )
    return replace(planned, cuts=cuts)


def _moved(at: Sequence[float], lie: Pose) -> tuple[float, float]:
    x, y = place_points([(at[0], at[1])], lie)[0].tolist()
    return round(x, 4), round(y, 4)


def lying_plan_json(plan_file: Path, lying: LyingSheet, files: Mapping[str, str]) -> str:
    """Return the text of a plan.json of one sheet as it lies.

    Parameters
    ----------
    plan_file : Path
        The plan as it was made.
    lying : LyingSheet
    files : mapping of str to str
        Names of the files written with it, with their digests.

    Returns
    -------
    str
    """
    record = validate(PlanRecord, read_json(plan_file), str(plan_file))
    known = next(s for s in record.plates if f"{s.id}-{s.sheet}" == lying.sheet.name)
    x0, y0, x1, y1 = bounds(lying.nested.plate.outline)
    marks = [each.mark for each in known.placements]
    names = [each.file for each in known.programs]
    sheet = known.model_copy(
        update={
            "programs": tuple(
                ProgramRecord(file=name, digest=digest(text))
                for name, text in zip(names, lying.texts, strict=True)
            ),
            "bound": dict(lying.bound),
            "length_mm": x1 - x0,
            "width_mm": y1 - y0,
            "placements": tuple(map(PlacementRecord.of, lying.nested.placements, marks)),
            "plate": PlateRecord.of(lying.nested.plate),
            "cuts": tuple(_cut(cut, lying.lie) for cut in known.cuts),
            "chains": tuple(_chain(chain, lying.lie) for chain in known.chains),
        }
    )
    # The rack's plates are held by the plan as it was made, beside which this one is none.
    update = {"plates": (sheet,), "files": (*sorted(files), "plan.json"), "file_digests": dict(files)}
    plan = record.model_copy(update={**update, "from_rack": (), "totals": None, "unplaced": (), "digest": ""})
    content = plan.model_dump(by_alias=True)
    whole = {**content, "digest": content_digest(content)}
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _cut(cut: CutRecord, lie: Pose) -> CutRecord:
    end = None if cut.end_mm is None else _moved(cut.end_mm, lie)
    moved: dict[str, object] = {"pierce_mm": _moved(cut.pierce_mm, lie), "end_mm": end}
    if cut.path:
        moved["path"] = path_text(place(path_in(cut.path), lie))
    return cut.model_copy(update=moved)


def _chain(chain: ChainRecord, lie: Pose) -> ChainRecord:
    links = tuple(
        link.model_copy(update={"from_mm": _moved(link.from_mm, lie), "to_mm": _moved(link.to_mm, lie)})
        for link in chain.links
    )
    return chain.model_copy(update={"links": links})
