"""Pictures in a notebook: what can be shown says so by this base, the room of reports says how.

The rooms below must not know the reports, so the front door names the module that paints, and
it is loaded when the first picture is asked for.
"""

from __future__ import annotations

import importlib
from functools import singledispatch

__all__ = ["Pictured", "painted_by", "picture_of"]

_painters: list[str] = []


def painted_by(module: str) -> None:
    """Name a module that registers painters with `picture_of` when it is imported.

    Parameters
    ----------
    module : str
        Its full name.
    """
    _painters.append(module)


@singledispatch
def picture_of(thing: object) -> str | None:
    """Return a thing's picture as a complete SVG document.

    Parameters
    ----------
    thing : object

    Returns
    -------
    str or None
        None where nobody knows how to paint it.
    """
    return None


class Pictured:
    """Base of what a notebook shows as a picture."""

    __slots__ = ()

    def _repr_svg_(self) -> str | None:
        while _painters:
            importlib.import_module(_painters.pop())
        return picture_of(self)
