"""Arcs too wide for a control are written as lines within the tolerance, and proved like any other."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from cutplan.geometry import arc, distance, join, length, polyline
from cutplan.planning import load_job, plan_job
from cutplan.program.postfile import Arcs
from cutplan.program.rounding import has_wide_arcs, without_wide_arcs

WIDE = Arcs(largest_radius_mm=100_000.0, chord_tolerance_mm=0.02)

JOB = """
[job]
name = "cambered"

[machine]
table = [3200, 1600]
max_current_a = 200
postprocessor = "{post}"

[cutting]
process = "plasma"
postprocessors = ["posts"]

[nesting]
seconds = 0.3

[[plate]]
id = "C"
length = 2500
width = 600
thickness = 10
grade = "S355"

[[part]]
name = "web"
shape = {{ kind = "beam web", length = 2000, height = 250, camber = {camber}, cut_outs = [{{ at = 700, width = 90, height = 60, edge = "upper", radius = 12 }}, {{ at = 1400, width = 120, height = 80, radius = 40 }}] }}
quantity = 1
thickness = 10
grade = "S355"
"""


@pytest.mark.parametrize("scrap", ["left", "right", "on"])
@pytest.mark.parametrize("sweep", [0.02, -0.02])
def test_lines_keep_within_the_tolerance_on_the_scrap_s_side(scrap: str, sweep: float) -> None:
    bend = arc((0.0, 300_000.0), 300_000.0, -np.pi / 2, sweep)
    path = join([polyline([(-50.0 * np.sign(sweep), 0.0), (0.0, 0.0)]), bend])
    assert has_wide_arcs(path, WIDE)
    lines = without_wide_arcs(path, WIDE, scrap)
    assert not lines.segments.is_arc.any()
    assert lines.start == pytest.approx(path.start) and lines.end == pytest.approx(path.end)
    corners = lines.points
    t = np.linspace(0, 1, 9)[:, None]
    points = np.vstack([a + t * (b - a) for a, b in itertools.pairwise(corners[1:])])
    over = np.hypot(points[:, 0], points[:, 1] - 300_000.0) - 300_000.0
    # The circle's middle lies on the left of a travel that turns left.
    outside = scrap == ("right" if sweep > 0 else "left")
    assert over.max() <= (0.02 if outside else 0.0) + 1e-6
    assert over.min() >= (0.0 if outside else -0.02) - 1e-6
    assert length(lines) == pytest.approx(length(path), rel=1e-6)
    # As few lines as the tolerance allows: 2·acos(1 − t/r) of the circle each.
    most = 0.02 / (2 * np.arccos(1 - 0.02 / 300_000.0)) + 2
    assert len(lines) <= most + 1


def test_arcs_up_to_the_limit_stay_arcs() -> None:
    path = join([arc((0.0, 50_000.0), 50_000.0, -np.pi / 2, 0.01)])
    assert without_wide_arcs(path, WIDE, "on") is path


@pytest.mark.parametrize(
    "post",
    ["rs274-metric", "rs274-control-compensation", "rs274-inch", "rs274-radius-arcs", "rs274-lines-only"],
)
def test_a_cambered_web_is_written_by_every_form_and_proved(post: str, tmp_path: Path) -> None:
    (tmp_path / "posts").mkdir()
    # 2 m with a rise of 2 mm: r = (1000² + 2²)/(2·2), 250 m.
    (tmp_path / "job.toml").write_text(JOB.format(post=post, camber=2.0))
    plan = plan_job(load_job(tmp_path / "job.toml"))
    (sheet,) = plan.sheets
    assert sheet.verdict.passed
    # Tabs and leads aside, the proof holds the arcs of the drawing, not the lines.
    assert sheet.verdict.worst_bite_mm <= 0.011 and sheet.verdict.worst_left_mm <= 0.025
    radii = sheet.nested.placements[0].part.outer.segments.radius
    assert (radii[np.isfinite(radii)] > 2e5).any()
    for i, j in re.findall(r"G0?[23].*?I(-?[\d.]+) ?J(-?[\d.]+)", sheet.program.text):
        assert np.hypot(float(i), float(j)) < 1e5


def test_a_post_processor_says_how_wide_an_arc_its_control_knows(tmp_path: Path) -> None:
    shipped = (Path(__file__).parents[2] / "postprocessors" / "rs274-metric.toml").read_text(encoding="utf-8")
    (tmp_path / "posts").mkdir()
    text = shipped.replace("[lines]", "[arcs]\nlargest_radius_mm = 300000\n\n[lines]", 1)
    assert "largest_radius_mm" in text and "[arcs]" not in shipped
    (tmp_path / "posts" / "far.toml").write_text(text, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB.format(post="far", camber=2.0))
    (sheet,) = plan_job(load_job(tmp_path / "job.toml")).sheets
    assert sheet.verdict.passed
    reaches = [
        np.hypot(float(i), float(j)) for i, j in re.findall(r"I(-?[\d.]+) ?J(-?[\d.]+)", sheet.program.text)
    ]
    assert max(reaches) > 2e5
    part = sheet.nested.placements[0].part
    assert distance(part.outer, [part.outer.start])[0] < 1e-9
