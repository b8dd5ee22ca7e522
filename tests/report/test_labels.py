"""Labels say where a part came from, in words and in a code.

The codes are read by general-purpose libraries: PDFium draws the page, ZXing scans the picture.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from cutplan.record import Plan, plan_name, plan_record
from cutplan.report import labels_html, labels_pdf, part_labels

DOTS_PER_INCH = 300


def pictures(pdf: bytes) -> Iterator[np.ndarray]:
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        yield np.asarray(page.render(scale=DOTS_PER_INCH / 72).to_pil().convert("L"))
    document.close()


def scanned(pdf: bytes) -> list[str]:
    return [code.text for picture in pictures(pdf) for code in zxingcpp.read_barcodes(picture)]


def relabelled(batch: Plan, name: str, heat: str) -> Plan:
    """Return the batch with its first part and its heat called something else."""
    sheet = batch.sheets[0]
    first, *others = sheet.nested.placements
    first = replace(first, part=replace(first.part, name=name))
    plate = replace(sheet.nested.plate, heat=heat)
    nested = replace(sheet.nested, plate=plate, placements=(first, *others))
    return replace(batch, sheets=(replace(sheet, nested=nested),))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_scanner_reads_every_part_of_the_batch(batch: Plan, paper: str) -> None:
    codes = scanned(labels_pdf(batch, paper=paper))
    assert sorted(codes) == sorted(label.coded for label in part_labels(batch))
    assert len(codes) == len(set(codes)) == 6
    assert "part ring & washer\ncopy 1\nplate PL10-1\nheat H4711\njob dolly <b>batch</b> & spares" in codes[0]


def test_the_marks_are_those_of_the_plan_file(batch: Plan) -> None:
    record = plan_record(batch)
    marks = [placement["mark"] for sheet in record["plates"] for placement in sheet["placements"]]
    assert [label.mark for label in part_labels(batch)] == marks
    assert len(set(marks)) == 6
    assert record["plan"] == plan_name(batch)


def test_another_plan_has_other_marks(batch: Plan) -> None:
    other = relabelled(batch, "ring & washer", "H9")
    assert plan_name(other) != plan_name(batch)
    assert not {x.mark for x in part_labels(other)} & {x.mark for x in part_labels(batch)}


def test_a_code_keeps_letters_that_the_printed_words_lose(batch: Plan) -> None:
    codes = scanned(labels_pdf(relabelled(batch, "Lochblech Łódź", "鋼-7")))
    assert any("part Lochblech Łódź" in code and "heat 鋼-7" in code for code in codes)


def test_long_names_stay_on_their_label(batch: Plan) -> None:
    long = relabelled(batch, "W" * 60, "H" * 60)
    pdf = labels_pdf(long)
    assert len(scanned(pdf)) == len(long.sheets[0].nested.placements)
    (picture,) = pictures(pdf)
    # A label is a third of 190 mm wide and an eighth of 277 mm high; its code's 25 mm end 2 mm
    # before its right edge, and nothing stands in the 1.5 mm before that.
    right, dots_per_mm = 10 + 190 / 3, DOTS_PER_INCH / 25.4
    before_code = slice(round((right - 28.5) * dots_per_mm), round((right - 27.2) * dots_per_mm))
    rows = slice(round(11 * dots_per_mm), round((10 + 277 / 8 - 1) * dots_per_mm))
    assert (picture[rows, before_code] == 255).all()
    assert (picture[rows, : before_code.start] < 128).any()


def test_more_than_a_page_of_parts_goes_on_a_second_page(batch: Plan) -> None:
    sheet = batch.sheets[0]
    many = tuple(replace(sheet.nested.placements[0], copy=copy) for copy in range(1, 31))
    plan = replace(batch, sheets=(replace(sheet, nested=replace(sheet.nested, placements=many)),))
    assert len(list(pictures(labels_pdf(plan)))) == 2
    assert labels_html(plan).count('class="page"') == 2
    assert labels_html(plan).count("<svg") == 30


def test_the_page_shows_names_as_words_and_not_as_markup(batch: Plan) -> None:
    page = labels_html(batch)
    assert "dolly &lt;b&gt;batch&lt;/b&gt; &amp; spares" in page
    assert "<b>" not in page
    assert page == labels_html(batch)


def test_the_same_plan_gives_the_same_bytes(batch: Plan) -> None:
    assert labels_pdf(batch) == labels_pdf(batch)
