"""Puts the replay of programs where all tests can import it, and compiles the searches' loops once."""

import sys
from pathlib import Path

import pytest

from cutplan.planning.warming import start_compiling

sys.path.insert(0, str(Path(__file__).parent))


def pytest_configure(config: pytest.Config) -> None:
    """Compile before the workers start what each of them would compile for itself."""
    if config.getoption("numprocesses", None) and not hasattr(config, "workerinput"):
        for process in start_compiling():
            process.wait()
