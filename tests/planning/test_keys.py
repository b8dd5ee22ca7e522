"""Every key of the job file is used in a job that is planned: a key without a use here fails a test."""

from __future__ import annotations

import json
import math
import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from pypdf import PdfReader

from cutplan.base.errors import DrawingError
from cutplan.geometry import bounds
from cutplan.planning.drawing_checks import check_job
from cutplan.planning.entries import WantedEntry
from cutplan.planning.flow import nest_job, plan_job
from cutplan.planning.job import Job, load_job
from cutplan.planning.output import write_files
from cutplan.record import plan_record
from cutplan.report import bending_html
from cutplan.stock import Inventory, Piece

DOCS = Path(__file__).parents[2] / "docs"
sys.path.insert(0, str(DOCS))

PLASMA = """
prices = "prices.toml"
shop = "shop.toml"
parts_list = "parts.csv"

[job]
name = "all keys"
seed = 3
warnings_are_errors = false

[machine]
table = [3000, 1500]
rapid_mm_min = 15000
acceleration_mm_s2 = 400
water_table = true
marker = true
processes = ["plasma"]
max_current_a = 200
postprocessor = "rs274-metric"
torches = 1
torch_spacing_mm = 200
raise_s = 0.8
lower_s = 1.5
probe_s = 0.2
corner_deviation_mm = 0.1
start = [10, 10]
torch_clearance_mm = 45
torch_radius_mm = 30
travel_height_mm = 40
low_travel_height_mm = 12
plate_margin_mm = 50
ignition_s = 0.4

[cutting]
process = "plasma"
current_a = 120
under_water = true
tolerance_mm = 0.06
small_holes = "mark"
corners = "loop"
data = ["data"]
postprocessors = ["posts"]

[nesting]
gap = 12
edge = 15

[order]
marks = "part"
open_parts = 3
parts_together = true
low_travel = false
hottest_start_c = 400
heat_weight_s = 0.1
towards = "x+"
narrow_webs_last = true
effort = 0.5
pin = [{ first = { part = "strip", copy = 1, kind = "outer" }, then = { part = "plate", copy = 1, kind = "hole", hole = 1 } }, { first = { part = "plate", kind = "hole", hole = 2 }, then = { part = "plate", kind = "outer" } }]

[techniques]
tabs = { count = 2, width_mm = 3.0, parts = "small", small_mm = 90 }
chains = { by = "rows", parts = 3, longest_mm = 5000, hottest_c = 400 }
shared_cuts = { by = "pairs", parts = 2 }

[marking]
bends = "full"
tick_mm = 12
names = true
letters_mm = 10
trace = true

[press]
capacity_kn = 800
bed_mm = 3000
dies_mm = [60, 80]

[stock]
inventory = "rack.db"
reopen = true

[grades]
"SHOP-1" = "mild steel"

[estimate]
supply_efficiency = 0.9
standby_kw = 1.2
source_idle_kw = 0.3
extraction_kw = 2
marker_switch_s = 0.4
marker_feed_mm_min = 7000
handling_s_per_plate = 300
handling_s_per_tonne = 60
set_up_s_per_plate = 60
set_up_s_per_thickness = 120
sorting_s_per_piece = 5
sorting_s_per_kg = 0.1
breaking_s_per_tab = 8
programming_s_per_drawing = 60
programming_s_per_plate = 120
overhead = 0.1
margin = 0.1
batches = [1, 2]
keep_remnants = [400, 300]
remnant_value = 0.5
supplies = { oxygen = "liquid" }
liquid_loss = 0.12
acetylene_c = 10
acetylene_full = 0.9
co2_kg_per_kwh = 0.3
co2_kg_per_kg_plate = { default = 2.0 }
co2_kg_per_m3 = { oxygen = 0.4 }
time_factors = { cutting = [1.1, 1.05, 1.15], standing = [1.3, 1.1, 1.5] }
time_scatter = 0.03

[[plate]]
id = "A"
length = 900
width = 500
thickness = 10
grade = "SHOP-1"
material = "mild steel"
quantity = 2
heat = "H1"
price_per_kg = 1.1
rolling_direction = "y"
keepouts = [[800, 400, 880, 480], { box = [800, 0, 880, 60], height = 30 }]
face = "coated"
face_side = "down"
certificate = "C1"
location = "bay 2"

[[plate]]
id = "B"
outline = "remnant.dxf"
thickness = 10
grade = "SHOP-1"

[[part]]
name = "strip"
shape = { kind = "rectangle", length = 200, width = 60, corner_radius = 5 }
quantity = 2
thickness = 10
grade = "SHOP-1"
material = "mild steel"
rotations = [0, 90]
mirror = true
priority = 2
filler = false
rolling_direction = "x"
process = "plasma"
tolerance_class = 2
due = 2027-01-31
kit = "frame"
tabs = { every_mm = 150 }
chains = true
shared_cuts = true

[[part]]
name = "plate"
tabs = { count = 1, width_mm = 4.0, parts = "all", small_mm = 100 }
chains = { by = "pairs", parts = 2, longest_mm = 2500, hottest_c = 300 }
shared_cuts = { by = "grids", parts = 6 }
shape = { kind = "base plate", length = 150, width = 120, hole = 18, edge_distance = 30, corner_radius = 5, bore = 40 }
quantity = 1
thickness = 10
grade = "SHOP-1"
"""

FLAME = """
[order]
effort = 0.1

[job]
name = "flame"

[machine]
postprocessor_oxyfuel = "rs274-oxyfuel-preheat"
postprocessor_bevels = "rs274-bevel-head"

[cutting]
process = "oxyfuel"
setting = "acetylene"
quality = 4

[techniques]
tabs = { every_mm = 250 }
rest_cut = { shape = "stepped", keep_mm = [250, 200] }
slender = "leave"
slender_every_mm = 400

[bevels]
elsewhere = false
square = "auto"

[nesting]
seconds = 1

[[plate]]
id = "F"
length = 900
width = 500
thickness = 20
grade = "S355"

[[part]]
name = "ring"
shape = { kind = "ring", outside = 140, inside = 60 }
quantity = 1
thickness = 20
grade = "S355"

[[part]]
name = "flange"
shape = { kind = "flange", outside = 200, bore = 60, bolt_circle = 140, bolts = 4, bolt_hole = 24 }
quantity = 1
thickness = 20
grade = "S355"

[[part]]
name = "gusset"
shape = { kind = "gusset", length = 150, height = 120, snipe = 20, nose = 15 }
no_starts = [[80, 0]]
slender = "tabs"
bevels = [{ at = [75, 0], kind = "double Y", angle_deg = 30, land_mm = 4, side = "both", depth_mm = 9, below_deg = 35, between = [[40, 0], [120, 0]], all_round = false, elsewhere = true }]
quantity = 1
thickness = 20
grade = "S355"

[[part]]
name = "slotted"
shape = { kind = "slotted strip", length = 300, width = 80, slots = 2, slot_length = 60, slot_width = 26, corner_radius = 5 }
quantity = 1
thickness = 20
grade = "S355"
"""

DRAWN = r"""
[order]
effort = 0.1

[job]
name = "drawn"

[machine]
marker = true

[drawings]
units = "inch"
gap = 0.2
tolerance = 0.02
layers = { ignore = ["TITLE*"] }
colours = { ignore = [5] }
open = "leave out"
frames = "leave out"
equal = "apart"
choose = [{ name = "*", layer = "*", larger_than = 20 }]
leave_out = [{ layer = "NOTHING" }, { text = "spare" }, { at = [900, 900] }, { within = [800, 800, 820, 820] }, { smaller_than = 5 }, { name = "nobody", larger_than = 1e5 }]
texts = { quantity = ["(\\d+) off"], grade = ["steel (S\\d+)"] }
limits = { seconds = 60, memory_mb = 4000, file_mb = 10, entities = 5000, depth = 5 }

[[plate]]
id = "D"
length = 900
width = 500
thickness = 10
grade = "S355"

[[part]]
drawing = "web.dxf"
quantity = 2
assembly = { drawing = "frame.dxf", outline = ["WEB"], marks = ["RIB*"], units = "mm" }
thickness = 10
grade = "S355"
units = "mm"
layers = { ignore = ["TITLE*", "RAND"] }
colours = { ignore = ["blue"] }
open = "refuse"
frames = "ask"
choose = [{ within = [-10, -10, 300, 300] }, { at = [40, 20] }, { text = "web" }, { smaller_than = 400 }]
leave_out = [{ layer = "AUX" }]
from_text = ["name"]
"""

BENT = """
[order]
effort = 0.1

[job]
name = "bent"

[machine]
marker = true

[press]
capacity_kn = 1000
bed_mm = 3000
k_factor = 0.42
die_angle_deg = 78
die_height_mm = 130
die_shoulder_mm = 12
table_width_mm = 160
punch_angle_deg = 75
punch_width_mm = 24
punch_height_mm = 170
punch_outline = [[0, 0], [14, 20], [14, 170], [-14, 170], [-14, 20]]
ram_width_mm = 160
gauge_mm = [10, 800]
gauge_finger_mm = 12

[[plate]]
id = "E"
length = 900
width = 500
thickness = 6
grade = "S355"

[[blank]]
name = "hat"
quantity = 2
thickness = 6
grade = "S355"
width = 90
radius = 10
k_factor = 0.4
measured = "inside"
align = "lower"
bend_notes = true
rolling_direction = "across bends"
flanges = [
  { length = 60, holes = [{ along = 25, across = 45, diameter = 14 }] },
  { length = 80, width = 90, width_end = 80, angle = 90, direction = "up", radius = 8 },
  { length = 70, direction = "down", holes = [{ along = 35, across = 40, diameter = 14, slot_length = 24, slot = "across" }] },
]
"""

LONG = """
[order]
effort = 0.1

[job]
name = "long"

[splices]
zones = [[0, 2000]]
least_piece = 300
clearance = 60
bend_clearance = 80
stagger = 200
gap = 3
preparation = "V 60°"
fit_up_mm = 80
most = 2

[[plate]]
id = "L"
length = 1000
width = 500
thickness = 10
grade = "S355"

[[part]]
name = "web"
shape = { kind = "rectangle", length = 1400, width = 150 }
quantity = 1
thickness = 10
grade = "S355"
splice = { beam = "rail", member = "web", offset = 10, zones = [[300, 900]], least_piece = 350, clearance = 50, bend_clearance = 70, stagger = 250, gap = 2, preparation = "X", fit_up_mm = 60, most = 1, at = [500] }
"""

BEAMS = """
[job]
name = "beams"

[machine]
marker = true

[nesting]
seconds = 0.5

[[plate]]
id = "B"
length = 2500
width = 1000
thickness = 10
grade = "S355"

[[part]]
name = "neck"
shape = { kind = "beam web", length = 2200, height = 220, neck_length = 500, neck_height = 110, neck_rise = 60, slope_length = 150, taper_length = 300, end_height = 120, knee_radius = 30, camber = 6, cut_outs = [{ at = 900, count = 3, pitch = 300, width = 80, height = 50, edge = "upper", radius = 8 }, { at = 1300, width = 100, height = 60, level = 100, radius = 20 }] }
quantity = 1
thickness = 10
grade = "S355"

[[part]]
name = "rail"
shape = { kind = "beam web", length = 2000, height = 150, camber_radius = 150000 }
attached = [
  { footprint = [100, 10], at = [300, 75], rotation = 90, show = "both", count = 3, pitch = [600, 0], name = "X1", letters_mm = 6 },
  { part = "flange", at = [1000, 200], mirror = true, rotation = 45 },
]
quantity = 1
thickness = 10
grade = "S355"

[[part]]
name = "flange"
shape = { kind = "flange strip", length = 2000, width = 90, end_width = 60, taper_length = 150 }
quantity = 1
thickness = 10
grade = "S355"
"""

JOBS = {"plasma": PLASMA, "flame": FLAME, "drawn": DRAWN, "bent": BENT, "long": LONG, "beams": BEAMS}


def used(data: Mapping[str, Any], path: str = "") -> Iterator[str]:
    """Yield the keys of a job as the manual has them: "[drawings] [[choose]] layer"."""
    for key, value in data.items():
        yield f"{path} {key}".strip()
        if isinstance(value, dict):
            yield from used(value, f"{path} [{key}]".strip())
        elif isinstance(value, list):
            for each in value:
                if isinstance(each, dict):
                    yield from used(each, f"{path} [[{key}]]".strip())


def test_every_key_of_the_job_file_is_used_in_a_job_here() -> None:
    import reference_pages

    model = reference_pages.models_of_files()["The job file"]
    keys = {f"{path} {key}".strip() for path, _, key, _ in reference_pages._walk(model, "")}
    missing = keys - {key for text in JOBS.values() for key in used(tomllib.loads(text))}
    # What holds of all that is wanted is one form, and so is what chooses among parts.
    missing -= {f"[[blank]] {key}" for key in WantedEntry.model_fields}
    forms = ("[[blank]] [tabs]", "[[blank]] [chains]", "[[blank]] [shared_cuts]", "[[blank]] [[bevels]]")
    missing = {key for key in missing if not key.startswith(forms)}
    of_all = ("[[blank]] [tabs]", "[[blank]] [splice]", "[[blank]] [[attached]]", "[[blank]] [assembly]")
    missing = {key for key in missing if not key.startswith(of_all)}
    missing = {key for key in missing if "[[choose]]" not in key and "[[leave_out]]" not in key}
    assert missing == set()


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A folder with all that the jobs name."""
    for name, text in JOBS.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    (tmp_path / "shop.toml").write_text("[lifting]\none_person_kg = 20\n")
    (tmp_path / "prices.toml").write_text(
        'currency = "EUR"\nmachine_per_hour = 60\nlabour_per_hour = 40\npower_per_kwh = 0.2\n'
        "programming_per_hour = 50\nscrap_credit_per_kg = 0.2\n[plate_per_kg]\ndefault = 1.0\n"
        "[gas_per_m3]\noxygen = 1\nair = 0.1\nnitrogen = 1\nacetylene = 8\n[consumable_set]\nplasma = 40\noxyfuel = 10\n"
    )
    (tmp_path / "parts.csv").write_text("drawing,quantity,thickness,grade,name\nweb.dxf,1,10,SHOP-1,listed\n")
    for folder in ("data", "posts"):
        (tmp_path / folder).mkdir()
    remnant, web = ezdxf.new(units=4), ezdxf.new(units=4)
    remnant.modelspace().add_lwpolyline([(0, 0), (400, 0), (400, 200), (200, 300), (0, 300)], close=True)
    remnant.saveas(tmp_path / "remnant.dxf")
    space = web.modelspace()
    space.add_lwpolyline([(0, 0), (120, 0), (120, 60), (0, 60)], close=True)
    space.add_lwpolyline(
        [(-5, -5), (125, -5), (125, 65), (-5, 65)], close=True, dxfattribs={"layer": "TITLE-1"}
    )
    web.saveas(tmp_path / "web.dxf")
    frame = ezdxf.new(units=4)
    # The web stands upright in the frame, 120 high and 60 wide, with a rib across it.
    corners = [(500, 200), (560, 200), (560, 320), (500, 320)]
    frame.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "WEB"})
    frame.modelspace().add_line((505, 250), (555, 250), dxfattribs={"layer": "RIB-1"})
    frame.saveas(tmp_path / "frame.dxf")
    with Inventory(tmp_path / "rack.db") as stock:
        stock.add([Piece("R1", 600, 400, 10.0, "SHOP-1", "mild steel")])
    return tmp_path


def read(shop: Path, name: str) -> Job:
    return load_job(shop / f"{name}.toml")


def test_a_plasma_job_with_every_key_is_planned_and_each_is_heeded(shop: Path) -> None:
    plan = plan_job(read(shop, "plasma"))
    assert {sheet.data.current_a for sheet in plan.sheets} == {120.0}
    assert plan.kits == {"strip": "frame"} and plan.due == {"strip": "2027-01-31"}
    assert plan.total.cost is not None and plan.total.currency == "EUR"
    assert all(
        any("cutting × 1.100 (1.050 to 1.150)" in line for line in s.estimate.inputs) for s in plan.sheets
    )
    placed = sorted(p.part.name for sheet in plan.sheets for p in sheet.nested.placements)
    assert placed == ["listed", "plate", "strip", "strip"]
    tabs = [(tab.part, tab.width_mm) for sheet in plan.sheets for tab in sheet.tabs]
    # 0.3 of 10 mm and 1 mm where no width is asked for; the listed part is too large to be small.
    assert set(tabs) == {("plate", 4.0), ("strip", 4.0)} and len(tabs) == 1 + 2 * 4


def test_a_flame_job_with_every_shape_is_planned(shop: Path) -> None:
    (sheet,) = plan_job(read(shop, "flame")).sheets
    assert sheet.data.process == "oxyfuel" and sheet.program.postprocessor == "rs274-oxyfuel-preheat"
    assert len(sheet.nested.placements) == 4
    # 250 × 200 mm is left beside the parts, not the usual 300 × 300.
    assert [step.cut.kind for step in sheet.order.steps].count("rest") == 1
    assert sheet.order.steps[-1].cut.kind == "rest"
    (gusset,) = {p.part for p in sheet.nested.placements if p.part.name == "gusset"}
    assert [kept.hole for kept in gusset.kept] == [None]


def test_a_part_longer_than_its_plate_is_split_by_its_own_keys_over_the_jobs(shop: Path) -> None:
    nests, _ = nest_job(read(shop, "long"))
    (sheet,) = nests[0].plates
    split = sheet.placements[0].part.piece.split
    assert (split.gap_mm, split.preparation, split.beam, split.offset_mm, split.fit_up_mm) == (
        2.0, "X", "rail", 10.0, 60.0,
    )  # fmt: skip
    assert len(sheet.placements) == 2 and split.splices_mm == (500.0,)


def test_webs_and_flanges_of_beams_are_cut_and_proved(shop: Path) -> None:
    (sheet,) = plan_job(read(shop, "beams")).sheets
    assert sheet.verdict.passed
    assert sorted(p.part.name for p in sheet.nested.placements) == ["flange", "neck", "rail"]
    # A rise over 2 m of 150 m radius: c²/8r.
    rail = next(p.part for p in sheet.nested.placements if p.part.name == "rail")
    assert bounds(rail.outer)[3] == pytest.approx(150 + 2000**2 / 8 / 150000, abs=1e-3)
    assert len(rail.marks) == 3 * 3 + 1 and [text.text for text in rail.texts] == ["X1"] * 3
    # The flange marked on it runs off its edge: clipped, told, and the program proved.
    assert any("of the marks of 'rail' lie over holes or off the part" in f.message for f in sheet.findings)


def test_a_drawing_is_read_by_every_reading_key(shop: Path) -> None:
    nests, _ = nest_job(read(shop, "drawn"))
    (placed,) = {p.part for nested in nests for sheet in nested.plates for p in sheet.placements}
    assert placed.name == "web"
    (rib,) = placed.marks
    assert sorted(np.round(rib.points[:, 1], 6).tolist()) == [5, 55]
    assert (
        rib.points[0, 0] == pytest.approx(rib.points[1, 0])
        and min(abs(rib.points[0, 0] - x) for x in (50, 70)) < 1e-6
    )


def test_a_blank_is_developed_nested_cut_and_scribed(shop: Path) -> None:
    (sheet,) = plan_job(read(shop, "bent")).sheets
    part = sheet.nested.placements[0].part
    straights = (60 - 8) + (80 - 8 - 10) + (70 - 10)
    rounds = math.pi / 2 * ((8 + 0.4 * 6) + (10 + 0.4 * 6))
    assert bounds(part.outer)[2] == pytest.approx(straights + rounds)
    assert [bend.direction for bend in part.bends] == ["up", "down"]
    assert [text.text for text in part.texts] == ["UP 90 R8", "DOWN 90 R10"]
    assert sheet.verdict.passed and any(step.cut.kind == "mark" for step in sheet.order.steps)


def test_a_blanks_bend_table_goes_with_the_plan_and_is_known_to_the_check(shop: Path) -> None:
    plan = plan_job(read(shop, "bent"))
    (table,) = plan.bending
    assert sorted((s.bend, s.direction) for s in table.strokes) == [(1, "up"), (2, "down")]
    (record,) = plan_record(plan)["bending"]
    assert [stroke["n"] for stroke in record["strokes"]] == [1, 2]
    files = write_files(plan, shop / "out", paper="A4")
    assert {"bending.html", "bending.pdf"} <= set(files)
    page = (shop / "out" / "bending.html").read_text(encoding="utf-8")
    printed = " ".join(each.extract_text() for each in PdfReader(shop / "out" / "bending.pdf").pages)
    for stroke in table.strokes:
        for words in (f"{stroke.gauge_mm:.1f} mm, edge {stroke.gauge_edge}", f"{stroke.force_kn:.0f} kN"):
            assert words in page and words in " ".join(printed.split())
    assert page.count("<figure>") == 2
    (checked,) = check_job(read(shop, "bent"))
    assert checked.bending == plan.bending
    assert checked.record()["bending"] == json.loads(json.dumps([record]))
    assert not checked.stops


def test_a_blank_that_no_order_bends_is_warned_of_and_cut_all_the_same(shop: Path) -> None:
    low = BENT.replace("[14, 170], [-14, 170]", "[14, 25], [-14, 25]")
    (shop / "bent.toml").write_text(low, encoding="utf-8")
    plan = plan_job(read(shop, "bent"))
    assert plan.bending[0].strokes == ()
    assert any("no order of strokes bends it" in finding.message for _, finding in plan.findings)
    assert "no order of strokes" in bending_html(plan)


def test_a_blank_that_cannot_be_is_refused_with_its_name_and_place(shop: Path) -> None:
    text = BENT.replace("length = 60, holes", "length = 20, holes")
    (shop / "bent.toml").write_text(text, encoding="utf-8")
    with pytest.raises(DrawingError, match=r"bent.toml, blank hat: a hole 25 mm along flange 1"):
        plan_job(read(shop, "bent"))
