#!/usr/bin/env python3
"""Measure the page: from a changed amount to the redrawn picture, and many clients at once.

usage: scripts/measure_page.py edits      changes of formulas of 12, 40 and 120 lines in a real Chromium
       scripts/measure_page.py clients    50 clients, each editing its own formula for 60 s on loopback
       scripts/measure_page.py memory     200 requests without a socket, with the token and without; 300 edits

Needs the environment of scripts/test. Nothing here is a test: machines differ.
"""

import argparse
import asyncio
import contextlib
import json
import os
import random
import re
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator, Sequence
from pathlib import Path

SIZES = (12, 40, 120)
"""Lines of the formulas that are edited in the browser."""
START = "from recommender.cli import main; main()"
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]


class Server:
    """A server process on a notebook with some formulas."""

    def __init__(self, folder: Path, sizes: Sequence[int]) -> None:
        from recommender.web.server.session import PageSession

        self.session = PageSession(folder / "notebook.sqlite")
        for number, size in enumerate(sizes):
            self.session.create(f"formula {number}", lines(size))
        self.process = subprocess.Popen(
            [sys.executable, "-c", START, "serve", "--no-browser", "--port", "0"],
            env=os.environ | {"RECOMMENDER_NOTEBOOK": str(self.session.path), "PYTHONUNBUFFERED": "1"},
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        greeting = self.process.stdout.readline() if self.process.stdout else ""
        self.address = next(word for word in greeting.split() if word.startswith("http"))
        self.url, _, token = self.address.partition("/?token=")
        self.cookie = {f"recommender-{self.url.rpartition(':')[2]}": token}

    def wait(self) -> None:
        """Wait until it answers."""
        place = ("127.0.0.1", int(self.url.rpartition(":")[2]))
        for _ in range(600):
            with contextlib.suppress(OSError), socket.create_connection(place, 1):
                return
            time.sleep(0.1)

    def memory_mb(self) -> float:
        """Return the resident memory of the server and its helpers [MB]."""
        found = 0
        for entry, _ in self._processes():
            with contextlib.suppress(OSError, TypeError):
                found += int(re.search(r"VmRSS:\s+(\d+)", (entry / "status").read_text())[1])  # type: ignore[index]
        return found / 1024

    def processor_s(self) -> float:
        """Return the processor time of the server and its helpers so far, also those that were ended [s]."""
        ticks = sum(sum(map(int, stat[11:15])) for _, stat in self._processes())
        return ticks / os.sysconf("SC_CLK_TCK")

    def _processes(self) -> Iterator[tuple[Path, list[str]]]:
        """Yield the folder and the figures of the server and of each of its helpers."""
        for entry in Path("/proc").glob("[0-9]*"):
            with contextlib.suppress(OSError):
                stat = (entry / "stat").read_text().rsplit(")", 1)[1].split()
                if self.process.pid in (int(entry.name), int(stat[1])):
                    yield entry, stat

    def end(self) -> None:
        """End the server."""
        self.process.terminate()
        self.process.wait(20)


def lines(count: int) -> list[dict[str, str]]:
    """Return a formula of `count` materials that smell, a quarter of them naturals."""
    from recommender.palette import shipped

    smelling = [
        m for m in shipped().catalogue.materials if m.curve and m.role == "palette" and m.kind != "solvent"
    ]
    naturals = [m for m in smelling if m.kind == "natural"]
    molecules = [m for m in smelling if m.kind == "molecule"]
    some = naturals[:: len(naturals) // (count // 4)][: count // 4]
    some += molecules[:: len(molecules) // (count - len(some))][: count - len(some)]
    return [{"material": m.name, "parts": str(10 + place)} for place, m in enumerate(some)]


def edits(server: Server, sizes: Sequence[int], changes: int) -> None:
    """Time changed amounts, from the key to the drawing, and after each fifth what would help."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or "/usr/bin/chromium"
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=FLAGS)
        for number, size in enumerate(sizes):
            page = browser.new_page(viewport={"width": 1360, "height": 900})
            page.goto(server.address)  # its token gives the cookie
            start = time.perf_counter()
            page.goto(f"{server.url}/formula/formula {number}")
            page.wait_for_selector("[data-drawn] svg.lane-plot", state="attached")
            print(f"{size} lines: first view with its picture after {time.perf_counter() - start:.2f} s")
            page.evaluate(WATCH)
            fields = page.locator(".lines .cell.parts input")
            drawn, helped, worked = [], [], [0.0, 0.0]
            for turn in range(changes):
                field = fields.nth(turn % size)
                page.evaluate("window.redrawn = 0")
                field.focus()
                before = server.processor_s()
                start = time.perf_counter()
                field.fill(str(100 + turn))
                page.wait_for_function("window.redrawn > 0", polling=5)
                drawn.append(time.perf_counter() - start)
                page.wait_for_timeout(400)
                worked[0] += server.processor_s() - before
                if turn % 5 == 0:
                    before = server.processor_s()
                    page.evaluate("window.answered = 0")
                    start = time.perf_counter()
                    page.get_by_role("button", name="Ask", exact=True).click()
                    page.wait_for_function("window.answered > 0", polling=5, timeout=120_000)
                    helped.append(time.perf_counter() - start)
                    worked[1] += server.processor_s() - before
            page.close()
            print(f"  from a changed amount to the redrawn picture, {changes} changes: {spread(drawn)}")
            print(f"  what would help: first {helped[0]:.2f} s, then {spread(helped[1:])}")
            mean = [1000 * spent / count for spent, count in zip(worked, (changes, len(helped)), strict=True)]
            print(
                f"  processor time of the server, mean: {mean[0]:.0f} ms a change, {mean[1]:.0f} ms an answer"
            )
        browser.close()


def spread(times: Sequence[float]) -> str:
    """Return the middle and the longest of some times in words."""
    return f"median {1000 * statistics.median(times):.0f} ms, worst {1000 * max(times):.0f} ms"


WATCH = """() => {
  const watch = (name, where, what) => {
    window[name] = 0;
    new MutationObserver(() => { window[name] += 1 }).observe(document.querySelector(where), what);
  };
  watch('redrawn', '.picture', {childList: true, subtree: true, attributes: true, characterData: true});
  watch('answered', '.advice .results', {childList: true});
}"""


class Client:
    """A user of the page without the browser: the same messages over the same socket."""

    def __init__(self, server: Server, number: int) -> None:
        self.server, self.number = server, number
        self.times: list[float] = []
        self.errors: list[str] = []
        self.sent: dict[str, str] = {}

    async def run(self, seconds: float, pause: float, most: int = 1_000_000) -> None:
        """Change amounts one after the other, each after the previous picture has arrived; `most` edits."""
        import aiohttp
        import socketio

        async with aiohttp.ClientSession(cookies=self.server.cookie) as session:
            url = f"{self.server.url}/formula/formula {self.number}"
            async with session.get(url) as answer:
                text = await answer.text()
        client = re.search(r"'client_id': '([^']+)'", text)[1]  # type: ignore[index]
        elements = json.loads(re.search(r"parseElements\(String\.raw`(.*?)`\)", text, re.DOTALL)[1])  # type: ignore[index]
        (rows,) = (
            (number, element["events"][0]["listener_id"], element["props"]["lines"])
            for number, element in elements.items()
            if "lines" in element.get("props", {})
        )
        number, listener, lines = rows
        stored = {line["id"]: line["parts"] for line in lines}
        drawn = asyncio.Event()
        socket = socketio.AsyncClient(reconnection=False)
        socket.on("update", lambda data: drawn.set() if '"data-drawn"' in json.dumps(data) else None)
        ending = asyncio.Event()
        socket.on("disconnect", lambda *_: None if ending.is_set() else self.errors.append("disconnected"))
        query = f"client_id={client}&next_message_id=0&implicit_handshake=true&document_id={uuid.uuid4()}"
        query += f"&tab_id={uuid.uuid4()}"
        cookie = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.server.cookie.items())}
        await socket.connect(f"{self.server.url}?{query}", headers=cookie, transports=["websocket"],
                             socketio_path="/_nicegui_ws/socket.io")  # fmt: skip
        await asyncio.sleep(2.0 + pause * random.random())  # people do not type in step
        until, turn = time.monotonic() + seconds, 0
        while time.monotonic() < until and turn < most:
            line = lines[turn % len(lines)]
            value = str(100 + turn)
            drawn.clear()
            start = time.monotonic()
            event = {"id": int(number), "client_id": client, "listener_id": listener}
            written = {"kind": "write", "turn": turn + 1, "id": line["id"], "column": "parts"}
            written |= {"was": stored[line["id"]], "value": value, "fresh": False, "mark": ""}
            event["args"] = [json.dumps(written)]
            await socket.emit("event", event)
            stored[line["id"]] = self.sent[line["material"]] = value
            try:
                await asyncio.wait_for(drawn.wait(), 30)
                self.times.append(time.monotonic() - start)
            except TimeoutError:
                self.errors.append(f"no picture within 30 s after {line['material']}")
            turn += 1
            await asyncio.sleep(pause)
        ending.set()
        await socket.disconnect()

    def lost(self) -> int:
        """Return how many of the amounts typed last are not in the notebook."""
        draft = self.server.session.find(f"formula {self.number}")
        stored = {line["material"]: line["parts"] for line in draft.lines} if draft else {}
        return sum(stored.get(name) != value for name, value in self.sent.items())


async def clients(server: Server, count: int, seconds: float, pause: float) -> None:
    """Let many clients edit at once, and print times and errors."""
    before = server.memory_mb()
    found = [Client(server, number) for number in range(count)]
    results = await asyncio.gather(*(c.run(seconds, pause) for c in found), return_exceptions=True)
    errors = [str(r) for r in results if r is not None] + [e for c in found for e in c.errors]
    times = sorted(t for c in found for t in c.times)
    print(f"{count} clients, each in its own formula for {seconds:.0f} s, {pause:g} s between two edits:")
    lost = sum(client.lost() for client in found)
    print(f"  edits {len(times)}, errors {len(errors)}, lost edits {lost}")
    for error in errors[:5]:
        print(f"    {error}")
    if times:
        middle, most = statistics.median(times), times[int(0.95 * len(times))]
        summary = f"median {1000 * middle:.0f} ms, 95 % {1000 * most:.0f} ms, worst {1000 * times[-1]:.0f} ms"
        print(f"  from edit to picture: {summary}")
    print(f"  memory of server and helpers: {before:.0f} MB before, {server.memory_mb():.0f} MB after")
    await asyncio.sleep(45)
    print(f"  and {server.memory_mb():.0f} MB once the clients had been gone for 45 s")


async def memory(server: Server, requests: int, edits: int) -> None:
    """Ask for pages without a socket, then edit, and print the memory before, at its peak and later."""
    import aiohttp

    peak = 0.0

    async def watch() -> None:
        nonlocal peak
        while True:
            peak = max(peak, server.memory_mb())
            await asyncio.sleep(0.1)

    async def ask(cookies: dict[str, str]) -> None:
        async with aiohttp.ClientSession(cookies=cookies) as session:
            for number in range(requests):
                path = ("/map", "/formula/formula 0", "/shelf", "/material/coumarin")[number % 4]
                async with session.get(server.url + path) as answer:
                    await answer.read()

    async def edit() -> None:
        client = Client(server, 0)
        await client.run(1e9, 0.05, edits)
        print(f"  {len(client.times)} edits, {len(client.errors)} errors, {client.lost()} lost")

    watcher = asyncio.create_task(watch())
    await ask(server.cookie)  # once before, so that all is loaded that a view needs
    await asyncio.sleep(60)
    for name, work in (
        (f"{requests} requests without the token", lambda: ask({})),
        (f"{requests} requests with it, without a socket", lambda: ask(server.cookie)),
        (f"{edits} edits", edit),
    ):
        before = peak = server.memory_mb()
        start = time.monotonic()
        await work()
        after, took = server.memory_mb(), time.monotonic() - start
        await asyncio.sleep(120)
        print(f"{name} ({took:.0f} s): {before:.0f} MB before, {peak:.0f} at the peak, {after:.0f} after, "
              f"{server.memory_mb():.0f} two minutes later", flush=True)  # fmt: skip
    watcher.cancel()


def main() -> None:
    """Run one measurement."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=["edits", "clients", "memory"])
    parser.add_argument("--clients", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--pause", type=float, default=2.0, help="seconds between two edits of a client")
    parser.add_argument("--materials", type=int, default=12, help="materials of each client's formula")
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES, help="lines of the formulas to edit")
    parser.add_argument("--changes", type=int, default=50, help="changed amounts of each")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        many = given.what == "clients"
        server = Server(Path(folder), [given.materials] * given.clients if many else given.sizes)
        try:
            server.wait()
            if given.what == "memory":
                asyncio.run(memory(server, 200, 300))
            elif many:
                asyncio.run(clients(server, given.clients, given.seconds, given.pause))
            else:
                edits(server, given.sizes, given.changes)
        finally:
            server.end()


if __name__ == "__main__":
    main()
