"""Writes the manual's reference from the code: keys, options, columns, notes, exit codes and files.

A page is only what the models, commands and docstrings say; what they do not say is missing
here too, and a test fails then.
"""

from __future__ import annotations

import inspect
import re
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, get_args, get_origin

import click
import typer
from licences import licences_page
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from cutplan.base import errors
from cutplan.base.key_messages import keys_of, section_models

__all__ = ["PAGES", "attributes_of", "commands", "models_of_files", "undescribed", "write_all"]

Row = Sequence[str]


def models_of_files() -> dict[str, type]:
    """Return the model of each kind of file that a user writes."""
    from cutplan.estimating.pricefile import PriceFile
    from cutplan.planning.job import _JobFile
    from cutplan.process.datafile import DataFile
    from cutplan.program.agreement import PostFile
    from cutplan.scheduling import ShopFile

    return {
        "The job file": _JobFile,
        "The price file": PriceFile,
        "The cutting-data file": DataFile,
        "The post-processor file": PostFile,
        "The shop file": ShopFile,
    }


def attributes_of(model: type) -> dict[str, str]:
    """Return what a class's docstring says of each attribute, by name."""
    said: dict[str, str] = {}
    if model.__module__ in ("cutplan.program.postfile", "cutplan.program.agreement"):
        words = re.sub(r"(?<!^)(?=[A-Z])", "_", model.__name__).lower()
        section = "" if words in ("post_file", "post_form") else f"{words}."
        return {key.removeprefix(section): words for key, words in post_processor_keys().items()
                if (key.startswith(section) if section else "." not in key)}  # fmt: skip
    for each in reversed(model.__mro__):
        said |= _section(inspect.cleandoc(each.__doc__ or ""), "Attributes")
    return said


def post_processor_keys() -> dict[str, str]:
    """Return what the table of keys beside the post-processors says of each, by ``section.key``."""
    table = (Path(__file__).parents[1] / "postprocessors" / "README.md").read_text(encoding="utf-8")
    said, section = {}, ""
    for line in table.splitlines():
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        if len(cells) != 3:
            continue
        header = re.fullmatch(r"\*\*`\[(\w+)\]`\*\*", cells[0])
        if header:
            section = f"{header.group(1)}."
        else:
            said |= {f"{section}{key}": cells[2] for key in re.findall(r"`(\w+)`", cells[0])}
    return said


def _section(text: str, title: str) -> dict[str, str]:
    """Read a numpydoc section into names and descriptions."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n---|\Z)", text, re.MULTILINE | re.DOTALL)
    said: dict[str, str] = {}
    if found:
        names: list[str] = []
        for line in found.group(1).splitlines():
            if line and not line.startswith(" "):
                names = [name.strip() for name in line.split(" : ")[0].split(",")]
                said |= dict.fromkeys(names, "")
            elif line.strip() and names:
                said |= {name: f"{said[name]} {line.strip()}".strip() for name in names}
    return said


def undescribed(model: type) -> Iterator[str]:
    """Yield each key of a file, ``[machine] table``, of which its class says nothing."""
    for path, owner, key, field in _walk(model, ""):
        if not attributes_of(owner).get(_attribute(owner, key)) and not list(
            section_models(field.annotation)
        ):
            yield f"{path} {key}".strip()


def _attribute(model: type, key: str) -> str:
    """Return the name in the code of a key in the file."""
    fields: Mapping[str, Any] = model.__pydantic_fields__
    return next(name for name, field in fields.items() if (field.alias or name) == key)


def _walk(model: type, path: str, seen: tuple[type, ...] = ()) -> Iterator[tuple[str, type, str, Any]]:
    for key, field in keys_of(model).items():
        yield path, model, key, field
        for inner in section_models(field.annotation):
            if inner not in seen and not _is_branch_of_python(inner):
                yield from _walk(inner, f"{path} {_header(key, field)}".strip(), (*seen, inner))


def _is_branch_of_python(model: type) -> bool:
    """Return whether a form of a value is for Python only, and not for files."""
    return model.__module__.endswith("drawing.model")


def _header(key: str, field: Any) -> str:
    return f"[[{key}]]" if get_origin(field.annotation) is tuple else f"[{key}]"


def _type_words(annotation: Any) -> str:
    """Return a type in words that a user writes: "number", "text", "list of numbers"."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is typing.Annotated:
        return _type_words(arguments[0])
    if origin is typing.Literal:
        return " or ".join(f"`{_toml(value)}`" for value in arguments)
    if origin in (typing.Union, types.UnionType):
        words = [_type_words(each) for each in arguments if each is not type(None)]
        return " or ".join(dict.fromkeys(words))
    if origin is tuple:
        inner = [each for each in arguments if each is not Ellipsis]
        if Ellipsis in arguments:
            return f"list of {_type_words(inner[0])}"
        return f"list of {len(inner)} × {_type_words(inner[0])}"
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        return f"table of {_type_words(arguments[0])} to {_type_words(arguments[1])}"
    plain = {float: "number", int: "whole number", bool: "`true` or `false`", str: "text"}
    if annotation in plain:
        return plain[annotation]
    if isinstance(annotation, type) and hasattr(annotation, "__pydantic_fields__"):
        return "section"
    return str(getattr(annotation, "__name__", annotation))


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple | list):
        return f"[{', '.join(_toml(each) for each in value)}]"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _default(field: Any) -> str:
    if field.is_required():
        return "must be given"
    value = field.default
    if value is PydanticUndefined or value is None or hasattr(type(value), "__pydantic_fields__"):
        return "–"
    if isinstance(value, Mapping):
        return "–"
    return f"`{_toml(value)}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _table(headings: Row, rows: Sequence[Row]) -> str:
    lines = ["| " + " | ".join(headings) + " |", "|" + "---|" * len(headings)]
    lines += ["| " + " | ".join(_cell(cell) for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def _first(model: type) -> str:
    return " ".join(inspect.cleandoc(model.__doc__ or "").split("\n\n")[0].split())


def _section_pages(model: type, path: str, seen: dict[type, str]) -> Iterator[str]:
    """Yield a heading and a table for a section and each below it."""
    rows, below = [], []
    said = attributes_of(model)
    for key, field in keys_of(model).items():
        inner = [each for each in section_models(field.annotation) if not _is_branch_of_python(each)]
        words = said.get(_attribute(model, key), "") or "; ".join(_first(each) for each in inner)
        rows.append((f"`{key}`", _type_words(field.annotation), _default(field), words))
        below += [(each, f"{path} {_header(key, field)}".strip()) for each in inner]
    yield _table(("key", "value", "default", "meaning"), rows)
    for each, inner_path in below:
        if each in seen:
            yield f"## `{inner_path}`\n\nKeys as under `{seen[each]}`.\n"
            continue
        seen[each] = inner_path
        kind = each.__pydantic_fields__.get("kind")  # type: ignore[attr-defined]
        form = f", kind {_default(kind)}" if kind is not None and not kind.is_required() else ""
        yield f"## `{inner_path}`{form}\n\n{_first(each)}\n"
        yield from _section_pages(each, inner_path, seen)


def file_page(title: str) -> str:
    """Return the page of one kind of file: every key, its value, its default and its meaning."""
    model = models_of_files()[title]
    parts = [
        f"# {title}\n",
        f"{_first(model)}\n" if model.__doc__ and model.__doc__ != BaseModel.__doc__ else "",
    ]
    return "\n".join([*parts, *_section_pages(model, "", {model: "the top of the file"})])


def commands() -> dict[str, click.Command]:
    """Return every command by its words: "plan", "stock list"."""
    from cutplan.cli import app

    root = typer.main.get_command(app)
    found: dict[str, click.Command] = {}

    def walk(command: click.Command, words: tuple[str, ...]) -> None:
        below = getattr(command, "commands", None)
        if below is None:
            found[" ".join(words)] = command
            return
        for name, each in below.items():
            walk(each, (*words, name))

    walk(root, ())
    return found


def commands_page() -> str:
    """Return the page of all commands, their arguments and options."""
    lines = ["# Commands and options\n", "`cutplan --help` and `cutplan COMMAND --help` say the same.\n"]
    for words, command in sorted(commands().items()):
        lines += [f"## `cutplan {words}`\n", f"{_prose(command.help or '')}\n"]
        rows = []
        for each in command.params:
            name = (
                (each.metavar or each.name or "").upper()
                if each.param_type_name == "argument"
                else ", ".join([*each.opts, *each.secondary_opts])
            )
            default = "–" if each.default is None or callable(each.default) else f"`{each.default}`"
            rows.append(
                (f"`{name}`", "must be given" if each.required else default, getattr(each, "help", "") or "")
            )
        if rows:
            lines.append(_table(("argument or option", "default", "meaning"), rows))
    return "\n".join(lines)


def _prose(text: str) -> str:
    return re.sub(r"(?<!\n)\n(?!\n)", " ", inspect.cleandoc(text))


def columns_page() -> str:
    """Return the page of the columns of lists, read and written."""
    from cutplan.planning.parts_list import COLUMNS
    from cutplan.report.cut_list import CUT_LIST_COLUMNS
    from cutplan.report.cut_list_book import MARK_COLUMNS
    from cutplan.report.joint_list import JOINT_COLUMNS
    from cutplan.scheduling import WORK_COLUMNS
    from cutplan.stock.listing import STOCK_COLUMNS

    lines = [
        "# Columns of lists\n",
        "Lists are CSV or XLSX. A heading may be any of the words, in capitals or not, with a unit behind it in "
        "brackets: `Thickness [mm]`.\n",
    ]
    for title, columns in (
        ("Parts lists, read", COLUMNS),
        ("Stock lists, read", STOCK_COLUMNS),
        ("Lists of work, read", WORK_COLUMNS),
    ):
        rows = [(f"`{c.key}`", "yes" if c.required else "no", ", ".join(c.headings)) for c in columns]
        lines += [f"## {title}\n", _table(("column", "needed", "headings"), rows)]
    for title, names in (
        ("`cut-list.csv` and `cut-list.xlsx`, written", CUT_LIST_COLUMNS),
        ("Marks, written", MARK_COLUMNS),
        ("`joints.csv`, written", JOINT_COLUMNS),
    ):
        lines += [f"## {title}\n", ", ".join(f"`{name}`" for name in names) + "\n"]
    return "\n".join(lines)


def plan_page() -> str:
    """Return the page of plan.json: every key of its records."""
    from cutplan.record.schema import PlanRecord

    lines = [
        "# plan.json\n",
        f"{_first(PlanRecord)}\n",
        "Lengths are mm, times seconds, angles degrees, volumes m³ at 15 °C and 1.013 bar. Keys may be added; "
        "those there are keep their meaning within one schema.\n",
    ]
    seen: set[type] = set()

    def walk(model: type, path: str) -> None:
        rows, below = [], []
        said = attributes_of(model)
        for key, field in keys_of(model).items():
            inner = list(section_models(field.annotation))
            rows.append((f"`{key}`", _type_words(field.annotation), said.get(_attribute(model, key), "")))
            below += [(each, f"{path}.{key}".strip(".")) for each in inner]
        lines.append(_table(("key", "value", "meaning"), rows))
        for each, inner_path in below:
            if each not in seen:
                seen.add(each)
                lines.append(f"## `{inner_path}`\n\n{_first(each)}\n")
                walk(each, inner_path)

    walk(PlanRecord, "")
    return "\n".join(lines)


def errors_page() -> str:
    """Return the page of exit codes, and of the errors behind them."""
    rows = [
        ("0", "all planned and proved; of `verify`, the program does what was planned"),
        ("1", "planned, but something did not fit, or a warning was made an error; of `verify`, the metal is right and "
              "nothing is in danger, but feeds, dwells or heights were trimmed within what an operator may"),
        ("2", "the input is wrong: nothing was written"),
        ("3", "a program failed its proof in metal or safety; it was not written"),
        ("130", "stopped by Ctrl-C"),
    ]  # fmt: skip
    kinds = [
        (f"`{name}`", str(kind.exit_code), _first(kind))
        for name, kind in inspect.getmembers(errors, inspect.isclass)
        if issubclass(kind, errors.CutplanError)
    ]
    return "\n".join([
        "# Exit codes and errors\n", _table(("code", "meaning"), rows),
        "An error names the file, the entity, line or row, the place in mm, and the key that mends it; all that is "
        "wrong with a file is told at once. In Python each is an exception:\n",
        _table(("exception", "exit code", "meaning"), kinds),
    ])  # fmt: skip


BEND_NOTES = (
    "UP 90 R10",
    "DOWN 45° R12",
    "90° R12",
    "BEND UP 30 DEG",
    "DN R=8",
    "ANGLE 135 RAD 20",
    "R5",
)
"""Notes at bend lines as drawings have them; the page shows what the reader makes of each."""
ORDER_TEXTS = (
    "2 OFF",
    "QTY: 12",
    "4 STK",
    "NO. OFF 6",
    "ANZAHL 3",
    "t=10",
    "PL 12",
    "THK. 8",
    "12 MM THK",
    "BLECH 6",
    "S355J2+N",
    "MATERIAL: S235JR",
    "1.4301",
    "PART NO. K-14",
    "POS 7",
    "A12",
    "BEVEL 30 DEG",
    "DRILL Ø14",
    "M12 TAP",
    "CSK 90",
    "OPP. HAND",
    "FOLD UP",
)
"""Texts as orders have them, likewise."""
UNIT_TEXTS = ("ALL DIMENSIONS IN MM", "DIMS IN INCHES", "SIZES IN IN.", "UNITS: MILLIMETRES", "SCALE 1:1")


def rules_page() -> str:
    """Return the page of what a drawing's texts and layers are taken for."""
    from cutplan.drawing import layers, wording

    rows = [(f"`{role}`", f"`{words.replace('|', ' ')}`") for role, words in layers.WORDS]
    texts = [
        (
            f"`{text}`",
            ", ".join(f"{kind}: `{words}`" for kind, words in wording.meanings(text).items()) or "–",
        )
        for text in ORDER_TEXTS
    ]
    units = [(f"`{text}`", wording.stated_units(text) or "–") for text in UNIT_TEXTS]
    return "\n".join([
        "# Layers and notes in drawings\n",
        "What a drawing says in words beside its lines: which layer is cut, what a note at a bend line asks, and "
        "what the texts of an order give. Nothing is guessed in silence: each value that is taken is listed with "
        "its place by `cutplan check`, and one that differs from the job is a warning. How to answer a question "
        "that a drawing leaves open is told under [drawings as offices send them](../drawings.md).\n",
        "## Layers\n",
        "A layer's name gives its role by the words in it, tried from top to bottom, unless the job says otherwise "
        "with `layers`. A layer that says nothing is cut. A word is a run of letters, so that `DIM` is not found "
        "in `DIMPLE`, and `CutLines`, `CUT_LINES` and `cut lines` are the same. Lines of a type that drawing "
        "practice keeps for edges that are not cut (ISO 128: centre, hidden, phantom, dashed) are left out of "
        "layers that are cut, unless the job itself says that they are.\n",
        _table(("role", "words (a question mark: the letter may be missing)"), rows),
        "Roles: `cut` is an edge, `mark` a line for the marker, `bend` a bend line, `ignore` is left out and "
        "counted.\n",
        "## Notes at bend lines\n", inspect.cleandoc(_module_doc("cutplan.drawing.bends")) + "\n",
        "A note belongs to the bend line nearest to it, within twelve heights of its letters, and to no other; a "
        "note further off is a warning. Angle, radius and direction may stand in any order, and any of them may "
        "be missing: the angle is then 90°, and the layer's name may say the direction (`BEND_UP_45`). The angle "
        "is that by which the plate is bent, between 0° and 180°; the radius is the inside one, in the units of "
        "the drawing. A decimal comma counts as a point.\n",
        _table(("note", "read as"), [(f"`{note}`", _bend_words(note)) for note in BEND_NOTES]),
        "## Texts of an order\n", inspect.cleandoc(_module_doc("cutplan.drawing.wording")) + "\n",
        "Values are taken only by the entries that ask for them with `from_text`; elsewhere they are held against "
        "the job, and a difference is a warning. Words that ask for more than a flat cut (a bevel, a thread, the "
        "opposite hand) are a warning in any case, and stand on the setup sheet. The shop's own patterns go in "
        f"`[drawings.texts]`; texts longer than {wording.LONGEST} letters are taken for paragraphs.\n",
        _table(("text", "read as"), texts),
        "## Units\n",
        "A text that states the unit of the sizes is held against the header and the sizes themselves; where they "
        "disagree, the drawing is a question that `units` answers.\n",
        _table(("text", "read as"), units),
    ])  # fmt: skip


def _bend_words(note: str) -> str:
    """Return what the reader makes of a bend note."""
    from cutplan.drawing.bends import read_bend_note

    read = read_bend_note(note)
    if read is None:
        return "–"
    said = [read.direction or ""]
    said += [f"{read.angle_deg:g}°"] if read.angle_deg is not None else []
    said += [f"radius {read.radius:g}"] if read.radius is not None else []
    return ", ".join(word for word in said if word)


def _module_doc(name: str) -> str:
    import importlib

    return importlib.import_module(name).__doc__ or ""


def api_page() -> str:
    """Return the page of the public names of the front door and of every room."""
    import importlib
    import pkgutil

    import cutplan

    rooms = [
        f"cutplan.{each.name}"
        for each in pkgutil.iter_modules(cutplan.__path__)
        if each.ispkg and each.name != "cli"
    ]
    lines = [
        "# API\n",
        "The front door is `import cutplan`; below it stand the rooms, each with its public names. Lengths are mm, "
        "times seconds, angles degrees; arrays say their shape.\n",
    ]
    shown: set[int] = set()
    for name in ["cutplan", *sorted(rooms)]:
        module = importlib.import_module(name)
        names = [each for each in getattr(module, "__all__", ()) if each != "__version__"]
        things = [(each, getattr(module, each)) for each in names]
        fresh = [
            (each, thing)
            for each, thing in things
            if id(thing) not in shown
            and str(getattr(thing, "__module__", "")).startswith("cutplan")
            and callable(thing)
        ]
        shown |= {id(thing) for _, thing in fresh}
        if not fresh:
            continue
        lines += [f"## {name}\n", f"{_first_of_module(module)}\n", "```{eval-rst}"]
        for each, thing in fresh:
            kind = "autoclass" if inspect.isclass(thing) else "autofunction"
            lines += [f".. {kind}:: {name}.{each}", ""]
        lines.append("```\n")
    return "\n".join(lines)


def _first_of_module(module: types.ModuleType) -> str:
    return " ".join(inspect.cleandoc(module.__doc__ or "").split("\n\n")[0].split())


PAGES = {
    "job": lambda: file_page("The job file"),
    "prices": lambda: file_page("The price file"),
    "cutting-data": lambda: file_page("The cutting-data file"),
    "post-processor": lambda: file_page("The post-processor file"),
    "shop": lambda: file_page("The shop file"),
    "commands": commands_page,
    "columns": columns_page,
    "plan-json": plan_page,
    "exit-codes": errors_page,
    "drawings": rules_page,
    "api": api_page,
    "licences": licences_page,
}
"""The pages that are written, by the name of their file."""


def write_all(folder: Path) -> None:
    """Write every page into a folder, where it is not there already as it should be."""
    folder.mkdir(exist_ok=True)
    for name, page in PAGES.items():
        text, file = page(), folder / f"{name}.md"
        if not file.exists() or file.read_text(encoding="utf-8") != text:
            file.write_text(text, encoding="utf-8")
