"""A real Chromium against a real server, each test with a notebook of its own.

Chromium is Debian's package; `scripts/test` installs it where it may. Without it these tests are skipped,
except where CI is set: there they fail.
"""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest

from recommender.notebook.store import writing

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
SERVE = [
    sys.executable,
    "-c",
    "from recommender.cli import main; main()",
    "serve",
    "--no-browser",
    "--port",
]


def missing() -> str:
    """Return what is missing for a browser, blank where nothing is."""
    if not Path(CHROMIUM).exists():
        return "chromium is not installed (on Debian: apt-get install chromium)"
    for name in ("nicegui", "playwright", "axe_playwright_python"):
        if find_spec(name) is None:
            return f"{name} is not installed (scripts/test installs it)"
    return ""


@pytest.fixture(scope="module")
def chromium():
    """Start the browser, with an empty profile, for one file: its event loop must be gone for other tests."""
    if lacks := missing():
        if os.environ.get("CI"):
            pytest.fail(f"CI must not skip the browser: {lacks}")
        pytest.skip(lacks)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


class Served:
    """A server of its own: its address, and its notebook."""

    def __init__(self, notebook: Path, port: str = "0") -> None:
        self.notebook = notebook
        kept = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST")}
        self.process = subprocess.Popen(
            [*SERVE, port],
            env=kept | {"RECOMMENDER_NOTEBOOK": str(notebook), "PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            text=True,
            cwd=notebook.parent,
        )
        line = self.process.stdout.readline()  # The bench is open at http://127.0.0.1:40123/?token=...
        self.address = next((word for word in line.split() if word.startswith("http")), "")
        self.url, _, query = self.address.partition("/?")
        port, token = self.url.rpartition(":")[2], query.removeprefix("token=")
        self.cookie = f"recommender-{port}={token}"

    def end(self) -> None:
        """End it as Ctrl+C would."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        self.process.wait(20)
        self.process.stdout.close()


@pytest.fixture
def served(tmp_path, chromium) -> Iterator[Served]:
    """Serve a notebook with nothing in it; one that is not there yet is a first visit."""
    notebook = tmp_path / "notebook.sqlite"
    with writing(notebook):
        pass
    found = Served(notebook)
    try:
        assert found.url, "the server did not start"
        wait_for(found.address)
        yield found
    finally:
        found.end()


def wait_for(url: str, seconds: float = 30.0) -> None:
    """Wait until a server answers."""
    import time
    import urllib.error
    import urllib.request

    for _ in range(int(seconds / 0.1)):
        try:
            with urllib.request.urlopen(url, timeout=5):
                return
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.1)
    raise AssertionError(f"{url} does not answer")


def until(page, read, wanted: object = True, seconds: float = 10.0) -> None:
    """Wait until `read` returns what is wanted, where no element of the page says so by itself."""
    for _ in range(int(seconds / 0.05)):
        if read() == wanted:
            return
        page.wait_for_timeout(50)
    assert read() == wanted


def steady(page, read, seconds: float = 1.5) -> str:
    """Return a text once it has stayed the same for so long."""
    text, same = read(), 0
    while same < seconds / 0.1:
        page.wait_for_timeout(100)
        text, before = read(), text
        same = same + 1 if text == before else 0
    return text


class Tab:
    """A tab that minds what goes wrong in it, and which hosts it asks."""

    def __init__(self, browser, served: Served, **context: object) -> None:
        self.context = browser.new_context(**({"viewport": {"width": 1360, "height": 900}} | context))
        name, _, value = served.cookie.partition("=")
        self.context.add_cookies([{"name": name, "value": value, "url": served.url}])
        self.page = self.context.new_page()
        self.wrong: list[str] = []
        self.asked: set[str] = set()
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on(
            "console", lambda message: self.wrong.append(message.text) if message.type == "error" else None
        )
        self.page.on("request", lambda request: self.asked.add(request.url.split("/")[2]))
        self.page.on("websocket", lambda socket: self.asked.add(socket.url.split("/")[2]))
        self.served = served

    def go(self, path: str = "/") -> None:
        """Open a view and wait until it is alive."""
        self.page.goto(self.served.url + path)
        self.page.wait_for_function("window.socket && window.socket.connected")


@pytest.fixture
def tabs(chromium, served):
    """Open tabs; at the end nothing has gone wrong in any, and no other host was asked."""
    opened: list[Tab] = []

    def another(**context: object) -> Tab:
        opened.append(Tab(chromium, served, **context))
        return opened[-1]

    yield another
    for tab in opened:
        assert tab.wrong == []
        assert {host for host in tab.asked if host} == {served.url.split("/")[2]}
        tab.context.close()


@pytest.fixture
def tab(tabs):
    """One tab."""
    return tabs()
