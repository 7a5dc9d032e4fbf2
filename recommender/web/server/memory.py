"""Views that nobody looks at: few of them wait for their browser, and their memory is given back."""

import ctypes
import gc
from collections import OrderedDict
from contextlib import suppress

from nicegui import Client

MOST_WAITING = 10
"""Views that were asked for and whose browser has not opened its socket yet; the oldest make way."""
EVERY_S = 20.0
"""How often memory is given back, where views have gone [s]."""


class WaitingViews:
    """The views whose browser has not opened a socket: a request from elsewhere may never do so."""

    def __init__(self) -> None:
        self._waiting: OrderedDict[str, Client] = OrderedDict()
        self._gone = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def add(self, client: Client) -> None:
        """Let a view wait for its browser."""
        self._waiting[client.id] = client
        client.on_connect(lambda: self._waiting.pop(client.id, None))
        client.on_delete(lambda: self._forget(client.id))
        while len(self._waiting) > MOST_WAITING:
            _, oldest = self._waiting.popitem(last=False)
            with suppress(KeyError):  # it has gone by itself
                oldest.delete()

    def _forget(self, client: str) -> None:
        self._waiting.pop(client, None)
        self._gone += 1

    def give_back(self) -> None:
        """Give the memory of views that have gone back to the system."""
        if self._gone:
            self._gone = 0
            gc.collect()  # elements and their client refer to each other
            with suppress(OSError, AttributeError):  # another C library than that of Linux
                ctypes.CDLL("libc.so.6").malloc_trim(0)
