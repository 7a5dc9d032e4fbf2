"""What a person stores: shelf, nose, materials, limits, formulas, trials, strips, in one SQLite file."""

import os
from pathlib import Path


def is_missing(path: Path) -> bool:
    """Return whether nothing is at a path; a dead link, or what may not be looked at, is not missing."""
    try:
        os.lstat(path)
    except (FileNotFoundError, NotADirectoryError, ValueError):  # the last: a zero byte in the name
        return True
    except OSError:
        return False
    return False
