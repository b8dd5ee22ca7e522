"""Sample drawings that general-purpose libraries carry, read beside an independent reading.

The folder that `CUTPLAN_SAMPLES` names holds an unpacked source distribution, as that of ezdxf 1.4.5
(MIT licence), whose `integration_tests/data` has drawings of R12 to R2018, text and binary, whole and
damaged.  Without it these tests are skipped; `benchmarks/drawings.py samples` does the same for any folder.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import ezdxf
import pytest
from shapely import box

sys.path.insert(0, str(Path(__file__).parents[1]))

from independent_faces import area_within, compare_with_faces, faces

FOLDER = os.environ.get("CUTPLAN_SAMPLES", "")
FILES = sorted(each for each in Path(FOLDER).rglob("*") if each.suffix.lower() == ".dxf") if FOLDER else []


@pytest.mark.skipif(not FILES, reason="CUTPLAN_SAMPLES names no folder of sample drawings")
@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_sample_drawing_gives_the_areas_of_an_independent_reading_or_a_clean_error(file):
    compared = compare_with_faces(file)
    assert compared.clean, compared.said
    for name, ours, theirs, allowed in compared.areas:
        assert abs(ours - theirs) <= allowed, f"{name}: {ours:.3f} beside {theirs:.3f}"


def test_the_comparison_finds_metal_that_only_one_reading_has(tmp_path):
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline([(0, 0), (200, 0), (200, 80), (0, 80)], close=True)
    document.modelspace().add_circle((50, 40), 10)
    document.saveas(tmp_path / "plate.dxf")
    ((_, ours, theirs, allowed),) = compare_with_faces(tmp_path / "plate.dxf").areas
    assert abs(ours - theirs) <= allowed
    whole = area_within(box(0, 0, 200, 80), faces(tmp_path / "plate.dxf"))
    assert whole - ours > allowed
