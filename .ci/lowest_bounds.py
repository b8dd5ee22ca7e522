"""Print the lowest version of every package that pyproject.toml asks for, as constraints."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

BOUND = re.compile(r"([A-Za-z0-9._-]+)(?:\[[^]]*\])?>=([0-9.]+)$")
SETS = ("test", "cluster", "page")


def main() -> None:
    """Print a line a package; what stands without a bound is an error."""
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))[
        "project"
    ]
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *(each for name in SETS for each in extras.get(name, []))]
    for text in wanted:
        if text.startswith("cutplan["):
            continue
        found = BOUND.match(text)
        if found is None:
            raise SystemExit(f"{text}: has no lower bound")
        print(f"{found[1]}=={found[2]}")


if __name__ == "__main__":
    main()
