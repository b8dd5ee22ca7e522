"""The command that opens the planner's page in a browser."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Annotated

import typer

from cutplan.base.errors import InputError

__all__ = ["page"]


def page(
    place: Annotated[
        Path,
        typer.Argument(
            metavar="[FOLDER or JOB.toml]", help="A folder with jobs, or one job.", show_default=False
        ),
    ] = Path("."),
    host: Annotated[
        str, typer.Option(help="Address to listen on; any but this machine's own asks for a token.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Open the planner's page: see a plan, move its parts, prove it and release it, in the browser.

    The page runs on this machine alone and asks nothing of any other. What is changed is kept as
    edits in a small file beside each job, which `cutplan plan --edits` makes again. Needs the extra
    'page'.
    """
    missing = [name for name in ("starlette", "uvicorn") if importlib.util.find_spec(name) is None]
    if missing:
        raise InputError(
            f"the page needs {' and '.join(missing)}",
            remedy="pip install 'cutplan[page]' brings what is missing",
        )
    from cutplan.page import serve_page

    serve_page(place, host=host, port=port, browser=browser)
