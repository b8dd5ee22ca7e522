"""A server of the page in a thread, and the system's Chromium before it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hand_jobs import hand_job
from page_server import Served

BROWSER = os.environ.get("CUTPLAN_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def hand_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the small job and the start of its edits, so that nobody plans it again."""
    folder = tmp_path_factory.mktemp("hand")
    hand_job(folder)
    return folder


@pytest.fixture(scope="module")
def served(hand_folder: Path) -> Iterator[Served]:
    page = Served(hand_folder)
    yield page
    page.close()


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    if BROWSER is None:
        if os.environ.get("CUTPLAN_NEEDS_BROWSER"):
            pytest.fail("no Chromium on this machine, and this run must have one")
        pytest.skip("no Chromium on this machine: the page is not tried in a browser")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        yield browser
        browser.close()
