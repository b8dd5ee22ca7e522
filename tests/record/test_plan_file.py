"""plan.json in both directions: what is written is read back, and older files are read too."""

import hashlib
import json
from pathlib import Path

import pytest

import cutplan
from cutplan.base.errors import InputError
from cutplan.record import PlanRecord, nest_record, plan_json, plan_record, planned_of, read_plan


@pytest.fixture(scope="module")
def plan() -> cutplan.Plan:
    slot = cutplan.circle((30, 25), 8)
    part = cutplan.make_part("tab", cutplan.polygon([(0, 0), (80, 0), (80, 50), (0, 50)]), [slot])
    parts = [cutplan.wanted(part, 2, thickness=10, grade="S355", mirror=True)]
    return cutplan.plan(
        cutplan.Job(
            "tabs", parts, [cutplan.on_offer("PL10", 400, 300, thickness=10, grade="S355", heat="H1")]
        )
    )


def test_the_record_survives_writing_and_reading(plan: cutplan.Plan) -> None:
    text = plan_json(plan, {"PL10-1.nc": "0" * 64})
    record = PlanRecord.model_validate(json.loads(text))
    assert record.model_dump(by_alias=True) == plan_record(plan, {"PL10-1.nc": "0" * 64})


def test_what_is_read_back_is_what_was_planned(plan: cutplan.Plan, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text(plan_json(plan), encoding="utf-8")
    saved, sheet = read_plan(tmp_path / "plan.json"), plan.sheets[0]
    assert saved.machine == plan.machine
    assert saved.sheets[0].data.feed_mm_min == sheet.data.feed_mm_min
    assert saved.sheets[0].data.rules == sheet.data.rules  # with its infinite thickness
    assert saved.sheets[0].dialect == sheet.program.dialect
    assert saved.sheets[0].nested.plate.heat == "H1"
    for back, planned in zip(saved.sheets[0].nested.placements, sheet.nested.placements, strict=True):
        assert (back.copy, back.pose, back.part.outer) == (planned.copy, planned.pose, planned.part.outer)


def test_each_cut_names_the_contours_that_it_makes(plan: cutplan.Plan) -> None:
    cuts = json.loads(plan_json(plan))["plates"][0]["cuts"]
    assert {cut["kind"] for cut in cuts} == {"hole", "outside"}
    for cut in cuts:
        assert cut["contours"] == [
            {"part": cut["part"], "copy": cut["copy"], "hole": cut["hole"], "span_mm": None}
        ]
        assert cut["contour"] == {"hole": "hole", "outside": "outer"}[cut["kind"]]


def test_a_plan_from_before_one_run_made_several_contours_is_read_and_stays_bound(
    plan: cutplan.Plan, tmp_path: Path
) -> None:
    """Its digest of the cuts, which its programs carry, is the same as it was then."""
    content = json.loads(plan_json(plan))
    for cut in content["plates"][0]["cuts"]:
        del cut["contours"], cut["kind"]
    (tmp_path / "plan.json").write_text(json.dumps(content), encoding="utf-8")
    saved, sheet = read_plan(tmp_path / "plan.json").sheets[0], plan.sheets[0]
    assert saved.planned == planned_of(sheet.order.steps, sheet.lanes)
    rows = [
        {
            "kind": {"hole": "hole", "outside": "outer"}[cut.kind],
            "place": cut.place,
            "length_mm": cut.length_mm,
            "edge_start": cut.edge_start,
            "raised": cut.raised,
            "end": cut.end,
        }
        for cut in saved.cuts
    ]
    then = json.dumps({"cuts": rows, "torches": 1, "spacing_mm": None}, sort_keys=True)
    assert sheet.bound["cuts"] == hashlib.sha256(then.encode()).hexdigest()


def test_keys_of_a_later_version_are_passed_over_and_what_older_files_lack_has_a_default(
    plan: cutplan.Plan, tmp_path: Path
) -> None:
    content = json.loads(plan_json(plan))
    content["of a later version"] = 1
    for key in ("seed", "version", "from_rack", "totals", "unplaced", "findings", "files", "file_digests"):
        del content[key]
    for key in ("dialect", "torches", "torch_spacing_mm", "estimate", "order", "cuts"):
        del content["plates"][0][key]
    file = tmp_path / "plan.json"
    file.write_text(json.dumps(content), encoding="utf-8")
    assert read_plan(file).sheets[0].dialect == plan.sheets[0].program.dialect


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not valid JSON"),
        ('{"schema": "cutplan.plan/2"}', "schema"),
        ('{"tolerance_mm": NaN}', "NaN is no number"),
    ],
)
def test_a_file_that_is_no_plan_is_one_clear_error(text: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_plan(tmp_path / "plan.json")


def test_a_part_that_the_file_does_not_describe_is_named(plan: cutplan.Plan, tmp_path: Path) -> None:
    content = json.loads(plan_json(plan))
    content["parts"] = {}
    (tmp_path / "plan.json").write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(InputError, match="does not describe part 'tab'"):
        read_plan(tmp_path / "plan.json")


def test_a_nest_for_scripts_has_no_marks(plan: cutplan.Plan) -> None:
    nest = cutplan.Nest((plan.sheets[0].nested,), least_plates=1)
    (placement, *_) = nest_record(nest)["plates"][0]["placements"]
    assert "mark" not in placement and placement["copy"] == 1
