"""Who may ask the page, what it may load, and what `serve` says when it cannot."""

import asyncio
import socket
from importlib import util

import pytest
from command_line import run

from recommender.errors import BadValue
from recommender.web import serve
from recommender.web.server import guard

PORT = 8642
HERE = f"127.0.0.1:{PORT}"


@pytest.fixture
def access():
    return guard.Access(PORT, token="word", start="once")


def asked(access, host=HERE, kind="http", query=b"", cookie="recommender-8642=word", body=(), **more):
    """Return the messages that a request is answered with; `more` are headers."""
    named = {"host": host, "cookie": cookie} | {name.replace("_", "-"): text for name, text in more.items()}
    headers = [(name.encode(), text.encode()) for name, text in named.items() if text is not None]
    sent, bodies = [], list(body)

    async def app(scope, receive, send):
        read = 0
        while bodies:
            message = await receive()
            if message["type"] == "http.disconnect":
                break
            read += len(message["body"])
        await send({"type": "http.response.start", "status": 200, "headers": [(b"read", b"%d" % read)]})

    async def receive():
        if kind == "websocket":
            return {"type": "websocket.connect"}
        return {"type": "http.request", "body": bodies.pop(0), "more_body": True}

    async def send(message):
        sent.append(message)

    scope = {"type": kind, "method": "GET", "path": "/map", "query_string": query, "headers": headers}
    asyncio.run(guard.Guard(app, access)(scope, receive, send))
    return sent


def status(*args, **more):
    return asked(*args, **more)[0]["status"]


@pytest.mark.parametrize("host", [HERE, "localhost:8642", "LOCALHOST:8642"])
def test_this_machine_is_answered(access, host):
    assert status(access, host) == 200


@pytest.mark.parametrize(
    "host",
    [
        *(
            "example.org",
            "127.0.0.1.example.org",
            "192.168.0.7:8642",
            "",
            "localhost.example.org:8642",
            "[::",
        ),
        *("127.0.0.1", "localhost", "127.0.0.1:8643", "127.0.0.1:80", "x@127.0.0.1:8642"),
    ],
)
def test_a_foreign_host_header_is_refused(access, host):
    """A name elsewhere that is pointed at 127.0.0.1 comes with its own Host header (DNS rebinding)."""
    first, body = asked(access, host)
    assert first["status"] == 400
    assert b"this machine alone" in body["body"]


def test_a_host_without_a_port_is_that_of_port_80():
    access = guard.Access(80, token="word")
    assert status(access, "127.0.0.1", cookie="recommender-80=word") == 200


@pytest.mark.parametrize(
    ("origin", "found"),
    [
        ("http://127.0.0.1:8642", 200),
        *(
            (text, 400)
            for text in ("https://example.org", "null", "http://127.0.0.1:9999", "http://127.0.0.1")
        ),
        *((text, 400) for text in ("https://127.0.0.1:8642", "http://localhost:8642", "")),
    ],
)
def test_our_own_origin_counts_with_its_port_only(access, origin, found):
    assert status(access, origin=origin) == found
    if found == 400:
        refused = [{"type": "websocket.close", "code": 1008}]
        assert asked(access, kind="websocket", origin=origin) == refused


@pytest.mark.parametrize(
    ("site", "found"), [("same-origin", 200), ("none", 200), ("same-site", 400), ("cross-site", 400)]
)
def test_what_the_browser_sends_for_another_site_is_refused(access, site, found):
    assert status(access, sec_fetch_site=site) == found


@pytest.mark.parametrize(
    "cookie",
    [None, "", "recommender-8642=", "recommender-8642=other", "recommender-80=word", "a\x00;;=", "word"],
)
def test_without_the_cookie_nobody_is_answered(access, cookie):
    first, body = asked(access, cookie=cookie)
    assert first["status"] == 403
    assert b"Open the address, with its token, that the program printed" in body["body"]
    assert (b"content-type", b"text/html; charset=utf-8") in first["headers"]
    assert asked(access, kind="websocket", cookie=cookie)[0]["code"] == 1008


def test_the_token_gives_the_cookie_and_leads_on_without_it(access):
    for site in ("none", "cross-site"):  # from a mail too
        first, body = asked(access, query=b"token=word", cookie=None, sec_fetch_site=site)
        headers = dict(first["headers"])
        cookie = headers[b"set-cookie"].decode()
        assert cookie == "recommender-8642=word; HttpOnly; Path=/; SameSite=strict"
        assert (headers[b"refresh"], body["body"]) == (b"0;url=/map", b"")
    assert status(access, query=b"token=words", cookie=None) == 403
    assert status(access, "example.org", query=b"token=word", cookie=None) == 400
    assert access.address == "http://127.0.0.1:8642/?token=word"


def test_the_code_of_the_browser_that_is_opened_counts_once(access):
    assert access.start_path == "/?start=once"
    assert status(access, query=b"start=once", cookie=None) == 200
    assert status(access, query=b"start=once", cookie=None) == 403
    assert status(access, query=b"start=", cookie=None) == 403


def test_tokens_are_new_with_each_start():
    one, other = guard.Access(PORT), guard.Access(PORT)
    assert len({one.token, other.token, one.start, other.start}) == 4
    assert min(map(len, (one.token, one.start))) >= 32


def test_a_request_that_is_too_long_is_refused_by_what_it_states_and_by_what_it_brings(access, monkeypatch):
    assert status(access, content_length=str(guard.MOST_BODY + 1)) == 413
    assert status(access, content_length="x") == 200
    monkeypatch.setattr(guard, "MOST_BODY", 25)
    (first,) = asked(access, body=[b"ten bytes."] * 100)
    assert dict(first["headers"])[b"read"] == b"20"


def test_no_page_may_load_anything_from_outside(access):
    headers = dict(asked(access)[0]["headers"])
    policy = headers[b"content-security-policy"]
    words = policy.decode().replace(";", " ").split()
    assert [word for word in words if "//" in word] == ["ws://127.0.0.1:8642"]
    assert "*" not in policy.decode()


def test_a_taken_port_is_told_with_a_way_out():
    with socket.socket() as held:
        held.bind((serve.HOST, 0))
        held.listen()
        port = held.getsockname()[1]
        with pytest.raises(BadValue, match=f"port cannot be .{port}.: another program uses it") as raised:
            serve.free(port)
        assert str(raised.value.named({"port": "--port"})).endswith("try --port 0")
        ran = run("serve", "--no-browser", "--port", str(port))
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.count("\n") == 1


def test_port_0_is_any_that_is_free():
    assert 1024 <= serve.free(0) <= 65535


def test_a_missing_extra_is_named(monkeypatch):
    found = util.find_spec
    monkeypatch.setattr(util, "find_spec", lambda name: None if name == "nicegui" else found(name))
    ran = run("serve", "--no-browser")
    assert ran.status == 2
    assert ran.err == (
        "recommender: serve: the extra [web] is missing; install it with python3 -m pip install '.[web]'\n"
    )
