"""The rooms keep their direction: none imports a room that comes after it in the flow."""

import ast
from pathlib import Path

import pytest

import cutplan

PACKAGE = Path(cutplan.__file__).parent
FLOW = [
    "geometry", "drawing", "stock", "process", "nesting", "cutting", "sequencing",
    "program", "verification", "estimating", "forming", "report",
]  # fmt: skip
# Modules beside the rooms that any room may use.
FOUNDATION = {"errors", "compiled", "files", "machine", "tables", "__version__"}


def imported_from_package(module: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "cutplan":
            parts = (node.module or "").split(".")
            names |= {parts[1]} if len(parts) > 1 else {alias.name for alias in node.names}
        elif isinstance(node, ast.Import):
            names |= {a.name.split(".")[1] for a in node.names if a.name.startswith("cutplan.")}
    return names


@pytest.mark.parametrize("room", FLOW)
def test_a_room_imports_only_rooms_before_it(room: str) -> None:
    allowed = set(FLOW[: FLOW.index(room) + 1]) | FOUNDATION
    for module in (PACKAGE / room).rglob("*.py"):
        wrong = imported_from_package(module) - allowed
        assert not wrong, f"{module.relative_to(PACKAGE)} reaches into {sorted(wrong)}"


def test_every_room_lists_its_public_names() -> None:
    for room in FLOW:
        assert (PACKAGE / room / "__init__.py").is_file()
