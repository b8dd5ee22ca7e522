"""How fast the planner's page is: frames while a part is dragged, and seconds from an edit to its proof.

    python benchmarks/page.py [--job parts/dolly-batch.toml] [--copies 500] [--edits 6]

The page is served from this process and driven in the system's Chromium.  A frame's work is what
the script does for one move of the pointer: distances to all parts near, the snap, the words.  An
edit's time runs from the request to the answer with the proved sheet, and beside it stands the
processor time of the server, which other load on the machine does not change.  `--copies` plans a
second job of that many equal parts on one plate.  Exit code 1 where the median frame takes more
than 16.7 ms or the median edit of the demo more than a second of processor time.
"""

from __future__ import annotations

import argparse
import platform
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from page_server import Served
from playwright.sync_api import sync_playwright

FRAME_MS, EDIT_S = 1000.0 / 60.0, 1.0
COPIES = """
[job]
name = "copies"
[machine]
table = [9000, 3000]
processes = ["plasma"]
max_current_a = 200
[order]
effort = 0.1
[[plate]]
id = "P"
length = 8000
width = 2500
thickness = 10
grade = "S355"
quantity = 2
[[part]]
name = "lug"
shape = { kind = "ring", outside = 110, inside = 50 }
quantity = QUANTITY
thickness = 10
grade = "S355"
"""
DRAG = """async () => {
  const view = window.cutplan.bench.view, sheet = view.sheet, row = Math.floor(sheet.placements.length / 2), p = sheet.placements[row];
  view.hold(p[0], p[1], { x: p[2], y: p[3], turn: p[4], mirrored: p[5] }, row);
  view.frames = [];
  const paints = [];
  for (let k = 0; k < 120; k++) {
    const began = performance.now();
    view.bring(p[2] + 4 * Math.sin(k / 5), p[3] + 4 * Math.cos(k / 7));
    view.paint();
    paints.push(performance.now() - began);
    await new Promise(requestAnimationFrame);
  }
  view.leave();
  return paints; }"""


def of_job(folder: Path, job: str, browser: Any, edits: int) -> dict[str, list[float]]:
    """Return milliseconds of frames, and seconds by the clock and of the processor of edits."""
    served = Served(folder)
    found: dict[str, list[float]] = {"parts": [], "frames": [], "clock": [], "processor": []}
    with served.client(timeout=600.0) as client:
        view = served.opened(client, job)
        sheet = max(view["sheets"], key=lambda sheet: len(sheet["placements"]))
        found["parts"] = [len(sheet["placements"]), len(sheet["cuts"])]
        page = browser.new_page(viewport={"width": 1600, "height": 900})
        page.goto(f"{served.address}/#/{job}/sheet/{sheet['name']}")
        page.wait_for_selector("canvas.plate", timeout=120_000)
        page.wait_for_timeout(500)
        found["frames"] = page.evaluate(DRAG)
        rows = sheet["placements"]
        for k in range(edits):
            part, copy, *_ = rows[(k * len(rows)) // edits]
            began, worked = time.perf_counter(), time.process_time()
            edit = {"do": "take off", "part": part, "copy": copy}
            assert client.post(f"/api/jobs/{job}/edits", json=edit).status_code == 200
            found["clock"].append(time.perf_counter() - began)
            found["processor"].append(time.process_time() - worked)
        for _ in range(edits):
            client.post(f"/api/jobs/{job}/undo", json={})
        page.close()
    served.close()
    return found


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--job", type=Path, default=Path("parts/dolly-batch.toml"))
    parser.add_argument("--copies", type=int, default=500)
    parser.add_argument("--edits", type=int, default=6)
    asked = parser.parse_args()
    binary = shutil.which("chromium") or shutil.which("chromium-browser")
    print(f"{platform.machine()}, Python {platform.python_version()}, {binary}")
    print(
        "| job | parts, cuts | frame, median and worst ms | edit to proof, median and worst s | processor s |"
    )
    print("|---|---|---|---|---|")
    failed = False
    with tempfile.TemporaryDirectory() as place, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=binary, args=["--no-sandbox"])
        demo, many = Path(place) / "demo", Path(place) / "many"
        shutil.copytree(asked.job.parent, demo)
        many.mkdir()
        (many / "copies.toml").write_text(COPIES.replace("QUANTITY", str(asked.copies)))
        for folder, job in ((demo, asked.job.name), (many, "copies.toml")):
            if job == "copies.toml" and not asked.copies:
                continue
            found = of_job(folder, job, browser, asked.edits)
            frame, edit = statistics.median(found["frames"]), statistics.median(found["processor"])
            failed = failed or frame > FRAME_MS or edit > EDIT_S
            print(
                f"| {job} | {', '.join(map(str, found['parts']))} | {frame:.1f}, {max(found['frames']):.1f} | "
                f"{statistics.median(found['clock']):.2f}, {max(found['clock']):.2f} | {edit:.2f} |",
                flush=True,
            )
        browser.close()
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
