"""The rooms keep their direction; import-linter holds the layers, this holds the public names."""

import ast
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

import cutplan

PACKAGE = Path(cutplan.__file__).parent
ROOMS = sorted(p.name for p in PACKAGE.iterdir() if (p / "__init__.py").is_file())
# Each of its modules is public by its own name.
SHELF = "base"


def imports_of(module: Path) -> list[ast.ImportFrom]:
    tree = ast.parse(module.read_text(encoding="utf-8"))
    return [
        n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and (n.module or "").startswith("cutplan.")
    ]


@pytest.mark.parametrize("room", [r for r in ROOMS if r != SHELF])
def test_a_room_imports_only_the_public_names_of_another(room: str) -> None:
    for module in (PACKAGE / room).rglob("*.py"):
        for node in imports_of(module):
            parts = (node.module or "").split(".")
            inside = parts[1] in (room, SHELF)
            assert inside or len(parts) == 2, (
                f"{module.relative_to(PACKAGE)}:{node.lineno} reaches into {node.module}"
            )


@pytest.mark.parametrize("room", [r for r in ROOMS if r != SHELF])
def test_a_room_lists_its_public_names(room: str) -> None:
    code = f"import cutplan.{room} as room; [getattr(room, name) for name in room.__all__]"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr


# Of a module: what a reader can hold in his head, by common practice.
MOST_LINES = 400


def test_no_modules_import_each_other_in_a_circle() -> None:
    house = runpy.run_path(str(PACKAGE.parent / "docs" / "rooms.py"))
    graph = house["module_graph"](PACKAGE)
    assert graph.number_of_nodes() > 200
    assert house["circles"](graph) == []
    assert house["circles"](house["room_graph"](graph)) == []


def test_the_import_graph_finds_a_circle_where_there_is_one(tmp_path: Path) -> None:
    house = runpy.run_path(str(PACKAGE.parent / "docs" / "rooms.py"))
    room = tmp_path / "shop" / "room"
    room.mkdir(parents=True)
    (room / "__init__.py").write_text("")
    (room / "one.py").write_text("from shop.room.two import b\n")
    (room / "two.py").write_text("def b():\n    import shop.room.one\n")
    assert house["circles"](house["module_graph"](tmp_path / "shop")) == [["room.one", "room.two"]]


def test_no_module_is_longer_than_a_reader_can_hold() -> None:
    lengths = {m: len(m.read_text(encoding="utf-8").splitlines()) for m in PACKAGE.rglob("*.py")}
    assert not {str(m.relative_to(PACKAGE)): n for m, n in lengths.items() if n > MOST_LINES}
