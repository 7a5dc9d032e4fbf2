"""What each row of evidence says against the fused figure of its material, read when a card asks for it."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from recommender.evidence.catalogue import TABLES
from recommender.evidence.sheets import read
from recommender.evidence.tables import COLUMNS, required


@dataclass(frozen=True, slots=True)
class Deviation:
    """How far one observation lies from the figure that was fused from all of them.

    Attributes
    ----------
    figure : str
        "pressure" or "strength".
    kind : str
        The kind of observation: "boiling point", "curve", "pair" ...
    other : str
        The slug of the material that a pair compares with, else blank.
    decades : float
        By how much it says more; a pressure is stronger where it is higher [decades].
    scatters : float
        The same in scatters of its kind.
    """

    figure: str
    kind: str
    other: str
    decades: float
    scatters: float


@cache
def deviations(folder: Path = TABLES) -> Mapping[str, tuple[Deviation, ...]]:
    """Return the deviations of every material, by slug; raises `BadTable`."""
    found: dict[str, list[Deviation]] = defaultdict(list)
    for row in read(folder / "observations.csv", COLUMNS["observations"]):
        numbers = required(row, "decades"), required(row, "scatters")
        found[row["material"]].append(Deviation(row["figure"], row["kind"], row["other"], *numbers))
    return {slug: tuple(rows) for slug, rows in found.items()}
