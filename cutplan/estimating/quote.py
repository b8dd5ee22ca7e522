"""A batch's quote: its lines to the cent, its price, and what each part costs at each quantity.

Lines come from the estimates of the proved programs; programming, set-up, overhead and margin
are added here, once for the batch.  Each line is rounded to the cent, and sums are of rounded
lines, so that whoever adds the page up by hand gets the same figure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from cutplan.base.errors import DataError
from cutplan.estimating.model import CostLine, Estimate, EstimateOptions, PartEstimate
from cutplan.estimating.prices import Prices
from cutplan.estimating.ranges import TIME_SHARE
from cutplan.estimating.resources import HOUR_S
from cutplan.estimating.totals import add_estimates

__all__ = ["Quote", "QuoteLine", "QuotePart", "QuotedSheet", "cents", "make_quote"]

CENT = Decimal("0.01")


@dataclass(frozen=True)
class QuotedSheet:
    """A plate of the batch: its name, its estimate, and what torch setting it takes.

    Attributes
    ----------
    name : str
    estimate : Estimate
        With prices.
    setting : str
        Process, setting and thickness in words: each is set up once a batch.
    thickness : float
        Of the plate, mm.
    grade : str
    edges : str
        What the cut edges usually come to, in words.
    """

    name: str
    estimate: Estimate
    setting: str
    thickness: float = 0.0
    grade: str = ""
    edges: str = ""


@dataclass(frozen=True)
class QuoteLine:
    """A line as it stands in the quote: what for, how much, at which rate, and from where.

    `amount` is rounded to the cent; quantity times rate before that.
    """

    about: str
    item: str
    detail: str
    quantity: float
    unit: str
    rate: float
    amount: Decimal
    source: str


@dataclass(frozen=True)
class QuotePart:
    """A part of the quote.

    Attributes
    ----------
    name : str
    copies : int
        In one batch.
    thickness : float
        mm.
    grade : str
    kg_each : float or None
        True mass of a copy, holes taken out.
    price_each : mapping of int to Decimal
        Price of a copy by number of batches ordered.
    co2_kg_each : float or None
        Carbon dioxide of a copy; None without factors.
    power_kwh_each : float
    seconds_each : float
        Table time of a copy.
    """

    name: str
    copies: int
    thickness: float
    grade: str
    kg_each: float | None
    price_each: Mapping[int, Decimal]
    co2_kg_each: float | None
    power_kwh_each: float
    seconds_each: float


@dataclass(frozen=True)
class Quote:
    """A batch's quote.

    Attributes
    ----------
    job, currency : str
    basis : str
        What plates it reckons with, in words.
    lines : tuple of QuoteLine
        All of the cost, then overhead, margin and the rounding of the piece prices.
    cost : Decimal
        Sum of the lines before overhead and margin.
    price : Decimal
        Sum of all lines: of every part's copies at its price for one batch.
    low, high : Decimal
        Range of the price.
    table_s : tuple of float
        Table time of a batch, and low and high of its range, s.
    parts : tuple of QuotePart
    batch_prices : mapping of int to Decimal
        Price of one batch where so many are ordered.
    notes : tuple of str
    by_item : mapping of str to Decimal
        The lines' sums.
    edges : tuple of str
        What the cut edges usually come to, in words.
    """

    job: str
    currency: str
    basis: str
    lines: tuple[QuoteLine, ...]
    cost: Decimal
    price: Decimal
    low: Decimal
    high: Decimal
    table_s: tuple[float, float, float]
    parts: tuple[QuotePart, ...]
    batch_prices: Mapping[int, Decimal]
    notes: tuple[str, ...] = ()
    by_item: Mapping[str, Decimal] = field(default_factory=dict)
    edges: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return (
            f"<Quote {self.job!r}: {self.price} {self.currency} ({self.low} to {self.high}), "
            f"{len(self.lines)} lines, {len(self.parts)} parts>"
        )


def cents(amount: float | Decimal) -> Decimal:
    """Return an amount rounded to the cent, halves away from zero.

    Parameters
    ----------
    amount : float or Decimal

    Returns
    -------
    Decimal
    """
    return Decimal(str(amount)).quantize(CENT, ROUND_HALF_UP)


def make_quote(
    job: str,
    sheets: Sequence[QuotedSheet],
    prices: Prices,
    options: EstimateOptions,
    *,
    basis: str = "the plates of the job",
    plate_share: tuple[float, float] = (1.0, 1.0),
) -> Quote:
    """Return the quote of a batch.

    Parameters
    ----------
    job : str
    sheets : sequence of QuotedSheet
        Every plate, each estimated with `prices` and `options`.
    prices : Prices
    options : EstimateOptions
    basis : str
        What plates it reckons with, in words.
    plate_share : tuple of float
        Lowest and highest that the plates may come to, as shares of the stated ones.

    Returns
    -------
    Quote

    Raises
    ------
    DataError
        If there is no plate, or one has no cost.
    """
    if not sheets or any(sheet.estimate.cost is None for sheet in sheets):
        raise DataError("a quote needs the cost of every plate", remedy='name a price file: prices = "…"')
    total = add_estimates(sheet.estimate for sheet in sheets)
    fixed = _fixed_lines(sheets, total, prices, options)
    lines = [_rounded(sheet.name, line) for sheet in sheets for line in sheet.estimate.lines if line.quantity]
    lines += [_rounded("batch", line) for line in fixed]
    cost = sum((line.amount for line in lines), Decimal(0))
    lines += _added_lines(cost, options)
    plates = {name: sheet for sheet in sheets for name in sheet.estimate.by_part}
    parts = _parts(total, fixed, options, plates)
    lines += _rounding_line(sum((line.amount for line in lines), Decimal(0)), parts, options)
    price = sum((line.amount for line in lines), Decimal(0))
    low, high = _range(total, fixed, cost, options, plate_share)
    return Quote(
        job=job,
        currency=prices.currency,
        basis=basis,
        lines=tuple(lines),
        cost=cost,
        price=price,
        low=low,
        high=high,
        table_s=(total.time_s["total"], *total.ranges["time_s.total"]),
        parts=parts,
        batch_prices={n: _batch_price(cost, fixed, options, n) for n in options.batches},
        notes=total.notes,
        by_item=_by_item(lines),
        edges=tuple(dict.fromkeys(sheet.edges for sheet in sheets if sheet.edges)),
    )


def _fixed_lines(
    sheets: Sequence[QuotedSheet], total: Estimate, prices: Prices, options: EstimateOptions
) -> tuple[CostLine, ...]:
    """Return what a batch costs once, however often it is cut."""
    drawings, plates = len(total.by_part), len(sheets)
    settings = len({sheet.setting for sheet in sheets})
    office, table = "[estimate]", f"{prices.source}, "
    rate = prices.programming_per_hour
    rows = (
        ("programming", f"{drawings} drawings", drawings * options.programming_s_per_drawing, rate, "programming_per_hour"),
        ("programming", f"{plates} plates", plates * options.programming_s_per_plate, rate, "programming_per_hour"),
        ("set-up", f"{settings} thicknesses and processes, machine", settings * options.set_up_s_per_thickness,
         prices.machine_per_hour, "machine_per_hour"),
        ("set-up", f"{settings} thicknesses and processes, labour", settings * options.set_up_s_per_thickness,
         prices.labour_per_hour, "labour_per_hour"),
    )  # fmt: skip
    return tuple(
        CostLine(item, detail, seconds / HOUR_S, "h", rate, f"{office}; {table}{key}")
        for item, detail, seconds, rate, key in rows
        if seconds > 0.0
    )


def _rounded(about: str, line: CostLine) -> QuoteLine:
    return QuoteLine(
        about, line.item, line.detail, line.quantity, line.unit, line.rate, cents(line.amount), line.source
    )


def _added_lines(cost: Decimal, options: EstimateOptions) -> list[QuoteLine]:
    """Return overhead on the cost, and margin on both."""
    lines, sum_so_far = [], cost
    for item, share in (("overhead", options.overhead), ("margin", options.margin)):
        if share:
            amount = cents(sum_so_far * Decimal(str(share)))
            detail = f"{share:.1%} of {sum_so_far}"
            lines.append(
                QuoteLine("batch", item, detail, share, "of cost", float(sum_so_far), amount, "[estimate]")
            )
            sum_so_far += amount
    return lines


def _rounding_line(price: Decimal, parts: Sequence[QuotePart], options: EstimateOptions) -> list[QuoteLine]:
    """Return what whole cents for a piece add to the batch's price or take from it."""
    if not parts or 1 not in options.batches:
        return []
    asked = sum((part.price_each[1] * part.copies for part in parts), Decimal(0))
    difference = asked - price
    if not difference:
        return []
    detail = "piece prices in whole cents"
    return [
        QuoteLine("batch", "rounding", detail, float(difference), "", 1.0, difference, "parts of the quote")
    ]


def _by_item(lines: Sequence[QuoteLine]) -> dict[str, Decimal]:
    sums: dict[str, Decimal] = {}
    for line in lines:
        sums[line.item] = sums.get(line.item, Decimal(0)) + line.amount
    return sums


def _priced(cost: float, options: EstimateOptions) -> float:
    return cost * (1.0 + options.overhead) * (1.0 + options.margin)


def _sum(lines: Sequence[CostLine]) -> float:
    return sum(line.amount for line in lines)


def _range(
    total: Estimate,
    fixed: Sequence[CostLine],
    cost: Decimal,
    options: EstimateOptions,
    plate_share: tuple[float, float],
) -> tuple[Decimal, Decimal]:
    """Return low and high of the price: the estimates' own, office work and plates as they may come."""
    metal = sum((total.cost or {}).get(item, 0.0) for item in ("plate", "remnant credit", "scrap credit"))
    ends = []
    for end in (0, 1):
        office = _sum(fixed) * (1.0 + TIME_SHARE["handling"][end])
        plates = metal * (plate_share[end] - 1.0)
        ends.append(cents(_priced(total.ranges["cost.total"][end] + office + plates, options)))
    return ends[0], ends[1]


def _batch_price(cost: Decimal, fixed: Sequence[CostLine], options: EstimateOptions, batches: int) -> Decimal:
    once = _sum(fixed)
    return cents(_priced(float(cost) - once + once / batches, options))


def _parts(
    total: Estimate,
    fixed: Sequence[CostLine],
    options: EstimateOptions,
    plates: Mapping[str, QuotedSheet],
) -> tuple[QuotePart, ...]:
    """Return each part's price: its own costs, and the batch's by drawing or by table time.

    The batch's price is the sum of the unrounded prices; on paper each price is a whole cent.
    """
    by_drawing = sum(line.amount for line in fixed if line.detail.endswith("drawings"))
    by_time = _sum(fixed) - by_drawing
    seconds = sum(part.time_s["total"] for part in total.by_part.values())
    parts = []
    for name, part in total.by_part.items():
        once = by_drawing / len(total.by_part) + by_time * part.time_s["total"] / seconds
        parts.append(_part(name, part, once, options, plates[name]))
    return tuple(parts)


def _part(
    name: str, part: PartEstimate, once: float, options: EstimateOptions, plate: QuotedSheet
) -> QuotePart:
    copies = part.copies or 1
    own = part.cost["total"] if part.cost else 0.0
    return QuotePart(
        name=name,
        copies=copies,
        thickness=plate.thickness,
        grade=plate.grade,
        kg_each=None if part.kg is None else part.kg / copies,
        price_each={n: cents(_priced(own + once / n, options) / copies) for n in options.batches},
        co2_kg_each=None if part.co2_kg is None else part.co2_kg["total"] / copies,
        power_kwh_each=part.power_kwh / copies,
        seconds_each=part.time_s["total"] / copies,
    )
