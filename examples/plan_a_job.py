"""Load a job, plan it, look at it, change a quantity, plan again and write the programs."""

from pathlib import Path

import cutplan

job = cutplan.load_job(Path(__file__).parent / "brackets.toml")
plan = cutplan.plan(job, progress=lambda stage, share: print(f"{share:4.0%} {stage}"))
for sheet in plan.sheets:
    print(sheet)
    print("  first cut:", sheet.cuts[0])
    print("  worst bite:", sheet.verdict.worst_bite_mm, "mm")
print(plan.total)

plan = cutplan.plan(job.with_quantity("gusset", 8))
print("written:", ", ".join(cutplan.write_plan(plan, "brackets")))
