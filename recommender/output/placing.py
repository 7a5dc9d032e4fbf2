"""Files written whole or not at all: to a temporary file first, which is then moved into place."""

import os
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

from recommender.errors import BadValue

Result = TypeVar("Result")


def check(file: str, kinds: Sequence[str], field: str, force: bool = False) -> None:
    """Raise `BadValue` of a field if a file cannot be written there; call it before the work is done."""
    path = Path(file)
    if path.suffix.lower() not in kinds:
        raise BadValue(field, file, f"its name ends in {', '.join(kinds)}")
    if not Path(os.path.realpath(path)).parent.is_dir():
        raise BadValue(field, file, "there is no such folder")
    if path.is_dir():
        raise BadValue(field, file, "this is a folder; name a file in it")
    if path.exists() and not force:
        raise BadValue(field, file, "the file is there already; {force} writes over it")


def placed(file: str, field: str, write: Callable[[Path], Result]) -> Result:
    """Let a file be written beside its place and moved there when it is whole; returns what `write` does.

    Raises
    ------
    BadValue
        The file cannot be written there; no partial file is left.
    """
    path = Path(os.path.realpath(file))  # unlike `resolve`, this raises no error for a link to itself
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".sheet-", suffix=path.suffix)
        os.close(handle)
        temporary = Path(name)
        try:
            done = write(temporary)
            mask = os.umask(0)
            os.umask(mask)
            temporary.chmod(0o666 & ~mask)  # a temporary file is readable only by its owner
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise BadValue(field, file, f"it cannot be written there ({error.strerror})") from None
    return done
