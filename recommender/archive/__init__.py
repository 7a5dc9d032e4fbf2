"""A house's archive: many formulas in one store, and what a ban, a limit or a price does to each of them."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.archive.store import FormulaStore

__all__ = ["needed", "open_store"]


def open_store(
    path: "str | os.PathLike[str]", notebook: "str | os.PathLike[str] | None" = None, *, new: bool = False
) -> "FormulaStore":
    """Return the store of formulas in a folder.

    Parameters
    ----------
    path : path
        The folder.
    notebook : path, optional
        The notebook whose materials, nose and strips count.
    new : bool
        Whether the folder may be missing or empty: the first import makes it.

    Raises
    ------
    BadValue
        There is no store, or the libraries of the extra `archive` are missing.
    BadTable
        Its manifest is damaged, or of another layout.
    """
    needed()
    from recommender.archive.store import MANIFEST, FormulaStore

    folder = Path(path).expanduser()
    if not (folder / MANIFEST).is_file():
        if not new:
            raise BadValue("store", path, "there is no archive here; `recommender archive import` makes one")
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadValue("store", path, "it is no archive; name a new or empty folder")
    found = FormulaStore(folder, None if notebook is None else Path(notebook).expanduser())
    found.manifest  # noqa: B018 - a damaged one is refused here
    return found


def needed() -> None:
    """Raise `BadValue` where the libraries of the extra `archive` are not installed."""
    try:
        import distributed  # noqa: F401
        import pyarrow  # noqa: F401
    except ModuleNotFoundError:
        wanted = "the archive needs two more libraries: pip install 'recommender[archive]'"
        raise BadValue("archive", "", wanted) from None
