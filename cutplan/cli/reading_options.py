"""Options of the command line that say how drawings are read: each key of a job's [drawings] has one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cutplan.base.errors import InputError
from cutplan.base.files import validate
from cutplan.drawing import Choice, Limits

__all__ = ["choices_of", "limits_of", "roles_of", "texts_of"]


def roles_of(option: str, given: Sequence[str]) -> dict[str, list[str]] | None:
    """Return patterns by role, out of options like ``ignore=TITLE*``.

    Parameters
    ----------
    option : str
        Its name, for messages.
    given : sequence of str

    Returns
    -------
    dict of str to list of str, or None
        None where nothing is given.

    Raises
    ------
    InputError
        If one has no role or no name.
    """
    roles: dict[str, list[str]] = {}
    for each in given:
        role, name = _split(option, each, "ROLE=NAME, as ignore=TITLE*")
        roles.setdefault(role.casefold(), []).append(name)
    return roles or None


def texts_of(given: Sequence[str]) -> dict[str, list[str]] | None:
    r"""Return patterns by meaning, out of options like ``quantity=QTY (\d+)``.

    Parameters
    ----------
    given : sequence of str

    Returns
    -------
    dict of str to list of str, or None
        None where nothing is given.
    """
    texts: dict[str, list[str]] = {}
    for each in given:
        meaning, pattern = _split("--text", each, r"MEANING=PATTERN, as quantity=QTY (\d+)")
        texts.setdefault(meaning, []).append(pattern)
    return texts or None


def choices_of(option: str, given: Sequence[str]) -> list[Choice]:
    """Return choices of parts, out of options like ``layer=OLD*,larger_than=20``.

    Parameters
    ----------
    option : str
        Its name, for messages.
    given : sequence of str
        What stands in one option must hold together; places and boxes are written ``at=40/25``.

    Returns
    -------
    list of Choice
    """
    return [_choice(option, each) for each in given]


def _choice(option: str, given: str) -> Choice:
    keys: dict[str, Any] = {}
    for each in given.split(","):
        key, value = _split(option, each, "KEY=VALUE, as layer=OLD*,larger_than=20")
        if key in ("at", "within"):
            keys[key] = tuple(_number(option, part) for part in value.split("/"))
            if len(keys[key]) != (2 if key == "at" else 4):
                form = "at=X/Y" if key == "at" else "within=X0/Y0/X1/Y1"
                raise InputError(f"{option} {given!r} has no such place", remedy=f"write {form}")
        elif key in ("larger_than", "smaller_than"):
            keys[key] = _number(option, value)
        elif key in ("name", "layer", "text"):
            keys[key] = value
        else:
            known = "name, layer, text, at, within, larger_than, smaller_than"
            raise InputError(f"{option} does not know {key!r}", remedy=f"choose by one of {known}")
    return validate(Choice, keys, option)


def limits_of(given: Sequence[str]) -> Limits:
    """Return the limits of reading, out of options like ``seconds=60``.

    Parameters
    ----------
    given : sequence of str

    Returns
    -------
    Limits

    Raises
    ------
    InputError
        If a limit is unknown or not above zero.
    """
    limits: dict[str, Any] = {}
    for each in given:
        key, value = _split("--limit", each, "NAME=FIGURE, as seconds=60")
        if key not in vars(Limits()):
            raise InputError(
                f"there is no limit {key!r}", remedy=f"choose one of {', '.join(vars(Limits()))}"
            )
        figure = _number("--limit", value)
        limits[key] = int(figure) if key in ("entities", "depth") else figure
    return validate(Limits, limits, "--limit")


def _split(option: str, given: str, form: str) -> tuple[str, str]:
    key, sign, value = given.partition("=")
    if not (sign and key.strip() and value.strip()):
        raise InputError(f"{option} {given!r} names nothing", remedy=f"write {option} {form}")
    return key.strip(), value.strip()


def _number(option: str, words: str) -> float:
    try:
        return float(words)
    except ValueError:
        raise InputError(f"{option}: {words!r} is no number", remedy="write it as 12.5") from None
