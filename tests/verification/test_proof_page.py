"""The page on the proof names a test for every promise, and each of them is there."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parents[1]
PAGE = (TESTS.parent / "docs" / "proof.md").read_text(encoding="utf-8")
NAMED = re.compile(r"`([a-z_/]+\.py)::(test_[a-z0-9_]+)`")


def test_every_test_that_the_page_names_is_there() -> None:
    named = NAMED.findall(PAGE)
    assert len(named) > 50
    for file, test in named:
        assert f"def {test}(" in (TESTS / file).read_text(encoding="utf-8"), f"{file}::{test}"


def test_every_promise_names_its_test() -> None:
    promises = PAGE.split("## What it promises")[1].split("## What it assumes")[0]
    bare = [line for line in promises.splitlines() if line.startswith("- ") and not NAMED.search(line)]
    assert not bare
