"""Spoiled settings end in a job, a table or a post-processor, or in one clean error that names the file."""

import warnings
from collections.abc import Callable
from pathlib import Path

import pytest
from spoiled_settings import spoiled_text

from cutplan.base.errors import CutplanError
from cutplan.estimating import load_prices
from cutplan.planning.job import load_job
from cutplan.process.datafile import read_cutting_data
from cutplan.program.catalogue import read_postprocessor
from cutplan.record import read_plan

ROOT = Path(__file__).parents[2]
READERS: dict[str, tuple[Path, Callable[[Path], object]]] = {
    "job.toml": (ROOT / "parts/dolly-batch.toml", load_job),
    "prices.toml": (ROOT / "parts/prices.toml", load_prices),
    "data.toml": (ROOT / "cutplan/process/data/plasma-mild-steel-120a-oxygen.toml", read_cutting_data),
    "post.toml": (ROOT / "postprocessors/rs274-heights.toml", read_postprocessor),
}


def read_spoiled(folder: Path, name: str, text: str, read: Callable[[Path], object], seed: int) -> None:
    """Read one spoiled text; anything but a result or a clean error fails."""
    file = folder / name
    file.write_bytes(spoiled_text(text, seed))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read(file)
    except CutplanError as problem:
        assert name in str(problem), seed
        assert str(problem).replace("\n", "").isprintable(), seed
        assert len(str(problem)) < 20_000, seed


@pytest.mark.parametrize("name", READERS)
def test_spoiled_settings_are_read_or_refused_by_name(tmp_path: Path, name: str) -> None:
    source, read = READERS[name]
    text = source.read_text(encoding="utf-8")
    for seed in range(150):
        read_spoiled(tmp_path, name, text, read, seed)


def test_a_spoiled_plan_is_read_or_refused_by_name(tmp_path: Path, one_sheet_plan: str) -> None:
    for seed in range(150):
        read_spoiled(tmp_path, "plan.json", one_sheet_plan, read_plan, seed)


@pytest.fixture(scope="module")
def one_sheet_plan() -> str:
    """The plan.json of a few plates, planned once."""
    from cutplan.planning.flow import plan_job
    from cutplan.planning.job import parse_job
    from cutplan.record import plan_json

    common = {"thickness": 10, "grade": "S355"}
    job = parse_job(
        {
            "job": {"name": "few"},
            "cutting": {"process": "plasma"},
            "plate": [{"id": "P", "length": 500, "width": 300, **common}],
            "part": [{"name": "ring", "quantity": 2, "shape": {"kind": "ring", "outside": 120, "inside": 60}, **common}],
        },
        Path("job.toml"),
    )  # fmt: skip
    return plan_json(plan_job(job))
