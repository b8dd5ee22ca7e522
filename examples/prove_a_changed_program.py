"""Change a program by hand and prove it again: the proof says what the change does to the metal."""

from pathlib import Path

import cutplan

plan = cutplan.plan(Path(__file__).parent / "brackets.toml")
files = cutplan.write_plan(plan, "brackets")
program = (
    Path("brackets") / f"{plan.sheets[0].program.files[0].name}.{plan.sheets[0].program.files[0].extension}"
)
print("as planned:", "passed" if cutplan.verify(program).verdict.passed else "failed")

# An operator takes out the last arc of a hole: the slug stays in.
lines = program.read_text().splitlines()
last_arc = max(n for n, line in enumerate(lines) if "G3" in line or "G2" in line)
program.write_text("\n".join(lines[:last_arc] + lines[last_arc + 1 :]) + "\n")

checked = cutplan.verify(program)
print("changed by hand:", "passed" if checked.verdict.passed else "failed")
for fault in checked.verdict.faults[:3]:
    print(f"  {fault.message}, at {fault.place}")
