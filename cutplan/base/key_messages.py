"""What is wrong with a file's keys, in words: the place, the fault, and the key that mends it.

Takes the findings of the validation and says each once; reading and validating are in
`cutplan.base.files`.

key    : a name in the file, or the number of an entry in a list of them.
place  : the keys that lead to a value, from the top of the file.
branch : one of several forms that a value may have; no key, and never shown.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args, get_origin

__all__ = ["key_problems", "keys_of", "section_models"]

Place = tuple[int | str, ...]

NEAR, ALIKE = 0.6, 0.8
"""Likeness of two words, 0 to 1, from which one may be meant by the other: in one section, in another."""
UNIT_PARTS = frozenset({"mm", "min", "s", "s2", "deg", "c", "kn", "a", "kg", "per", "of", "the"})
"""Parts of a key that tell its unit, or nothing: keys are not alike by these."""
NAMING_KEYS = ("name", "id", "drawing", "label")
"""Keys by whose value an entry is called."""
MOST_SHOWN = 8
"""Keys listed where none is near."""

_WANTED = {
    "tuple": "should be a list",
    "list": "should be a list",
    "dict": "should be a section of keys",
    "mapping": "should be a section of keys",
    "model": "should be a section of keys",
    "dataclass": "should be a section of keys",
    "float": "should be a number",
    "int": "should be a whole number",
    "bool": "should be true or false",
    "string": "should be text in quotes",
    "date": "should be a date, as 2027-01-31",
    "finite": "should be a number, and finite",
}


@dataclass(frozen=True)
class _Fault:
    place: Place
    kind: str
    reason: str
    in_a_branch: bool


def key_problems(
    errors: Sequence[Mapping[str, Any]], model: type, data: Any, called: Mapping[Place, str] | None = None
) -> list[tuple[str, str]]:
    """Return what is wrong with each place of a file, and what mends it.

    Parameters
    ----------
    errors : sequence of mapping
        As the validation lists them.
    model : type
        That the file was validated with.
    data : mapping
        The file's content.
    called : mapping, optional
        What entries are called that do not stand in this file: ``parts.csv, row 4``.

    Returns
    -------
    list of (str, str)
        What is wrong, and what mends it.
    """
    faults = [_fault(error, data) for error in errors]
    places: dict[Place, list[_Fault]] = {}
    for fault in faults:
        # A form that the value was not meant to have has nothing to say beside the one it was,
        # and a list whose entries are wrong counts as empty.
        deeper = any(other.place[: len(fault.place)] == fault.place != other.place for other in faults)
        if not (deeper and (fault.in_a_branch or fault.kind == "too_short")):
            places.setdefault(fault.place, []).append(fault)
    return [_told(place, found, model, data, called or {}) for place, found in places.items()]


def _told(
    place: Place, found: Sequence[_Fault], model: type, data: Any, called: Mapping[Place, str]
) -> tuple[str, str]:
    value = _value(data, place)
    if isinstance(value, Mapping | list):
        found = [fault for fault in found if not fault.kind.endswith("_type")] or found
    reasons = list(dict.fromkeys(fault.reason for fault in found))
    reason = reasons[0] + "".join(f", or {other.removeprefix('should be ')}" for other in reasons[1:])
    kinds = {fault.kind for fault in found}
    if isinstance(value, str | int | float | bool) and not kinds & {
        "extra_forbidden",
        "missing",
        "value_error",
    }:
        reason += f", got {value!r}"
    if "extra_forbidden" in kinds:
        remedy = _where_it_belongs(place, model)
    elif "missing" in kinds:
        remedy = "add this key"
    else:
        remedy = "" if "value_error" in kinds else "mend its value"
    return f"{_shown(place, model, data, called)}: {reason}", remedy


def _fault(error: Mapping[str, Any], data: Any) -> _Fault:
    place, branch, here = [], False, data
    loc = error["loc"]
    for number, item in enumerate(loc):
        last = number == len(loc) - 1
        if isinstance(here, Mapping) and item in here:
            here = here[item]
            place.append(item)
        elif isinstance(here, Sequence) and not isinstance(here, str) and isinstance(item, int):
            here = here[item] if item < len(here) else None
            place.append(item)
        elif last and error["type"] in ("missing", "missing_argument"):
            place.append(item)
        else:
            branch = True
    return _Fault(tuple(place), _kind(error), _reason(error), branch)


def _kind(error: Mapping[str, Any]) -> str:
    # Models and dataclasses call a key that they do not know by different names.
    kind = str(error["type"])
    return {"unexpected_keyword_argument": "extra_forbidden", "missing_argument": "missing"}.get(kind, kind)


def _reason(error: Mapping[str, Any]) -> str:
    kind, limits = _kind(error), error.get("ctx", {})
    if kind == "extra_forbidden":
        return "unknown key"
    if kind == "missing":
        return "missing"
    if kind == "union_tag_invalid":
        return f"{limits['discriminator'].strip(chr(39))} should be one of {limits['expected_tags']}"
    if kind in ("string_too_short", "too_short") and limits.get("min_length", 1) == 1:
        return "must not be empty"
    if kind == "string_too_long":
        return f"has more than {limits['max_length']} letters"
    if kind == "string_pattern_mismatch":
        return "may hold letters, digits and . _ - only"
    wanted = _WANTED.get(kind.split("_")[0])
    if wanted and kind.split("_")[-1] in ("type", "parsing", "float", "size", "number", "datetime", "zero"):
        return wanted
    return str(error["msg"]).removeprefix("Value error, ").removeprefix("Input ")


def _value(data: Any, place: Place) -> Any:
    for key in place:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return None
    return data


# Where a key stands, in the file's own terms.


def _shown(place: Place, model: type, data: Any, called: Mapping[Place, str]) -> str:
    """Return a place as the file writes it: ``[[part]] 3 'web.dxf', quantity``, ``[machine] table``."""
    if not place:
        return "the file"
    for size in range(len(place), 0, -1):
        if place[:size] in called:
            return ", ".join([called[place[:size]], *_plain(place[size:])])
    head, rest = str(place[0]), place[1:]
    if rest and isinstance(rest[0], int):
        entry = _value(data, place[:2])
        names = [
            entry[key]
            for key in NAMING_KEYS
            if isinstance(entry, Mapping) and isinstance(entry.get(key), str)
        ]
        name = f" {names[0]!r}" if names and rest[1:] != ("name",) else ""
        if isinstance(entry, Mapping):
            return ", ".join([f"[[{head}]] {rest[0] + 1}{name}", *_plain(rest[1:])])
        return f"{head} item {rest[0] + 1}"
    if rest:
        return f"[{head}] {', '.join(_plain(rest))}"
    return _header(head, model) if keys_of_place(model, place) else head


def _plain(keys: Sequence[int | str]) -> list[str]:
    words: list[str] = []
    for key in keys:
        if isinstance(key, int) and words:
            words[-1] += f" item {key + 1}"
        else:
            words.append(str(key))
    return words


# Which keys there are.


def keys_of(model: type) -> dict[str, Any]:
    """Return the fields of a model by the keys that a file writes.

    Parameters
    ----------
    model : type
        Model or dataclass that a file is validated with.

    Returns
    -------
    dict
    """
    fields: Mapping[str, Any] = getattr(model, "__pydantic_fields__", {})
    return {field.alias or name: field for name, field in fields.items()}


def section_models(annotation: Any) -> Iterator[type]:
    """Yield the models within an annotation: those that a section, an entry or a form of it may be.

    Parameters
    ----------
    annotation : Any
        Of a field.

    Yields
    ------
    type
    """
    if isinstance(annotation, type) and hasattr(annotation, "__pydantic_fields__"):
        yield annotation
    for argument in get_args(annotation):
        yield from section_models(argument)


def keys_of_place(model: type, place: Place) -> set[str]:
    """Return the keys that may stand at a place of a file, none where no section may."""
    models = [model]
    for key in place:
        if isinstance(key, str):
            fields = [keys_of(each).get(key) for each in models]
            models = [inner for field in fields if field for inner in section_models(field.annotation)]
    return {key for each in models for key in keys_of(each)}


def _where_it_belongs(place: Place, model: type) -> str:
    """Return what to do with a key that is not known where it stands."""
    word, here = str(place[-1]), keys_of_place(model, place[:-1])
    elsewhere = [section for section, keys in _sections(model) if word in keys]
    if elsewhere:
        return f"it belongs under {' or '.join(elsewhere)}"
    if len(place) > 1 and word in keys_of(model):
        return f"{_header(word, model)} stands at the top of the file, under no section"
    near = _nearest(word, here)
    if near:
        shown = _header(near, model) if len(place) == 1 else repr(near)
        return f"did you mean {shown}?"
    for section, keys in _sections(model):
        if other := _nearest(word, keys, ALIKE):
            return f"did you mean {other!r} under {section}?"
    known = sorted(here)
    more = f" and {len(known) - MOST_SHOWN} more" if len(known) > MOST_SHOWN else ""
    return f"remove it; the keys here are {', '.join(known[:MOST_SHOWN])}{more}"


def _sections(model: type) -> list[tuple[str, set[str]]]:
    """Return the sections of a file, as it writes them, with their keys."""
    return [
        (_header(name, model), keys) for name in keys_of(model) if (keys := keys_of_place(model, (name,)))
    ]


def _header(name: str, model: type) -> str:
    """Return a key as the top of a file writes it: ``[machine]``, ``[[part]]``, or a plain key."""
    field = keys_of(model).get(name)
    if field is None or not keys_of_place(model, (name,)):
        return repr(name)
    return f"[[{name}]]" if get_origin(field.annotation) is tuple else f"[{name}]"


def _nearest(word: str, known: set[str], least: float = NEAR) -> str | None:
    """Return the key that a word most likely means: alike, cut short, or sharing a part with it."""
    asked = word.casefold()
    parts = set(asked.split("_")) - UNIT_PARTS

    def alike(key: str) -> float:
        return difflib.SequenceMatcher(None, asked, key).ratio()

    near = [key for key in sorted(known) if alike(key) >= least]
    if not near and least == NEAR:
        near = [key for key in sorted(known) if parts & (set(key.split("_")) - UNIT_PARTS)]
        near = near or [key for key in sorted(known) if _is_short_for(asked, key)]
    return max(near, key=alike, default=None)


def _is_short_for(word: str, key: str) -> bool:
    """Return whether a word is a key with letters left out: "qty", "thk"."""
    letters = iter(key)
    return word[:1] == key[:1] and len(word) > 1 and all(letter in letters for letter in word)
