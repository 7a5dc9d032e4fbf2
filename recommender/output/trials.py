"""Trial records as plain data, rows and lines."""

from collections.abc import Iterable, Sequence
from typing import Any

from recommender import units
from recommender.chemistry.odour_strength import rating_of
from recommender.model import Reading, TrialRecord, TriangleRecord
from recommender.notebook.readings import by_hour, written
from recommender.output import wording

TRIAL_COLUMNS = ("number", "formula", "version", "day", "batch_g", "room_c", "readings", "verdict")
TRIAL_HEADS = {
    "number": "no.", "formula": "formula", "version": "version", "day": "day", "batch_g": "g",
    "room_c": "C", "readings": "readings", "verdict": "verdict",
}  # fmt: skip
READING_COLUMNS = ("formula", "day", "batch_g", "room_c", "hours", "facet", "strength", "words", "predicted")
"""All but the last are columns that `trials import` reads."""


def at(hours: float) -> str:
    """Return an hour in words: fresh, 8 h."""
    return "fresh" if hours == 0 else units.duration(hours)


def trial_row(record: TrialRecord) -> dict[str, Any]:
    """Return one trial as a row, its readings summarised."""
    hours = dict.fromkeys(one.hours for one in by_hour(record.readings))
    return {
        "number": record.number,
        "formula": record.formula,
        "version": record.version,
        "day": record.day or None,
        "batch_g": record.batch_g,
        "room_c": record.room_c,
        "readings": _summary(record, hours),
        "verdict": record.verdict or None,
    }


def _summary(record: TrialRecord, hours: Iterable[float]) -> str:
    """Return the readings of a trial in words, and how a triangle test went."""
    texts = [f"{len(record.readings)} at {wording.join(at(h) for h in hours)}"] if record.readings else []
    if record.triangle is not None:
        texts.append(f"triangle test: {right_of(record.triangle)}")
    return "; ".join(texts) or "none yet"


def right_of(found: TriangleRecord) -> str:
    """Return how many answers of a triangle test are right: 3 of 4 right."""
    return f"{found.right} of {len(found.answers)} right"


def by_chance(found: TriangleRecord) -> str:
    """Return how likely guessing gives as many right answers."""
    return f"guessing gives as many or more in {100 * found.by_chance:.3g} of 100 tests"


def triangle_data(found: TriangleRecord | None) -> dict[str, Any] | None:
    """Return a triangle test as plain data, None where a trial is none."""
    if found is None:
        return None
    return {
        "against": found.against,
        "right": found.right,
        "answered": len(found.answers),
        "by_chance": wording.tidy(found.by_chance),
        "answers": [
            {
                "hours": wording.tidy(one.hours),
                "strips": list(one.strips),
                "odd": one.odd,
                "chosen": one.chosen,
                "right": one.right,
                "words": one.words or None,
            }
            for one in found.answers
        ],
    }


def triangle_lines(found: TriangleRecord) -> list[str]:
    """Return a triangle test strip by strip, and how likely its count is by chance."""
    lines = [f"triangle test against {found.against}: {right_of(found)}; {by_chance(found)}"]
    for one in found.answers:
        verdict = "right" if one.right else f"wrong, {one.odd} was the odd one"
        words = f" ({one.words})" if one.words else ""
        strips = ", ".join(map(str, one.strips))
        lines.append(f"      {at(one.hours):>9}  {one.chosen} of {strips}{words}: {verdict}")
    return lines


def reading_data(one: Reading) -> dict[str, Any]:
    """Return one reading as plain data; without a facet it is of the whole smell."""
    return {
        "number": one.place,
        "hours": wording.tidy(one.hours),
        "facet": one.facet or None,
        "said": one.rating,
        "level": one.level,
        "words": one.words or None,
    }


def listed_data(record: TrialRecord) -> dict[str, Any]:
    """Return one trial with its readings."""
    readings = [reading_data(one) for one in by_hour(record.readings)]
    return trial_row(record) | {"readings": readings, "triangle": triangle_data(record.triangle)}


def trial_data(record: TrialRecord, predicted: Sequence[float]) -> dict[str, Any]:
    """Return one trial with its readings, each with the predicted intensity, 0-100."""
    readings = [
        reading_data(one) | {"predicted": wording.tidy(value)}
        for one, value in zip(record.readings, predicted, strict=True)
    ]
    return trial_row(record) | {"readings": readings, "triangle": triangle_data(record.triangle)}


def trial_rows(record: TrialRecord, predicted: Sequence[float]) -> list[dict[str, Any]]:
    """Return one row per reading, in the columns of `trials import`."""
    return [
        {
            "formula": f"{record.formula}@{record.version}",
            "day": record.day,
            "batch_g": record.batch_g,
            "room_c": record.room_c,
            "hours": one.hours,
            "facet": one.facet,
            "strength": one.rating if one.level is None else one.level,
            "words": one.words,
            "predicted": wording.tidy(value),
        }
        for one, value in zip(record.readings, predicted, strict=True)
    ]


def trial_lines(record: TrialRecord, predicted: Sequence[float]) -> list[str]:
    """Return a trial hour by hour."""
    about = [f"{record.batch_g:g} g"] if record.batch_g else []
    about += [f"{record.room_c:g} C"] if record.room_c is not None else []
    title = f"trial {record.number} of {record.formula}@{record.version}"
    lines = [", ".join([title, *filter(None, [record.day]), *about])]
    for one, value in zip(record.readings, predicted, strict=True):
        predicted_words = f"(predicted: {rating_of(value)}, {value:.0f} of 100)"
        lines.append(f"  {one.place:>2}. {at(one.hours):>9}  {written(one)}   {predicted_words}")
    if record.triangle is not None:
        lines += triangle_lines(record.triangle)
    return [*lines, *([f"verdict: {record.verdict}"] if record.verdict else [])]


def reading_count(readings: Sequence[Reading]) -> str:
    """Return the number of readings in words."""
    return "1 reading" if len(readings) == 1 else f"{len(readings)} readings"
