"""The page as a process of its own: who is answered, and what may happen to a connection."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

pytest.importorskip("nicegui")

SERVE = "from recommender.cli import main; main()"
PAUSES = (0.0, 1.0, 2.0, 4.0)


class Address(str):
    """The address of a page without its token, and the cookie that the token gives."""

    def __new__(cls, printed):
        found = super().__new__(cls, printed.split("/?")[0])
        found.printed = printed
        token = parse_qs(urlsplit(printed).query)["token"][0]
        found.cookie = f"recommender-{urlsplit(printed).port}={token}"
        return found


@pytest.fixture
def served(tmp_path):
    """Start `recommender serve` on a notebook of its own; yields the process and its address."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST")}
    process = subprocess.Popen(
        [sys.executable, "-c", SERVE, "serve", "--no-browser", "--port", "0"],
        env=kept | {"RECOMMENDER_NOTEBOOK": str(tmp_path / "notebook.sqlite"), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=Path.cwd(),
    )
    line = process.stdout.readline()
    try:
        yield process, Address(next(word for word in line.split() if word.startswith("http")))
    finally:
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=30)


def answers(url, path="/", seconds=60):
    """Return the status of a page; waits while the server starts."""
    request = urllib.request.Request(url + path, headers={"Cookie": url.cookie})
    until = time.monotonic() + seconds
    while True:
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return answer.status, len(answer.read())
        except (OSError, ConnectionError):
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


def close_in_mid_answer(url, path, pause):
    """Ask for more than the system takes off the server's hands, read a little of it, and go away.

    After the pause the server waits until it can write on; what it writes next finds the pipe broken.
    """
    place = urlsplit(url)
    with socket.socket() as client:
        client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        client.settimeout(30)
        client.connect((place.hostname, place.port))
        client.sendall(
            f"GET {path} HTTP/1.1\r\nHost: {place.netloc}\r\nCookie: {url.cookie}\r\n\r\n".encode() * 16
        )
        assert client.recv(1000)
        time.sleep(pause)
        client.shutdown(socket.SHUT_WR)
        time.sleep(0.05)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="signals of a process are read on Linux")
def test_a_broken_connection_is_an_error_and_no_signal_to_the_server(served):
    process, url = served
    assert answers(url)[0] == 200
    status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
    ignored = next(line for line in status.splitlines() if line.startswith("SigIgn:")).split()[1]
    assert int(ignored, 16) >> (signal.SIGPIPE - 1) & 1


@pytest.mark.skipif(not hasattr(signal, "SIGPIPE"), reason="a system without this signal")
def test_a_browser_that_goes_away_in_mid_answer_does_not_end_the_page(served):
    process, url = served
    status, size = answers(url, "/map")
    assert (status, size > 100_000) == (200, True)  # longer than what lies in the buffers between the two
    for pause in PAUSES:
        close_in_mid_answer(url, "/map", pause)
        time.sleep(0.3)
        assert process.poll() is None
    assert answers(url, "/map", seconds=30) == (200, pytest.approx(size, rel=0.05))
    assert process.poll() is None


def test_only_who_has_the_token_is_answered(served):
    _, url = served
    assert answers(url)[0] == 200
    for path in ("/", "/map", "/style.css", "/_nicegui_ws/socket.io/?EIO=4&transport=polling"):
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(url + path, timeout=30)
        assert refused.value.code == 403
        refused.value.close()
    with urllib.request.urlopen(url.printed, timeout=30) as answer:
        assert answer.headers["set-cookie"].startswith(url.cookie)
