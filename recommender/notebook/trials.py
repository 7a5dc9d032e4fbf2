"""Trial records: how each version of a formula smelled."""

import sqlite3
from collections import defaultdict
from collections.abc import Sequence

from recommender.errors import BadValue
from recommender.model import Reading, TrialRecord, TriangleAnswer, TriangleRecord
from recommender.notebook import removed, single_readings

_TRIALS = (
    "SELECT t.id, t.version, f.name, v.number, t.day, t.batch_g, t.room_c, t.verdict, d.dipped FROM trials t"
    " JOIN formula_versions v ON v.id = t.version JOIN formulas f ON f.id = v.formula"
    " LEFT JOIN trial_dips d ON d.trial = t.id"
)


def add(db: sqlite3.Connection, version: int, record: TrialRecord) -> int:
    """Store a trial of a version (its row); returns the number of the record."""
    number = removed.next_number(db, "trial")
    db.execute(
        "INSERT INTO trials (id, version, day, batch_g, room_c, verdict) VALUES (?, ?, ?, ?, ?, ?)",
        (number, version, record.day, record.batch_g, record.room_c, record.verdict),
    )
    if record.dipped:
        db.execute("INSERT INTO trial_dips (trial, dipped) VALUES (?, ?)", (number, record.dipped))
    add_readings(db, number, record.readings)
    return number


def add_readings(db: sqlite3.Connection, trial: int, readings: Sequence[Reading]) -> None:
    """Store further readings of a trial."""
    first = single_readings.next_place(db, "trial", trial)
    db.executemany(
        "INSERT INTO trial_readings (trial, place, hours, facet, said, level, words)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(trial, n, r.hours, r.facet, r.rating, r.level, r.words) for n, r in enumerate(readings, first)],
    )


def add_triangle(db: sqlite3.Connection, trial: int, against: int, answers: Sequence[TriangleAnswer]) -> None:
    """Store further answers of a triangle test against a version (its row)."""
    db.execute("INSERT OR IGNORE INTO trial_triangles (trial, against) VALUES (?, ?)", (trial, against))
    count = db.execute("SELECT count(*) FROM trial_triangle_answers WHERE trial = ?", (trial,)).fetchone()[0]
    db.executemany(
        "INSERT INTO trial_triangle_answers (trial, place, hours, first, second, third, odd, chosen, words)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [(trial, n, a.hours, *a.strips, a.odd, a.chosen, a.words) for n, a in enumerate(answers, count + 1)],
    )


def judge(db: sqlite3.Connection, trial: int, verdict: str) -> None:
    """Store the verdict on a trial."""
    db.execute("UPDATE trials SET verdict = ? WHERE id = ?", (verdict, trial))


def remove(db: sqlite3.Connection, trial: int) -> int | None:
    """Remove a trial; returns its number among the removed, None where there is no such trial."""
    row = db.execute(f"{_TRIALS} WHERE t.id = ?", (trial,)).fetchone()
    return None if row is None else removed.remove(db, "trial", trial, f"{row['name']}@{row['number']}")


def of_versions(db: sqlite3.Connection, versions: Sequence[int] | None = None) -> list[TrialRecord]:
    """Return the trials of some versions (rows), or all, in the order in which they were made."""
    wanted = None if versions is None else set(versions)
    rows = [
        row
        for row in db.execute(f"{_TRIALS} ORDER BY t.day, t.id")
        if wanted is None or row["version"] in wanted
    ]
    return _records(db, rows)


def find(db: sqlite3.Connection, number: int) -> TrialRecord:
    """Return one trial; raises `BadValue` where no trial has this number."""
    rows = db.execute(f"{_TRIALS} WHERE t.id = ?", (number,)).fetchall()
    if not rows:
        raise missing(number)
    return _records(db, rows)[0]


def missing(number: int) -> BadValue:
    """Return the error for a number that no trial has."""
    return BadValue("trial", number, "no trial has this number; `recommender trials list` shows them")


def _records(db: sqlite3.Connection, rows: Sequence[sqlite3.Row]) -> list[TrialRecord]:
    by_trial: dict[int, list[Reading]] = defaultdict(list)
    query = "SELECT trial, hours, said, facet, level, words, place FROM trial_readings"
    only = " WHERE trial = ?" if len(rows) == 1 else ""
    for trial, *cells in db.execute(
        f"{query}{only} ORDER BY trial, hours, place", (rows[0]["id"],) if only else ()
    ):
        by_trial[trial].append(Reading(*cells))
    triangles = _triangles(db)
    return [
        TrialRecord(
            row["name"],
            row["number"],
            row["day"],
            row["batch_g"],
            row["room_c"],
            row["verdict"],
            tuple(by_trial[row["id"]]),
            row["id"],
            row["dipped"] or "",
            triangles.get(row["id"]),
        )
        for row in rows
    ]


def _triangles(db: sqlite3.Connection) -> dict[int, TriangleRecord]:
    """Return the triangle tests by the number of their trial."""
    answers: dict[int, list[TriangleAnswer]] = defaultdict(list)
    for trial, hours, first, second, third, odd, chosen, words in db.execute(
        "SELECT trial, hours, first, second, third, odd, chosen, words FROM trial_triangle_answers"
        " ORDER BY trial, hours, place"
    ):
        answers[trial].append(TriangleAnswer(hours, (first, second, third), odd, chosen, words))
    tests = db.execute(
        "SELECT t.trial, f.name, v.number FROM trial_triangles t JOIN formula_versions v ON v.id = t.against"
        " JOIN formulas f ON f.id = v.formula"
    )
    return {trial: TriangleRecord(f"{name}@{number}", tuple(answers[trial])) for trial, name, number in tests}
