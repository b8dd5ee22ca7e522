"""The demo from job file to programs, replayed by code that shares nothing with the package.

The replay reads plain RS-274 words (NISTIR 6556) with a regular expression, sweeps the kerf
with shapely (a general-purpose geometry library), and holds what is left of the plate against
the contours that the drawings give.
"""

import contextlib
import io
import json
import math
import re
import shutil
import subprocess
import sys
from pathlib import Path
from unittest import mock

import pytest
import shapely
from replay import CHORD_MM, replay
from replay_judge import pierces_too_near
from replay_ways import outline_points
from shapely.geometry import LineString, Point, Polygon

from cutplan.__main__ import main
from cutplan.drawing import ReadOptions, StandardPlate, read_drawing
from cutplan.geometry import to_polygon
from cutplan.planning import load_job

ROOT = Path(__file__).parent.parent
JOB = ROOT / "parts" / "dolly-batch.toml"
TOLERANCE_MM = 0.05


def run(*words: str, check: bool = False) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "cutplan", *words], cwd=ROOT, text=True, capture_output=True, check=check
    )


def here(*words: str) -> subprocess.CompletedProcess[str]:
    """Run a command in this process, which has all loaded."""
    out, err = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["cutplan", *words]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.raises(SystemExit) as ended,
    ):
        main()
    return subprocess.CompletedProcess(words, int(ended.value.code or 0), out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "out"
    done = run("plan", str(JOB), "--out", str(folder))
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="module")
def plan(out: Path) -> dict:
    return json.loads((out / "plan.json").read_text(encoding="utf-8"))


def drawn_parts(plan: dict) -> dict[str, Polygon]:
    millimetres = {"ring-flange", "wear-strip", "boss-ring"}
    parts = {}
    shapes = {entry.label: entry.shape for entry in load_job(JOB).parts if getattr(entry, "shape", None)}
    for name, record in plan["parts"].items():
        if record["piece"] is not None:
            parts[name] = piece_of(shapes[record["piece"]["split"]["of"]], record["piece"])
            continue
        if name == "stay-bracket":
            parts[name] = Polygon(
                outline_points(record["outer"]), [outline_points(hole) for hole in record["holes"]]
            )
            continue
        options = ReadOptions(units="mm" if name in millimetres else None)
        part = read_drawing(ROOT / "parts" / f"{name}.dxf", options).parts[0]
        parts[name] = to_polygon(part.outer, part.holes, tolerance=CHORD_MM)
    return parts


def piece_of(shape: StandardPlate, piece: dict) -> Polygon:
    """Cut a piece out of the whole part between its splices, by shapely."""
    whole, split = shape.part("whole"), piece["split"]
    ends = [0.0, *split["splices_mm"], split["length_mm"]]
    half, n = 0.5 * split["gap_mm"], piece["number"]
    low = ends[n - 1] + (half if n > 1 else -1.0)
    high = ends[n] + (1.0 if n == len(ends) - 1 else -half)
    return to_polygon(whole.outer, whole.holes, tolerance=CHORD_MM).intersection(
        shapely.box(low, -1e4, high, 1e4)
    )


def on_plate(polygon: Polygon, placement: dict) -> Polygon:
    if placement["mirrored"]:
        polygon = shapely.affinity.scale(polygon, -1, 1, origin=(0, 0))
    polygon = shapely.affinity.rotate(polygon, placement["rotation_deg"], origin=(0, 0))
    return shapely.affinity.translate(polygon, placement["x_mm"], placement["y_mm"])


def test_the_replayed_programs_free_every_part_as_drawn(out: Path, plan: dict) -> None:
    parts = drawn_parts(plan)
    freed = 0
    for sheet in plan["plates"]:
        radius = sheet["kerf_mm"] / 2
        cuts = replay((out / sheet["program"]).read_text())
        kerf = shapely.union_all([LineString(cut).buffer(radius, quad_segs=64) for cut in cuts])
        plate = shapely.box(0, 0, sheet["length_mm"], sheet["width_mm"])
        pieces = list(shapely.get_parts(plate.difference(kerf)))
        tree = shapely.STRtree(pieces)
        placed = [on_plate(parts[p["part"]], p) for p in sheet["placements"]]
        metal = shapely.union_all(placed)
        assert not any(metal.contains(Point(cut[0])) for cut in cuts), "a pierce on a part"
        for part in placed:
            # A jet of radius r leaves its fillets in re-entrant corners: the closing by r.
            allowed = part.buffer(radius, quad_segs=64).buffer(TOLERANCE_MM - radius, quad_segs=64)
            needed = part.buffer(-TOLERANCE_MM)
            inside = [pieces[k] for k in tree.query(needed, predicate="intersects")]
            assert len(inside) == 1, "a part that is not one piece"
            assert needed.difference(inside[0]).area < 1e-6, "a bite into a part"
            assert inside[0].difference(allowed).area < 1e-6, "metal left on a part"
            freed += 1
    assert freed == 138


def test_every_pierce_keeps_its_clearance_from_parts_edges_and_earlier_cuts(out: Path, plan: dict) -> None:
    parts = drawn_parts(plan)
    for sheet in plan["plates"]:
        rules = sheet["cut_data"]["rules"]
        wrong = pierces_too_near(
            replay((out / sheet["program"]).read_text()),
            sheet["kerf_mm"],
            rules["pierce_mound"],
            rules["pierce_clearance"],
            [on_plate(parts[p["part"]], p) for p in sheet["placements"]],
            shapely.box(0, 0, sheet["length_mm"], sheet["width_mm"]),
        )
        assert wrong == []


def test_holes_are_cut_before_the_outside_of_their_part(plan: dict) -> None:
    for sheet in plan["plates"]:
        last_hole, outside = {}, {}
        for cut in sheet["cuts"]:
            key = (cut["part"], cut["copy"])
            if cut["contour"] == "hole":
                last_hole[key] = cut["n"]
            elif cut["contour"] == "outer":
                outside[key] = cut["n"]
        assert len(outside) == len(sheet["placements"])
        assert all(n < outside[key] for key, n in last_hole.items())


def test_the_plan_keeps_its_contract(out: Path, plan: dict) -> None:
    assert plan["schema"] == "cutplan.plan/1"
    assert sum(len(sheet["placements"]) for sheet in plan["plates"]) == 138
    assert plan["unplaced"] == []
    for sheet in plan["plates"]:
        assert sheet["verification"]["passed"]
        assert (
            max(sheet["verification"]["worst_bite_mm"], sheet["verification"]["worst_left_mm"]) < TOLERANCE_MM
        )
        assert {"total", "cutting", "piercing", "preheating", "travel"} <= set(sheet["estimate"]["time_s"])
        assert (out / f"{sheet['id']}-{sheet['sheet']}.svg").is_file()
    assert sorted(plan["files"]) == sorted(p.name for p in out.iterdir())


def test_the_spine_comes_in_pieces_that_make_it_and_its_bracket_by_the_standards_length(
    out: Path, plan: dict
) -> None:
    joints = {joint["part"]: joint for joint in plan["joints"]}
    assert set(joints) == {"spine-web", "spine-flange"}
    for joint in joints.values():
        assert sum(joint["lengths_mm"]) + joint["gap_mm"] == pytest.approx(9000.0)
    assert abs(joints["spine-web"]["beam_at_mm"] - joints["spine-flange"]["beam_at_mm"]) >= 300.0
    assert (out / "joints.csv").is_file() and (out / "joints.html").is_file()
    # DIN 6935 for r = 12.8, by the die of 80, and s = 8: v = pi/2 (r + s k/2) - 2 (r + s), k = 0.65 + lg(r/s)/2.
    r = plan["parts"]["stay-bracket"]["bends"][0]["radius_mm"]
    assert r == pytest.approx(12.8)
    v = math.pi / 2 * (r + 4 * (0.65 + 0.5 * math.log10(r / 8))) - 2 * (r + 8)
    xs = [x for x, _, _ in plan["parts"]["stay-bracket"]["outer"]]
    assert max(xs) - min(xs) == pytest.approx(100 + 160 + 100 + 2 * v, abs=0.01)


def test_a_program_is_proved_again_and_an_edited_one_is_recognised(
    out: Path, plan: dict, tmp_path: Path
) -> None:
    name = plan["plates"][-1]["program"]
    good = run("verify", str(out / name), "--plan", str(out / "plan.json"))
    assert good.returncode == 0, good.stdout + good.stderr
    assert "word for word" in good.stdout
    drawn = here(
        "verify", str(out / name), "--plan", str(out / "plan.json"), "--drawings", str(ROOT / "parts")
    )
    assert drawn.returncode == 0, drawn.stdout
    changed = tmp_path / "drawings"
    shutil.copytree(ROOT / "parts", changed)
    shutil.copy(changed / "ring-flange.dxf", changed / "boss-ring.dxf")
    other = here("verify", str(out / name), "--plan", str(out / "plan.json"), "--drawings", str(changed))
    assert other.returncode == 3
    text = (out / name).read_text()
    edited = tmp_path / name
    edited.write_text(text.replace("M3\n", "", 1))
    picture = tmp_path / "trouble.svg"
    bad = here("verify", str(edited), "--plan", str(out / "plan.json"), "--svg", str(picture))
    assert bad.returncode == 3
    assert ">1</text>" in picture.read_text()
    assert "EDITED" in bad.stdout and "FAILED" in bad.stdout


SMALL = """
[job]
name = "washers"
[order]
effort = 0.1
[machine]
marker = true
[[plate]]
id = "A"
length = 500
width = 400
thickness = 10
grade = "S355"
[[part]]
name = "washer"
quantity = 4
thickness = 10
grade = "S355"
shape = { kind = "ring", outside = 120, inside = 50 }
"""


def test_the_same_seed_gives_the_same_bytes_and_other_files_stay(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(SMALL)
    texts = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "notes.txt").write_text("kept")
        assert run("plan", str(job), "--out", str(tmp_path / name), "--seed", "7").returncode == 0
        assert (tmp_path / name / "notes.txt").read_text() == "kept"
        texts.append({p.name: p.read_bytes() for p in sorted((tmp_path / name).iterdir())})
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("outside = 120", "outside = 900", "too large"),
        ('grade = "S355"\nshape', 'grade = "X9"\nshape', "unknown grade"),
        (
            'thickness = 10\ngrade = "S355"\nshape',
            'thickness = 12\ngrade = "S355"\nshape',
            "no \\[\\[plate\\]\\]",
        ),
        ("marker = true", 'postprocessor = "nowhere"', "nowhere"),
        ("quantity = 4", "quantity = -4", "quantity"),
        ("marker = true", "markr = true", "did you mean 'marker'"),
        ('name = "washer"\n', 'drawing = "none.dxf"\n', "drawing|shape"),
    ],
)
def test_bad_input_is_one_clear_error_and_nothing_is_written(
    tmp_path: Path, old: str, new: str, words: str
) -> None:
    job = tmp_path / "job.toml"
    assert old in SMALL
    job.write_text(SMALL.replace(old, new))
    done = here("plan", str(job), "--out", str(tmp_path / "out"))
    assert done.returncode == 2, done.stdout + done.stderr
    assert re.search(words, done.stderr)
    assert "Traceback" not in done.stderr
    assert done.stderr.count("error:") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]


def test_parts_that_find_no_room_are_listed_and_the_rest_is_planned(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(SMALL.replace("quantity = 4", "quantity = 40"))
    done = here("plan", str(job), "--out", str(tmp_path / "out"), "--json")
    assert done.returncode == 1
    record = json.loads(done.stdout)
    placed = sum(len(sheet["placements"]) for sheet in record["plates"])
    assert placed + sum(item["quantity"] for item in record["unplaced"]) == 40
    assert placed > 0


def test_help_reads_like_a_manual() -> None:
    done = run("--help")
    assert done.returncode == 0
    for word in ("plan", "nest", "estimate", "check", "verify", "data", "posts", "Exit codes"):
        assert word in done.stdout


def test_the_same_batch_is_compared_and_its_times_are_fitted(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(SMALL)
    compared = here("compare", str(job), "--json")
    assert compared.returncode == 0, compared.stderr
    records = {r["name"]: r for r in json.loads(compared.stdout)}
    times = {name: r["time_s"]["total"] for name, r in records.items()}
    assert times["plasma, 1 torch"] < times["oxy-fuel, 2 torches"] < times["oxy-fuel, 1 torch"]
    planned = here("estimate", str(job), "--json")
    minutes = json.loads(planned.stdout)["totals"]["time_s"]["total"] / 60
    (tmp_path / "times.csv").write_text(f"program,minutes\nA-1,{1.2 * minutes}\nA-1,{1.2 * minutes}\n")
    fitted = here("calibrate", str(job), str(tmp_path / "times.csv"), "--factors", "all")
    assert fitted.returncode == 0, fitted.stderr
    assert "all × 1.200" in fitted.stdout
    short = here("calibrate", str(job), str(tmp_path / "times.csv"))
    assert short.returncode == 2
    assert "2 measured rows for 3 factors" in short.stderr
