"""Nest a job without cutting it, and draw each plate: which plates will be needed?"""

from pathlib import Path

import cutplan

nested = cutplan.nest(Path(__file__).parent / "brackets.toml")
for sheet in nested.sheets:
    print(
        f"{sheet.name}: {len(sheet.placements)} parts, {sheet.parts_kg:.1f} of {sheet.plate.mass_kg():.1f} kg used"
    )
    # What a notebook shows of the sheet; any SVG viewer opens it.
    Path(f"{sheet.name}.svg").write_text(sheet._repr_svg_() or "", encoding="utf-8")
for item in nested.unplaced:
    print(f"not placed: {item.quantity} × {item.part}: {item.reason}")
