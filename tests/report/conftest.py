"""A small batch, planned once for all tests of this room."""

from pathlib import Path

import pytest

from cutplan.planning.flow import plan_job
from cutplan.planning.job import parse_job
from cutplan.record import Plan


@pytest.fixture(scope="session")
def batch() -> Plan:
    """Three rings and three strips that need two plates; names hold what HTML must escape."""
    common = {"thickness": 10, "grade": "S355"}
    job = parse_job(
        {
            "job": {"name": "dolly <b>batch</b> & spares"},
            "machine": {"marker": True},
            "cutting": {"process": "plasma"},
            "plate": [{"id": "PL10", "length": 300, "width": 200, "heat": "H4711", "quantity": 3, **common}],
            "part": [
                {"name": "ring & washer", "quantity": 3, "shape": {"kind": "ring", "outside": 120, "inside": 60}, **common},
                {"name": "strip", "quantity": 3, "shape": {"kind": "rectangle", "length": 150, "width": 40}, **common},
            ],
        },
        Path("job.toml"),
    )  # fmt: skip
    return plan_job(job)
