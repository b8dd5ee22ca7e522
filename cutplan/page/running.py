"""Starts the page's server, says where it is, and opens the browser."""

from __future__ import annotations

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from cutplan.base.errors import InputError
from cutplan.page.app import page_app

__all__ = ["listening_on", "serve_page"]

LOOPBACK = ("127.0.0.1", "::1", "localhost")


def serve_page(
    place: Path,
    *,
    host: str = "127.0.0.1",
    port: int = 0,
    browser: bool = True,
    tell: Callable[[str], None] = print,
) -> None:
    """Serve the planner's page until it is interrupted.

    Parameters
    ----------
    place : Path
        A folder with jobs, or one job's file.
    host : str
        Address to listen on; any but this machine's own asks everybody for a token.
    port : int
        0 takes a free one.
    browser : bool
        Open the browser.
    tell : callable
        Told the address, and a warning where other machines reach the page.

    Raises
    ------
    InputError
        If the place is none, or the address cannot be listened on.
    """
    import uvicorn

    folder, only = _place(place)
    listening = listening_on(host, port)
    number = listening.getsockname()[1]
    token = None if host in LOOPBACK else secrets.token_urlsafe(24)
    shown = f"[{host}]" if ":" in host else host
    hosts = frozenset({f"{shown}:{number}"} | ({f"localhost:{number}"} if host in LOOPBACK else set()))
    app = page_app(folder, hosts, only=only, token=token)
    address = f"http://{shown}:{number}/" + (f"?token={token}" if token else "")
    if token is not None:
        tell(
            "warning: other machines can reach this page; whoever has the address below may change plans. "
            "The way there is not encrypted: use it in a network you trust."
        )
    tell(f"the page is at {address}")
    tell("Ctrl-C ends it; edits are kept beside each job")
    if browser:
        threading.Timer(0.7, webbrowser.open, (address,)).start()
    config = uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        server_header=False,
        ws="none",
        timeout_keep_alive=5,
        limit_concurrency=400,
    )
    uvicorn.Server(config).run(sockets=[listening])


def _place(place: Path) -> tuple[Path, Path | None]:
    if place.is_dir():
        return place.resolve(), None
    if place.is_file() and place.suffix.lower() == ".toml":
        return place.resolve().parent, place.resolve()
    raise InputError(
        "is neither a folder nor a job file", where=str(place), remedy="name a folder with jobs, or a job"
    )


def listening_on(host: str, port: int) -> socket.socket:
    """Return a socket bound to an address, 0 for any free port."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OSError as problem:
        listening.close()
        raise InputError(
            f"cannot be listened on: {problem.strerror}",
            where=f"{host}:{port}",
            remedy="give another --port or --host",
        ) from None
    return listening
