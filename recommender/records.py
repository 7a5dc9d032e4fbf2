"""What a person wrote down of strips: readings, trials of formulas, strips of single materials."""

from dataclasses import dataclass

from recommender.model import Material


@dataclass(frozen=True, slots=True)
class Reading:
    """How a strip smelled at an hour: a facet or, where `facet` is blank, the whole smell.

    `said` is gone, trace, clear, strong or too strong; `level` the strength 0-100 where a person put a number
    to it; `words` are free.
    """

    hours: float
    said: str
    facet: str = ""
    level: float | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class TrialRecord:
    """One trial of one version of a formula: when, how much, in which room, how it smelled, the verdict.

    `formula` and `version` name it, `day` is yyyy-mm-dd; `batch_g` [g] and `room_c` [C] are None where
    nobody wrote them down. `number` is that of the record, 0 before it is kept.
    """

    formula: str
    version: int
    day: str
    batch_g: float | None = None
    room_c: float | None = None
    verdict: str = ""
    readings: tuple[Reading, ...] = ()
    number: int = 0


@dataclass(frozen=True, slots=True)
class OwnStrip:
    """A strip of one material, smelled at some hours to learn how this person's strips dry.

    `dilution` is the mass fraction of what was dipped, 1 for neat, in `solvent` (a key); `room_c` the room
    [C]; `day` yyyy-mm-dd; `number` is that of the record, 0 before it is kept.
    """

    material: Material
    readings: tuple[Reading, ...]
    dilution: float = 1.0
    solvent: str = ""
    room_c: float = 25.0
    day: str = ""
    number: int = 0
