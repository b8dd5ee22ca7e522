"""What does a batch take, and what of it does one more piece take?"""

from dataclasses import replace
from pathlib import Path

import cutplan

here = Path(__file__).parent
job = replace(cutplan.load_job(here / "brackets.toml"), prices=here.parent / "parts" / "prices.toml")
batch = cutplan.estimate(job)
print(batch)
for name, share in batch.by_part.items():
    cost = share.cost["total"] if share.cost else 0.0
    print(f"{name}: {share.time_s['total'] / 60:.1f} min and {cost:.2f} {batch.currency} for {share.copies}")

more = cutplan.estimate(job.with_quantity("tie-plate", 3))
print(f"one tie plate more: {(more.time_s['total'] - batch.time_s['total']) / 60:.1f} min")
