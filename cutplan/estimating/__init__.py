"""Time, gas, power, consumables and cost of a proved program."""

from cutplan.estimating.activities import TAKEN_AS_FLAT
from cutplan.estimating.calibration import FACTOR_GROUPS, Calibration, calibrate, calibrate_to
from cutplan.estimating.comparison import (
    DEFAULT_ALTERNATIVES,
    Alternative,
    Compared,
    Work,
    compare,
    retimed,
)
from cutplan.estimating.estimate import estimate, shared_between
from cutplan.estimating.model import (
    ACTIVITIES,
    CostLine,
    Estimate,
    EstimateOptions,
    PartEstimate,
)
from cutplan.estimating.options import refuse_wrong_options
from cutplan.estimating.prices import Prices, load_prices
from cutplan.estimating.quote import Quote, QuotedSheet, QuoteLine, QuotePart, cents, make_quote
from cutplan.estimating.supplies import CYLINDER_M3, acetylene_manifold, manifold_lines
from cutplan.estimating.totals import add_estimates

__all__ = [
    "ACTIVITIES",
    "CYLINDER_M3",
    "DEFAULT_ALTERNATIVES",
    "FACTOR_GROUPS",
    "TAKEN_AS_FLAT",
    "Alternative",
    "Calibration",
    "Compared",
    "CostLine",
    "Estimate",
    "EstimateOptions",
    "PartEstimate",
    "Prices",
    "Quote",
    "QuoteLine",
    "QuotePart",
    "QuotedSheet",
    "Work",
    "acetylene_manifold",
    "add_estimates",
    "calibrate",
    "calibrate_to",
    "cents",
    "compare",
    "estimate",
    "load_prices",
    "make_quote",
    "manifold_lines",
    "refuse_wrong_options",
    "retimed",
    "shared_between",
]
