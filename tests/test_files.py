"""Files at the border: clear errors, and results put in place all or nothing."""

from pathlib import Path

import pytest
from pydantic import Field

from cutplan.errors import InputError, JobError, OutputError
from cutplan.files import FileModel, read_toml, replaced_files, validate


class Row(FileModel):
    width: float = Field(gt=0)


class Table(FileModel):
    row: tuple[Row, ...] = ()


def nothing_stale(target: Path) -> list[str]:
    return []


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


def test_results_replace_the_stale_and_leave_other_files_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    for name in ("PL10-1.ngc", "PL10-2.ngc", "notes.txt"):
        (out / name).write_text("old")
    with replaced_files(out, lambda _: ["PL10-1.ngc", "PL10-2.ngc"]) as fresh:
        (fresh / "PL10-1.ngc").write_text("new")
    assert sorted(p.name for p in out.iterdir()) == ["PL10-1.ngc", "notes.txt"]
    assert (out / "PL10-1.ngc").read_text() == "new"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_failed_run_leaves_the_old_folder_as_it_was(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_text("old")
    with pytest.raises(RuntimeError), replaced_files(out, lambda _: ["plan.json"]) as fresh:
        (fresh / "plan.json").write_text("half")
        raise RuntimeError("stopped")
    assert (out / "plan.json").read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_name_that_cannot_be_replaced_rolls_back_the_others(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "a.ngc").write_text("old")
    with pytest.raises(OutputError), replaced_files(out, nothing_stale) as fresh:
        (fresh / "a.ngc").write_text("new")
        (fresh / "b").write_text("new")
        (out / "b").mkdir()
        (out / "b" / "kept.txt").write_text("kept")
        # The folder b moves out; a file of the same name as an old file's backup cannot follow.
        (fresh.parent / "old" / "b").mkdir()
        (fresh.parent / "old" / "b" / "blocker").write_text("x")
    assert (out / "a.ngc").read_text() == "old"
    assert (out / "b" / "kept.txt").read_text() == "kept"


def test_an_output_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="not a folder"), replaced_files(tmp_path / "out", nothing_stale):
        raise AssertionError("the block must not run")
