"""Measured times fit the machine's factors, and the fit says how well."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from cutplan.base.errors import DataError
from cutplan.estimating import ACTIVITIES, Calibration, Estimate, EstimateOptions, calibrate
from cutplan.estimating.calibration import calibration_of
from cutplan.estimating.ranges import time_factors

TRUE = {"cutting": 1.08, "standing": 1.4, "moving": 0.9}
GROUPS = {"cutting": "cutting", "piercing": "standing", "travel": "moving", "raising": "moving"}


def program(cutting: float, piercing: float, travel: float, raising: float) -> Estimate:
    time_s = dict.fromkeys(ACTIVITIES, 0.0)
    time_s |= {"cutting": cutting, "piercing": piercing, "travel": travel, "raising": raising}
    return Estimate({**time_s, "total": sum(time_s.values())}, {}, 0.0, 1, 1.0)


def programs(count: int) -> dict[str, Estimate]:
    rng = np.random.default_rng(4)
    return {f"P{i}": program(*rng.uniform([200, 20, 50, 30], [900, 200, 300, 200])) for i in range(count)}


def true_seconds(estimate: Estimate) -> float:
    return sum(TRUE[group] * estimate.time_s[activity] for activity, group in GROUPS.items())


def measured(folder: Path, estimates: dict[str, Estimate], noise: float = 0.0) -> Path:
    rng = np.random.default_rng(11)
    lines = ["program,minutes"]
    for name, estimate in estimates.items():
        lines.append(f"{name},{true_seconds(estimate) / 60 * (1 + noise * rng.normal()):.6f}")
    file = folder / "measured.csv"
    file.write_text("\n".join(lines) + "\n")
    return file


def test_the_machines_factors_are_found_from_exact_times(tmp_path: Path) -> None:
    estimates = programs(8)
    fitted = calibrate(measured(tmp_path, estimates), estimates)
    assert fitted.factors == pytest.approx(TRUE, rel=1e-4)
    assert fitted.scatter < 1e-5 and fitted.r_squared == pytest.approx(1.0)
    assert fitted.scatter_before > 0.03


def test_an_offices_csv_and_the_names_of_program_files_serve_as_well(tmp_path: Path) -> None:
    estimates = programs(6)
    file = measured(tmp_path, estimates)
    plain = calibrate(file, estimates)
    lines = [line.split(",") for line in file.read_text().splitlines()]
    rows = [f"{name}.nc;{minutes.replace('.', ',')}" for name, minutes in lines[1:]]
    file.write_text("program;minutes\n" + "\n".join(rows) + "\n")
    assert calibrate(file, estimates).factors == pytest.approx(plain.factors)


def test_scattered_times_give_factors_within_their_errors_and_the_scatter(tmp_path: Path) -> None:
    estimates = programs(60)
    fitted = calibrate(measured(tmp_path, estimates, noise=0.03), estimates)
    assert fitted.scatter == pytest.approx(0.03, rel=0.3)
    for group, value in TRUE.items():
        assert abs(fitted.factors[group] - value) < 3 * fitted.errors[group]
        assert 0 < fitted.errors[group] < 0.2
    assert "from 60 programs" in fitted.summary() and f"{fitted.scatter:.1%}" in fitted.summary()


def test_the_fit_is_that_of_the_normal_equations(tmp_path: Path) -> None:
    """Least squares on relative errors, solved once more by the textbook's own formula."""
    estimates = programs(20)
    file = measured(tmp_path, estimates, noise=0.05)
    seconds = 60 * np.array([float(line.split(",")[1]) for line in file.read_text().splitlines()[1:]])
    parts = np.array(
        [
            [e.time_s["cutting"], e.time_s["piercing"], e.time_s["travel"] + e.time_s["raising"]]
            for e in estimates.values()
        ]
    )
    # In shares of the estimates first, then once more in shares of the fitted times.
    weight = parts.sum(axis=1)
    for _ in range(2):
        rows, right = parts / weight[:, None], seconds / weight
        expected = np.linalg.solve(rows.T @ rows, rows.T @ right)
        weight = parts @ expected
    assert list(calibrate(file, estimates).factors.values()) == pytest.approx(list(expected))


def test_the_stated_interval_holds_the_true_factor_95_times_of_100(tmp_path: Path) -> None:
    """1,000 batches of measured minutes with known factors and a scatter of 1 percent."""
    estimates = programs(24)
    rng = np.random.default_rng(2)
    file = tmp_path / "measured.csv"
    held = dict.fromkeys(TRUE, 0)
    for _ in range(1000):
        lines = [
            f"{name},{true_seconds(e) / 60 * (1 + 0.01 * rng.normal()):.6f}" for name, e in estimates.items()
        ]
        file.write_text("program,minutes\n" + "\n".join(lines) + "\n")
        for group, (low, high) in calibrate(file, estimates).intervals.items():
            held[group] += low <= TRUE[group] <= high
    assert all(930 <= count <= 970 for count in held.values()), held


def test_the_range_stated_with_a_calibration_holds_what_a_new_program_takes(tmp_path: Path) -> None:
    """200 shops fit 12 programs that scatter by 3 percent, and reckon one more: 95 of 100 at the least."""
    estimates = programs(13)
    names = list(estimates)
    new = estimates.pop(names[-1])
    rng = np.random.default_rng(7)
    file = tmp_path / "measured.csv"
    held = 0
    for _ in range(200):
        lines = [
            f"{name},{true_seconds(e) / 60 * (1 + 0.03 * rng.normal()):.6f}" for name, e in estimates.items()
        ]
        file.write_text("program,minutes\n" + "\n".join(lines) + "\n")
        try:
            fitted = calibrate(file, estimates)
        except DataError:  # so few may tell too little: then no range is stated at all
            held += 1
            continue
        seconds = np.array([new.time_s[name] for name in ACTIVITIES]) * fitted.by_activity()
        low, high = (float(seconds @ np.array(factors)) for factors in time_factors(fitted))
        held += low <= true_seconds(new) * (1 + 0.03 * rng.normal()) <= high
    assert held >= 190


def test_a_fit_prints_the_settings_that_reckon_with_it(tmp_path: Path) -> None:
    estimates = programs(24)
    fitted = calibrate(measured(tmp_path, estimates, noise=0.02), estimates)
    stated = EstimateOptions(**tomllib.loads("\n".join(fitted.settings())))
    again = calibration_of(stated)
    assert again is not None
    assert again.by_activity() == pytest.approx(fitted.by_activity(), abs=5e-4)
    for own, theirs in zip(time_factors(again), time_factors(fitted), strict=True):
        assert own == pytest.approx(theirs, abs=2e-3)
    assert calibrate(measured(tmp_path, programs(3)), programs(3)).settings() == ()


def test_minutes_that_tell_nothing_of_a_factor_are_refused(tmp_path: Path) -> None:
    estimates = {f"P{i}": program(600 + 40 * i, 20 + (7 * i) % 5, 100, 50) for i in range(6)}
    with pytest.raises(DataError, match=r"tell the factor on standing only as .*fit fewer factors"):
        calibrate(measured(tmp_path, estimates, noise=0.04), estimates, ["cutting", "standing"])


def test_one_factor_for_all_needs_one_row(tmp_path: Path) -> None:
    estimates = {"P0": program(500, 50, 100, 50)}
    file = tmp_path / "measured.csv"
    file.write_text(f"program,minutes\nP0,{700 * 1.2 / 60}\n")
    fitted = calibrate(file, estimates, ["all"])
    assert fitted.factors == pytest.approx({"all": 1.2})
    assert math.isnan(fitted.scatter) and "say nothing of the fit" in fitted.summary()


def test_handling_is_no_part_of_the_machine(tmp_path: Path) -> None:
    plain = program(500, 50, 100, 50)
    time_s = {**plain.time_s, "handling": 600.0, "total": 1300.0}
    file = tmp_path / "measured.csv"
    file.write_text(f"program,minutes\nP0,{(600 + 700 * 1.2) / 60}\n")
    fitted = calibrate(file, {"P0": Estimate(time_s, {}, 0.0, 1, 1.0)}, ["all"])
    assert fitted.factors == pytest.approx({"all": 1.2})


def test_factors_by_activity_leave_the_rest_alone() -> None:
    fitted = Calibration({"standing": 2.0}, {"standing": 0.1}, 5, 0.1, 0.2, 0.9)
    by_activity = dict(zip(ACTIVITIES, fitted.by_activity(), strict=True))
    assert by_activity["piercing"] == by_activity["preheating"] == 2.0
    assert by_activity["cutting"] == by_activity["handling"] == 1.0


def test_fewer_rows_than_factors_are_refused(tmp_path: Path) -> None:
    estimates = programs(2)
    with pytest.raises(DataError, match=r"measured.csv: 2 measured rows for 3 factors; measure more"):
        calibrate(measured(tmp_path, estimates), estimates)


def test_programs_that_are_all_alike_do_not_tell_the_factors_apart(tmp_path: Path) -> None:
    estimates = {f"P{i}": program(500 * i, 50 * i, 100 * i, 50 * i) for i in range(1, 6)}
    with pytest.raises(DataError, match="do not tell cutting, standing, moving apart"):
        calibrate(measured(tmp_path, estimates), estimates)
    none = {f"P{i}": program(500 + i, 0.0, 100, 50) for i in range(5)}
    with pytest.raises(DataError, match="do not tell"):
        calibrate(measured(tmp_path, none), none)


def test_a_negative_factor_cannot_be(tmp_path: Path) -> None:
    estimates = {
        "P0": program(600, 10, 10, 10),
        "P1": program(600, 300, 10, 10),
        "P2": program(100, 10, 300, 10),
    }
    file = tmp_path / "measured.csv"
    file.write_text("program,minutes\nP0,12\nP1,9\nP2,6\n")
    with pytest.raises(DataError, match=r"a factor of -\d\.\d+ on standing, which cannot be"):
        calibrate(file, estimates)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name,time\nP0,3\n", "line 1: the first line must name the columns; write program,minutes"),
        ("", "line 1: the first line must name the columns"),
        ("program,minutes\nP0,3\nP1,soon\n", "line 3: 'soon' is no time in minutes"),
        ("program,minutes\nP0,-3\n", "line 2: a measured time must lie above 0"),
        ("program,minutes\nP0,nan\n", "line 2: a measured time must lie above 0"),
        ("program,minutes\nP0\n", "line 2: None is no time in minutes"),
        ("program,minutes\nP9,3\n", "line 2: no program 'P9' among the estimates; programs: P0, P1"),
    ],
)
def test_a_wrong_file_is_refused_with_its_line(tmp_path: Path, text: str, message: str) -> None:
    file = tmp_path / "measured.csv"
    file.write_text(text)
    with pytest.raises(DataError, match=message):
        calibrate(file, programs(2))


def test_a_missing_file_and_unknown_factors_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="no such file"):
        calibrate(tmp_path / "none.csv", programs(2))
    with pytest.raises(DataError, match="unknown factor 'luck'"):
        calibrate(tmp_path / "none.csv", programs(2), ["luck"])
    with pytest.raises(DataError, match="each activity must stand under one factor"):
        calibrate(tmp_path / "none.csv", programs(2), ["cutting", "all"])
