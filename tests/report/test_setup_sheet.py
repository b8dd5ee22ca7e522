"""The setup sheet holds what the operator sets the table up by, and needs nothing beside itself."""

import math
import re
from dataclasses import replace
from html import unescape

import pytest

from cutplan.base.words import duration
from cutplan.estimating import TAKEN_AS_FLAT
from cutplan.record import Plan
from cutplan.report import setup_sheet_html, sheet_parts


def words_of(page: str) -> str:
    """Return what the page says, without its picture, styles and tags."""
    page = re.sub(r"<(svg|style)\b.*?</\1>", " ", page, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_the_sheet_names_plate_process_gases_and_programs(batch: Plan) -> None:
    for sheet in batch.sheets:
        words = words_of(setup_sheet_html(sheet, batch))
        data = sheet.data
        for wanted in ("plate PL10", "300 × 200 mm", "thickness 10 mm", "S355", "heat H4711", data.setting,
                       f"kerf {data.kerf:.2f} mm", f"feed {data.feed_mm_min:.0f} mm/min", data.reason,
                       f"{data.pierce_height:g} mm high, {data.pierce_s:g} s", f"program {sheet.name}.nc",
                       *(text[1:] for text in data.cautions)):  # fmt: skip
            assert wanted in words
        for flow in data.gases:
            assert f"{flow.gas} {flow.phase} {flow.flow_m3_h:.2f}" in words
        assert f"total {duration(sheet.estimate.time_s['total'])}" in words


def test_every_cut_stands_in_the_order_of_cutting(batch: Plan) -> None:
    sheet = batch.sheets[0]
    words = words_of(setup_sheet_html(sheet, batch))
    order = words[words.index("Order of cutting") :]
    rows = [f"{n} {step.cut.makes[0].part} {step.cut.makes[0].copy} {'hole 1' if step.cut.kind == 'hole' else 'outside'}"
            for n, step in enumerate(sheet.order.steps, start=1)]  # fmt: skip
    assert order.endswith(" ".join(rows))


def test_weights_are_those_of_the_drawn_metal(batch: Plan) -> None:
    """A ring of 120 and 60 mm, 10 mm thick, at 7850 kg/m³ (EN 1991-1-1 gives 77 to 78.5 kN/m³)."""
    parts = [part for sheet in batch.sheets for part in sheet_parts(sheet)]
    ring = math.pi / 4 * (120**2 - 60**2) * 10 * 7850e-9
    strip = 150 * 40 * 10 * 7850e-9
    for part in parts:
        assert part.weight_kg == pytest.approx(ring if part.name.startswith("ring") else strip, rel=1e-6)
    assert sum(part.quantity for part in parts) == 6
    page = words_of(setup_sheet_html(batch.sheets[0], batch))
    assert all(f"{p.weight_kg:.2f} {p.total_kg:.2f}" in page for p in sheet_parts(batch.sheets[0]))


def test_names_are_escaped_and_nothing_is_fetched(batch: Plan) -> None:
    page = setup_sheet_html(batch.sheets[0], batch)
    assert "dolly &lt;b&gt;batch&lt;/b&gt; &amp; spares" in page
    assert "<b>batch" not in page
    assert "ring & washer" not in page
    assert not re.search(r"\b(src|href)=|url\(|@import", page)
    assert set(re.findall(r"https?://[^\"' ]+", page)) <= {"http://www.w3.org/2000/svg"}


def test_the_cautions_fit_the_process(batch: Plan) -> None:
    words = words_of(setup_sheet_html(batch.sheets[0], batch))
    for caution in ("torch off", "operator stays in charge", "Fumes", "Ultraviolet", "Fire", "Local codes",
                    "Arc voltage kills"):  # fmt: skip
        assert caution in words
    assert "flashback arrestors" not in words


def test_the_same_plan_gives_the_same_page(batch: Plan) -> None:
    sheet = batch.sheets[0]
    assert setup_sheet_html(sheet, batch) == setup_sheet_html(sheet, batch)


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0:00"), (59.6, "1:00"), (245, "4:05"), (3599.7, "1:00:00"), (3723, "1:02:03")]
)
def test_times_are_read_as_on_a_clock(seconds: float, words: str) -> None:
    assert duration(seconds) == words


def test_a_program_that_takes_the_plate_as_flat_says_so_on_the_sheet(batch: Plan) -> None:
    sheet = batch.sheets[0]
    assert "takes the plate as flat" not in words_of(setup_sheet_html(sheet, batch))
    noted = replace(
        sheet, estimate=replace(sheet.estimate, notes=(f"heights, {TAKEN_AS_FLAT} before each start",))
    )
    changed = replace(batch, sheets=(noted, *batch.sheets[1:]))
    assert "takes the plate as flat" in words_of(setup_sheet_html(noted, changed))
