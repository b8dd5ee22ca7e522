"""A job quoted on its own plates, on plates of a size, and on plate yet to be ordered."""

import csv
import io
import json
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan.base.errors import InputError, JobError
from cutplan.cli import app
from cutplan.estimating import EstimateOptions, Quote
from cutplan.planning import load_job, quote_job
from cutplan.report import quote_csv, quote_html, quote_pdf

PRICES = """
currency = "EUR"
machine_per_hour = 60
labour_per_hour = 40
power_per_kwh = 0.3
scrap_credit_per_kg = 0.2
plate_per_kg = { default = 1.2 }
gas_per_m3 = { oxygen = 2.0, air = 0.05 }
consumable_set = { plasma = 50 }
"""
JOB = """
prices = "prices.toml"
estimate = "shop.toml"
[order]
effort = 0.1

[job]
name = "covers"
[machine]
table = [3000, 1500]
[[plate]]
id = "A"
length = 1200
width = 1000
thickness = 10
grade = "S355"
[[part]]
name = "cover"
shape = { kind = "rectangle", length = 200, width = 100 }
quantity = 4
thickness = 10
grade = "S355"
"""
SHOP = """
[estimate]
programming_s_per_drawing = 300
set_up_s_per_plate = 120
sorting_s_per_piece = 10
overhead = 0.1
margin = 0.2
batches = [1, 5]
co2_kg_per_kwh = 0.4
co2_kg_per_kg_plate = { default = 2.0 }
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("quote")
    for name, text in (("job.toml", JOB), ("prices.toml", PRICES), ("shop.toml", SHOP)):
        (place / name).write_text(text)
    return place


@pytest.fixture(scope="module")
def quote(folder: Path) -> Quote:
    return quote_job(load_job(folder / "job.toml"))


def test_a_job_is_quoted_on_its_own_plates_with_the_remnant_credited(quote: Quote) -> None:
    assert quote.basis == "the plates of the job"
    # 1.2 m² of plate at 94.20 kg; about nine tenths of it is kept.
    (credit,) = (line for line in quote.lines if line.item == "remnant credit")
    assert -94.2 < credit.quantity < -60.0 and credit.rate == 1.2
    (cover,) = quote.parts
    assert (cover.name, cover.copies) == ("cover", 4)
    assert quote.price == 4 * cover.price_each[1]
    assert cover.price_each[5] < cover.price_each[1]
    assert cover.co2_kg_each is not None and cover.co2_kg_each > 2.0 * 1.57
    assert quote.low < quote.price < quote.high


def test_the_shops_own_file_sets_what_its_hands_cost(folder: Path) -> None:
    options = load_job(folder / "job.toml").estimate
    assert options == EstimateOptions(
        programming_s_per_drawing=300, set_up_s_per_plate=120, sorting_s_per_piece=10, overhead=0.1, margin=0.2,
        batches=(1, 5), co2_kg_per_kwh=0.4, co2_kg_per_kg_plate={"default": 2.0},
    )  # fmt: skip
    (folder / "wrong.toml").write_text("[estimate]\noverhed = 0.1\n")
    (folder / "bad.toml").write_text(JOB.replace("shop.toml", "wrong.toml"))
    with pytest.raises(JobError, match=r"wrong.toml.*overhed"):
        load_job(folder / "bad.toml")


def test_plates_of_a_stated_size_are_bought_whole(folder: Path) -> None:
    # Even a job without a plate can be quoted so.
    (folder / "none.toml").write_text(JOB[: JOB.index("[[plate]]")] + JOB[JOB.index("[[part]]") :])
    answer = quote_job(load_job(folder / "none.toml"), stock_size=(600, 400))
    assert answer.basis == "plates of 600 × 400 mm, bought whole"
    (plate,) = (line for line in answer.lines if line.item == "plate")
    assert plate.quantity == pytest.approx(0.6 * 0.4 * 78.5)


def test_plate_of_a_width_is_ordered_to_length_and_the_range_says_how_sure(folder: Path) -> None:
    answer = quote_job(load_job(folder / "job.toml"), width=500)
    assert answer.basis == "plate 500 mm wide, ordered to length"
    (plate,) = (line for line in answer.lines if line.item == "plate")
    # Four pieces of 200 × 100 mm, 9 mm apart: 0.08 m² of metal, and not half as much again of waste.
    assert 0.08 * 78.5 < plate.quantity < 0.16 * 78.5
    assert answer.low < answer.price < answer.high


def test_what_cannot_be_quoted_says_why(folder: Path) -> None:
    job = load_job(folder / "job.toml")
    with pytest.raises(InputError, match="two ways to reckon"):
        quote_job(job, width=500, stock_size=(600, 400))
    with pytest.raises(InputError, match="cannot measure -5 mm"):
        quote_job(job, width=-5)
    (folder / "free.toml").write_text(JOB.replace('prices = "prices.toml"\n', ""))
    with pytest.raises(JobError, match=r"a quote needs prices.*name a price file"):
        quote_job(load_job(folder / "free.toml"))


def test_the_csv_holds_every_line_and_adds_up_to_the_price(quote: Quote) -> None:
    rows = list(csv.DictReader(io.StringIO(quote_csv(quote))))
    *lines, price, time = rows
    low, high = (float(each.split()[0]) for each in time["what"].split(" to "))
    assert time["item"] == "table time" and low < float(time["quantity"]) < high
    assert sum(Decimal(row["amount EUR"]) for row in lines) == Decimal(price["amount EUR"]) == quote.price
    assert len(lines) == len(quote.lines) and all(row["source"] for row in lines)


def test_the_customers_page_shows_parts_and_prices_and_not_the_shops_own(quote: Quote) -> None:
    page = quote_html(quote)
    assert page == quote_html(quote)
    assert "cover" in page and str(quote.parts[0].price_each[5]) in page and str(quote.price) in page
    for words in ("S355", "kg each", "Included: plate, cutting", "Not included unless agreed", "ISO 9013"):
        assert words in page
    for own in ("margin", "overhead", "scrap", "prices.toml"):
        assert own not in page[page.index("<body>") :]
    assert quote_pdf(quote).startswith(b"%PDF") and quote_pdf(quote) == quote_pdf(quote, paper="A4")
    assert quote_pdf(quote, paper="Letter") != quote_pdf(quote)


def test_the_command_writes_page_pdf_and_csv(folder: Path, tmp_path: Path) -> None:
    done = CliRunner().invoke(
        app, ["quote", str(folder / "job.toml"), "--out", str(tmp_path / "q"), "--json"]
    )
    assert done.exit_code == 0, done.output
    record = json.loads(done.stdout)
    assert record["price"] == str(sum(Decimal(line["amount"]) for line in record["lines"]))
    assert {file.name for file in (tmp_path / "q").iterdir()} == {"quote.html", "quote.pdf", "quote.csv"}
