"""The front door for Python: what `import cutplan` gives, and its examples."""

import runpy
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

import cutplan

ROOT = Path(__file__).parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.py"))
# Common practice for a command line: an answer under this feels immediate.  The machine may be
# busy, so what is loaded is held, not the clock.
HEAVY = ("numba", "scipy", "shapely", "ezdxf", "networkx", "numpy")


def small_job(quantity: int = 2) -> cutplan.Job:
    part = cutplan.make_part("tab", cutplan.polygon([(0, 0), (80, 0), (80, 50), (0, 50)]))
    parts = [cutplan.wanted(part, quantity, thickness=10, grade="S355")]
    plates = [cutplan.on_offer("PL10", 400, 300, thickness=10, grade="S355")]
    return cutplan.Job("tabs", parts, plates)


@pytest.fixture(scope="module")
def plan() -> cutplan.Plan:
    return cutplan.plan(small_job())


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_runs(
    example: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    runpy.run_path(str(example), run_name="__main__")
    said = capsys.readouterr().out
    assert said.strip()
    if example.stem == "prove_a_changed_program":
        assert "as planned: passed" in said and "changed by hand: failed" in said


def test_there_are_five_examples() -> None:
    assert len(EXAMPLES) >= 5


def test_every_public_name_of_the_front_door_is_there() -> None:
    assert all(getattr(cutplan, name) is not None for name in cutplan.__all__)
    assert dir(cutplan) == sorted(cutplan.__all__)


def test_the_front_door_alone_loads_nothing_heavy() -> None:
    code = f"import sys, cutplan, cutplan.cli; print([m for m in {HEAVY} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_results_say_in_one_line_what_they_are(plan: cutplan.Plan) -> None:
    assert "'tabs'" in repr(plan) and "PL10-1" in repr(plan)
    assert repr(small_job()) == "<Job 'tabs': 2 copies of 1 parts from 1 × PL10>"
    assert "80.0 × 50.0 mm" in repr(plan.sheets[0].nested.placements[0].part)
    assert repr(plan.sheets[0].cuts[0]).startswith("<Step outside of tab copy")


def test_plans_sheets_nests_and_parts_show_themselves_as_pictures(plan: cutplan.Plan) -> None:
    sheet = plan.sheets[0]
    for thing in (plan, sheet, sheet.nested, sheet.nested.placements[0].part, cutplan.nest(small_job())):
        picture = thing._repr_svg_()
        assert picture is not None
        assert ElementTree.fromstring(picture).tag.endswith("svg")


def test_a_quantity_is_changed_without_touching_the_job() -> None:
    job = small_job()
    assert job.with_quantity("tab", 5).parts[0].quantity == 5
    assert job.parts[0].quantity == 2
    with pytest.raises(cutplan.InputError, match="did you mean 'tab'"):
        job.with_quantity("tabb", 5)
    with pytest.raises(cutplan.InputError, match="nothing is wanted"):
        job.with_quantity("tab", 0)


def test_a_made_part_has_its_contours_the_right_way_round() -> None:
    clockwise = cutplan.reverse(cutplan.polygon([(0, 0), (80, 0), (80, 50), (0, 50)]))
    hole = cutplan.circle((30, 25), 8)
    part = cutplan.make_part("tab", clockwise, [hole])
    assert part.outer == cutplan.reverse(clockwise) and part.holes[0] == cutplan.reverse(hole)


@pytest.mark.parametrize(
    ("centre", "words"), [((200, 25), "not inside"), ((80, 25), "not inside"), ((38, 25), "meets another")]
)
def test_a_made_part_with_a_stray_hole_is_refused(centre: tuple[float, float], words: str) -> None:
    outer = cutplan.polygon([(0, 0), (80, 0), (80, 50), (0, 50)])
    with pytest.raises(cutplan.InputError, match=words):
        cutplan.make_part("tab", outer, [cutplan.circle((30, 25), 8), cutplan.circle(centre, 8)])


def test_a_wrong_key_of_a_part_wanted_is_named() -> None:
    with pytest.raises(cutplan.InputError, match="qty"):
        cutplan.wanted("gusset.dxf", 2, thickness=10, grade="S355", qty=3)


def test_a_plan_without_rack_is_written_and_its_program_proved(plan: cutplan.Plan, tmp_path: Path) -> None:
    names = cutplan.write_plan(plan, tmp_path / "out", paper="A4")
    assert {"plan.json", "labels.pdf"} <= set(names)
    program = next(
        n for n in names if n.startswith("PL10-1") and n.split(".")[1] not in ("svg", "html", "dxf", "pdf")
    )
    assert cutplan.verify(tmp_path / "out" / program).verdict.passed
