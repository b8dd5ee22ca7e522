"""The batch's page: what stands in it, and, where a browser is at hand, what it does there."""

import json
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from cutplan.cutting import CutTime, cut_time
from cutplan.cutting.times import RunTime
from cutplan.geometry import bounds, length
from cutplan.record import Plan
from cutplan.report import batch_html
from cutplan.sequencing.heat import Sources, pieces_of, plate_heat, temperature_rise

BROWSERS = ("chromium", "chromium-browser")
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--window-size=1000,1200")  # fmt: skip

# Turns the wheel over the picture, then plays to the end; notes on the body what it found.
VISITOR = """<script>
const view = playbacks[0].view, at = view.svg.getBoundingClientRect();
const mouse = [at.left + at.width / 3, at.top + at.height / 4];
const before = view.place(...mouse);
view.box.dispatchEvent(new WheelEvent("wheel", {deltaY: -100, clientX: mouse[0], clientY: mouse[1]}));
const after = view.place(...mouse);
const pixel = view.now[2] / at.width;
document.body.dataset.drift = Math.hypot(after[0] - before[0], after[1] - before[1]) / pixel;
document.body.dataset.zoom = view.whole[2] / view.now[2];
view.box.dispatchEvent(new WheelEvent("wheel", {deltaY: 100, clientX: 0, clientY: 0}));
document.body.dataset.back = JSON.stringify(view.now) === JSON.stringify(view.whole);
document.body.dataset.lengths = JSON.stringify(playbacks[0].lengths);
document.body.dataset.fetched = performance.getEntriesByType("resource").length;
playbacks[0].show(playbacks[0].total);
const spots = [[40, 40], [150, 100], [100, 60], [5, 195]];
document.body.dataset.heat = JSON.stringify(spots.map((p) => playbacks[0].heat.at(...p, playbacks[0].total)));
document.body.dataset.shaded = playbacks[0].heat.shades.filter((path) => path.getAttribute("d")).length;
// A browser without a screen draws too few frames to play by.
window.requestAnimationFrame = (draw) => setTimeout(() => draw(performance.now()), 20);
playbacks[0].speed.value = "100";
playbacks[0].button.click();
</script></body>"""


def opened(page: str, folder: Path, fragment: str = "") -> str:
    """Return the page as it stands after its scripts ran in a headless browser."""
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        pytest.skip("no browser here to open the page in")
    file = folder / "batch.html"
    file.write_text(page, encoding="utf-8")
    command = [browser, *FLAGS, f"--user-data-dir={folder / 'profile'}", "--virtual-time-budget=20000",
               "--dump-dom", file.as_uri() + fragment]  # fmt: skip
    run = subprocess.run(command, capture_output=True, text=True, timeout=90)
    assert run.returncode == 0, run.stderr
    return run.stdout


def played(page: str) -> list[dict]:
    text = re.search(r'id="playback">(.*?)</script>', page, flags=re.S)
    assert text
    return json.loads(text.group(1))


def temperatures(batch: Plan, places: list[list[float]]) -> list[float]:
    """°C when the first sheet's playback ends, by the room's own model on the playback's clock."""
    sheet, data = batch.sheets[0], played(batch_html(batch))[0]
    height = bounds(sheet.nested.plate.outline)[3]
    middles, times, energies, clock = [], [], [], 0.0
    for step, timed in zip(sheet.order.steps, data["steps"], strict=True):
        size = length(step.lead.path)
        run = RunTime(np.array([0.0, size]), np.array([0.0, timed["run_s"]]))
        time = CutTime(timed["start_s"], run)
        place, after, energy = pieces_of(step.cut, step.lead, time, sheet.data)
        clock += timed["travel_s"]
        middles.append(place)
        times.append(clock + after)
        energies.append(energy)
        clock += time.seconds
    sources = Sources(np.vstack(middles), np.concatenate(times), np.concatenate(energies))
    heat = plate_heat(sheet.nested.plate, sheet.data, water_table=batch.machine.water_table)
    at = np.array([[x, height - y] for x, y in places])
    return (20.0 + temperature_rise(heat, sources, at, np.full(len(at), clock))).tolist()


def test_the_playback_frees_every_part_once_and_after_its_holes(batch: Plan) -> None:
    for sheet, data in zip(batch.sheets, played(batch_html(batch)), strict=True):
        freed = [part for step in data["steps"] for part in step["frees"]]
        assert sorted(freed) == list(range(len(sheet.nested.placements)))
        assert len(data["steps"]) == len(sheet.order.steps)
        assert data["kerf"] == sheet.data.kerf
        for n, step in enumerate(sheet.order.steps):
            if step.cut.kind == "hole":
                outside = [
                    s.cut.kind == "outside" and s.cut.makes[0].placement == step.cut.makes[0].placement
                    for s in sheet.order.steps
                ]
                assert n < outside.index(True)


def test_heat_model_playback_and_estimate_have_one_figure_for_a_cut(batch: Plan) -> None:
    """The estimate reads the program, whose places are rounded to a thousandth of a mm; else they agree."""
    for sheet, data in zip(batch.sheets, played(batch_html(batch)), strict=True):
        steps, spent = sheet.order.steps, sheet.estimate.time_s
        burning = sum(step["run_s"] for step in data["steps"])
        assert burning == pytest.approx(spent["cutting"], rel=1e-3)
        assert sum(step["start_s"] for step in data["steps"]) == pytest.approx(spent["piercing"], rel=1e-3)
        times = [cut_time(step.lead, sheet.data, batch.machine) for step in steps]
        assert sum(time.run.seconds for time in times) == pytest.approx(burning, abs=1e-3 * len(steps))
        # What the heat model lays down last comes half a piece before the torch goes out.
        for step, time in zip(steps, times, strict=True):
            after = pieces_of(step.cut, step.lead, time, sheet.data)[1]
            assert time.start_s < after[0] < after[-1] < time.seconds


def test_the_playback_knows_how_hot_the_plate_is_where_each_cut_begins(batch: Plan) -> None:
    for sheet, data in zip(batch.sheets, played(batch_html(batch)), strict=True):
        starts = [step["start_c"] for step in data["steps"]]
        assert starts[0] == 20
        assert max(starts) == round(sheet.order.hottest_start_c) > 20


def test_the_table_sums_the_batch(batch: Plan) -> None:
    words = " ".join(unescape(re.sub(r"<[^>]+>", " ", batch_html(batch))).split())
    weight = sum(s.part_area * 10 * 7850e-9 for s in batch.sheets)
    cut_m = sum(s.estimate.cut_length_mm for s in batch.sheets) / 1000
    assert f"all 6 {weight:.2f} {batch.total.pierces} {cut_m:.2f}" in words
    assert all(sheet.name in words for sheet in batch.sheets)


def test_the_page_is_escaped_needs_no_network_and_is_the_same_each_time(batch: Plan) -> None:
    page = batch_html(batch)
    assert page == batch_html(batch)
    assert "<b>batch" not in page
    assert "default-src 'none'" in page
    assert not re.search(r"\bsrc=|@import|\bfetch\(|XMLHttpRequest|WebSocket", page)
    assert all(link.startswith("#") for link in re.findall(r'href="([^"]*)"', page))
    assert set(re.findall(r"https?://[^\"' ]+", page)) <= {"http://www.w3.org/2000/svg"}


def test_a_browser_opens_it_at_a_cut_with_the_freed_parts_shaded(batch: Plan, tmp_path: Path) -> None:
    order = batch.sheets[0].order.steps
    done = len(order) - 1
    page = opened(batch_html(batch), tmp_path, f"#1-{done}")
    freed = sum(step.cut.kind == "outside" for step in order[:done])
    assert page.count('class="part freed"') == freed > 0
    assert f"{done} of {len(order)} cuts done, {freed} of" in page
    assert page.count('visibility="visible"') == done + 1  # the kerfs, and the torch


def test_a_browser_zooms_about_the_pointer_and_plays_to_the_end(batch: Plan, tmp_path: Path) -> None:
    page = opened(batch_html(batch).replace("</body>", VISITOR), tmp_path)
    noted = {key: unescape(value) for key, value in re.findall(r'data-(\w+)="([^"]*)"', page)}
    assert float(noted["drift"]) < 0.5  # pixels
    assert float(noted["zoom"]) == pytest.approx(1.25)
    assert noted["back"] == "true"
    assert noted["fetched"] == "0"
    # The browser measures the arcs by itself: what it draws is as long as what is cut.
    steps = batch.sheets[0].order.steps
    assert json.loads(noted["lengths"]) == pytest.approx([length(s.lead.path) for s in steps], abs=0.1)
    # The page's heat model is the order's: line sources at the same places and times.
    assert json.loads(noted["heat"]) == pytest.approx(
        temperatures(batch, [[40, 40], [150, 100], [100, 60], [5, 195]]), abs=1.0
    )
    assert int(noted["shaded"]) > 0
    count = len(batch.sheets[0].nested.placements)
    assert f"{len(steps)} of {len(steps)} cuts done, {count} of {count} parts freed; all cut" in page
