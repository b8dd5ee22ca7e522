"""Another process that holds a folder until it is killed."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

HOLDER = """
import sys, time
from pathlib import Path
from cutplan.planning.folders import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


@contextmanager
def held_by_another(folder: Path) -> Iterator[None]:
    """Have another process hold a folder during the block, and kill it then."""
    holder = subprocess.Popen([sys.executable, "-c", HOLDER, str(folder)], stdout=subprocess.PIPE, text=True)
    assert holder.stdout and holder.stdout.readline() == "held\n"
    try:
        yield
    finally:
        holder.kill()
        holder.wait(30)
