"""Jobs of a few parts for every post-processor, planned into folders as the planner writes them.

Their drawings are made here: parts with marks, bends, letters, small and large holes, a slot, an
acute corner and a disc in a ring's hole, on plates with a clamp.
"""

from __future__ import annotations

import atexit
import json
import math
import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import ezdxf

ROOT = Path(__file__).parents[2]
SHIPPED = ROOT / "postprocessors"
SHARED_FOLDER = "FAULTS_FOLDER"
"""Environment variable that names a folder which several processes share."""


@dataclass(frozen=True)
class Case:
    """A planned folder: its job, and the files as they were written.

    Attributes
    ----------
    name : str
    folder : Path
        Holds plan.json and the programs.
    files : mapping of str to str
        Every program of the plan by its file name, and plan.json.
    programs : tuple of str
        Files of the sheet that is examined, in the order they run.
    sheet : str
    switches : mapping of str to tuple of str
        M words by what they switch: "torch_on", "marker_off", "flame_on", "height_on", …
    """

    name: str
    folder: Path
    files: Mapping[str, str]
    programs: tuple[str, ...]
    sheet: str
    switches: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def plan(self) -> dict[str, Any]:
        """plan.json as plain data."""
        return dict(json.loads(self.files["plan.json"]))

    @cached_property
    def plate(self) -> dict[str, Any]:
        """The record of the sheet in plan.json."""
        return next(p for p in self.plan["plates"] if f"{p['id']}-{p['sheet']}" == self.sheet)

    @property
    def text(self) -> str:
        """The first file's text."""
        return self.files[self.programs[0]]


@dataclass(frozen=True)
class Recipe:
    """What a case is planned from."""

    postprocessor: str
    process: str = "plasma"
    thickness: float = 10.0
    torches: int = 1
    discs: int = 2
    changes: Mapping[str, str] = field(default_factory=dict)
    rules: str = ""


RECIPES: dict[str, Recipe] = {
    "metric": Recipe("rs274-metric"),
    "inch": Recipe("rs274-inch"),
    "absolute-centres": Recipe("rs274-absolute-centres"),
    "radius-arcs": Recipe("rs274-radius-arcs"),
    "lines-only": Recipe("rs274-lines-only"),
    "control-compensation": Recipe("rs274-control-compensation"),
    "heights": Recipe("rs274-heights"),
    "early-off": Recipe("rs274-metric", rules="arc_off_before = 1.5"),
    "numbered": Recipe("rs274-numbered"),
    "subprograms": Recipe("rs274-subprograms", discs=6),
    "small-memory": Recipe("rs274-small-memory"),
    # A small file limit splits a small plate's program.
    "split": Recipe("rs274-small-memory", changes={"file_lines = 1500": "file_lines = 110"}),
    "oxyfuel-metric": Recipe("rs274-metric", "oxyfuel", 20.0),
    "oxyfuel-preheat": Recipe("rs274-oxyfuel-preheat", "oxyfuel", 20.0),
    "oxyfuel-heights": Recipe("rs274-oxyfuel-heights", "oxyfuel", 20.0),
    "several-torches": Recipe("rs274-several-torches", "oxyfuel", 20.0, torches=2),
}


def _document() -> tuple[Any, Any]:
    document = ezdxf.new("R2010", units=4)
    for layer in ("CUT", "MARK", "BEND"):
        document.layers.add(layer)
    return document, document.modelspace()


def _lug(file: Path) -> None:
    """A lug with a bore, two small holes, a slot, a mark, a bend and two letters."""
    document, space = _document()
    cut = {"layer": "CUT"}
    bulge = math.tan(math.pi / 8)
    outline = [(0, 0, 0), (118, 0, bulge), (130, 12, 0), (130, 60, 0), (60, 95, 0), (0, 95, 0)]
    space.add_lwpolyline(outline, "xyb", close=True, dxfattribs=cut)
    space.add_circle((38, 30), 15, dxfattribs=cut)
    space.add_circle((112, 20), 7, dxfattribs=cut)
    space.add_circle((14, 82), 6.5, dxfattribs=cut)
    space.add_lwpolyline(
        [(74, 38, 0), (104, 38, 1), (104, 60, 0), (74, 60, 1)], "xyb", close=True, dxfattribs=cut
    )
    space.add_line((8, 8), (24, 8), dxfattribs={"layer": "MARK"})
    space.add_arc((38, 68), 9, 20, 200, dxfattribs={"layer": "MARK"})
    space.add_line((66, 0), (66, 91.9), dxfattribs={"layer": "BEND"})
    space.add_text("K7", height=10, dxfattribs={"layer": "MARK"}).set_placement((84, 22))
    document.saveas(file)


def _fin(file: Path) -> None:
    """A fin with an acute corner and a re-entrant one."""
    document, space = _document()
    corners = [(0, 0), (95, 0), (40, 22), (40, 70), (0, 70)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "CUT"})
    space.add_circle((18, 50), 8, dxfattribs={"layer": "CUT"})
    space.add_line((8, 10), (30, 10), dxfattribs={"layer": "MARK"})
    document.saveas(file)


def _disc(file: Path) -> None:
    """A disc that lies in a ring's hole, with a hole too small to cut."""
    document, space = _document()
    space.add_circle((0, 0), 22, dxfattribs={"layer": "CUT"})
    space.add_circle((0, 0), 2.5, dxfattribs={"layer": "CUT"})
    document.saveas(file)


def _job(recipe: Recipe) -> dict[str, Any]:
    common = {"thickness": recipe.thickness, "grade": "S355"}
    torches = (
        {"torches": recipe.torches, "torch_spacing_mm": 320.0} if recipe.torches > 1 else {"marker": True}
    )
    rings = [
        {"name": "ring", "quantity": recipe.torches, "shape": {"kind": "ring", "outside": 130, "inside": 84}, **common},
        {"drawing": "disc.dxf", "quantity": recipe.discs * recipe.torches, "rotations": "none", **common},
    ]  # fmt: skip
    drawn = [
        {"drawing": "lug.dxf", "quantity": 1, **common},
        {"drawing": "fin.dxf", "quantity": 1, **common},
    ]
    length, width = 420, 300 if recipe.torches == 1 else 640
    plate = {"id": "PL", "length": length, "width": width, **common}
    if recipe.torches == 1:
        plate["keepouts"] = [[length - 40, 0, length, 30]]
    return {
        "job": {"name": "bench"},
        "machine": {
            "table": [3000, 1500],
            "postprocessor": recipe.postprocessor,
            "postprocessor_oxyfuel": recipe.postprocessor,
            **torches,
        },
        "drawings": {"limits": {"seconds": 600}},
        "cutting": {
            "process": recipe.process,
            "small_holes": "mark",
            "postprocessors": ["posts"],
            **({"data": ["data"]} if recipe.rules else {}),
        },
        "plate": [plate, {**plate, "id": "PM", "quantity": 3}],
        "part": [*rings, *(drawn if recipe.torches == 1 else [])],
    }


@cache
def workshop() -> Path:
    """The folder that cases are planned into: one that the caller shares out, or one of this run."""
    shared = os.environ.get(SHARED_FOLDER)
    if shared:
        return Path(shared)
    own = Path(tempfile.mkdtemp(prefix="faults-"))
    atexit.register(shutil.rmtree, own, ignore_errors=True)
    return own


@cache
def case(name: str) -> Case:
    """Plan a case where it is not planned yet, and return it as it stands in its folder."""
    import cutplan

    recipe = RECIPES[name]
    folder = workshop() / name
    if not (folder / "out" / "plan.json").exists():
        (folder / "posts").mkdir(parents=True)
        _lug(folder / "lug.dxf")
        _fin(folder / "fin.dxf")
        _disc(folder / "disc.dxf")
        if recipe.changes:
            _write_post(recipe, folder / "posts")
        if recipe.rules:
            _write_data(recipe, folder / "data")
        plan = cutplan.plan(cutplan.parse_job(_job(recipe), folder / "job.toml"))
        cutplan.write_plan(plan, folder / "out")
    return read_case(name, folder / "out")


def _write_post(recipe: Recipe, folder: Path) -> None:
    text = (SHIPPED / f"{recipe.postprocessor}.toml").read_text(encoding="utf-8")
    for old, new in recipe.changes.items():
        assert old in text, old
        text = text.replace(old, new)
    (folder / f"{recipe.postprocessor}.toml").write_text(text, encoding="utf-8")


def _write_data(recipe: Recipe, folder: Path) -> None:
    shipped = ROOT / "cutplan" / "process" / "data" / "plasma-mild-steel-120a-oxygen.toml"
    text = shipped.read_text(encoding="utf-8")
    assert "\n[table]" in text and "[rules]" not in text
    folder.mkdir()
    own = text.replace("\n[table]", f"\n[rules]\n{recipe.rules}\n\n[table]")
    (folder / shipped.name).write_text(own, encoding="utf-8")


def read_case(name: str, out: Path, sheet: str | None = None) -> Case:
    """Return a folder that was planned as a case; its first sheet unless one is named."""
    record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    names = {f"{p['id']}-{p['sheet']}": p for p in record["plates"]}
    chosen = sheet or next(iter(names))
    files = {"plan.json": (out / "plan.json").read_text(encoding="utf-8")}
    for plate in names.values():
        for program in plate["programs"]:
            files[program["file"]] = (out / program["file"]).read_text(encoding="utf-8")
    programs = tuple(program["file"] for program in names[chosen]["programs"])
    return Case(name, out, files, programs, chosen, _switches(names[chosen]))


def _switches(plate: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    words = {
        key: tuple(word[0].upper() + str(int(word[1:])) for word in value)
        for key, value in plate["dialect"].items()
        if isinstance(value, list) and key.endswith(("_on", "_off"))
    }
    for word in plate["dialect"].get("ignored", []):
        if word == "M8":
            words.setdefault("height_on", ("M8",))
    return words
