"""Formulas on the page as typed, finished or not, with every step back."""

import json
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from recommender.errors import BadValue, ChangedMeanwhile
from recommender.evidence.catalogue import plain
from recommender.notebook import removed

Cells = dict[str, str]
"""One line: `id` and the columns of a formula file, each a text as typed."""
Lines = tuple[Cells, ...]
COLUMNS = ("id", "material", "parts", "dilution_percent", "solvent", "note", "out", "lock")
"""`out` is filled where a line is left out for now, `lock` where its amount stays when others are scaled."""
THEME_FIELD = "theme"
"""The field of a formula in which words for its theme are typed."""
MOST_STEPS = 300
"""Steps back that are stored of one formula."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A formula on the page; `back` and `forth` are what a step back would undo and a step forth do again.

    `fields` are what was typed about it as a whole: theme, dosage, category, batch, balance.
    """

    id: int
    name: str
    version: int
    lines: Lines
    back: str = ""
    forth: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DraftChange:
    """Lines after a change, and what was done, in words; consecutive changes with one mark are one step."""

    lines: Lines
    done: str
    mark: str = ""


def numbered(lines: Sequence[Cells]) -> Lines:
    """Return lines with every column and a number of their own, the present one where they have one."""
    taken = {int(line["id"]) for line in lines if line.get("id")}
    free = max(taken, default=0)
    found = []
    for line in lines:
        number = line.get("id") or ""
        if not number:
            free += 1
            number = str(free)
        found.append({column: line.get(column, "") for column in COLUMNS} | {"id": number})
    return tuple(found)


def listed(db: sqlite3.Connection) -> list[tuple[int, str]]:
    """Return number and name of all formulas on the page, the last changed or opened first."""
    return [tuple(row) for row in db.execute("SELECT id, name FROM drafts ORDER BY touched DESC, id DESC")]


def names(db: sqlite3.Connection) -> list[str]:
    """Return the names of all formulas on the page, the last changed or opened first."""
    return [name for _, name in listed(db)]


def find(db: sqlite3.Connection, name: str) -> Draft | None:
    """Return the formula of this name, None where there is none."""
    row = db.execute("SELECT id FROM drafts WHERE key = ?", (plain(name),)).fetchone()
    return None if row is None else get(db, row[0])


def get(db: sqlite3.Connection, number: int) -> Draft:
    """Return a formula by its number; raises `BadValue` where it was removed."""
    row = db.execute("SELECT id, name, version, step, fields FROM drafts WHERE id = ?", (number,)).fetchone()
    if row is None:
        raise BadValue("formula", "", "it was removed from the page; open another one")
    steps = {
        found["step"]: found
        for found in db.execute(
            "SELECT step, told, lines FROM draft_steps WHERE draft = ? AND step BETWEEN ? AND ?",
            (number, row["step"] - 1, row["step"] + 1),
        )
    }
    now = steps[row["step"]]
    return Draft(
        row["id"],
        row["name"],
        row["version"],
        numbered(json.loads(now["lines"])),
        now["told"] if row["step"] - 1 in steps else "",
        steps[row["step"] + 1]["told"] if row["step"] + 1 in steps else "",
        json.loads(row["fields"]),
    )


def create(db: sqlite3.Connection, name: str, lines: Sequence[Cells], when: str) -> Draft:
    """Put a new formula on the page; where the name is taken, a number is added to it."""
    base = name = " ".join(name.split()) or "untitled"
    number = 1
    while db.execute("SELECT 1 FROM drafts WHERE key = ?", (plain(name),)).fetchone():
        number += 1
        name = f"{base} {number}"
    draft = removed.next_number(db, "formula")
    db.execute(
        "INSERT INTO drafts (id, name, key, touched) VALUES (?, ?, ?, ?)", (draft, name, plain(name), when)
    )
    db.execute(
        "INSERT INTO draft_steps (draft, step, lines) VALUES (?, 0, ?)", (draft, _written(numbered(lines)))
    )
    return get(db, draft)


def change(
    db: sqlite3.Connection, number: int, how: Callable[[Lines], DraftChange | None], when: str
) -> Draft:
    """Change a formula as it stands now, whatever others did meanwhile; `how` may refuse with an error.

    Steps forth are dropped. A change with the mark of the last one becomes one step with it.
    """
    draft = get(db, number)
    new = how(draft.lines)
    if new is None or new.lines == draft.lines:
        return draft
    step = int(db.execute("SELECT step FROM drafts WHERE id = ?", (number,)).fetchone()[0])
    db.execute("DELETE FROM draft_steps WHERE draft = ? AND step > ?", (number, step))
    last = db.execute("SELECT mark FROM draft_steps WHERE draft = ? AND step = ?", (number, step)).fetchone()
    if not new.mark or last["mark"] != new.mark:
        step += 1
    db.execute(
        "INSERT OR REPLACE INTO draft_steps (draft, step, told, mark, lines) VALUES (?, ?, ?, ?, ?)",
        (number, step, new.done, new.mark, _written(numbered(new.lines))),
    )
    db.execute("DELETE FROM draft_steps WHERE draft = ? AND step <= ?", (number, step - MOST_STEPS))
    _moved(db, number, step, when)
    return get(db, number)


def step(db: sqlite3.Connection, number: int, seen: int, by: int, when: str) -> Draft:
    """Go a step back (-1) or forth (1) from the version that was seen.

    Raises
    ------
    ChangedMeanwhile
        It was changed elsewhere since; nothing is undone then.
    """
    draft = get(db, number)
    if draft.version != seen:
        raise ChangedMeanwhile(draft.name)
    if not (draft.back if by < 0 else draft.forth):
        return draft
    at = int(db.execute("SELECT step FROM drafts WHERE id = ?", (number,)).fetchone()[0]) + by
    db.execute("UPDATE draft_steps SET mark = '' WHERE draft = ? AND step = ?", (number, at))
    _moved(db, number, at, when)
    return get(db, number)


def set_field(db: sqlite3.Connection, number: int, name: str, value: str) -> Draft:
    """Store what was typed about a formula as a whole; it is no step of the formula itself."""
    fields = {**get(db, number).fields, name: value}
    db.execute("UPDATE drafts SET fields = ? WHERE id = ?", (json.dumps(fields), number))
    return get(db, number)


def rename(db: sqlite3.Connection, number: int, name: str, when: str) -> Draft:
    """Give a formula another name; raises `BadValue` where it is taken or blank."""
    name = " ".join(name.split())
    taken = db.execute("SELECT id FROM drafts WHERE key = ? AND id <> ?", (plain(name), number)).fetchone()
    if not name or taken:
        raise BadValue("name", name, "another formula is called so" if name else "write one")
    db.execute(
        "UPDATE drafts SET name = ?, key = ?, version = version + 1, touched = ? WHERE id = ?",
        (name, plain(name), when, number),
    )
    return get(db, number)


def remove(db: sqlite3.Connection, number: int) -> int | None:
    """Remove a formula from the page with all its steps; saved versions of it stay.

    Returns its number among the removed, None where it is not there.
    """
    row = db.execute("SELECT name FROM drafts WHERE id = ?", (number,)).fetchone()
    return None if row is None else removed.remove(db, "formula", number, row["name"])


def touch(db: sqlite3.Connection, number: int, when: str) -> None:
    """Make a formula the last one opened."""
    db.execute("UPDATE drafts SET touched = ? WHERE id = ?", (when, number))


def _moved(db: sqlite3.Connection, number: int, step: int, when: str) -> None:
    db.execute(
        "UPDATE drafts SET step = ?, version = version + 1, touched = ? WHERE id = ?", (step, when, number)
    )


def _written(lines: Lines) -> str:
    return json.dumps(lines, ensure_ascii=False)
