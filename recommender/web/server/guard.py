"""Who may ask: this machine alone. And what a page may load: nothing from outside.

Hosts are compared here and not by Starlette's `TrustedHostMiddleware`: the Origin header of a foreign page
needs the same comparison, and a refusal names the right address instead of "Invalid host header". Headers,
responses and types are Starlette's.
"""

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOSTS = ("127.0.0.1", "localhost")
POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; font-src 'self' data:; "
    "style-src 'self' 'unsafe-inline'; "
    "script-src 'self' 'unsafe-inline' 'unsafe-eval'; connect-src 'self' {sockets}; object-src 'none'; "
    "base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)
"""The page's own library builds its templates in the browser, hence `unsafe-eval`; no other host is named."""
REFUSED = "This page answers this machine alone: open http://127.0.0.1 with its port.\n"


def host_of(value: str) -> str:
    """Return the bare name of a Host or Origin header: `127.0.0.1:8642` gives `127.0.0.1`."""
    try:
        return (urlsplit(value if "//" in value else f"//{value}").hostname or "").lower()
    except ValueError:
        return ""


def allowed(headers: Headers) -> bool:
    """Return whether a request is for this machine by name, and comes from no foreign page."""
    origin = headers.get("origin")
    return host_of(headers.get("host", "")) in HOSTS and (origin is None or host_of(origin) in HOSTS)


class Guard:
    """Refuses a foreign Host or Origin header (a page elsewhere pointed here); limits what may load."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or refuse one request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if not allowed(headers):
            await self._refuse(scope, receive, send)
            return
        policy = POLICY.format(sockets=f"ws://{headers['host']}")

        async def send_with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                added = MutableHeaders(scope=message)
                added["content-security-policy"] = policy
                added["x-content-type-options"] = "nosniff"
                added["referrer-policy"] = "no-referrer"
            await send(message)

        await self.app(scope, receive, send_with_policy)

    async def _refuse(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        refusal = PlainTextResponse(REFUSED, status_code=400, headers={"connection": "close"})
        await refusal(scope, receive, send)
