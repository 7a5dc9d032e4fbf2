"""Where the notebook is; apart from it, so that no database is loaded where there is none."""

from collections.abc import Mapping
from pathlib import Path

VARIABLE = "RECOMMENDER_NOTEBOOK"
FILE = "notebook.sqlite"


def place_of(given: str | None, environment: Mapping[str, str]) -> Path:
    """Return the path of the notebook: the given one, that of the variable, else the data folder's.

    The file need not be there.
    """
    if named := given or environment.get(VARIABLE):
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("recommender", appauthor=False) / FILE
