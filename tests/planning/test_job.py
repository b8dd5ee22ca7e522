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
        ({"plates": []}, r"plates: unknown key; did you mean \[\[plate\]\]"),
        ({"machine": {"rapid": 20000}}, r"\[machine\] rapid: unknown key; did you mean 'rapid_mm_min'"),
        ({"machine": {"process": "plasma"}}, r"it belongs under \[cutting\] or \[\[part\]\]"),
        ({"torches": 2}, r"torches: unknown key; it belongs under \[machine\]"),
        ({"machine": {"stock": {}}}, r"\[stock\] stands at the top of the file"),
        ({"drawings": {"units": "furlong"}}, r"\[drawings\] units: should be 'mm'.*got 'furlong'"),
        ({"part": [{**PART, "rotations": 5}]}, r"1 'gusset.dxf', rotations: should be a list, or 'any'"),
        ({"part": [{**PART, "name": "rib", "due": "soon"}]}, r"1 'rib', due: should be a date"),
        ({"part": {}}, r"\[\[part\]\]: should be a list"),
        ({"part": []}, "nothing is wanted: add a"),
        ({"part": [{**PART, "quantity": 0}]}, r"\[\[part\]\] 1 'gusset.dxf', quantity: .*got 0"),
        ({"part": [{**PART, "quantity": 1.5}]}, "quantity"),
        ({"part": [{**PART, "thickness": -10}]}, "thickness.*got -10"),
        ({"part": [{**PART, "thickness": float("nan")}]}, "thickness"),
        ({"part": [{**PART, "qty": 1}]}, "qty: unknown key; did you mean 'quantity'"),
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
        ({"job": {}}, r"\[job\] name: missing; add this key"),
    ],
)
def test_a_wrong_job_is_refused_with_the_key_at_fault(changes: dict[str, object], words: str) -> None:
    with pytest.raises(JobError, match=words):
        parse_job(job(**changes), Path("job.toml"))


def test_all_that_is_wrong_with_a_job_is_told_at_once_and_nothing_twice() -> None:
    wrong = job(machine={"rapid": 1, "table": 5}, part=[{**PART, "thickness": "ten", "colour": "red"}])
    with pytest.raises(JobError) as told:
        parse_job(wrong, Path("job.toml"))
    first, *lines = str(told.value).splitlines()
    assert first == "job.toml: 4 things are wrong"
    assert [line.split(":")[0].strip() for line in sorted(lines)] == [
        "[[part]] 1 'gusset.dxf', colour", "[[part]] 1 'gusset.dxf', thickness", "[machine] rapid", "[machine] table",
    ]  # fmt: skip


@pytest.mark.parametrize("word", ["in", "inch", "Inches", "in.", '"', "Zoll"])
def test_a_unit_may_be_named_by_any_of_its_words(word: str) -> None:
    read = parse_job(job(part=[{**PART, "units": word}], drawings={"units": word}), Path("job.toml"))
    assert (read.parts[0].units, read.drawings.units) == ("in", "in")


def test_a_missing_job_file_is_named() -> None:
    with pytest.raises(JobError, match=r"nowhere\.toml: no such file"):
        load_job("nowhere.toml")
