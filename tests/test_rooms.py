"""The rooms keep their direction; import-linter holds the layers, this holds the public names."""

import ast
import json
import runpy
import subprocess
import sys
from collections.abc import Iterator
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


IMPORT_EACH_FIRST = """
import importlib, json, sys, traceback
told = {}
for room in sys.argv[1:]:
    for name in [each for each in sys.modules if each.split(".")[0] == "cutplan"]:
        del sys.modules[name]
    try:
        module = importlib.import_module("cutplan." + room)
        [getattr(module, name) for name in module.__all__]
    except BaseException:
        told[room] = traceback.format_exc()
print(json.dumps(told))
"""


def test_each_room_can_be_imported_first_and_lists_its_public_names() -> None:
    # In one process: the libraries stay loaded, the package's own modules do not.
    rooms = [room for room in ROOMS if room != SHELF]
    done = subprocess.run(
        [sys.executable, "-c", IMPORT_EACH_FIRST, *rooms], capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {}


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


# Of a function, from its head to its end without the docstring, and of its parameters that are told
# apart by their place alone: what a reader sees at once, and can call without looking it up.
MOST_FUNCTION_LINES = 40
MOST_LOOSE = 8
# Compiled loops that are longer or take more, each by its room: a call within a loop and a record
# of arrays were not measured yet to cost nothing there.  None may be added.
LONG_KERNELS = {
    "geometry": {"_blocked", "add_inner", "crossing_hits", "cut_and_judge", "make_biarc"},
    "nesting": {
        "_clear", "_covered", "_descend", "_free_ones", "_outer_sides", "_sampled", "_sides_near", "_snap",
        "weighted_loss",
    },
    "sequencing": {"_best_chains", "_lk_move", "_settle", "chained_steps", "improve"},
}  # fmt: skip


def too_large(module: Path) -> Iterator[tuple[str, int, int]]:
    """Yield name, lines and loose parameters of each function over a limit."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    inside = {id(each) for node in ast.walk(tree) if isinstance(node, ast.ClassDef) for each in node.body}
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef):
            continue
        said = node.body[0] if ast.get_docstring(node) is not None else None
        options = any("typer.Option" in ast.unparse(each) for each in node.args.args if each.annotation)
        # A command's head is the list of its options, which the manual tells.
        first = node.body[0].lineno if options else node.lineno
        lines = (node.end_lineno or 0) - first + 1
        lines -= (said.end_lineno or 0) - said.lineno + 1 if said is not None else 0
        required = [each for each in node.args.kw_defaults if each is None]
        loose = len(node.args.posonlyargs) + len(node.args.args) + len(required) - (id(node) in inside)
        if lines > MOST_FUNCTION_LINES or (loose > MOST_LOOSE and not options):
            yield node.name, lines, loose


@pytest.mark.parametrize("room", ROOMS)
def test_functions_are_short_and_take_few_loose_parameters(room: str) -> None:
    found = {
        name: (lines, loose) for m in (PACKAGE / room).rglob("*.py") for name, lines, loose in too_large(m)
    }
    assert {name: size for name, size in found.items() if name not in LONG_KERNELS.get(room, ())} == {}
    assert LONG_KERNELS.get(room, set()) <= set(found), "a kernel that is small by now leaves the list"


def test_a_long_function_and_one_of_many_parameters_are_found(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    many = ", ".join(f"p{k}" for k in range(9))
    body = "".join(f"    x = {k}\n" for k in range(40))
    module.write_text(
        f"def long():\n{body}\n\ndef wide({many}):\n    pass\n\n\ndef named(a, *, {many.replace(',', '=0,')}=0):\n    pass\n"
    )
    assert list(too_large(module)) == [("long", 41, 0), ("wide", 2, 9)]
