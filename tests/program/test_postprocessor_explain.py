"""A post-processor explained: a sample program, and what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutplan.program import explain_postprocessor, find_postprocessor, list_postprocessors
from cutplan.program.catalogue import read_postprocessor

SHIPPED = [post.name for post in list_postprocessors()]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_post_processor_passes_and_explains_every_line(name: str) -> None:
    report = explain_postprocessor(find_postprocessor(name))
    assert report.passed, report.findings
    assert all(line.purpose for line in report.lines)
    assert [line.number for line in report.lines] == list(range(1, len(report.lines) + 1))


def test_words_are_explained_by_their_meaning_on_this_control() -> None:
    purposes = {
        line.text: line.purpose for line in explain_postprocessor(find_postprocessor("rs274-metric")).lines
    }
    assert purposes["M3"] == "lights the torch and pierces: M3 torch on"
    assert "G21 millimetres" in purposes["G21 G90 G17 G40 G80 G94 G54 G64"]
    assert purposes["M30"].startswith("ends the program")


def edited(folder: Path, old: str, new: str, base: str = "rs274-metric") -> Path:
    text = Path(find_postprocessor(base).source).read_text(encoding="utf-8")
    assert old in text
    file = folder / "own.toml"
    file.write_text(text.replace(old, new), encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("old", "new", "finding"),
    [
        ('cut_end = ["{torch_off}"]', 'cut_end = ["G0 Z5", "{torch_off}"]', "the torch is lit in a rapid"),
        ('cut_start = ["G4', 'cut_start = ["M4", "M98 P7", "G4', "the strict reader refuses it"),
        ('"G4 P{pierce}"]', '"G4 P{pierce}", "G1 Z-9 F900"]', "below the plate's surface"),
        (
            'mark_end = ["{marker_off}"]',
            'mark_end = ["G0 Z5", "{marker_off}"]',
            "the marker is down in a rapid",
        ),
        ('"{torch_on}", "G4 P{pierce}"]', '"{torch_on}"]', "cut_start has no {pierce}"),
        ('torch_on = "M3"', 'torch_on = "M13"', "no finding"),
        ('header = ["G21', 'header = ["G5 (own code)", "G21', "the strict reader refuses it"),
    ],
)
def test_a_fault_in_a_file_is_found_by_reading_its_sample(
    tmp_path: Path, old: str, new: str, finding: str
) -> None:
    findings = explain_postprocessor(read_postprocessor(edited(tmp_path, old, new))).findings
    if finding == "no finding":
        assert findings == ()
    else:
        assert any(finding in found for found in findings), findings


def test_flames_left_up_in_a_rapid_are_found(tmp_path: Path) -> None:
    file = edited(tmp_path, 'cut_end = ["{torch_off}", "{preheat_off}"]', 'cut_end = ["{torch_off}"]',
                  "rs274-oxyfuel-preheat")  # fmt: skip
    assert any("flames" in found for found in explain_postprocessor(read_postprocessor(file)).findings)


def test_coarse_lines_in_place_of_arcs_are_found_by_their_length(tmp_path: Path) -> None:
    file = edited(tmp_path, "chord_tolerance_mm = 0.01", "chord_tolerance_mm = 0.5", "rs274-lines-only")
    assert any(
        "mm cut, the plan" in found for found in explain_postprocessor(read_postprocessor(file)).findings
    )
