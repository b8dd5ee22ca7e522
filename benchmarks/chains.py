"""What chains save: pierces and time of the demo's 40 mm plate, with them and without, and what no chain can save.

    python benchmarks/chains.py [--parts 5] [--open 5]

One nest is ordered and written three times: plain, with `[techniques] chains`, and with chains of
any length (as many parts begun at once).  Every program is proved as it is planned.  Two floors
stand beside the figures: a hole lies in its part, so each one needs a pierce of its own; and the
torch must run along every contour.
"""

from __future__ import annotations

import argparse
import platform
from dataclasses import replace
from pathlib import Path

from cutplan.cutting import Chains, Techniques
from cutplan.planning import load_job, plan_job
from cutplan.record import Plan

JOB = Path(__file__).parent.parent / "parts" / "dolly-batch.toml"
THICKNESS = 40.0


def planned(chains: Chains | bool, open_parts: int) -> Plan:
    """Plan the demo's thick plate."""
    job = load_job(JOB)
    job = replace(
        job,
        parts=tuple(part for part in job.parts if part.thickness == THICKNESS),
        plates=tuple(plate for plate in job.plates if plate.thickness == THICKNESS),
        techniques=Techniques(chains=chains),
        order=replace(job.order, open_parts=open_parts),
    )
    return plan_job(job)


def told(name: str, plan: Plan) -> str:
    """Return one row of the table."""
    times = plan.total.time_s
    table = times["total"] - times["handling"]
    links = sum(len(step.lead.links) for sheet in plan.sheets for step in sheet.order.steps)
    opened = max(sheet.order.open_parts for sheet in plan.sheets)
    pierces = sum(sheet.verdict.pierces for sheet in plan.sheets)
    proved = all(sheet.verdict.is_as_planned for sheet in plan.sheets)
    starts = times["preheating"] + times["piercing"] + times["travel"] + times["raising"]
    cut_m = sum(sheet.verdict.cut_length_mm for sheet in plan.sheets) / 1000.0
    return (
        f"| {name} | {pierces} | {links} | {cut_m:.2f} m | {table:.0f} s | {starts:.0f} s | {opened} | "
        f"{'passed' if proved else 'FAILED'} |"
    )


def main() -> None:
    """Plan the plate in each way and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--parts", type=int, default=5)
    parser.add_argument("--open", type=int, default=5)
    asked = parser.parse_args()
    print(f"{platform.platform()}, Python {platform.python_version()}")
    print("| way | pierces | links | cut | on the table | of that starts and travel | open parts | proof |")
    print("|---|---|---|---|---|---|---|---|")
    plain = planned(False, asked.open)
    print(told("plain", plain))
    print(told(f"chains of {asked.parts}", planned(Chains(parts=asked.parts), asked.open)))
    print(told("chains of any length", planned(Chains(parts=1000), 1000)))
    holes = sum(step.cut.kind == "hole" for sheet in plain.sheets for step in sheet.order.steps)
    times = plain.total.time_s
    table = times["total"] - times["handling"]
    print(
        f"no fewer pierces than {holes + len(plain.sheets)}: {holes} holes, and one for each plate's outsides"
    )
    print(f"cutting alone takes {times['cutting']:.0f} of the plain {table:.0f} s: no chain saves more than "
          f"{100 * (1 - times['cutting'] / table):.1f} %")  # fmt: skip


if __name__ == "__main__":
    main()
