"""The job file: what it may hold, and one clear error for what it may not."""

from pathlib import Path

import pytest

from cutplan.base.errors import JobError
from cutplan.planning.job import load_job, parse_job

PLATE = {"id": "PL10", "length": 3000, "width": 1500, "thickness": 10, "grade": "S355"}
PART = {"drawing": "gusset.dxf", "quantity": 4, "thickness": 10, "grade": "S355"}


def job(**changes: object) -> dict[str, object]:
    return {"job": {"name": "batch"}, "plate": [PLATE], "part": [PART], **changes}


def test_the_smallest_job_takes_its_defaults() -> None:
    read = parse_job(job(), Path("a/job.toml"))
    assert read.machine.postprocessor == "rs274-metric"
    assert read.cutting.process == "auto"
    assert read.parts[0].label == "gusset"
    assert read.parts[0].rotations_deg == (0, 90, 180, 270)


def test_a_machine_can_stand_in_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "bay-2.toml").write_text("rapid_mm_min = 12000\ntorches = 2\n")
    read = parse_job(job(machine="bay-2.toml"), tmp_path / "job.toml")
    assert (read.machine.rapid_mm_min, read.machine.torches) == (12000, 2)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"plates": []}, "plates: unknown key; did you mean 'plate'"),
        ({"part": [{**PART, "quantity": 0}]}, r"\[\[part\]\] 1, quantity.*got 0"),
        ({"part": [{**PART, "quantity": 1.5}]}, "quantity"),
        ({"part": [{**PART, "thickness": -10}]}, "thickness.*got -10"),
        ({"part": [{**PART, "thickness": float("nan")}]}, "thickness"),
        ({"part": [{**PART, "qty": 1}]}, "qty: unknown key"),
        ({"part": [{**PART, "rotations": [0, 360]}]}, "names an angle twice"),
        ({"part": [{**PART, "rotations": []}]}, "rotations is empty"),
        ({"part": [PART, PART]}, "part name 'gusset' is used twice"),
        ({"plate": [PLATE, {**PLATE, "id": "pl10"}]}, "plate id"),
        ({"plate": [{**PLATE, "outline": "r.dxf"}]}, "both an outline and a length"),
        ({"plate": [{k: v for k, v in PLATE.items() if k != "width"}]}, "needs length and width"),
        ({"plate": [{**PLATE, "id": "../x"}]}, "id"),
        ({"plate": [{**PLATE, "length": float("inf")}]}, "length"),
        ({"machine": {"rapid_mm_min": 0}}, "rapid_mm_min"),
        ({"machine": {"start": [9000, 0]}}, "off the table"),
        ({"machine": {"table": [0, 2000]}}, "above zero"),
        ({"machine": "nowhere.toml"}, "no such file"),
        ({"cutting": {"process": "laser"}}, "process"),
        ({"job": {}}, "job, name: missing"),
    ],
)
def test_a_wrong_job_is_refused_with_the_key_at_fault(changes: dict[str, object], words: str) -> None:
    with pytest.raises(JobError, match=words):
        parse_job(job(**changes), Path("job.toml"))


def test_a_missing_job_file_is_named() -> None:
    with pytest.raises(JobError, match=r"nowhere\.toml: no such file"):
        load_job("nowhere.toml")
