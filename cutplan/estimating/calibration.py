"""Fitting the machine's factors to measured times, and saying how well they fit.

Least squares on the relative error: each measured program is a row, each factor multiplies
the estimated seconds of a group of activities (C. F. Gauss; standard errors as in any
textbook on regression).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

import numpy as np

from cutplan.base.errors import DataError
from cutplan.base.files import LARGEST_SETTINGS, read_text
from cutplan.base.intervals import students_t
from cutplan.estimating.model import ACTIVITIES, EstimateOptions
from cutplan.geometry import FloatArray

__all__ = ["FACTOR_GROUPS", "Calibration", "calibrate", "calibrate_to", "calibration_of"]

FACTOR_GROUPS: Mapping[str, tuple[str, ...]] = {
    "cutting": ("cutting", "marking"),
    "standing": ("piercing", "preheating"),
    "moving": ("travel", "raising"),
    "all": ("cutting", "marking", "piercing", "preheating", "travel", "raising"),
}
"""Activities that one factor stands for; handling is never calibrated."""
DEFAULT_FACTORS = ("cutting", "standing", "moving")
# Above this condition number the measurements do not tell the factors apart.
WORST_CONDITION = 1e4
CONFIDENCE = 0.95
MOST_UNCERTAIN = 0.5
"""Widest half of an interval, as a share of its factor, that still tells a factor."""


@dataclass(frozen=True)
class Calibration:
    """Factors on the estimated times of a machine.

    Attributes
    ----------
    factors : mapping
        By group of activities; 1 leaves the estimate as it is.
    errors : mapping
        Standard error of each factor; nan where there are no rows to spare.
    intervals : mapping
        Of each factor, that holds the true one 95 times of 100 (Student's t); nan where there
        are no rows to spare.
    rows : int
        Measured programs; 0 where the factors were stated, not fitted.
    scatter : float
        Relative standard deviation of the measured times about the fitted ones; nan with no
        more rows than factors.
    scatter_before : float
        The same about the estimates without factors.
    r_squared : float
        Share of the spread between the programs' times that the fit explains.
    """

    factors: Mapping[str, float]
    errors: Mapping[str, float]
    rows: int
    scatter: float
    scatter_before: float
    r_squared: float
    intervals: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def by_activity(self) -> list[float]:
        """Return the factor of each activity, in the order of `ACTIVITIES`."""
        factor = dict.fromkeys(ACTIVITIES, 1.0)
        for group, value in self.factors.items():
            factor |= dict.fromkeys(FACTOR_GROUPS[group], value)
        return [factor[name] for name in ACTIVITIES]

    def _interval_in_words(self, group: str) -> str:
        if group not in self.intervals:
            return f"± {self.errors[group]:.3f}"
        low, high = self.intervals[group]
        return f"{low:.3f} to {high:.3f}"

    def settings(self) -> tuple[str, ...]:
        """Return the lines of `[estimate]` that have a shop reckon with the factors.

        Empty where as many programs as factors were measured: such a fit says nothing of itself.
        """
        if math.isnan(self.scatter):
            return ()
        rows = [
            f"{group} = [{value:.3f}, {self.intervals[group][0]:.3f}, {self.intervals[group][1]:.3f}]"
            for group, value in self.factors.items()
        ]
        return (f"time_factors = {{ {', '.join(rows)} }}", f"time_scatter = {self.scatter:.3f}")

    def summary(self) -> str:
        """Return a sentence on the factors and how well they fit."""
        parts = [
            f"{group} × {value:.3f}"
            + ("" if math.isnan(self.errors[group]) else f" ({self._interval_in_words(group)})")
            for group, value in self.factors.items()
        ]
        if not self.rows:
            return f"{', '.join(parts)}; measured times scatter by {self.scatter:.1%} about them"
        if math.isnan(self.scatter):
            return f"{', '.join(parts)}; {self.rows} programs for as many factors say nothing of the fit"
        return (
            f"{', '.join(parts)}; measured times scatter by {self.scatter:.1%} about the fit "
            f"({self.scatter_before:.1%} before), R² {self.r_squared:.3f}, from {self.rows} programs"
        )


def calibration_of(options: EstimateOptions) -> Calibration | None:
    """Return the factors that a shop states in its `[estimate]`; None where it states none.

    Parameters
    ----------
    options : EstimateOptions

    Returns
    -------
    Calibration or None
    """
    if not options.time_factors:
        return None
    stated = options.time_factors
    return Calibration(
        factors={group: factor for group, (factor, _, _) in stated.items()},
        errors={group: 0.5 * (high - low) for group, (_, low, high) in stated.items()},
        intervals={group: (low, high) for group, (_, low, high) in stated.items()},
        rows=0,
        scatter=options.time_scatter,
        scatter_before=math.nan,
        r_squared=math.nan,
    )


class Timed(Protocol):
    """What has estimated seconds by activity: an estimate, or a sheet of a plan read back."""

    @property
    def time_s(self) -> Mapping[str, float]:
        """Seconds by activity, and their total."""


def calibrate(
    file: str | Path,
    estimates: Mapping[str, Timed],
    factors: Sequence[str] = DEFAULT_FACTORS,
) -> Calibration:
    """Fit factors to measured times.

    Parameters
    ----------
    file : str or Path
        CSV with the columns ``program`` and ``minutes``, a row a measured run.
    estimates : mapping
        Estimate of each program by name, made without calibration.
    factors : sequence of str
        Groups to fit, of `FACTOR_GROUPS`; each activity in one group at most.

    Returns
    -------
    Calibration

    Raises
    ------
    DataError
        If the file is missing or wrong (with its line), names a program without estimate, has
        fewer rows than factors, or its rows do not tell the factors apart.
    """
    path = Path(file)
    _refuse_wrong_factors(factors)
    rows, measured = _read(path)
    minutes = [(program, float(seconds) / 60.0) for (_, program), seconds in zip(rows, measured, strict=True)]
    lines = [f"{path}, line {line}" for line, _ in rows]
    return calibrate_to(minutes, estimates, factors, places=lines, source=str(path))


def calibrate_to(
    minutes: Sequence[tuple[str, float]],
    estimates: Mapping[str, Timed],
    factors: Sequence[str] = DEFAULT_FACTORS,
    *,
    places: Sequence[str] = (),
    source: str = "the times",
) -> Calibration:
    """Fit factors to measured times at hand.

    Parameters
    ----------
    minutes : sequence of (str, float)
        Program and its measured minutes, one for each run.
    estimates : mapping
        Estimate of each program by name, made without calibration.
    factors : sequence of str
        Groups to fit, of `FACTOR_GROUPS`.
    places : sequence of str
        Where each time was read, for errors.
    source : str
        Where they come from in all.

    Returns
    -------
    Calibration

    Raises
    ------
    DataError
        As `calibrate`.
    """
    path = Path(source)
    _refuse_wrong_factors(factors)
    rows = [(places[n] if places else source, name) for n, (name, _) in enumerate(minutes)]
    measured = np.array([60.0 * each for _, each in minutes])
    # A program goes by its sheet's name, or by its file's.
    programs = [(line, name if name in estimates else name.rpartition(".")[0] or name) for line, name in rows]
    for line, program in programs:
        if program not in estimates:
            raise DataError(
                f"no program {program!r} among the estimates",
                where=line,
                remedy=f"programs: {', '.join(sorted(estimates))}",
            )
    if len(programs) < len(factors):
        raise DataError(
            f"{len(programs)} measured rows for {len(factors)} factors",
            where=str(path),
            remedy="measure more programs, or fit fewer factors",
        )
    parts = np.array([[_seconds(estimates[program], group) for group in factors] for _, program in programs])
    rest = np.array([_rest(estimates[program], factors) for _, program in programs])
    return _fit(path, factors, parts, measured - rest, measured)


def _seconds(estimate: Timed, group: str) -> float:
    return sum(estimate.time_s.get(activity, 0.0) for activity in FACTOR_GROUPS[group])


def _rest(estimate: Timed, factors: Sequence[str]) -> float:
    return estimate.time_s["total"] - sum(_seconds(estimate, group) for group in factors)


def _refuse_wrong_factors(factors: Sequence[str]) -> None:
    for group in factors:
        if group not in FACTOR_GROUPS:
            raise DataError(f"unknown factor {group!r}", remedy=f"use {', '.join(FACTOR_GROUPS)}")
    activities = [activity for group in factors for activity in FACTOR_GROUPS[group]]
    if not factors or len(set(activities)) < len(activities):
        raise DataError("each activity must stand under one factor", remedy="name the factors once each")


def _read(path: Path) -> tuple[list[tuple[int, str]], FloatArray]:
    """Return (line, program) of each row, and the measured seconds."""
    text = read_text(path, DataError, largest=LARGEST_SETTINGS).removeprefix("\ufeff")
    head = text.splitlines()[0] if text else ""
    reader = csv.DictReader(text.splitlines(), delimiter=";" if ";" in head else ",")
    if not reader.fieldnames or not {"program", "minutes"} <= {name.strip() for name in reader.fieldnames}:
        raise DataError(
            "the first line must name the columns", where=f"{path}, line 1", remedy="write program,minutes"
        )
    reader.fieldnames = [name.strip() for name in reader.fieldnames]
    programs: list[tuple[int, str]] = []
    seconds: list[float] = []
    for row in reader:
        where = f"{path}, line {reader.line_num}"
        try:
            minutes = float((row["minutes"] or "").replace(",", "."))
        except ValueError:
            raise DataError(f"{row['minutes']!r} is no time in minutes", where=where) from None
        if not (math.isfinite(minutes) and minutes > 0.0):
            raise DataError(f"a measured time must lie above 0 minutes, got {minutes:g}", where=where)
        programs.append((reader.line_num, (row["program"] or "").strip()))
        seconds.append(minutes * 60.0)
    return programs, np.array(seconds)


def _fit(
    path: Path, groups: Sequence[str], parts: FloatArray, wanted: FloatArray, measured: FloatArray
) -> Calibration:
    # Dividing by the estimated time makes a long program weigh no more than a short one, and
    # keeps the measurements' scatter out of what they are held against.
    weight = parts.sum(axis=1) + (measured - wanted)
    rows, right = parts / weight[:, None], wanted / weight
    _refuse_alike(path, groups, rows)
    solution = np.linalg.lstsq(rows, right, rcond=None)[0]
    # Once more, in shares of the fitted times: the scatter is relative to what a program takes.
    fitted = (rows @ solution) * weight + (measured - wanted)
    if np.all(fitted > 0.0):
        rows, right = rows * (weight / fitted)[:, None], right * weight / fitted
        solution = np.linalg.lstsq(rows, right, rcond=None)[0]
        weight = fitted
    factors = dict(zip(groups, map(float, solution), strict=True))
    _refuse_impossible(path, factors)
    misses = rows @ solution - right
    spare = len(right) - len(groups)
    # Without rows to spare the fit is exact and says nothing of the scatter.
    scatter = math.sqrt(float(misses @ misses) / spare) if spare else math.nan
    covariance = np.linalg.inv(rows.T @ rows) * scatter**2
    before = rows.sum(axis=1) - right
    errors_s = misses * weight
    errors = dict(zip(groups, map(float, np.sqrt(np.diag(covariance))), strict=True))
    spread = float(np.sum((measured - measured.mean()) ** 2))
    return Calibration(
        factors=factors,
        errors=errors,
        intervals=_intervals(path, factors, errors, spare),
        rows=len(right),
        scatter=scatter,
        scatter_before=math.sqrt(float(before @ before) / len(right)),
        r_squared=1.0 - float(errors_s @ errors_s) / spread if spread > 0.0 else math.nan,
    )


def _refuse_alike(path: Path, groups: Sequence[str], rows: FloatArray) -> None:
    if np.any(rows.max(axis=0) == 0.0) or np.linalg.cond(rows) > WORST_CONDITION:
        raise DataError(
            f"the measured programs do not tell {', '.join(groups)} apart",
            where=str(path),
            remedy="measure programs that differ more, or fit fewer factors",
        )


def _refuse_impossible(path: Path, factors: Mapping[str, float]) -> None:
    for group, value in factors.items():
        if not value > 0.0:
            raise DataError(
                f"the fit asks for a factor of {value:.2f} on {group}, which cannot be",
                where=str(path),
                remedy="check the measured times, or fit fewer factors",
            )


def _intervals(
    path: Path, factors: Mapping[str, float], errors: Mapping[str, float], spare: int
) -> dict[str, tuple[float, float]]:
    """Return the interval of each factor, or refuse what the rows cannot tell."""
    if spare == 0:
        return {group: (math.nan, math.nan) for group in factors}
    t = students_t(CONFIDENCE, spare)
    for group, value in factors.items():
        if t * errors[group] > MOST_UNCERTAIN * value:
            raise DataError(
                f"the measured programs tell the factor on {group} only as {value:.2f} ± {t * errors[group]:.2f}",
                where=str(path),
                remedy="measure more programs, or programs that differ more, or fit fewer factors",
            )
    return {group: (value - t * errors[group], value + t * errors[group]) for group, value in factors.items()}
