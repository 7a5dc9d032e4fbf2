"""Opens the page on this machine, and serves it until Ctrl+C."""

import signal
import socket
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.web.server.guard import Access

HOST = "127.0.0.1"
PORT = 8642
NAME = "recommender"


def free(port: int) -> int:
    """Return the port to use: the given one, or for 0 one that is free.

    Raises
    ------
    BadValue
        Another program uses it.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except PermissionError:
            raise BadValue("port", port, f"this system reserves it; try {{port}} {PORT}") from None
        except OSError:
            way_out = f"another program uses it (perhaps this page, at http://{HOST}:{port}); try {{port}} 0"
            raise BadValue("port", port, way_out) from None
        return int(probe.getsockname()[1])


def access_to(port: int) -> "Access":
    """Return who may ask the page on this port: whoever has its token, new with each start."""
    from recommender.web.server.guard import Access

    return Access(port)


def serve(notebook: Path, access: "Access", browser: bool) -> None:
    """Serve the page until the process is ended; the port is free."""
    from nicegui import app, ui

    from recommender.web.pages import addresses
    from recommender.web.server.guard import Guard
    from recommender.web.server.session import PageSession

    if hasattr(signal, "SIGPIPE"):  # a browser that goes away ends one connection, never the server
        signal.signal(signal.SIGPIPE, signal.SIG_IGN)
    session = PageSession(notebook)
    addresses.register(session)
    app.on_startup(session.jobs.start)
    app.add_middleware(Guard, access=access)
    ui.run(
        host=HOST,
        port=access.port,
        title=NAME,
        favicon=addresses.ICON,
        language="en-GB",
        dark=None,
        show=access.start_path if browser else False,
        reload=False,
        show_welcome_message=False,
        uvicorn_logging_level="error",
        reconnect_timeout=30.0,
        tailwind=False,
        binding_refresh_interval=None,
        access_log=False,
    )
