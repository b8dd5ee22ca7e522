"""Parts lists from an office become the parts of a job, or one clear error."""

from datetime import date
from pathlib import Path

import pytest

from cutplan.base.errors import JobError
from cutplan.planning.job import parse_job

PLATE = {"id": "PL10", "length": 3000, "width": 1500, "thickness": 10, "grade": "S355"}


def job_with(tmp_path: Path, text: str):
    (tmp_path / "parts.csv").write_text(text, encoding="utf-8")
    data = {"job": {"name": "batch"}, "plate": [PLATE], "parts_list": "parts.csv"}
    return parse_job(data, tmp_path / "job.toml")


def test_an_offices_list_becomes_the_jobs_parts(tmp_path: Path) -> None:
    job = job_with(
        tmp_path,
        "Drawing;Qty;Thickness [mm];Grade;Due date;Assembly\n"
        "gusset;4 pcs;10,0;S355;31.01.2027;dolly\n"
        "ring.dxf;2;12,5;S355J2;;\n",
    )
    gusset, ring = job.parts
    assert (gusset.drawing, gusset.quantity, gusset.thickness) == ("gusset.dxf", 4, 10.0)
    assert (gusset.due, gusset.kit) == (date(2027, 1, 31), "dolly")
    assert (ring.label, ring.thickness, ring.kit) == ("ring", 12.5, None)


def test_a_list_may_say_what_a_part_entry_says_and_what_it_means_nothing_by_is_named(tmp_path: Path) -> None:
    job = job_with(
        tmp_path,
        "Zeichnung;Stück;Dicke;Werkstoff;Process;Units;Rotations;Mirror;Filler;Rolling direction;Remark;Weight\n"
        "gusset;4;10,0;S355;oxyfuel;in;0/180;ja;no;across bends;urgent;12\n"
        "ring;2;10,0;S355;;;any;;yes;;;\n",
    )
    gusset, ring = job.parts
    assert (gusset.process, gusset.units, gusset.rotations_deg) == ("oxyfuel", "in", (0.0, 180.0))
    assert (gusset.mirror, gusset.filler, gusset.rolling_direction) == (True, False, "across bends")
    assert (ring.process, ring.rotations_deg, ring.filler) == (None, None, True)
    assert job.unread == ("Remark", "Weight")


def test_inches_stand_in_the_heading(tmp_path: Path) -> None:
    job = job_with(tmp_path, "File,Pcs,Thk (in),Steel\nshim.dxf,3,3/8,A36\n")
    assert job.parts[0].thickness == pytest.approx(9.525)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "drawing,qty,thk,grade\na,2,10,S355\nb,two,10,S355\nc,1,thin,S355\n",
            r"2 things are wrong\n  row 3: 'two' is not a number; .*\n  row 4: 'thin'",
        ),
        ("drawing,qty,thk,grade\na,2.5,10,S355\n", "row 2: '2.5' is no whole number"),
        ("drawing,qty,thk,grade\n,2,10,S355\n", "row 2: drawing is empty"),
        ("drawing,qty,thk,grade\na,1.000,10,S355\n", "row 2: '1.000' could be read two ways"),
        ("drawing,qty,thk,grade,mirror\na,1,10,S355,maybe\n", "row 2: mirror 'maybe' is neither yes nor no"),
        ("drawing,qty,thk,grade,rotations\na,1,10,S355,0/x\n", "row 2: rotations '0/x' are no angles"),
        ("drawing,qty,thk,grade,due\na,2,10,S355,soon\n", "row 2: 'soon' is no date"),
        ("drawing,qty,thk [furlong],grade\na,2,10,S355\n", "unknown unit 'furlong'"),
        ("drawing,qty,grade\na,2,S355\n", "no column for thickness"),
        ("drawing,qty,thk,grade\na,0,10,S355\n", "parts.csv, row 2, quantity: .*got 0"),
    ],
)
def test_a_bad_row_is_named_and_nothing_planned(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(JobError, match=words):
        job_with(tmp_path, text)


def test_a_standard_plate_stands_in_for_a_drawing() -> None:
    part = {"name": "washer", "quantity": 4, "thickness": 10, "grade": "S355",
            "shape": {"kind": "ring", "outside": 80, "inside": 30}}  # fmt: skip
    job = parse_job({"job": {"name": "b"}, "plate": [PLATE], "part": [part]}, Path("job.toml"))
    assert job.parts[0].label == "washer"
    for bad in ({**part, "drawing": "a.dxf"}, {k: v for k, v in part.items() if k != "name"},
                {**part, "shape": {"kind": "ring", "outside": 30, "inside": 80}}):  # fmt: skip
        with pytest.raises(JobError):
            parse_job({"job": {"name": "b"}, "plate": [PLATE], "part": [bad]}, Path("job.toml"))
