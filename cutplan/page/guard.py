"""Who may talk to the page: this machine's own browser, or who holds the token.

Every request names the host that the server was opened as, and every change comes from the
page's own origin: a page of another site can send requests here, but neither of the two.
"""

from __future__ import annotations

import hmac
from http.cookies import CookieError, SimpleCookie
from typing import Any

__all__ = ["COOKIE", "LARGEST_BODY", "LARGEST_WORDS", "Guard", "TooLargeError"]

COOKIE = "cutplan-page"
LARGEST_BODY = 32_000_000
"""Bytes of a request: drawings of a shop have some hundred thousand."""
LARGEST_WORDS = 2_000_000
"""Bytes of a request that is no drawing."""
MOST_AT_ONCE = 64
"""Requests that are worked on at once; further ones are asked to come again."""

# Nothing from elsewhere, no script but the page's own files; pictures hold their own style.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; frame-src 'self'; frame-ancestors 'self'; form-action 'none'; base-uri 'none'"
)
HEADERS = [
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
]


class Guard:
    """Turns away what is not the page's own, before anything else sees it.

    Parameters
    ----------
    app : ASGI application
    hosts : frozenset of str
        Hosts, with their ports, that the server goes by.
    token : str or None
        Asked for where the server is open to other machines.
    """

    def __init__(self, app: Any, hosts: frozenset[str], token: str | None = None) -> None:
        self.app = app
        self.hosts = hosts
        self.token = token
        self._busy = 0

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer a request, or turn it away."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = {key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]}
        refused = self._refusal(scope, headers)
        if refused is None and self._busy >= MOST_AT_ONCE:
            refused = (503, "busy: come again in a moment")
        if refused is not None:
            await _answer(send, *refused)
            return
        self._busy += 1
        try:
            await self.app(
                scope, _counted(receive, _largest(scope)), _with_headers(send, self._cookie(scope, headers))
            )
        finally:
            self._busy -= 1

    def _refusal(self, scope: Any, headers: dict[str, str]) -> tuple[int, str] | None:
        if headers.get("host", "").lower() not in self.hosts:
            return 421, "this server does not go by that name"
        origin = headers.get("origin")
        own = {f"http://{host}" for host in self.hosts}
        if origin is not None and origin.lower() not in own:
            return 403, "requests of other pages are not answered"
        if headers.get("sec-fetch-site") in ("cross-site", "same-site"):
            return 403, "requests of other pages are not answered"
        if scope["method"] not in ("GET", "HEAD") and (origin is None or "x-cutplan" not in headers):
            return 403, "changes come from the page itself only"
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > _largest(scope):
            return 413, "the request is too large"
        if self.token is not None and not self._knows(scope, headers):
            return 401, "open the page by the address that the server printed: it holds the token"
        return None

    def _knows(self, scope: Any, headers: dict[str, str]) -> bool:
        given = [_token_of_cookie(headers.get("cookie", "")), _token_in_address(scope)]
        assert self.token is not None
        return any(
            value is not None and hmac.compare_digest(value.encode(), self.token.encode()) for value in given
        )

    def _cookie(self, scope: Any, headers: dict[str, str]) -> list[tuple[bytes, bytes]]:
        if self.token is None or _token_in_address(scope) is None:
            return []
        value = f"{COOKIE}={self.token}; HttpOnly; SameSite=Strict; Path=/"
        return [(b"set-cookie", value.encode())]


class TooLargeError(Exception):
    """A body that goes on beyond its limit."""


def _largest(scope: Any) -> int:
    return LARGEST_BODY if scope["path"].startswith("/api/drawings/") else LARGEST_WORDS


def _token_of_cookie(text: str) -> str | None:
    try:
        found = SimpleCookie(text).get(COOKIE)
    except CookieError:
        return None
    return found.value if found is not None else None


def _token_in_address(scope: Any) -> str | None:
    words = scope.get("query_string", b"").decode("latin-1").split("&")
    return next((word[6:] for word in words if word.startswith("token=")), None)


def _counted(receive: Any, largest: int) -> Any:
    taken = 0

    async def receiving() -> Any:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > largest:
            raise TooLargeError
        return message

    return receiving


def _with_headers(send: Any, more: list[tuple[bytes, bytes]]) -> Any:
    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            own = {key for key, _ in message["headers"]}
            extra = [(key, value) for key, value in HEADERS if key not in own]
            message = {**message, "headers": [*message["headers"], *extra, *more]}
        await send(message)

    return sending


async def _answer(send: Any, status: int, words: str) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})
