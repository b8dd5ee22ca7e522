"""A program edited by hand afterwards is recognised."""

from __future__ import annotations

import hashlib
import re

import pytest
from hand_made_orders import MACHINE, PLASMA, tie_plates

from cutplan.control import bound_to, digest, is_untouched, overall_digest, plan_digest, read_program, stamp
from cutplan.program import find_postprocessor, write_program

BOUND = {name: hashlib.sha256(name.encode()).hexdigest() for name in ("nest", "data", "machine", "cuts")}
PLAN = overall_digest(BOUND)


def program(name: str = "rs274-metric") -> str:
    order, sheet = tie_plates(2)
    post = find_postprocessor(name)
    return write_program(order, sheet, PLASMA, MACHINE, post, name="PL10-1", bound=BOUND).text


def test_a_program_carries_its_own_digest_and_its_plan_s() -> None:
    text = program()
    assert plan_digest(text) == PLAN
    assert bound_to(text) == {name: value[:12] for name, value in BOUND.items()}
    # The digest is the SHA-256 of every line but its own, as any other tool can take it.
    others = [line for line in text.splitlines() if not line.startswith("(digest ")]
    assert f"(digest {hashlib.sha256(chr(10).join(others).encode()).hexdigest()})" in text.splitlines()
    assert is_untouched(text) and is_untouched(text, digest(text))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("X74", "X73"),
        ("G3 ", "G2 "),
        ("M5\n", ""),
        ("F1800", "F180"),
        (PLAN, PLAN[::-1]),
        ("copy 1", "copy 2"),
    ],
)
def test_any_edit_is_recognised(old: str, new: str) -> None:
    text = program()
    assert old in text
    assert not is_untouched(text.replace(old, new, 1))
    assert not is_untouched(text.replace(old, new, 1), digest(text))


def test_a_program_whose_digest_was_taken_out_or_renewed_is_known_by_the_plan() -> None:
    text = program()
    edited = text.replace("X74", "X73")
    without = re.sub(r"\(digest .*\)\n", "", text)
    assert not is_untouched(without)
    assert is_untouched(without, digest(text))
    assert is_untouched(stamp(edited))
    assert not is_untouched(stamp(edited), digest(text))


def test_line_endings_and_idle_blanks_do_not_count() -> None:
    text = program()
    assert is_untouched(text.replace("\n", "\r\n"))
    assert is_untouched(text.replace("M5\n", "M5  \n") + "\n\n")


def test_stamping_twice_changes_nothing() -> None:
    text = program()
    assert stamp(text) == text
    assert stamp(text, BOUND) == text


def test_a_program_without_comments_is_known_by_the_plan_alone() -> None:
    text = program("rs274-small-memory")
    assert stamp(text, BOUND) == text
    assert not is_untouched(text)
    assert is_untouched(text, digest(text))
    assert not is_untouched(text.replace("X74", "X73"), digest(text))


def test_a_percent_line_stays_the_first() -> None:
    text = program("rs274-numbered")
    assert text.startswith("%\n(PL10-1)\n(plan digest ")
    assert is_untouched(text)
    assert len(read_program(text, find_postprocessor("rs274-numbered").dialect)) > 0
