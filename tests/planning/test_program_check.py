"""A program is bound to its plan, may leave out what a hand gives up, and is told apart from another's."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutplan.base.errors import InputError
from cutplan.cli.display import verdict_lines
from cutplan.control import stamp
from cutplan.drawing import write_dxf
from cutplan.geometry import circle, polygon
from cutplan.planning.flow import plan_job
from cutplan.planning.job import parse_job
from cutplan.planning.output import write_files
from cutplan.planning.program_check import CheckedProgram, LeftOut, check_program

SHIPPED = Path(__file__).parents[2] / "postprocessors"


def planned(folder: Path, length: float = 500, quantity: int = 2, **machine: object) -> Path:
    """Two flanges from a drawing, planned into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    contours = [polygon([(0, 0), (120, 0), (120, 90), (0, 90)]), circle((60, 45), 20)]
    write_dxf(folder / "flange.dxf", {"0": contours})
    common = {"thickness": 10, "grade": "S355"}
    job = parse_job(
        {
            "job": {"name": "flanges"},
            "machine": {**machine},
            "cutting": {"process": "plasma", "postprocessors": ["posts"]},
            "plate": [{"id": "A", "length": length, "width": 300, **common}],
            "part": [{"drawing": "flange.dxf", "quantity": quantity, **common}],
        },
        folder / "job.toml",
    )
    write_files(plan_job(job), folder / "out")
    return folder / "out"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned(tmp_path_factory.mktemp("shop"))


@pytest.fixture
def out(shop: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(shop, tmp_path / "out"))


def checked(out: Path, name: str = "A-1.nc", **options: Any) -> CheckedProgram:
    return check_program(out / name, out / "plan.json", None, **options)


def told(result: CheckedProgram) -> str:
    return " ".join(fault.message for fault in result.verdict.faults)


def cuts_of(text: str) -> tuple[str, list[str], str]:
    """A program's head, its cuts and its end."""
    pieces = re.split(r"(?m)^(?=\(cut )", text)
    last, end = pieces[-1].split("G0 X0 Y0", 1)
    return pieces[0], [*pieces[1:-1], last], "G0 X0 Y0" + end


CHANGES: list[tuple[str, Callable[[dict[str, Any]], object]]] = [
    ("the tolerance", lambda plan: plan.update(tolerance_mm=0.5)),
    ("the machine", lambda plan: plan["machine"].update(marker=not plan["machine"]["marker"])),
    ("the cutting data", lambda plan: plan["plates"][0]["cut_data"].update(pierce_s=9.0)),
    ("how the control reads", lambda plan: plan["plates"][0]["dialect"].update(ignored=["M0"])),
    ("the drawings", lambda plan: plan["parts"]["flange"]["holes"].pop()),
    ("the plate, or where its parts lie", lambda plan: plan["plates"][0]["placements"][0].update(copy=7)),
    ("the plate, or where its parts lie", lambda plan: plan["plates"][0].update(grade="S235JR")),
    ("plan.json was edited", lambda plan: plan["plates"][0]["verification"].update(pierces=1)),
    ("the cuts", lambda plan: plan["plates"][0]["cuts"][0].update(length_mm=1.0)),
]


@pytest.mark.parametrize(("named", "change"), CHANGES, ids=[f"{k}-{c[0]}" for k, c in enumerate(CHANGES)])
def test_whatever_was_changed_in_the_plan_is_named(
    out: Path, named: str, change: Callable[[dict[str, Any]], object]
) -> None:
    plan = json.loads((out / "plan.json").read_text())
    change(plan)
    (out / "plan.json").write_text(json.dumps(plan))
    result = checked(out)
    assert result.exit_code == 3
    assert named in told(result) and "since the plan was made" in told(result)


def test_a_program_as_planned_passes_and_the_tolerance_is_printed(out: Path) -> None:
    result = checked(out)
    assert result.exit_code == 0 and result.untouched
    assert "allowed 0.05 mm" in "\n".join(verdict_lines(result))


def test_a_program_of_another_plan_is_told_as_such(out: Path, tmp_path: Path) -> None:
    other = planned(tmp_path / "other", length=600)
    shutil.copy(other / "A-1.nc", out / "A-1.nc")
    assert "belongs to another plan: the plate, or where its parts lie differ" in told(checked(out))


def test_a_program_for_another_control_is_told_by_what_differs(out: Path, tmp_path: Path) -> None:
    other = planned(tmp_path / "other", postprocessor="rs274-absolute-centres")
    shutil.copy(other / "A-1.nc", out / "A-1.nc")
    assert "belongs to another plan: the machine, how the control reads differ" in told(checked(out))


def test_another_digest_in_the_head_is_another_plan(out: Path) -> None:
    text = (out / "A-1.nc").read_text()
    own = re.search(r"plan digest ([0-9a-f]{64})", text)
    assert own is not None
    (out / "A-1.nc").write_text(stamp(text.replace(own[1], own[1][::-1])))
    assert "belongs to another plan by the digest in its head" in told(checked(out))


def test_a_drawing_that_changed_is_named(out: Path, shop: Path, tmp_path: Path) -> None:
    same = checked(out, drawings=shop.parent)
    assert same.exit_code == 0
    moved = [polygon([(0, 0), (120, 0), (120, 90), (0, 90)]), circle((60, 45.01), 20)]
    write_dxf(tmp_path / "flange.dxf", {"0": moved})
    result = checked(out, drawings=tmp_path)
    assert result.exit_code == 3 and "the drawing of 'flange' is not the one that was planned" in told(result)


def test_feeds_trimmed_at_the_table_exit_with_1_and_are_listed_once(out: Path) -> None:
    text = (out / "A-1.nc").read_text()
    slower = re.sub(r"F(\d+)", lambda found: f"F{int(found[1]) * 0.95:.0f}", text)
    (out / "A-1.nc").write_text(slower)
    result = checked(out)
    lines = [line for line in verdict_lines(result) if line.startswith("T")]
    assert result.exit_code == 1 and len(lines) == 1 and "times, this is the first" in lines[0]


def test_latin_1_and_a_byte_order_mark_are_read_and_told(out: Path) -> None:
    text = (out / "A-1.nc").read_text()
    (out / "A-1.nc").write_bytes(text.replace("G21", "(für Halle 2)\nG21", 1).encode("latin-1"))
    latin = checked(out)
    assert latin.exit_code == 0 and "A-1.nc is written in Latin-1" in latin.verdict.notes
    (out / "A-1.nc").write_text(text, encoding="utf-8-sig")
    assert any("byte order mark" in note for note in checked(out).verdict.notes)


def test_a_text_that_cannot_be_read_says_nothing_of_metal(out: Path) -> None:
    (out / "A-1.nc").write_text("G21 G90\nG0 X1 X2\nM30\n")
    words = "\n".join(verdict_lines(checked(out)))
    assert "[syntax]" in words and "whole edge" not in words


def test_a_part_given_up_as_scrap_may_be_left_out_where_it_is_named(out: Path) -> None:
    head, cuts, end = cuts_of((out / "A-1.nc").read_text())
    kept = [cut for cut in cuts if "copy 2" not in cut]
    assert 0 < len(kept) < len(cuts)
    (out / "A-1.nc").write_text("".join([head, *kept, end]))
    assert checked(out).exit_code == 3
    result = checked(out, left_out=LeftOut(scrap=("flange/2",)))
    assert result.exit_code == 0 and result.verdict.parts_freed == 1
    with pytest.raises(InputError, match="has no part 'flange/9'"):
        checked(out, left_out=LeftOut(scrap=("flange/9",)))


def test_a_program_may_begin_again_at_a_cut_that_is_named(out: Path) -> None:
    head, cuts, end = cuts_of((out / "A-1.nc").read_text())
    for first in range(2, len(cuts) + 1):
        (out / "A-1.nc").write_text("".join([head, *cuts[first - 1 :], end]))
        assert checked(out).exit_code == 3
        result = checked(out, left_out=LeftOut(from_cut=first))
        assert result.exit_code == 0, verdict_lines(result)
    with pytest.raises(InputError, match="there is no cut 99"):
        checked(out, left_out=LeftOut(from_cut=99))


def test_the_files_of_a_split_program_are_one(tmp_path: Path) -> None:
    (tmp_path / "shop" / "posts").mkdir(parents=True)
    small = (SHIPPED / "rs274-small-memory.toml").read_text().replace("file_lines = 1500", "file_lines = 100")
    small = small.replace("file_bytes = 32000\n", "")
    (tmp_path / "shop" / "posts" / "tiny.toml").write_text(
        small.replace("spaces = false", "spaces = false\nrepeat_motion = true").replace(
            'style = "none"', 'style = "brackets"'
        )
    )
    out = planned(tmp_path / "shop", length=900, quantity=6, postprocessor="tiny")
    files = sorted(file.name for file in out.glob("A-1*.nc"))
    assert len(files) > 1
    result = checked(out, files[1])
    assert result.exit_code == 0 and result.untouched
    (out / files[0]).write_text((out / files[0]).read_text().replace("M30", "(kept)\nM30"))
    assert not checked(out, files[1]).untouched
    shutil.copy(out / files[0], out / "other.nc")
    with pytest.raises(InputError, match="one program together"):
        check_program(out / "other.nc", out / "plan.json", "A-1")
    (out / files[0]).unlink()
    with pytest.raises(InputError, match="no such file"):
        checked(out, files[1])


def test_trouble_spots_are_drawn_with_the_labels_of_the_list(out: Path) -> None:
    (out / "A-1.nc").write_text((out / "A-1.nc").read_text().replace("M3\n", "M3\nM0\n", 1))
    result = checked(out)
    listed = {line.split(":")[0] for line in verdict_lines(result) if line.startswith("F")}
    drawn = set(re.findall(r">(F\d+)</text>", result.picture()))
    assert listed and drawn == listed


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (lambda plan: plan.update(digest=""), "plan.json carries no digest of itself"),
        (lambda plan: plan["plates"][0].update(bound={}), "does not say what its programs are bound to"),
    ],
)
def test_a_plan_that_says_less_of_itself_is_not_taken_for_untouched(
    out: Path, change: Callable[[dict[str, Any]], object], named: str
) -> None:
    plan = json.loads((out / "plan.json").read_text())
    change(plan)
    (out / "plan.json").write_text(json.dumps(plan))
    assert named in told(checked(out)) and checked(out).exit_code == 3
