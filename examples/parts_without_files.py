"""Make parts, a plate and a job in Python, and plan them: no drawing and no job file."""

import cutplan

web = cutplan.make_part(
    "web",
    cutplan.polygon([(0, 0), (420, 0), (420, 90), (300, 160), (0, 160)]),
    holes=[cutplan.circle((60, 80), 13), cutplan.circle((360, 50), 13)],
)
ring = cutplan.Ring(outside=240, inside=120)

job = cutplan.Job(
    "made in Python",
    parts=[
        cutplan.wanted(web, 4, thickness=12, grade="S355", rotations="any"),
        cutplan.wanted(ring, 2, name="ring", thickness=12, grade="S355"),
    ],
    plates=[cutplan.on_offer("PL12", 1500, 600, thickness=12, grade="S355")],
    machine=cutplan.Machine(table=(3000, 1500), water_table=True),
)
print(job)

plan = cutplan.plan(job)
print(plan)
for file in plan.sheets[0].program.files:
    print("\n".join(file.text.splitlines()[:12]))
