"""Fills the HTML templates of this room: escaping on, every name defined, nothing dated."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from cutplan.record import PlannedSheet
from cutplan.report.svg import plate_svg

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

__all__ = ["duration", "inline_picture", "render"]


def render(template: str, **values: Any) -> str:
    """Return a template of this room filled with values, which are escaped unless Markup."""
    return _environment().get_template(template).render(**values)


def duration(seconds: float) -> str:
    """Return seconds as hours, minutes and seconds: "1:02:03", or "4:05" under an hour."""
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def inline_picture(sheet: PlannedSheet) -> Markup:
    """Return the sheet's picture as an element to stand inside a page."""
    from markupsafe import Markup

    document = plate_svg(sheet)
    return Markup(document[document.index("<svg") :])


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("cutplan.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["duration"] = duration
    return environment
