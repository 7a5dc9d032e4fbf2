"""Who may ask the page, what it may load, and what `serve` says when it cannot."""

import asyncio
import socket
from importlib import util

import pytest
from command_line import run

from recommender.errors import BadValue
from recommender.web import serve
from recommender.web.server import guard


def asked(host, origin=None, kind="http"):
    """Return the messages that a request with these headers is answered with."""
    headers = [(b"host", host.encode())] + ([(b"origin", origin.encode())] if origin else [])
    sent = []

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        sent.append(message)

    asyncio.run(guard.Guard(app)({"type": kind, "headers": headers}, receive, send))
    return sent


@pytest.mark.parametrize("host", ["127.0.0.1:8642", "127.0.0.1", "localhost:80", "LOCALHOST"])
def test_this_machine_is_answered(host):
    assert asked(host)[0]["status"] == 200


@pytest.mark.parametrize(
    "host",
    ["example.org", "127.0.0.1.example.org", "192.168.0.7:8642", "", "localhost.example.org:8642", "[::"],
)
def test_a_foreign_host_header_is_refused(host):
    """A name elsewhere that is pointed at 127.0.0.1 comes with its own Host header (DNS rebinding)."""
    first, body = asked(host)
    assert first["status"] == 400
    assert b"this machine alone" in body["body"]


def test_a_page_elsewhere_cannot_open_a_socket_here():
    assert asked("127.0.0.1:8642", "https://example.org", "websocket") == [
        {"type": "websocket.close", "code": 1008}
    ]
    assert asked("127.0.0.1:8642", "null")[0]["status"] == 400
    assert asked("127.0.0.1:8642", "http://127.0.0.1:8642")[0]["status"] == 200


def test_no_page_may_load_anything_from_outside():
    (policy,) = [value for name, value in asked("127.0.0.1:9")[0]["headers"] if b"policy" in name][:1]
    words = policy.decode().replace(";", " ").split()
    assert [word for word in words if "//" in word] == ["ws://127.0.0.1:9"]
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
