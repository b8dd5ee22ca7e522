"""What takes work is worked out once a plan: programs are read once, contours offset once, sheets digested once."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutplan.planning import plan_job, write_files
from cutplan.planning.job import parse_job

JOB = {
    "job": {"name": "once"},
    "order": {"effort": 0.1},
    "machine": {"table": [3000, 1500]},
    "cutting": {"process": "plasma"},
    "estimate": {"keep_remnants": [100, 100]},
    "plate": [{"id": "A", "length": 420, "width": 220, "thickness": 10, "grade": "S355", "quantity": 3}],
    "part": [
        {"name": "ring", "quantity": 5, "thickness": 10, "grade": "S355",
         "shape": {"kind": "ring", "outside": 171, "inside": 83}},
        {"name": "flange", "quantity": 2, "thickness": 10, "grade": "S355",
         "shape": {"kind": "ring", "outside": 143, "inside": 61}},
    ],
}  # fmt: skip


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str], Counter[Any]]:
    """Return a way to count the calls of a module's function by what they were given."""

    def count(module: str, name: str) -> Counter[Any]:
        calls: Counter[Any] = Counter()
        real = getattr(sys.modules[module], name)

        def called(*given: Any, **keys: Any) -> Any:
            calls[given[1:] if name == "_read" else given] += 1
            return real(*given, **keys)

        monkeypatch.setattr(sys.modules[module], name, called)
        return calls

    return count


def test_programs_contours_and_sheets_are_each_worked_out_once(
    counted: Callable[[str, str], Counter[Any]], tmp_path: Path
) -> None:
    sys.modules["cutplan.cutting.compensate"]._way_and_losses.cache_clear()
    read = counted("cutplan.control.reader", "_read")
    grown = counted("cutplan.cutting.compensate", "offset")
    drawn = counted("cutplan.record.digests", "_part_content")
    plan = plan_job(parse_job(JOB, tmp_path / "job.toml"))
    write_files(plan, tmp_path / "out")
    assert len(plan.sheets) > 1
    texts = [file.text for sheet in plan.sheets for file in sheet.program.files]
    assert Counter(text for text, _ in read.elements()) == Counter(texts)
    assert grown and set(grown.values()) == {1}
    assert drawn.total() == sum(
        len({placement.part.name for placement in sheet.nested.placements}) for sheet in plan.sheets
    )
