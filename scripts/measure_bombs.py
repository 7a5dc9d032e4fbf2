#!/usr/bin/env python3
"""Measure files that would be too much to read: time, peak memory, and what others wait meanwhile.

usage: scripts/measure_bombs.py command    each on the command line
       scripts/measure_bombs.py upload     each through an upload to the page, which others ask all the while

Needs the environment of scripts/test. Nothing here is a test: machines differ.
"""

import argparse
import asyncio
import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

import bombs  # noqa: E402
from measure_page import START, Server  # noqa: E402

LONGEST_S = 120.0


def files() -> Iterator[tuple[str, str, bytes]]:
    """Yield what each file is, its name and its bytes."""
    for number, (what, data) in enumerate(bombs.workbooks()):
        yield what, f"bomb{number}.xlsx", data
    for number, (what, data) in enumerate(bombs.texts()):
        yield what, f"bomb{number}.csv", data


def cpu_s() -> float:
    """Return the processor time of the processes that have ended [s]: the clock counts what others take."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def peak_mb(process: int) -> int:
    """Return the most memory that a process has had so far [MB]."""
    try:
        status = Path(f"/proc/{process}/status").read_text(encoding="ascii")
        return int(re.search(r"VmHWM:\s+(\d+)", status)[1]) // 1024  # type: ignore[index]
    except (OSError, TypeError):
        return 0


def on_the_command_line(folder: Path) -> None:
    """Ask about each as a formula; print times, peak memory and the answer."""
    environment = os.environ | {"RECOMMENDER_NOTEBOOK": str(folder / "notebook.sqlite")}
    for what, name, data in files():
        path = folder / name
        path.write_bytes(data)
        start, before = time.monotonic(), cpu_s()
        child = subprocess.Popen(
            [sys.executable, "-c", START, "drydown", str(path)],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        peak = 0
        while child.poll() is None:
            peak = max(peak, peak_mb(child.pid))
            time.sleep(0.02)
        took = time.monotonic() - start
        said = child.stderr.read() if child.stderr else ""
        shown = f"{what} ({len(data) / 1e6:.1f} MB)"
        print(
            f"{shown:42} {took:5.1f} s, CPU {cpu_s() - before:4.1f} s, {peak:5} MB  {said.strip()[:110]}",
            flush=True,
        )
        path.unlink()


class Page:
    """The start page, with its field for uploads, without the browser."""

    def __init__(self, server: Server) -> None:
        self.server, self.heard = server, asyncio.Queue()  # type: ignore[var-annotated]

    async def open(self, session: object) -> None:
        """Open the page and its socket."""
        import socketio

        async with session.get(f"{self.server.url}/formula/gone") as answer:  # type: ignore[attr-defined]
            text = await answer.text()
        self.client = re.search(r"'client_id': '([^']+)'", text)[1]  # type: ignore[index]
        self.place = re.search(r"/_nicegui/client/[^\"]+/upload/\d+", text)[0]  # type: ignore[index]
        self.socket = socketio.AsyncClient(reconnection=False)
        self.socket.on("update", lambda data: self.heard.put_nowait(json.dumps(data)))
        query = f"client_id={self.client}&next_message_id=0&implicit_handshake=true"
        query += f"&document_id={uuid.uuid4()}&tab_id={uuid.uuid4()}"
        cookie = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.server.cookie.items())}
        await self.socket.connect(f"{self.server.url}?{query}", headers=cookie, transports=["websocket"],
                                  socketio_path="/_nicegui_ws/socket.io")  # fmt: skip

    async def upload(self, session: object, name: str, data: bytes) -> str:
        """Upload a file; returns the line that the page shows."""
        import aiohttp

        form = aiohttp.FormData()
        form.add_field("file", data, filename=name)
        try:
            async with session.post(self.server.url + self.place, data=form) as answer:  # type: ignore[attr-defined]
                if answer.status != 200:
                    return f"{answer.status} {(await answer.text()).strip()}"
        except aiohttp.ClientOSError:
            return "refused by its stated length, while it was sent"
        while True:
            heard = await asyncio.wait_for(self.heard.get(), LONGEST_S)
            if found := re.search(rf'"([^"]*{re.escape(name)}[^"]*)"', heard, re.I):
                return found[1]


async def by_upload(server: Server, folder: Path) -> None:
    """Upload each; print time, peak memory, the answer, and the longest that another view took."""
    import aiohttp

    waits, peak = [0.0], 0.0
    made = []
    for what, name, data in files():  # before a socket is open: making them takes long
        (folder / name).write_bytes(data)
        made.append((what, name))

    async def others() -> None:
        nonlocal peak
        async with aiohttp.ClientSession(cookies=server.cookie) as session:
            while True:
                start = time.monotonic()
                async with session.get(f"{server.url}/shelf") as answer:
                    await answer.read()
                waits.append(time.monotonic() - start)
                peak = max(peak, server.memory_mb())
                await asyncio.sleep(0.1)

    async with aiohttp.ClientSession(cookies=server.cookie) as session:
        page = Page(server)
        await page.open(session)
        await page.upload(session, "first.csv", b"material,amount\n")  # starts the process that reads
        watcher = asyncio.create_task(others())
        await asyncio.sleep(5)
        print(f"no upload: another view takes {max(waits):.2f} s at most; {peak:.0f} MB", flush=True)
        for what, name in made:
            data = (folder / name).read_bytes()
            waits[:], peak = [0.0], 0.0
            start = time.monotonic()
            said = await page.upload(session, name, data)
            took = time.monotonic() - start
            await asyncio.sleep(0.5)
            shown = f"{what} ({len(data) / 1e6:.1f} MB)"
            print(
                f"{shown:42} {took:5.1f} s {peak:5.0f} MB, others {max(waits):.2f} s  {said[:110]}",
                flush=True,
            )
        watcher.cancel()
        await page.socket.disconnect()


def main() -> None:
    """Run one measurement."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=["command", "upload"])
    given = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with tempfile.TemporaryDirectory() as name:
        if given.what == "command":
            on_the_command_line(Path(name))
            return
        server = Server(Path(name), [4])
        try:
            server.wait()
            asyncio.run(by_upload(server, Path(name)))
        finally:
            server.end()


if __name__ == "__main__":
    main()
