"""What a sheet's program has to cut, as one digest: of plate, placements, parts and data."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict
from pathlib import Path as FilePath
from typing import Any

from cutplan.process import CutData
from cutplan.record.shapes import PartRecord, PlateRecord
from cutplan.stock import NestedPlate

__all__ = ["data_record", "inputs_digest"]


def data_record(data: CutData) -> dict[str, Any]:
    """Return cutting data as plain data.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    dict
        Infinity, which JSON lacks, is the text "inf"; the source is without its folder.
    """
    record = asdict(data)
    record["source"] = FilePath(data.source).name
    return {key: _finite(value) for key, value in record.items()}


def inputs_digest(nested: NestedPlate, data: CutData) -> str:
    """Return the SHA-256 of what a sheet's program has to cut.

    Parameters
    ----------
    nested : NestedPlate
    data : CutData

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    parts = {placement.part.name: placement.part for placement in nested.placements}
    content = {
        "plate": PlateRecord.of(nested.plate).model_dump(),
        "parts": {name: PartRecord.of(part).model_dump() for name, part in parts.items()},
        "placements": [[p.part.name, p.copy, asdict(p.pose)] for p in nested.placements],
        "cut_data": data_record(data),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return "inf" if isinstance(value, float) and math.isinf(value) else value
