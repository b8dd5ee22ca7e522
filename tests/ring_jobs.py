"""A small job of rings and slotted strips, planned through any post-processor."""

import json
from pathlib import Path

from cutplan.planning import plan_job, write_files
from cutplan.planning.job import parse_job

JOB = {
    "job": {"name": "rings"},
    "order": {"effort": 0.1},
    "machine": {"table": [3000, 1500], "marker": True},
    "plate": [{"id": "A", "length": 700, "width": 450, "thickness": 10, "grade": "S355", "quantity": 2}],
    "part": [
        {"name": "ring", "quantity": 4, "thickness": 10, "grade": "S355",
         "shape": {"kind": "ring", "outside": 150, "inside": 80}},
        {"name": "strip", "quantity": 3, "thickness": 10, "grade": "S355",
         "shape": {"kind": "slotted strip", "length": 220, "width": 70, "slots": 2, "slot_length": 40, "slot_width": 18}},
    ],
}  # fmt: skip


def planned(folder: Path, post: str, **changes: object) -> Path:
    flame = post == "rs274-oxyfuel-preheat"
    thickness = 20 if flame else 10
    data = json.loads(json.dumps(JOB))
    for entry in (*data["plate"], *data["part"]):
        entry["thickness"] = thickness
    data["machine"]["postprocessor"] = post
    data["cutting"] = {"process": "oxyfuel" if flame else "plasma"}
    if flame:
        data["machine"]["processes"] = ["oxyfuel"]
    data["machine"] |= changes.pop("machine", {})  # type: ignore[operator]
    for plate in data["plate"]:
        plate |= changes.get("plate", {})
    data |= changes.get("job", {})  # type: ignore[operator]
    job = parse_job(data, folder / "job.toml")
    write_files(plan_job(job), folder / "out")
    return folder / "out"
