"""Who may ask: whoever has the start token, from this page alone. What a page loads: nothing from outside.

Other users of the machine reach its ports too, and so do pages elsewhere through the browser. So a request
needs a cookie, which is given for the token in the address that the program prints; and it has to come from
the page itself, or from nowhere (an address that was typed).

Hosts are compared here and not by Starlette's `TrustedHostMiddleware`: the Origin header of a foreign page
needs the same comparison, port included, and a refusal names the way out instead of "Invalid host header".
Headers, responses and types are Starlette's.
"""

import secrets
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from pathlib import Path
from string import Template
from urllib.parse import parse_qs, quote, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from recommender.evidence.intake import MOST_BYTES

NAMES = ("127.0.0.1", "localhost")
POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; font-src 'self' data:; "
    "style-src 'self' 'unsafe-inline'; "
    "script-src 'self' 'unsafe-inline' 'unsafe-eval'; connect-src 'self' {sockets}; object-src 'none'; "
    "base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)
"""The page's own library builds its templates in the browser, hence `unsafe-eval`; no other host is named."""
FOREIGN = (
    "Not from here",
    "This page answers this machine alone, and no link of another page: type http://127.0.0.1 with its port.",
)
NO_TOKEN = (
    "This is not the address that was printed",
    "Open the address, with its token, that the program printed when it was started. The token is new with "
    "each start: after a restart an open tab needs the new address too. What was stored is still there.",
)
"""Why nobody is answered, as a title and what to do."""
TOO_LARGE = f"A file may have {MOST_BYTES / 1e6:g} MB at most."
MOST_BODY = MOST_BYTES + 100_000
"""Bytes of a request: a file, and what goes with it."""
OWN_SITE = ("same-origin", "none")
"""What Sec-Fetch-Site says of a request of the page itself, and of an address that was typed."""
TOKEN, START = "token", "start"
"""The words in an address before the token, and before the code that counts once."""
_REFUSED = Template(Path(__file__).with_name("refused.html").read_text(encoding="utf-8"))


@dataclass(slots=True)
class Access:
    """Who may ask the page on this port; the token is new with every start.

    `start` is a code for the browser that the program itself opens: others see the address among the
    processes of the machine, so it counts once.
    """

    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    start: str = field(default_factory=lambda: secrets.token_urlsafe(24))

    @property
    def address(self) -> str:
        """The address to open, with the token."""
        return f"http://{NAMES[0]}:{self.port}/?{urlencode({TOKEN: self.token})}"

    @property
    def start_path(self) -> str:
        """The path that the program's own browser is opened at, once."""
        return f"/?{urlencode({START: self.start})}"

    @property
    def cookie(self) -> str:
        """The name of the cookie: cookies do not know of ports, so each server has its own."""
        return f"recommender-{self.port}"

    def is_own_host(self, host: str) -> bool:
        """Return whether a Host header names this machine and this port."""
        names = NAMES if self.port == 80 else ()
        return host.lower() in (*names, *(f"{name}:{self.port}" for name in NAMES))

    def is_own_site(self, headers: Headers) -> bool:
        """Return whether a request is for this page by name, and comes from no other page."""
        host, origin = headers.get("host", "").lower(), headers.get("origin")
        return (
            self.is_own_host(host)
            and (origin is None or origin.lower() == f"http://{host}")
            and headers.get("sec-fetch-site", "none") in OWN_SITE
        )

    def has_cookie(self, headers: Headers) -> bool:
        """Return whether a request has the cookie."""
        found: SimpleCookie = SimpleCookie()
        try:
            found.load(headers.get("cookie", ""))
        except CookieError:
            return False
        return self.cookie in found and _same(found[self.cookie].value, self.token)

    def let_in(self, scope: Scope) -> bool:
        """Return whether the address of a request has the token, or the code that counts once."""
        if scope["type"] != "http" or scope.get("method") != "GET":
            return False
        given = parse_qs(scope.get("query_string", b"").decode("latin-1"))
        if _same(given.get(TOKEN, [""])[0], self.token):
            return True
        if self.start and _same(given.get(START, [""])[0], self.start):
            self.start = ""
            return True
        return False


def _same(one: str, other: str) -> bool:
    return secrets.compare_digest(one.encode(), other.encode())


class Guard:
    """Refuses who has no token, and pages elsewhere; limits what a request may bring and a page may load."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app, self.access = app, access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or refuse one request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        answer: Response | None = None
        if not self.access.is_own_host(headers.get("host", "")):
            answer = _refusal(*FOREIGN, 400)
        elif self.access.let_in(scope):  # a link in a file or a mail is from elsewhere, but knows the token
            answer = self._welcome(scope["path"])
        elif not self.access.is_own_site(headers):
            answer = _refusal(*FOREIGN, 400)
        elif not self.access.has_cookie(headers):
            answer = _refusal(*NO_TOKEN, 403)
        elif _length(headers) > MOST_BODY:
            answer = PlainTextResponse(f"{TOO_LARGE}\n", 413, headers={"connection": "close"})
        if answer is None:
            await self._pass_on(scope, headers, receive, send)
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        else:
            await answer(scope, receive, self._with_policy(headers, send))

    async def _pass_on(self, scope: Scope, headers: Headers, receive: Receive, send: Send) -> None:
        left = MOST_BODY

        async def receive_limited() -> Message:
            nonlocal left
            message = await receive()
            if message["type"] == "http.request":
                left -= len(message.get("body", b""))
                if left < 0:  # longer than its header states, or without one
                    return {"type": "http.disconnect"}
            return message

        # the page's library would put this header of a request into the answer
        scope["headers"] = [pair for pair in scope["headers"] if pair[0] != b"x-forwarded-prefix"]
        await self.app(scope, receive_limited, self._with_policy(headers, send))

    def _with_policy(self, headers: Headers, send: Send) -> Send:
        host = headers.get("host", "").lower()
        policy = POLICY.format(sockets=f"ws://{host}" if self.access.is_own_host(host) else "'none'")

        async def send_with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                added = MutableHeaders(scope=message)
                added["content-security-policy"] = policy
                added["x-content-type-options"] = "nosniff"
                added["referrer-policy"] = "no-referrer"
                added["cross-origin-resource-policy"] = "same-origin"
            await send(message)

        return send_with_policy

    def _welcome(self, path: str) -> Response:
        """Return the answer that gives the cookie, and leads on to the address without the token."""
        onwards = "/" + quote(path.lstrip("/\\"))
        # not a redirect: on the way from another page it would be asked for without this cookie
        answer = Response(headers={"refresh": f"0;url={onwards}", "cache-control": "no-store"})
        answer.set_cookie(self.access.cookie, self.access.token, httponly=True, samesite="strict")
        return answer


def _length(headers: Headers) -> int:
    stated = headers.get("content-length", "0")
    return int(stated) if stated.isascii() and stated.isdigit() else 0


def _refusal(title: str, text: str, status: int) -> Response:
    return HTMLResponse(_REFUSED.substitute(title=title, text=text), status, {"connection": "close"})
