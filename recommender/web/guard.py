"""Who may ask: this machine alone. And what a page may load: nothing from outside."""

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

Scope = MutableMapping[str, Any]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

HOSTS = ("127.0.0.1", "localhost")
POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; font-src 'self' data:; "
    "style-src 'self' 'unsafe-inline'; "
    "script-src 'self' 'unsafe-inline' 'unsafe-eval'; connect-src 'self' {sockets}; object-src 'none'; "
    "base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)
"""The page's own library builds its templates in the browser, hence `unsafe-eval`; no other host is named."""
REFUSED = b"This page answers this machine alone: open http://127.0.0.1 with its port.\n"


def host_of(value: str) -> str:
    """Return the bare name of a Host or Origin header: `127.0.0.1:8642` gives `127.0.0.1`."""
    try:
        return (urlsplit(value if "//" in value else f"//{value}").hostname or "").lower()
    except ValueError:
        return ""


def welcome(headers: dict[bytes, bytes]) -> bool:
    """Tell whether a request is for this machine by name, and comes from no foreign page."""
    origin = headers.get(b"origin")
    return host_of(headers.get(b"host", b"").decode("latin-1")) in HOSTS and (
        origin is None or host_of(origin.decode("latin-1")) in HOSTS
    )


class Guard:
    """Refuses a foreign Host or Origin header (a page elsewhere pointed here); says what may load."""

    def __init__(self, app: App) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or refuse one request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = dict(scope["headers"])
        if not welcome(headers):
            await self._refuse(scope, receive, send)
            return
        host = headers[b"host"].decode("latin-1")
        policy = POLICY.format(sockets=f"ws://{host}").encode("latin-1")

        async def sent(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [
                    *message.get("headers", ()),
                    (b"content-security-policy", policy),
                    (b"x-content-type-options", b"nosniff"),
                    (b"referrer-policy", b"no-referrer"),
                ]
            await send(message)

        await self.app(scope, receive, sent)

    async def _refuse(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")]
        await send({"type": "http.response.start", "status": 400, "headers": headers})
        await send({"type": "http.response.body", "body": REFUSED})
