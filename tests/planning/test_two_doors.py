"""What `check` lets through, `plan` cuts and proves; what cannot be cut is refused by both, with its place."""

from pathlib import Path

import pytest
from awkward_parts import awkward_part
from two_doors import through_both_doors


# Holes to be marked for drilling on a machine without a marker: once checked, and then failed in the proof.
@pytest.mark.parametrize("seed", [7, 19])
def test_a_hole_that_can_neither_be_cut_nor_marked_is_refused_at_the_door(tmp_path: Path, seed: int) -> None:
    part = awkward_part(seed)
    assert part is not None
    outcome, words = through_both_doors(part, tmp_path, seed)
    assert outcome == "refused by both" and "no marker" in words


@pytest.mark.parametrize("seed", [0, 2, 4, 5])
def test_awkward_parts_come_to_the_same_through_both_doors(tmp_path: Path, seed: int) -> None:
    part = awkward_part(seed)
    if part is None:
        pytest.skip("the seed gives no part that a drawing may draw")
    outcome, words = through_both_doors(part, tmp_path, seed)
    assert not outcome.startswith("WRONG"), f"{outcome}: {words}"
