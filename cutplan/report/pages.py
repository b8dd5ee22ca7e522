"""Fills the HTML templates of this room: escaping on, every name defined, nothing dated."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from cutplan.base.cleaning import plain_lines
from cutplan.base.words import duration
from cutplan.record import PlannedSheet
from cutplan.report.svg import plate_svg

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

__all__ = ["inline_picture", "render"]


def render(template: str, **values: Any) -> str:
    """Return a template of this room filled with values, which are escaped unless Markup."""
    return _environment().get_template(template).render(**values)


def inline_picture(sheet: PlannedSheet, document: str | None = None) -> Markup:
    """Return the sheet's picture, drawn already or not, as an element to stand inside a page."""
    from markupsafe import Markup

    document = document or plate_svg(sheet)
    return Markup(document[document.index("<svg") :])


def _fit(value: Any) -> Any:
    """Return a value without what a browser obeys; markup is this room's own."""
    from markupsafe import Markup

    return plain_lines(value) if isinstance(value, str) and not isinstance(value, Markup) else value


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("cutplan.report"),
        autoescape=True,
        finalize=_fit,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["duration"] = duration
    return environment
