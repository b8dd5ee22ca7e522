"""Random jobs: parts, plates, remnants, clamps, marks, processes and torches drawn by a seed.

Each is planned by the package and its programs are judged by the replay in `replay_judge`, which
shares no code with it.
"""

from __future__ import annotations

import json
import math
import random
from pathlib import Path
from typing import Any

import ezdxf
from replay_judge import faults_of

POSTS = ("rs274-metric", "rs274-inch", "rs274-heights", "rs274-absolute-centres", "rs274-radius-arcs")
GRADE = "S355"


def _drawing(file: Path, chance: random.Random) -> None:
    """A plate with marks, a bend, a name and holes at random."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    length, width = chance.randint(90, 320), chance.randint(70, 200)
    cut, snipe = {"layer": "CUT"}, chance.choice([0, 20])
    bulge = math.tan(math.pi / 8)
    outline = [(snipe, 0, 0), (length - 15, 0, bulge), (length, 15, 0), (length, width, 0), (0, width, 0)]
    space.add_lwpolyline([*outline, *([(0, snipe, 0)] if snipe else [])], "xyb", close=True, dxfattribs=cut)
    for column in range(chance.randint(0, 3)):
        place = (45 + 0.28 * length * column, width / 2)
        if place[0] + 30 < length:
            space.add_circle(place, chance.choice([4, 9, 14, 20]), dxfattribs=cut)
    mark = {"layer": "MARK"}
    for _ in range(chance.randint(0, 3)):
        x, y = chance.uniform(15, length - 40), chance.uniform(8, 20)
        space.add_line((x, y), (x + 20, y + chance.uniform(0, 4)), dxfattribs=mark)
    if chance.random() < 0.4:
        text = chance.choice(["A1", "K7", "L", "R24"])
        space.add_text(text, height=8, dxfattribs=mark).set_placement((length - 45, width - 16))
    if chance.random() < 0.3:
        space.add_line((length - 25, 0), (length - 25, width), dxfattribs={"layer": "BEND"})
    document.saveas(file)


def _shape(chance: random.Random) -> dict[str, Any]:
    size = chance.randint(60, 260)
    kind = chance.randrange(5)
    if kind == 0:
        return {"kind": "rectangle", "length": size, "width": chance.randint(40, 150)}
    if kind == 1:
        return {"kind": "ring", "outside": size, "inside": round(size * chance.uniform(0.3, 0.7))}
    if kind == 2:
        return {
            "kind": "gusset",
            "length": size,
            "height": chance.randint(60, 180),
            "snipe": chance.choice([0, 15]),
        }
    if kind == 3:
        outside = size + 80
        return {
            "kind": "flange", "outside": outside, "bore": round(0.35 * outside), "bolts": chance.choice([4, 6, 8]),
            "bolt_circle": round(0.72 * outside), "bolt_hole": chance.choice([14, 22]),
        }  # fmt: skip
    return {
        "kind": "base plate", "length": size + 60, "width": 120, "hole": chance.choice([14, 18, 26]), "edge_distance": 25,
    }  # fmt: skip


def _remnant(file: Path, chance: random.Random) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    x, y = chance.randint(900, 1300), chance.randint(700, 1000)
    u, v = chance.randint(350, 600), chance.randint(300, 450)
    space.add_lwpolyline(
        [(0, 0), (x, 0), (x, v), (u, v), (u, y), (0, y)], close=True, dxfattribs={"layer": "CUT"}
    )
    if chance.random() < 0.5:
        space.add_circle((u / 2, y - 160), 60, dxfattribs={"layer": "CUT"})
    document.saveas(file)


def job_of(seed: int, folder: Path) -> dict[str, Any]:
    """Return a job as its file would hold it, with its drawings written into a folder."""
    chance = random.Random(seed)
    process = chance.choice(["plasma", "plasma", "oxyfuel"])
    thickness = chance.choice([6, 10, 15, 20]) if process == "plasma" else chance.choice([15, 25, 40])
    torches = chance.choice([1, 1, 1, 2, 3])
    common = {"thickness": thickness, "grade": GRADE}
    parts: list[dict[str, Any]] = [
        {"name": f"shape{k}", "shape": _shape(chance), "quantity": chance.randint(1, 6), **common}
        for k in range(chance.randint(1, 4))
    ]
    for k in range(chance.randint(0, 2) if torches == 1 else 0):
        _drawing(folder / f"drawn{k}.dxf", chance)
        parts.append({"drawing": f"drawn{k}.dxf", "quantity": chance.randint(1, 3), **common})
    length, width = chance.choice([(1500, 1000), (2000, 1250), (1250, 1250)])
    plates: list[dict[str, Any]] = [{"id": "P", "length": length, "width": width, "quantity": 8, **common}]
    if chance.random() < 0.6:
        clamps = [
            [0, width - 60, 50, width],
            [length - 80, 0, length, 40],
            [length / 2, 0, length / 2 + 60, 50],
        ]
        plates[0]["keepouts"] = chance.sample(clamps, chance.randint(1, 3))
    if torches == 1 and chance.random() < 0.4:
        _remnant(folder / "remnant.dxf", chance)
        plates.insert(0, {"id": "R", "outline": "remnant.dxf", **common})
    post = chance.choice(POSTS) if torches == 1 else "rs274-several-torches"
    machine: dict[str, Any] = {"table": [6000, 2500], "postprocessor": post, "postprocessor_oxyfuel": post}
    if torches > 1:
        machine |= {"torches": torches, "torch_spacing_mm": chance.choice([250.0, 350.0, 420.0])}
    else:
        machine["marker"] = True
    small = "mark" if torches == 1 else "cut"
    return {
        "job": {"name": f"random {seed}", "seed": seed},
        "machine": machine,
        "cutting": {"process": process, "small_holes": small},
        "marking": {"names": torches == 1 and chance.random() < 0.3},
        "plate": plates,
        "part": parts,
    }


def trial(seed: int, folder: Path) -> tuple[int, int, list[str]]:
    """Plan a random job, and return its sheets, its pierces, and what the replay finds wrong with them."""
    import cutplan

    folder.mkdir(parents=True, exist_ok=True)
    plan = cutplan.plan(cutplan.parse_job(job_of(seed, folder), folder / "job.toml"))
    cutplan.write_plan(plan, folder / "out")
    record = json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))
    wrong, pierces = [], 0
    for plate in record["plates"]:
        texts = [
            (folder / "out" / program["file"]).read_text(encoding="utf-8") for program in plate["programs"]
        ]
        found = faults_of(plate, record["parts"], texts)
        pierces += plate["verification"]["pierces"]
        wrong += [f"seed {seed}, {plate['id']}-{plate['sheet']}: {told}" for told in found]
    return len(record["plates"]), pierces, wrong
