"""A job's drawings taken in: counts and texts heeded, all that is wrong told in one go."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest

from cutplan.base.errors import DrawingError, JobError
from cutplan.planning.intake import Intake, raise_problems, read_wanted
from cutplan.planning.job import Job, parse_job

COMMON = {"thickness": 10, "grade": "S355"}


def draw(folder: Path, name: str, content: Any) -> None:
    document = ezdxf.new("R2010", units=4)
    content(document.modelspace())
    document.saveas(folder / name)


def square(m: Any, x: float, size: float = 100.0) -> None:
    m.add_lwpolyline([(x, 0), (x + size, 0), (x + size, size), (x, size)], close=True)


def say(m: Any, text: str, x: float, y: float) -> None:
    m.add_text(text, height=5, dxfattribs={"insert": (x, y), "layer": "NOTES"})


def job_of(folder: Path, *parts: dict[str, Any], **sections: Any) -> Job:
    plate = {"id": "A", "length": 3000, "width": 1500, **COMMON}
    data = {
        "job": {"name": "orders"},
        "plate": [plate],
        "part": [{"quantity": 1, **COMMON, **p} for p in parts],
    }
    return parse_job({**data, **sections}, folder / "job.toml")


def taken(job: Job) -> Intake:
    return read_wanted(job, lambda stage, share: None)


def told(intake: Intake, kind: str) -> list[str]:
    return [str(finding) for _, finding in intake.findings if finding.kind == kind]


def test_parts_are_wanted_as_often_as_the_drawing_shows_them(tmp_path: Path) -> None:
    draw(tmp_path, "discs.dxf", lambda m: [m.add_circle((100 * k, 0), 40) for k in range(20)])
    (wanted,) = taken(job_of(tmp_path, {"drawing": "discs.dxf", "quantity": 3})).wanted
    assert wanted.quantity == 60 and wanted.part.name == "discs"


def order(m: Any) -> None:
    square(m, 0)
    square(m, 300, 150)
    say(m, "B12", 10, 60)
    say(m, "2 OFF t=12 S235JR", 10, 20)
    say(m, "B13", 310, 60)
    say(m, "QTY 5", 310, 20)


def test_values_come_from_texts_where_the_job_says_so_each_listed_with_its_place(tmp_path: Path) -> None:
    draw(tmp_path, "order.dxf", order)
    wish = {"drawing": "order.dxf", "from_text": ["name", "quantity", "thickness", "grade"], "quantity": 2}
    intake = taken(job_of(tmp_path, wish))
    assert [(w.part.name, w.quantity, w.thickness, w.grade) for w in intake.wanted] == [
        ("B12", 4, 12.0, "S235JR"),
        ("B13", 10, 10.0, "S355"),
    ]
    assert len(told(intake, "taken")) == 6 and all("at (" in text for text in told(intake, "taken"))
    assert len(told(intake, "warning")) == 2 and "no text gives its thickness" in told(intake, "warning")[0]


def test_what_the_texts_say_and_the_job_does_not_heed_is_shown_beside_the_part(tmp_path: Path) -> None:
    def content(m: Any) -> None:
        square(m, 0)
        say(m, "2 OFF t=12", 10, 60)
        say(m, "DRILL & TAP M12", 10, 20)

    draw(tmp_path, "plate.dxf", content)
    warnings = told(taken(job_of(tmp_path, {"drawing": "plate.dxf"})), "warning")
    assert len(warnings) == 4
    for words in ("quantity 2, the job says 1", "thickness 12, the job says 10", "(drill)", "(tap)"):
        assert any(words in text for text in warnings)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (["2 OFF", "3 OFF"], "several quantities"),
        (["2 AS DRAWN 2 OPP HAND", "4 OFF"], "mirrored copies"),
    ],
)
def test_a_quantity_that_is_not_clear_is_asked_about(tmp_path: Path, texts: list[str], words: str) -> None:
    draw(
        tmp_path,
        "plate.dxf",
        lambda m: [square(m, 0), *(say(m, t, 10, 20 + 20 * k) for k, t in enumerate(texts))],
    )
    intake = taken(job_of(tmp_path, {"drawing": "plate.dxf", "from_text": ["quantity"]}))
    (question,) = told(intake, "question")
    assert words in question and intake.problems


def test_copies_with_a_quantity_beside_one_of_them_are_asked_about(tmp_path: Path) -> None:
    draw(tmp_path, "plate.dxf", lambda m: [square(m, 0), square(m, 300), say(m, "2 OFF", 10, 20)])
    (question,) = told(
        taken(job_of(tmp_path, {"drawing": "plate.dxf", "from_text": ["quantity"]})), "question"
    )
    assert "drawn 2 times" in question


def test_the_shops_own_patterns_and_choices_stand_in_the_job(tmp_path: Path) -> None:
    draw(tmp_path, "order.dxf", lambda m: [order(m), say(m, "(7x)", 310, 80)])
    drawings = {"texts": {"quantity": [r"\((\d+)x\)"]}, "choose": [{"text": "B13"}]}
    (wanted,) = taken(
        job_of(tmp_path, {"drawing": "order.dxf", "from_text": ["quantity"]}, drawings=drawings)
    ).wanted
    assert wanted.quantity == 7
    own = {"drawing": "order.dxf", "leave_out": [{"larger_than": 120}]}
    (wanted,) = taken(job_of(tmp_path, own)).wanted
    assert wanted.part.name == "order-1"


@pytest.mark.parametrize(
    "drawings",
    [
        {"choose": [{}]},
        {"texts": {"quantity": ["("]}},
        {"open": "ignore"},
        {"frames": "no"},
        {"colours": {"burn": ["red"]}},
        {"limits": {"seconds": 0}},
        {"equal": "maybe"},
    ],
)
def test_wrong_keys_for_drawings_are_refused_by_name(tmp_path: Path, drawings: dict[str, Any]) -> None:
    with pytest.raises(JobError) as caught:
        job_of(tmp_path, {"drawing": "a.dxf"}, drawings=drawings)
    assert next(iter(drawings)) in str(caught.value)


def test_everything_wrong_with_every_drawing_is_told_in_one_go(tmp_path: Path) -> None:
    draw(tmp_path, "open.dxf", lambda m: m.add_lwpolyline([(0, 0), (100, 0), (100, 50)]))
    draw(tmp_path, "tiny.dxf", lambda m: square(m, 0, 8))
    (tmp_path / "broken.dxf").write_text("no drawing at all")
    draw(tmp_path, "good.dxf", lambda m: square(m, 0))
    names = ("open.dxf", "tiny.dxf", "broken.dxf", "missing.dxf", "good.dxf")
    job = job_of(tmp_path, *({"drawing": name} for name in names))
    intake = taken(job)
    assert [w.part.name for w in intake.wanted] == ["good"]
    with pytest.raises(DrawingError) as caught:
        raise_problems(intake.problems, job)
    text = str(caught.value)
    for name in names[:4]:
        assert name in text
    assert "4 things are wrong" in text and "good.dxf" not in text and 'units = "in"' in text


def test_two_parts_of_one_name_are_refused_whatever_their_case(tmp_path: Path) -> None:
    draw(tmp_path, "plate.dxf", lambda m: [square(m, 0), square(m, 300, 150)])
    draw(tmp_path, "Plate-1.dxf", lambda m: square(m, 0, 70))
    intake = taken(job_of(tmp_path, {"drawing": "plate.dxf"}, {"drawing": "Plate-1.dxf"}))
    ((_, problem),) = intake.problems
    assert "share the name" in problem.message and "Plate-1.dxf" in problem.message


@pytest.mark.parametrize(("answer", "count"), [({"frames": "leave out"}, 1), ({"frames": "cut"}, 2)])
def test_an_entry_answers_a_question_for_its_own_drawing(
    tmp_path: Path, answer: dict[str, str], count: int
) -> None:
    def content(m: Any) -> None:
        m.add_lwpolyline([(-50, -50), (400, -50), (400, 400), (-50, 400)], close=True)
        square(m, 0)
        m.add_circle((50, 50), 10)

    draw(tmp_path, "sheet.dxf", content)
    assert taken(job_of(tmp_path, {"drawing": "sheet.dxf"})).problems
    intake = taken(job_of(tmp_path, {"drawing": "sheet.dxf", **answer}))
    assert not intake.problems and len(intake.wanted) == count


def test_gaps_closed_and_orders_not_carried_out_stand_on_the_setup_sheet(tmp_path: Path) -> None:
    from cutplan.planning.flow import plan_job
    from cutplan.report import setup_sheet_html

    def content(m: Any) -> None:
        corners = [(0, 0), (100, 0), (100, 100), (0, 100)]
        for k in range(3):
            m.add_line(corners[k], corners[k + 1])
        m.add_line((0, 100), (0, 0.3))
        say(m, "BEVEL 30°", 10, 20)

    draw(tmp_path, "plate.dxf", content)
    plan = plan_job(job_of(tmp_path, {"drawing": "plate.dxf"}, drawings={"gap": 0.5}))
    sheet = setup_sheet_html(plan.sheets[0], plan)
    assert "a gap of 0.300 mm" in sheet and "(0.000, 0.300) mm" in sheet
    assert "looks like an order (bevel)" in sheet
