"""Unexpected exceptions: one line for the user, and a report in a file."""

import errno
import os
import platform
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from pathlib import Path


def line(error: Exception) -> str:
    """Return one line about an unexpected exception.

    A failing file or disk is named; for anything else the full report is written to a file first.
    """
    if isinstance(error, OSError) and error.filename is not None:
        return f"{error.filename}: {error.strerror}. Check the path, or name another"
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        return f"the output cannot be written: {error.strerror}"
    verb = next((word for word in sys.argv[1:] if not word.startswith("-")), "the call")
    failed = f"{verb} failed with {type(error).__name__}, a fault of the program and not of your input"
    try:
        return f"{failed}; please report it and attach {_written(_report(error))}"
    except OSError as refused:
        return f"{failed}; the report could not be written ({refused.strerror}): {str(error)[:100]}"


def _report(error: Exception) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        own = version("recommender")
    except PackageNotFoundError:
        own = "not installed"
    head = f"recommender {own}, Python {platform.python_version()}, {platform.platform()}\n{sys.argv}\n\n"
    return head + "".join(traceback.format_exception(error))


def _written(report: str) -> Path:
    """Write a report into the first folder that can be written to; raises `OSError` if none can."""
    name = f"fault-{time.strftime('%Y%m%d-%H%M%S')}-{os.getpid()}.txt"
    refused = OSError(0, "no folder")
    flags = os.O_CREAT | os.O_WRONLY | os.O_TRUNC  # what was asked is for its owner alone
    for folder in _folders():
        try:
            folder.mkdir(parents=True, exist_ok=True)
            path = folder / name
            with open(os.open(path, flags, 0o600), "w", encoding="utf-8", errors="backslashreplace") as file:
                file.write(report)
            return path
        except OSError as error:
            refused = error
    raise refused


def _folders() -> Iterator[Path]:
    from platformdirs import user_state_path

    yield user_state_path("recommender", appauthor=False)
    yield Path(tempfile.gettempdir())
