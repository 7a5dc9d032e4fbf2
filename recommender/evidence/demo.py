"""The example files of an invented studio: found by name everywhere, copied to a folder."""

import os
from pathlib import Path

from recommender.errors import BadValue

FOLDER = "demo"
"""The folder that an example is named in: demo/morello.csv."""


def folder() -> Path:
    """Return the folder of the shipped examples."""
    from recommender.evidence.catalogue import EVIDENCE

    return EVIDENCE / FOLDER


def names() -> list[str]:
    """Return the file names of the shipped examples, in alphabetical order."""
    return sorted(path.name for path in folder().iterdir() if path.is_file())


def example(path: Path | str) -> Path | None:
    """Return the shipped example that a path names, None where it names none or a file is there.

    >>> example("demo/morello.csv").name, example("demo/nothing.csv"), example("morello.csv")
    ('morello.csv', None, None)
    """
    named = Path(path)
    if named.parent.name != FOLDER or os.path.lexists(named):
        return None
    return folder() / named.name if named.name in names() else None


def copy(target: Path, *, force: bool = False) -> list[Path]:
    """Copy every example into a folder, which is made if it is not there, and return the copies.

    Raises
    ------
    BadValue
        A file is there already and `force` is not given, or the folder cannot be written.
    """
    copies = [target / name for name in names()]
    if not force and (there := [path for path in copies if os.path.lexists(path)]):
        raise BadValue("folder", str(there[0]), "it exists already; name another folder, or use {force}")
    try:
        target.mkdir(parents=True, exist_ok=True)
        for path in copies:
            path.write_bytes((folder() / path.name).read_bytes())
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise BadValue("folder", str(target), f"it cannot be written: {why}") from None
    return copies
