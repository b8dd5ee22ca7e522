"""Standard plates have the area that their sizes say, and refuse sizes that leave no metal."""

import math
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from cutplan.drawing.standard_plates import StandardPlate
from cutplan.geometry import area, is_counter_clockwise

PLATE: TypeAdapter[Any] = TypeAdapter(StandardPlate)


def metal(sizes: dict[str, Any]) -> float:
    part = PLATE.validate_python(sizes).part("p")
    assert is_counter_clockwise(part.outer)
    assert not any(is_counter_clockwise(hole) for hole in part.holes)
    return area(part.outer) + sum(area(hole) for hole in part.holes)


@pytest.mark.parametrize(
    ("sizes", "expected"),
    [
        ({"kind": "rectangle", "length": 200, "width": 100}, 20000),
        ({"kind": "rectangle", "length": 200, "width": 100, "corner_radius": 50}, 10000 + math.pi * 2500),
        ({"kind": "rectangle", "length": 80, "width": 80, "corner_radius": 40}, math.pi * 1600),
        ({"kind": "ring", "outside": 300, "inside": 100}, math.pi * (150**2 - 50**2)),
        ({"kind": "flange", "outside": 300, "bore": 100, "bolt_circle": 240, "bolts": 8, "bolt_hole": 22},
         math.pi * (150**2 - 50**2 - 8 * 11**2)),
        ({"kind": "gusset", "length": 200, "height": 150, "snipe": 20, "nose": 15},
         200 * 150 - 20 * 20 / 2 - (200 - 15) * (150 - 15) / 2),
        ({"kind": "base plate", "length": 300, "width": 200, "hole": 22, "edge_distance": 40, "bore": 60},
         60000 - math.pi * (4 * 11**2 + 30**2)),
        ({"kind": "slotted strip", "length": 600, "width": 80, "slots": 3, "slot_length": 60,
          "slot_width": 20},
         48000 - 3 * (40 * 20 + math.pi * 100)),
    ],
)  # fmt: skip
def test_the_metal_is_what_the_sizes_say(sizes: dict[str, Any], expected: float) -> None:
    assert metal(sizes) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "sizes",
    [
        {"kind": "rectangle", "length": 0, "width": 100},
        {"kind": "rectangle", "length": 200, "width": 100, "corner_radius": 51},
        {"kind": "ring", "outside": 100, "inside": 100},
        {"kind": "flange", "outside": 260, "bolt_circle": 240, "bolts": 8, "bolt_hole": 22},
        {"kind": "flange", "outside": 300, "bolt_circle": 240, "bolts": 40, "bolt_hole": 22},
        {"kind": "flange", "outside": 300, "bore": 220, "bolt_circle": 240, "bolts": 8, "bolt_hole": 22},
        {"kind": "gusset", "length": 40, "height": 150, "snipe": 30, "nose": 15},
        {"kind": "base plate", "length": 300, "width": 200, "hole": 80, "edge_distance": 40},
        {"kind": "base plate", "length": 300, "width": 200, "hole": 22, "edge_distance": 90},
        {
            "kind": "slotted strip",
            "length": 600,
            "width": 80,
            "slots": 10,
            "slot_length": 60,
            "slot_width": 20,
        },
        {"kind": "hexagon", "length": 10},
        {"kind": "ring", "outside": 100, "inside": float("nan")},
    ],
)
def test_sizes_that_leave_no_metal_are_refused(sizes: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        PLATE.validate_python(sizes)
