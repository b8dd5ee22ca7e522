"""The page in the system's Chromium: from an empty folder to released programs, by hand and by keyboard."""

from __future__ import annotations

import json
import math
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hand_jobs import hand_job
from page_server import Served

from cutplan.drawing import write_dxf
from cutplan.geometry import circle, polygon
from cutplan.planning import verify

WAIT_MS = 30_000


@pytest.fixture(scope="module")
def bench(hand_folder_fresh: Path) -> Iterator[Served]:
    page = Served(hand_folder_fresh)
    with page.client() as client:
        page.opened(client)
    yield page
    page.close()


@pytest.fixture(scope="module")
def hand_folder_fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("browser")
    hand_job(folder)
    return folder


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, locale="en-GB")
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    wrong: list[str] = []
    page.on("pageerror", lambda problem: wrong.append(str(problem)))
    page.on(
        "console",
        lambda said: (
            wrong.append(said.text) if said.type == "error" and "status of 4" not in said.text else None
        ),
    )
    page.on(
        "request",
        lambda asked: (
            wrong.append(asked.url) if not asked.url.startswith(("http://127.0.0.1", "data:")) else None
        ),
    )
    yield page
    assert wrong == []
    context.close()


def until(page: Any, true: str) -> None:
    """Wait until an expression is true; the page's policy lets no driver wait inside it."""
    page.wait_for_timeout(10)
    for _ in range(WAIT_MS // 20):
        if page.evaluate(true):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"never came true: {true}")


def sheet(page: Any, served: Served, name: str = "PL-1") -> None:
    page.goto(f"{served.address}/#/hand.toml/sheet/{name}")
    page.wait_for_selector("canvas.plate")
    until(
        page,
        "!!window.cutplan.bench && window.cutplan.bench.view.scale > 0 && !window.cutplan.bench.view.asked",
    )


def plan(page: Any) -> dict:
    return page.evaluate("window.cutplan.plan")


def lie(page: Any, part: str, copy: int) -> list | None:
    rows = [
        (s["name"], *p[2:7]) for s in plan(page)["sheets"] for p in s["placements"] if p[:2] == [part, copy]
    ]
    return list(rows[0]) if rows else None


def on_screen(page: Any, x: float, y: float) -> tuple[float, float]:
    found = page.evaluate(
        """([x, y]) => { const v = window.cutplan.bench.view, b = v.canvas.getBoundingClientRect();
        return [b.left + (x - v.corner[0]) * v.scale, b.bottom - (y - v.corner[1]) * v.scale]; }""",
        [x, y],
    )
    return (found[0], found[1])


def metal(page: Any, part: str, copy: int) -> tuple[float, float]:
    return tuple(page.evaluate(
        """([part, copy]) => { const v = window.cutplan.bench.view;
        const row = v.sheet.placements.findIndex((p) => p[0] === part && p[1] === copy), b = v.shapes[row].box;
        return [b[0] + 0.25 * (b[2] - b[0]), (b[1] + b[3]) / 2 + 15]; }""", [part, copy]))  # fmt: skip


def centre(page: Any, part: str, copy: int) -> tuple[float, float]:
    return tuple(page.evaluate(
        """([part, copy]) => { const v = window.cutplan.bench.view;
        const row = v.sheet.placements.findIndex((p) => p[0] === part && p[1] === copy), b = v.shapes[row].box;
        return [(b[0] + b[2]) / 2, (b[1] + b[3]) / 2]; }""", [part, copy]))  # fmt: skip


def drag(page: Any, start: tuple[float, float], by: tuple[float, float], steps: int = 12) -> None:
    a, b = on_screen(page, *start), on_screen(page, start[0] + by[0], start[1] + by[1])
    page.mouse.move(*a)
    page.mouse.down()
    page.mouse.move(*b, steps=steps)
    page.mouse.up()


def done(page: Any) -> str:
    until(page, "!window.cutplan.working")
    return page.inner_text("#told")


def put_back(page: Any, edits: int) -> None:
    while len(plan(page)["edits"]) > edits:
        page.keyboard.press("Control+z")
        page.wait_for_timeout(20)
        done(page)


def test_a_part_is_dragged_to_the_exact_gap_undone_and_made_again(page, bench):
    sheet(page, bench, "PL-2")
    before, count = lie(page, "ring", 1), len(plan(page)["edits"])
    gap = plan(page)["benches"][0]["gap"]
    drag(page, metal(page, "ring", 1), (150.0, 3.0))
    assert "proved" in done(page)
    x, y = lie(page, "ring", 1)[1:3]
    assert x > before[1] + 100
    # Back towards the other ring, 6 mm nearer than it may: it stops at the gap.
    here, there = centre(page, "ring", 1), centre(page, "ring", 2)
    away = math.dist(here, there)
    k = (170.0 + gap - 6.0) / away - 1.0
    drag(page, metal(page, "ring", 1), (k * (here[0] - there[0]), k * (here[1] - there[1])), steps=30)
    assert "proved" in done(page)
    found = lie(page, "ring", 1)
    apart = math.dist(centre(page, "ring", 1), there) - 170.0
    assert gap - 0.001 < apart < gap + 0.05
    page.click("button.undo")
    done(page)
    assert lie(page, "ring", 1)[1:3] == [x, y]
    page.click("button.redo")
    done(page)
    assert lie(page, "ring", 1) == found
    put_back(page, count)
    assert lie(page, "ring", 1) == before


def test_an_overlap_is_shown_while_dragging_and_refused_on_dropping(page, bench):
    sheet(page, bench)
    before = lie(page, "cover", 2)
    a, b = on_screen(page, *metal(page, "cover", 2)), on_screen(page, *metal(page, "cover", 1))
    page.mouse.move(*a)
    page.mouse.down()
    page.mouse.move(*b, steps=8)
    assert "overlaps cover" in page.inner_text(".hint")
    page.mouse.up()
    assert "overlaps cover" in done(page) and lie(page, "cover", 2) == before
    assert len(plan(page)["edits"]) == 0


def test_the_server_has_the_last_word_and_its_reason_is_shown(page, bench):
    sheet(page, bench)
    page.select_option("select.pick", label="strap 1")
    page.evaluate("window.cutplan.bench.onPart({ do: 'turn', by_deg: 90 })")
    assert "along the rolling" in done(page)


def test_all_of_it_goes_by_keyboard(page, bench):
    sheet(page, bench, "PL-2")
    before = lie(page, "ring", 1)
    page.select_option("select.pick", label="ring 1")
    page.focus("canvas.plate")
    for _ in range(3):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    done(page)
    assert lie(page, "ring", 1)[1] == pytest.approx(before[1] + 31.0)
    page.keyboard.press("p")
    done(page)
    assert lie(page, "ring", 1)[5] is True
    page.keyboard.press("ArrowRight")
    assert "pinned" in page.inner_text("#told")
    page.keyboard.press("Delete")
    assert "is pinned" in done(page)
    page.keyboard.press("p")
    done(page)
    page.keyboard.press("Delete")
    done(page)
    assert lie(page, "ring", 1) is None and plan(page)["off"] == {"ring": [1]}
    page.click("button.lay")
    for _ in range(6):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    assert "proved" in done(page) and plan(page)["off"] == {}
    put_back(page, 0)
    assert lie(page, "ring", 1) == before


def test_starts_tabs_and_places_to_keep_off_are_chosen_in_the_picture(page, bench):
    sheet(page, bench)
    row = lie(page, "strap", 2)
    page.click(".tool.start")
    page.mouse.click(*on_screen(page, row[1] + 178.0, row[2] + 20.0))
    assert "proved" in done(page)
    page.click(".tool.tab")
    page.mouse.click(*on_screen(page, row[1] + 90.0, row[2] + 39.0))
    assert "proved" in done(page) and len(plan(page)["sheets"][0]["tabs"]) == 1
    page.click(".tool.noTab")
    tab = plan(page)["sheets"][0]["tabs"][0]
    page.mouse.click(*on_screen(page, tab[0], tab[1] - 4.0))
    done(page)
    page.click(".tool.keepOff")
    drag(page, (456.0, 300.0), (40.0, 90.0))
    assert "proved" in done(page) and len(plan(page)["sheets"][0]["keep_off"]) == 1
    page.click(".tool.keepOff")
    drag(page, (20.0, 20.0), (90.0, 90.0))
    assert "keep-out" in done(page)
    assert [words.split(" ")[0] for words in plan(page)["edits"]][:2] == ["start", "tab"]
    put_back(page, 0)


def test_the_order_is_changed_and_what_must_come_first_is_refused(page, bench):
    sheet(page, bench)
    page.click(".panel-cutOrder")
    cuts = plan(page)["sheets"][0]["cuts"]
    page.select_option("select.order", index=1)
    page.click("button.earlier")
    done(page)
    after = plan(page)["sheets"][0]
    assert [c["key"] for c in after["cuts"][:2]] == [cuts[1]["key"], cuts[0]["key"]] and after["held"]
    outside = next(
        i for i, c in enumerate(after["cuts"]) if c["key"][2] == "outside" and c["key"][0] == "cover"
    )
    page.select_option("select.order", index=outside)
    page.click("button.before")
    page.select_option(
        "select.order",
        index=next(
            i for i, c in enumerate(after["cuts"]) if c["key"][:2] == after["cuts"][outside]["key"][:2]
        ),
    )
    assert "go round in a circle" in done(page)
    put_back(page, 0)


def test_the_program_and_the_picture_are_linked_both_ways(page, bench):
    sheet(page, bench)
    page.click(".panel-program")
    page.wait_for_selector(".text li[data-cut='5']")
    lines = page.eval_on_selector_all(".text li[data-cut='5']", "rows => rows.map(r => r.textContent)")
    assert any(line.startswith("M3") for line in lines) and any(line.startswith("M5") for line in lines)
    assert sum(line.startswith("M3") for line in lines) == 1
    page.click(".text li[data-cut='5'] >> nth=1")
    assert page.evaluate("window.cutplan.bench.view.lit") == 5
    pierce = plan(page)["sheets"][0]["cuts"][7]["pierce"]
    page.evaluate("window.cutplan.bench.view.choose(null)")
    page.mouse.click(*on_screen(page, *pierce))
    page.wait_for_selector(".text li.lit[data-cut='8']")
    count = page.eval_on_selector_all(
        ".text li[data-cut]", "rows => new Set(rows.map(r => r.dataset.cut)).size"
    )
    assert count == len(plan(page)["sheets"][0]["cuts"])


def test_the_playback_follows_the_torch(page, bench):
    sheet(page, bench)
    page.click(".panel-playback")
    frame = page.frame_locator("iframe.playback")
    frame.locator(".on").click()
    assert "1 of 27 cuts done" in frame.locator(".status").inner_text()
    before = frame.locator("g.torch").get_attribute("transform")
    frame.locator(".on").click()
    assert frame.locator("g.torch").get_attribute("transform") != before


def test_the_rest_is_nested_again_around_what_is_pinned(page, bench):
    sheet(page, bench, "PL-2")
    for copy in (1, 2):
        page.select_option("select.pick", label=f"ring {copy}")
        page.evaluate("window.cutplan.bench.onPart({ do: 'take off' })")
        done(page)
    sheet(page, bench, "PL-1")
    pinned = lie(page, "cover", 2)
    page.select_option("select.pick", label="cover 2")
    page.click("button.do-pin")
    done(page)
    page.click("button.improve-nest")
    assert "Something better" in done(page)
    assert plan(page)["off"] == {} and lie(page, "cover", 2)[:5] == pinned[:5]
    assert all(s["figures"]["passed"] for s in plan(page)["sheets"])
    put_back(page, 0)


def test_a_search_can_be_stopped(page, bench):
    sheet(page, bench)
    page.evaluate("""fetch('/api/jobs/hand.toml/improve', {method: 'POST', headers: {'X-Cutplan': '1', 'Content-Type': 'application/json'},
        body: JSON.stringify({what: 'order', sheet: 'PL-1'})}).then(r => r.json()).then(d => { window.stopped = d; })""")
    page.evaluate(
        "fetch('/api/jobs/hand.toml/stop', {method: 'POST', headers: {'X-Cutplan': '1'}, body: '{}'})"
    )
    until(page, "!!window.stopped")
    assert "better" in page.evaluate("window.stopped")
    with bench.client() as client:
        while client.get("/api/jobs/hand.toml/plan").json()["edits"]:
            client.post("/api/jobs/hand.toml/undo", json={})


def test_two_plans_side_by_side_say_what_differs(page, bench):
    sheet(page, bench, "PL-2")
    page.select_option("select.pick", label="ring 2")
    page.evaluate("window.cutplan.bench.onPart({ do: 'take off' })")
    done(page)
    page.goto(f"{bench.address}/#/hand.toml/compare")
    page.wait_for_selector(".pair[data-sheet='PL-2']")
    assert "ring 2" in page.inner_text(".pair[data-sheet='PL-2'] .differs")
    assert "as before" in page.inner_text(".pair[data-sheet='PL-1'] .differs")
    put_back(page, 0)


def test_the_whole_way_from_an_empty_folder_to_released_programs(page, tmp_path):
    drawings, shop = tmp_path / "drawings", tmp_path / "shop"
    drawings.mkdir()
    shop.mkdir()
    write_dxf(
        drawings / "lug.dxf",
        {"CUT": [polygon([(0, 0), (120, 0), (120, 70), (0, 70)]), circle((30, 35), 14, clockwise=True)]},
    )
    write_dxf(drawings / "washer.dxf", {"CUT": [circle((0, 0), 40), circle((0, 0), 18, clockwise=True)]})
    served = Served(shop)
    try:
        page.goto(served.address)
        page.wait_for_selector("text=No job here yet")
        page.set_input_files("#files", [drawings / "lug.dxf", drawings / "washer.dxf"])
        page.wait_for_selector(".drawings li:has-text('washer.dxf')")
        page.click("a[href='#/new']")
        page.fill("input[name=jobName]", "first batch")
        for drawing in ("lug", "washer"):
            page.fill(f"tr[data-drawing='{drawing}.dxf'] input[name=count]", "3")
        for name, value in (("length", "600"), ("width", "400"), ("count", "1")):
            page.fill(f"input[name={name}] >> nth=-1", value)
        page.click("button.make")
        page.wait_for_selector(".cards")
        assert page.inner_text("h1") == "first batch" and len(plan(page)["sheets"]) == 1
        page.click("button.release")
        page.fill("#who", "B. Cutter")
        page.click(".release-now")
        assert "files are written" in done(page)
        page.wait_for_selector("text=released by B. Cutter")
        out = shop / "first-batch-plan"
        record = json.loads((out / "plan.json").read_text())
        assert sum(len(sheet["placements"]) for sheet in record["plates"]) == 6
        for each in record["plates"]:
            assert verify(out / each["program"]).verdict.passed
    finally:
        served.close()


VIEWS = ["#/", "#/new", "#/hand.toml", "#/hand.toml/sheet/PL-1", "#/hand.toml/compare", "#/hand.toml/rack"]
CROWDED = """() => {
  const bad = [], seen = [...document.querySelectorAll('button,a,label,h1,h2,h3,b,i,span,td,th,p,li,input,select')].filter((e) => e.getClientRects().length && !e.closest('svg') && !e.closest('.text'));
  const boxes = [];
  for (const e of seen) {
    const style = getComputedStyle(e), b = e.getBoundingClientRect();
    if (e.scrollWidth > e.clientWidth + 1 && style.overflowX !== 'auto' && style.display !== 'inline' && e.clientWidth && !/INPUT|SELECT/.test(e.tagName)) bad.push('cut off: ' + e.textContent.slice(0, 40));
    if (b.right > innerWidth + 1) bad.push('beyond the window: ' + (e.textContent || e.tagName).slice(0, 40));
    if (/BUTTON|A|INPUT|SELECT|B/.test(e.tagName) && !e.querySelector('canvas') && b.width) boxes.push([e, b]);
  }
  for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
    const [a, p] = boxes[i], [c, q] = boxes[j];
    if (a.contains(c) || c.contains(a) || a.closest('#told') || c.closest('#told')) continue;
    if (Math.min(p.right, q.right) - Math.max(p.left, q.left) > 2 && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 2) bad.push(`over each other: ${a.textContent.slice(0, 30)} / ${c.textContent.slice(0, 30)}`);
  }
  if (document.documentElement.scrollWidth > innerWidth + 1) bad.push('the page is wider than the window');
  return bad;
}"""


@pytest.mark.parametrize("width", [1280, 2560])
@pytest.mark.parametrize("language", ["en", "de"])
def test_no_text_is_cut_off_and_nothing_lies_over_anything(page, bench, width, language, tmp_path):
    page.set_viewport_size({"width": width, "height": width * 9 // 16})
    page.goto(bench.address)
    page.evaluate(f"localStorage.setItem('language', '{language}')")
    for view in VIEWS:
        page.goto(f"{bench.address}/{view}")
        page.reload()
        page.wait_for_selector("main section:not(.wait)")
        panels = ["part", "cutOrder", "program", "findings"] if "sheet" in view else [None]
        for panel in panels:
            if panel:
                page.click(f".panel-{panel}")
            page.wait_for_timeout(60)
            assert page.evaluate(CROWDED) == [], f"{view} {panel}"
            assert len(page.screenshot()) > 5000


def test_everything_that_can_be_pressed_has_a_name_and_is_reached_by_the_keyboard(page, bench):
    for view in VIEWS:
        page.goto(f"{bench.address}/{view}")
        page.reload()
        page.wait_for_selector("main section:not(.wait)")
        nameless = page.evaluate("""() => [...document.querySelectorAll('button,a,input,select,canvas[role],iframe')].filter((e) => {
            const label = e.getAttribute('aria-label') || e.getAttribute('title') || e.textContent.trim() || (e.labels && [...e.labels].map((l) => l.textContent.trim()).join(''));
            return !label || (e.tabIndex < 0 && !e.disabled); }).map((e) => e.outerHTML.slice(0, 80))""")
        assert nameless == [], view


def test_both_languages_have_every_text(page, bench):
    page.goto(bench.address)
    keys = page.evaluate(
        "import('/static/texts.js').then((m) => [Object.keys(m.TEXTS.en), Object.keys(m.TEXTS.de)])"
    )
    assert sorted(keys[0]) == sorted(keys[1])
    sheet(page, bench)
    page.click("button.lang")
    assert "geprüft" in page.inner_text(".facts")
    page.click("button.lang")


def test_a_tablet_can_look_and_tick_off(chromium, bench):
    context = chromium.new_context(viewport={"width": 820, "height": 1180}, has_touch=True, locale="de-DE")
    page = context.new_page()
    sheet(page, bench)
    before = page.evaluate("window.cutplan.bench.view.corner[0]")
    x, y = on_screen(page, *metal(page, "cover", 2))
    touch = context.new_cdp_session(page)
    for kind, at in (("touchStart", x), ("touchMove", x + 30), ("touchMove", x + 80), ("touchEnd", None)):
        points = [] if at is None else [{"x": at, "y": y}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    page.wait_for_timeout(50)
    assert (
        page.evaluate("window.cutplan.bench.view.corner[0]") < before
    )  # a finger moves the picture, not the part
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
    context.close()


def test_dragging_among_five_hundred_parts_takes_less_than_a_frame(page, bench):
    sheet(page, bench)
    times = page.evaluate(
        """async () => {
        const view = window.cutplan.bench.view, plan = structuredClone(window.cutplan.plan), sheet = plan.sheets[0];
        sheet.size = [7000, 4400]; sheet.outline = [0, 0, 7000, 0, 7000, 4400, 0, 4400]; sheet.cuts = []; sheet.tabs = [];
        sheet.placements = [];
        for (let i = 0; i < 500; i++) sheet.placements.push(['cover', i + 1, 20 + (i % 25) * 225, 20 + Math.floor(i / 25) * 145, 0, false, false]);
        view.set(plan, sheet); view.fit();
        const p = sheet.placements[262];
        view.hold(p[0], p[1], { x: p[2], y: p[3], turn: 0, mirrored: false }, 262);
        view.frames = [];
        for (let k = 0; k < 90; k++) { view.bring(p[2] + 3 * Math.sin(k / 5), p[3] + 3 * Math.cos(k / 7)); await new Promise(requestAnimationFrame); }
        view.leave();
        return view.frames; }"""
    )
    times.sort()
    assert times[len(times) // 2] < 16.0, times[-5:]
    page.reload()


def test_edits_stay_when_the_browser_is_closed(chromium, bench):
    context = chromium.new_context()
    page = context.new_page()
    sheet(page, bench)
    page.evaluate("void window.cutplan.bench.view.choose(0)")
    page.evaluate("void window.cutplan.bench.pin()")
    time.sleep(0.5)
    context.close()
    again = chromium.new_page()
    sheet(again, bench)
    assert len(plan(again)["edits"]) == 1
    put_back(again, 0)
    again.close()
