"""The planner's page: a local server over the planning room, and what the browser shows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cutplan.page.app import page_app
    from cutplan.page.running import serve_page

__all__ = ["page_app", "serve_page"]


def __getattr__(name: str) -> Any:
    # Starlette and uvicorn are an extra: loaded when the page is asked for.
    if name == "page_app":
        from cutplan.page.app import page_app

        return page_app
    if name == "serve_page":
        from cutplan.page.running import serve_page

        return serve_page
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
