"""Files at the border: clear errors that name the place."""

from pathlib import Path

import pytest
from pydantic import Field

from cutplan.base.errors import InputError, JobError
from cutplan.base.files import FileModel, read_toml, validate


class Row(FileModel):
    width: float = Field(gt=0)


class Table(FileModel):
    row: tuple[Row, ...] = ()


def test_an_unknown_key_is_named_with_its_row_and_a_near_miss() -> None:
    with pytest.raises(JobError, match=r"job\.toml: \[\[row\]\] 2, widht: unknown key; did you mean 'width'"):
        validate(Table, {"row": [{"width": 1}, {"width": 2, "widht": 3}]}, "job.toml", JobError)


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf"), "wide"])
def test_a_size_that_is_no_size_is_refused(value: object) -> None:
    with pytest.raises(InputError, match="width"):
        validate(Table, {"row": [{"width": value}]}, "job.toml")


def test_a_toml_slip_is_named_with_its_line(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text("[job]\nname = \n")
    with pytest.raises(InputError, match="line 2"):
        read_toml(file)
