"""Formulas of a store that smell like one, or of something, over time: by stored courses."""

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from recommender.archive import execution
from recommender.archive.runs import Failure
from recommender.archive.store import FormulaStore, StoredFormula
from recommender.chemistry import odour_strength
from recommender.errors import BadValue
from recommender.evaporation.course import FormulaFilm, doses_added
from recommender.formulas.formula import on_strip
from recommender.model import Formula
from recommender.progress import StageProgress
from recommender.reformulation.preserved import THEME_COUNTS, WINDOW

if TYPE_CHECKING:
    from recommender.palette import Palette

Array = npt.NDArray[np.float32]

HOURS = np.geomspace(*WINDOW, 6)
"""The hours of a stored course: a minute, five, half an hour, three hours, half a day, three days [h]."""
WEIGHTS: npt.NDArray[np.float64] = np.array([0.5, 1.0, 1.0, 1.0, 1.0, 0.5]) / 5.0
"""What each counts in a mean over log time."""
PRESENT = 0.5
"""A refused facet that is clear at one of the hours leaves a formula out: soft presence of a half."""
SCHEMA = pa.schema([("number", pa.int64()), ("course", pa.binary())])


@dataclass(frozen=True)
class SearchRequest:
    """What is looked for: formulas that smell `like` one over time, or that give the smells of `words`.

    `top` is how many are wanted.
    """

    like: Formula | None = None
    words: str = ""
    top: int = 10


@dataclass(frozen=True)
class FoundFormulas:
    """Formulas, the best first: `rank`, `formula` (its number), `title`, `score` 0-1, `origin`.

    The score is how much of the smell over time two formulas share, or how present the smells asked for are
    from a minute to three days in the mean. `failures` are formulas whose course is not known.
    """

    request: SearchRequest
    rows: tuple[Mapping[str, Any], ...]
    notes: tuple[str, ...]
    failures: tuple[Failure, ...]
    seconds: float
    finished: bool = True


def search(
    store: FormulaStore,
    request: SearchRequest,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: StageProgress | None = None,
) -> FoundFormulas:
    """Return the formulas that smell like one, or of something; the first search works the courses out.

    Raises
    ------
    BadValue
        Neither a formula nor words, or both; smells are wanted and refused at once.
    UnknownFacet, BadTable
    """
    start, palette = time.monotonic(), store.palette
    if (request.like is None) == (not request.words.strip()):
        raise BadValue("like", "", "name a formula, or the smells that a formula gives")
    notes: list[str] = []
    if request.like is None:
        phrase = palette.phrase(request.words)
        notes += phrase.notes
        wanted = np.array([phrase.facets.get(f, 0.0) for f in palette.space.facets])
        refused = np.array([f in phrase.refused for f in palette.space.facets], bool)
    else:
        asked = course_of(request.like, palette)
        counts = np.array([THEME_COUNTS if f in request.like.theme else 1.0 for f in palette.space.facets])
    done = execution.run(Courses(), store, workers=workers, scheduler=scheduler, progress=progress)
    numbers = done.rows["number"].to_numpy()
    found = [np.empty(0)]
    for courses in _courses(done.rows, len(palette.space.facets)):
        scored = given(courses, wanted, refused) if request.like is None else alike(courses, asked, counts)
        found.append(scored)
    scores = np.concatenate(found)
    best = [place for place in np.lexsort((numbers, -scores)) if scores[place] > 0][: request.top]
    heads = {one.number: one for one in store.read([int(numbers[place]) for place in best])}
    rows = [
        {
            "rank": rank,
            "number": int(numbers[place]),
            "formula": heads[int(numbers[place])].name,
            "score": round(float(scores[place]), 4),
            "origin": heads[int(numbers[place])].origin,
        }
        for rank, place in enumerate(best, 1)
    ]
    seconds = time.monotonic() - start
    return FoundFormulas(request, tuple(rows), tuple(notes), done.failures, seconds, done.finished)


@dataclass(frozen=True)
class Courses:
    """The question of `execution` that works out courses; the answers are stored with the archive."""

    chunk: int = 100
    schema: Any = field(default=SCHEMA, repr=False, compare=False)

    def key(self) -> Mapping[str, object]:
        """Return the hours."""
        return {"hours": HOURS.tolist()}

    def plan(self, store: FormulaStore, palette: "Palette") -> None:
        """Return nothing."""

    def numbers(self, store: FormulaStore, palette: "Palette", plan: None) -> Sequence[int]:
        """Return all formulas."""
        return store.numbers()

    def answer(self, plan: None, palette: "Palette", formula: StoredFormula) -> list[dict[str, object]]:
        """Return the course of a formula as bytes."""
        found = course_of(formula.formula(palette.catalogue), palette)
        return [{"number": formula.number, "course": found.tobytes()}]


def course_of(formula: Formula, palette: "Palette") -> Array:
    """Return the soft presence of every facet at `HOURS`, (times, facets), 0-1.

    Raises
    ------
    BadTable
        How it evaporates is not known.
    """
    film: FormulaFilm = palette.films.formula(on_strip(formula))
    present = odour_strength.soft(film.sums.facets(doses_added(film, film.at(HOURS))))
    return np.asarray(present, np.float32)


def _courses(rows: pa.Table, facets: int) -> Iterator[Array]:
    """Yield the courses of formulas, (formulas, times, facets), some thousand at a time."""
    for batch in rows.to_batches(max_chunksize=4_096):
        data = b"".join(batch.column("course").to_pylist())
        yield np.frombuffer(data, np.float32).reshape(-1, len(HOURS), facets)


def alike(
    courses: Array, asked: Array, counts: npt.NDArray[np.float64] | None = None
) -> npt.NDArray[np.float64]:
    """Return how much of their smell over time formulas share with one, 0-1, (formulas,).

    The sum over facets and log time of what is there in both, over that of what is there in either, as
    `reformulation.preserved` has it; `counts` is what each facet counts.
    """
    weights = np.outer(WEIGHTS, np.ones(asked.shape[1]) if counts is None else counts)
    common = np.einsum("ntf,tf->n", np.minimum(courses, asked), weights)
    either = np.einsum("ntf,tf->n", np.maximum(courses, asked), weights)
    return np.asarray(np.divide(common, either, out=np.zeros_like(common), where=either > 0), float)


def given(
    courses: Array, wanted: npt.NDArray[np.float64], refused: npt.NDArray[np.bool_]
) -> npt.NDArray[np.float64]:
    """Return how present wanted facets are in the mean over log time, 0-1, (formulas,).

    Of several wanted facets the mean, weighted by `wanted`; 0 where a refused one is ever clear. Without
    wanted facets what is left of the smell counts: the mean of its strongest facet.
    """
    mean = np.einsum("ntf,t->nf", courses, WEIGHTS)
    score = mean @ wanted / wanted.sum() if wanted.any() else mean.max(axis=1)
    clear = (courses[:, :, refused] >= PRESENT).any(axis=(1, 2))
    return np.where(clear, 0.0, score)
