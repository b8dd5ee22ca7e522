"""The printed setup sheet, read back with a general PDF reader that knows nothing of us."""

import io
import math
import re
from dataclasses import replace

import pytest
from pypdf import PdfReader

from cutplan.record import Plan
from cutplan.report import setup_sheet_html, setup_sheet_pdf
from cutplan.report.setup_content import setup_content

POINTS_PER_MM = 72 / 25.4
# ISO 216 and ANSI/ASME Y14.1 sizes, mm.
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


def words_of(pdf: bytes) -> str:
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(text.split())


@pytest.mark.parametrize("paper", PAPERS)
def test_it_is_of_the_size_of_paper_asked_for(batch: Plan, paper: str) -> None:
    pages = PdfReader(io.BytesIO(setup_sheet_pdf(batch.sheets[0], batch, paper=paper))).pages
    for page in pages:
        size = (float(page.mediabox.width) / POINTS_PER_MM, float(page.mediabox.height) / POINTS_PER_MM)
        assert sorted(size) == pytest.approx(PAPERS[paper], abs=0.1)


def test_it_says_what_the_page_says(batch: Plan) -> None:
    for sheet in batch.sheets:
        content, words = setup_content(sheet, batch), words_of(setup_sheet_pdf(sheet, batch))
        for name, value in (*content.plate, *content.process, *content.times, *content.takes):
            assert name in words
            assert value in words
        for number, (part, copy, contour) in enumerate(content.steps, start=1):
            assert f"{number} {part}, copy {copy}: {contour}" in words
        for caution in content.cautions:
            assert caution in words


def test_a_long_order_runs_over_pages_and_loses_no_cut(batch: Plan) -> None:
    sheet = batch.sheets[0]
    steps = sheet.order.steps * math.ceil(540 / len(sheet.order.steps))
    long = replace(sheet, order=replace(sheet.order, steps=steps))
    pdf = setup_sheet_pdf(long, replace(batch, sheets=(long,)))
    words = words_of(pdf)
    assert len(PdfReader(io.BytesIO(pdf)).pages) > 2
    for number, step in enumerate(steps, start=1):
        assert f"{number} {step.cut.makes[0].part}, copy {step.cut.makes[0].copy}" in words


def test_letters_the_fonts_lack_are_replaced_and_stay_in_the_page(batch: Plan) -> None:
    sheet = batch.sheets[0]
    plate = replace(sheet.nested.plate, heat="Łódź-鋼")
    foreign = replace(sheet, nested=replace(sheet.nested, plate=plate))
    plan = replace(batch, sheets=(foreign,))
    assert "Łódź-?" in words_of(setup_sheet_pdf(foreign, plan))
    assert "Łódź-鋼" in setup_sheet_html(foreign, plan)


def test_the_same_plan_gives_the_same_bytes_without_todays_date(batch: Plan) -> None:
    pdf = setup_sheet_pdf(batch.sheets[0], batch)
    assert setup_sheet_pdf(batch.sheets[0], batch) == pdf
    assert set(re.findall(rb"D:(\d{4})", pdf)) == {b"2000"}
