"""Every public function says what it takes, what it gives and what it raises, as numpydoc has it."""

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import cutplan
from cutplan.base import errors

PACKAGE = Path(cutplan.__file__).parent
ERRORS = set(errors.__all__)
# Commands are documented by their help, which typer takes from the same text.
ROOMS = sorted(p.name for p in PACKAGE.iterdir() if (p / "__init__.py").is_file() and p.name != "cli")


def public_modules() -> Iterator[Any]:
    yield cutplan
    for room in ROOMS:
        yield importlib.import_module(f"cutplan.{room}")
    for module in pkgutil.iter_modules([str(PACKAGE / "base")]):
        yield importlib.import_module(f"cutplan.base.{module.name}")


def public_functions() -> dict[str, Callable[..., Any]]:
    found = {}
    for module in public_modules():
        for name in getattr(module, "__all__", ()):
            thing = getattr(module, name)
            if inspect.isfunction(thing) and thing.__module__.startswith("cutplan."):
                found[f"{thing.__module__}.{name}"] = thing
    return found


FUNCTIONS = public_functions()


def section(doc: str, heading: str) -> str | None:
    """Return the text under a heading of a docstring, None where there is none."""
    found = re.search(rf"^{heading}\n-+\n(.*?)(?=^\w[\w ]*\n-{{3,}}$|\Z)", doc, re.DOTALL | re.MULTILINE)
    return found.group(1) if found else None


def names_in(parameters: str) -> set[str]:
    heads = [line.split(" : ")[0] for line in parameters.splitlines() if line and not line[0].isspace()]
    return {name.strip().lstrip("*") for head in heads for name in head.split(",")}


def errors_raised(function: Callable[..., Any]) -> set[str]:
    """Return the package's errors that a function raises in its own lines."""
    tree = ast.parse(inspect.getsource(inspect.unwrap(function)))
    calls = [n.exc.func for n in ast.walk(tree) if isinstance(n, ast.Raise) and isinstance(n.exc, ast.Call)]
    return {call.id for call in calls if isinstance(call, ast.Name) and call.id in ERRORS}


def test_there_are_public_functions_to_check() -> None:
    assert len(FUNCTIONS) > 150


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_a_public_function_is_documented_whole(name: str) -> None:
    function = FUNCTIONS[name]
    doc, signature = inspect.getdoc(function) or "", inspect.signature(function)
    described = section(doc, "Parameters")
    assert set(signature.parameters) == (names_in(described) if described else set())
    gives = signature.return_annotation not in (None, "None", "NoReturn", inspect.Signature.empty)
    if gives:
        assert section(doc, "Returns") or section(doc, "Yields")
    if errors_raised(function):
        assert section(doc, "Raises"), f"raises {errors_raised(function)}"
