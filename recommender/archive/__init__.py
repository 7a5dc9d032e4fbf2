"""A house's archive: many formulas in a store, and what is asked of all of them.

Loaded by `recommender archive` alone; it needs the extra `[archive]`.
"""

from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.archive.store import FormulaStore

NEEDED = ("pyarrow", "distributed")
"""The packages of the extra `[archive]`."""


def check_extra() -> None:
    """Raise `BadValue` where the extra `[archive]` is not installed."""
    if any(find_spec(name) is None for name in NEEDED):
        install = "install it with python3 -m pip install '.[archive]'"
        raise BadValue("archive", "", f"the extra [archive] is missing; {install}")


def open_store(path: Path | str) -> "FormulaStore":
    """Return the store in a folder, made by the first import into it; raises `BadValue`."""
    check_extra()
    from recommender.archive.store import FormulaStore

    return FormulaStore(Path(path))
