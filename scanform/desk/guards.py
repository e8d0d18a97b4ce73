"""What guards every answer of the desk, whichever route gives it: host, origin, and the headers of a careful page."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["LOOPBACK", "Guards"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")

# Nothing from elsewhere, nothing written into the page itself: text from paper cannot become a script.
_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # without any, browsers would name no origin with a form either
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
# A form or a decision; files come by PUT and are taken piece by piece, from people who are signed in.
MOST_SENT_BYTES = 2**20
_A_YEAR_S = 31_536_000


class Guards:
    """Turns away what was sent to another name or from another site, and adds the headers to everything else.

    ``hosts``: the names under which the desk may be called, without port. ``tls``: the desk stands behind a proxy that
    speaks TLS, and browsers shall insist on it.
    """

    def __init__(self, app: ASGIApp, hosts: Sequence[str], tls: bool) -> None:
        self._app = app
        self._hosts = {host.lower() for host in hosts}
        self._headers = _HEADERS | ({"Strict-Transport-Security": f"max-age={_A_YEAR_S}"} if tls else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def careful(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers[name] = value
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        problem = self._problem(scope["method"], Headers(scope=scope))
        if problem is not None:
            status, said = problem
            await PlainTextResponse(said, status)(scope, receive, careful)
            return
        await self._app(scope, receive, careful)

    def _problem(self, method: str, headers: Headers) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if _name(host) not in self._hosts:
            # A name of somebody else that points to this machine must not reach the desk (DNS rebinding).
            return 400, "The desk does not answer to this name; open it under the address that it was started with."
        if method in ("GET", "HEAD"):
            return None
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "This was sent from another site and is refused; nothing was changed."
        if method == "POST" and not headers.get("content-length", "").isdigit():
            return 411, "What is sent has to say how long it is; nothing was changed."
        if method == "POST" and int(headers["content-length"]) > MOST_SENT_BYTES:
            return 413, "This is too much to be typed by anybody; nothing was changed."
        origin = headers.get("origin")
        if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
            return 403, "This was sent from another site and is refused; nothing was changed."
        return None


def _name(host: str) -> str:
    """A Host header without its port, in lower case; an IPv6 address keeps its brackets."""
    name, _, port = host.lower().rpartition(":")
    return name if name and port.isdigit() else host.lower()
