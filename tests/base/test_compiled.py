"""Kernels kept on disk are never older than what they are made of."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cutplan.base.compiled import COMPILED, drop_stale

INNER = "from cutplan.base.compiled import njit\nfrom shop.more import MORE\n@njit\ndef inner(x):\n    return x + {} + MORE\n"
OUTER = "from cutplan.base.compiled import njit\nfrom shop.inner import inner\n@njit\ndef outer(x):\n    return 2 * inner(x)\n"
ASK = "from pathlib import Path; from cutplan.base.compiled import drop_stale; drop_stale(Path('shop')); from shop.outer import outer; print(outer(1))"


@pytest.mark.skipif(not COMPILED, reason="nothing is compiled here")
def test_a_kernel_is_compiled_anew_when_one_that_it_calls_from_another_file_changes(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "__init__.py").write_text("")
    (shop / "outer.py").write_text(OUTER)
    answers = []
    for added, more in ((1, 0), (5, 0), (5, 3)):
        (shop / "inner.py").write_text(INNER.format(added))
        (shop / "more.py").write_text(f"MORE = {more}\n")
        run = subprocess.run(
            [sys.executable, "-c", ASK], cwd=tmp_path, capture_output=True, text=True, timeout=120
        )
        assert run.returncode == 0, run.stderr
        answers.append(int(run.stdout))
        assert list(shop.rglob("*.nbi"))
    assert answers == [4, 12, 18]


def test_kernels_stay_where_only_other_sources_change(tmp_path: Path) -> None:
    (tmp_path / "kernel.py").write_text("@njit\n")
    (tmp_path / "other.py").write_text("a = 1\n")
    kept = tmp_path / "__pycache__" / "kernel.f-1.py311.nbi"
    assert drop_stale(tmp_path)
    kept.write_text("kept")
    (tmp_path / "other.py").write_text("a = 2\n")
    os.utime(tmp_path / "other.py", (1, 1))
    assert not drop_stale(tmp_path)
    assert kept.exists()
    (tmp_path / "kernel.py").write_text("@njit()\n")
    os.utime(tmp_path / "kernel.py", (1, 1))
    assert drop_stale(tmp_path)
    assert not kept.exists()
