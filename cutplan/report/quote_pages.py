"""A quote for the customer, as a page and as PDF, and every line of it for the shop, as CSV.

The customer sees parts and prices; what they are made of, with its sources, is the shop's own.
"""

from __future__ import annotations

import csv
import io

from cutplan.base.cleaning import csv_cell
from cutplan.estimating import Quote
from cutplan.report.pages import render
from cutplan.report.paper import Paper, new_pdf, plain_letters

__all__ = ["quote_csv", "quote_html", "quote_pdf"]

MARGIN = 15.0  # mm
LINE = 5.0  # mm
NAME_SHARE = 2.6
"""Width of the column of names over that of a figure."""
TO_FILL_IN = ("Date:", "Valid until:", "For the shop:")
HANDLING = "loading, set-up and taking off"
NOT_INCLUDED = (
    "cleaning off slag, deburring, edge preparation, drilling, bending, straightening, painting, "
    "test pieces and papers"
)
Table = tuple[list[str], list[list[str]]]
LINE_HEADINGS = ("for", "item", "what", "quantity", "unit", "rate", "amount", "source")


def quote_html(quote: Quote) -> str:
    """Return the customer's page of a quote: self-contained HTML, the same quote the same text.

    Parameters
    ----------
    quote : Quote

    Returns
    -------
    str
    """
    return render(
        "quote.html",
        quote=quote,
        tables=_tables(quote),
        terms=_terms(quote),
        to_fill_in=TO_FILL_IN,
    )


def quote_pdf(quote: Quote, *, paper: Paper = "A4") -> bytes:
    """Return the customer's quote as PDF; the same quote gives the same bytes.

    Parameters
    ----------
    quote : Quote
    paper : {"A4", "Letter"}

    Returns
    -------
    bytes
    """
    pdf = new_pdf(f"Quote {quote.job}", paper, MARGIN)
    pdf.add_page()
    pdf.set_font("Helvetica", "B", 16)
    pdf.multi_cell(0, 8, plain_letters(f"Quote: {quote.job}"), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font("Helvetica", "", 9)
    for heading, (columns, rows) in _tables(quote):
        pdf.set_y(pdf.get_y() + 4)
        pdf.set_font("Helvetica", "B", 10)
        pdf.cell(0, LINE, plain_letters(heading), new_x="LMARGIN", new_y="NEXT")
        pdf.set_font("Helvetica", "", 9)
        with pdf.table(
            borders_layout="HORIZONTAL_LINES",
            line_height=LINE,
            col_widths=(NAME_SHARE, *[1.0] * (len(columns) - 1)),
            text_align=("LEFT", *["RIGHT"] * (len(columns) - 1)),
        ) as table:
            for row in (columns, *rows):
                table.row([plain_letters(cell) for cell in row])
    pdf.set_y(pdf.get_y() + 4)
    for words in _terms(quote):
        pdf.multi_cell(0, LINE, plain_letters(words), align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_y(pdf.get_y() + 12)
    for words in TO_FILL_IN:
        pdf.cell(pdf.epw / len(TO_FILL_IN), LINE, words, border="T")
    return bytes(pdf.output())


def quote_csv(quote: Quote) -> str:
    """Return every line of a quote with its quantity, rate, amount and source, and the sums.

    Parameters
    ----------
    quote : Quote

    Returns
    -------
    str
        Amounts add up to the cent.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow((*LINE_HEADINGS[:-2], f"amount {quote.currency}", "source"))
    for line in quote.lines:
        figures = f"{line.quantity:.4f}", line.unit, f"{line.rate:g}", str(line.amount)
        words = (csv_cell(text) for text in (line.about, line.item, line.detail))
        writer.writerow([*words, *figures, csv_cell(line.source)])
    writer.writerow(("batch", "price", quote.basis, "", "", "", str(quote.price), "sum of the lines"))
    stated, low, high = (f"{seconds / 3600.0:.4f}" for seconds in quote.table_s)
    writer.writerow(
        ("batch", "table time", f"{low} to {high} h", stated, "h", "", "", "proved programs and [estimate]")
    )
    return text.getvalue()


def _part_rows(quote: Quote, batches: list[int]) -> Table:
    columns = ["part", "mm", "grade", "kg each", "pieces", *map(_each_at, batches)]
    rows = [
        [
            part.name,
            f"{part.thickness:g}",
            part.grade,
            "–" if part.kg_each is None else f"{part.kg_each:.2f}",
            str(part.copies),
            *(str(part.price_each[n]) for n in batches),
        ]
        for part in quote.parts
    ]
    return columns, rows


def _each_at(batches: int) -> str:
    return f"{batches} batch{'es' if batches > 1 else ''}"


def _batch_rows(quote: Quote, batches: list[int]) -> Table:
    columns = ["batches ordered", f"price of a batch in {quote.currency}"]
    prices = {**quote.batch_prices, 1: quote.price} if 1 in quote.batch_prices else quote.batch_prices
    return columns, [[str(n), str(prices[n])] for n in batches]


def _energy_rows(quote: Quote) -> Table:
    """Return electricity and carbon dioxide of a piece; no rows where the shop states no factors."""
    rows = [
        [part.name, f"{part.power_kwh_each:.2f}", f"{part.co2_kg_each:.2f}"]
        for part in quote.parts
        if part.co2_kg_each is not None
    ]
    return ["part", "electricity, kWh each", "carbon dioxide, kg each"], rows


def _tables(quote: Quote) -> list[tuple[str, Table]]:
    batches = sorted(quote.batch_prices)
    tables = [
        (f"Parts: price of a piece in {quote.currency}, by batches ordered", _part_rows(quote, batches)),
        ("Batches", _batch_rows(quote, batches)),
        ("Energy of a piece", _energy_rows(quote)),
    ]
    return [(heading, table) for heading, table in tables if table[1]]


def _terms(quote: Quote) -> tuple[str, ...]:
    edges = f"Cut edges by ISO 9013 as usually reached: {'; '.join(quote.edges)}." if quote.edges else ""
    terms = (
        f"Price of one batch: {quote.price} {quote.currency}, without tax and carriage. All prices in {quote.currency}.",
        f"Included: {', '.join(_included(quote))}.",
        f"Not included unless agreed: {NOT_INCLUDED}.",
        edges,
        f"Reckoned with {quote.basis}. As planned it may come to {quote.low} to {quote.high} {quote.currency}.",
    )
    return tuple(words for words in terms if words)


def _included(quote: Quote) -> list[str]:
    """Return what the lines of the quote pay for, in words."""
    paid = {(line.item, line.detail) for line in quote.lines if line.amount > 0}
    items = {item for item, _ in paid}
    return [
        words
        for words, found in (
            ("plate", "plate" in items),
            ("cutting with gas, power and wear", ("machine", "cutting") in paid),
            ("loading and set-up", "set-up" in items or ("machine", HANDLING) in paid),
            ("taking off and sorting", ("labour", "sorting") in paid),
            ("programming", "programming" in items),
        )
        if found
    ]
