"""Notebooks that others made: only our own tables, and in them only what we would have written.

A database can bring code of its own: triggers that delete what is added, views in the place of tables, tables
whose rules differ. So its schema has to be that of a fresh notebook of the same step, word for word.
"""

import json
import re
import sqlite3
import sys
from functools import cache
from pathlib import Path
from typing import Any

from recommender.errors import BadNotebook
from recommender.notebook import bottle_rows
from recommender.notebook.migrations import upgrade
from recommender.notebook.removed import KINDS

REMEDY = "Nothing in it was run or changed; take one that this program wrote"
_TYPES = {"TEXT": ("text",), "REAL": ("real", "integer"), "INTEGER": ("integer",)}
"""Type of a column -> what its values may be; NULL is a matter of the schema."""
Schema = frozenset[tuple[str, str, str]]
"""Type, name and definition of everything in a database."""


def defend(connection: sqlite3.Connection) -> None:
    """Let a database run nothing of its own: no functions from its schema, and no writing into the schema."""
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    if sys.version_info >= (3, 12):
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_DEFENSIVE, True)
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_ENABLE_TRIGGER, False)


def check_schema(connection: sqlite3.Connection, path: Path, step: int) -> None:
    """Raise `BadNotebook` where a database has anything else than a fresh notebook of this schema step."""
    found, own = _schema(connection), _fresh(step)
    for kind, name, _ in sorted(found - own):
        if kind in ("trigger", "view"):
            raise BadNotebook(str(path), f'it has a {kind} of its own, "{name[:60]}"', REMEDY)
    if found != own:
        _, name, _ = min(found ^ own)
        raise BadNotebook(str(path), f'its "{name[:60]}" is not that of a notebook', REMEDY)


@cache
def _fresh(step: int) -> Schema:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        if step:
            upgrade(connection, until=step)
        return _schema(connection)
    finally:
        connection.close()


def _schema(connection: sqlite3.Connection) -> Schema:
    # what SQLite makes by itself has no definition, or is a table of its own (statistics)
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    return frozenset(
        (str(kind), str(name), _bare(str(sql)))
        for kind, name, sql in rows
        if not (kind == "table" and str(name).startswith("sqlite_stat"))
    )


def _bare(sql: str) -> str:
    """Return a definition without its comments, whose words have changed over time, and extra blanks.

    >>> _bare("CREATE TABLE a (  -- one" + chr(10) + "  b TEXT -- two" + chr(10) + ")")
    'CREATE TABLE a ( b TEXT )'
    """
    return " ".join(re.sub(r"--[^\n]*", " ", sql).split())


def check_rows(connection: sqlite3.Connection, path: Path) -> None:
    """Raise `BadNotebook` where a row has what this program would not have written.

    SQLite itself takes a text in a column of numbers, and does not know what the texts in JSON mean.
    """
    for table in [name for kind, name, _ in _schema(connection) if kind == "table"]:
        for column in connection.execute(f"PRAGMA table_info({table})").fetchall():
            wanted = (*_TYPES[column["type"]], "null")
            marks = ", ".join("?" * len(wanted))
            name = column["name"]
            wrong = f"SELECT 1 FROM {table} WHERE typeof({name}) NOT IN ({marks})"
            if column["type"] == "REAL":
                wrong += f" OR abs({name}) > 1e300"
            if connection.execute(f"{wrong} LIMIT 1", wanted).fetchone():
                raise _not_ours(path, table, name)
    for table, name, fits in _JSON:
        if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (table,)).fetchone():
            continue  # of an earlier schema step
        for (text,) in connection.execute(f"SELECT {name} FROM {table}"):
            try:
                good = fits(json.loads(text))
            except (ValueError, RecursionError):
                good = False
            if not good:
                raise _not_ours(path, table, name)


def _not_ours(path: Path, table: str, column: str) -> BadNotebook:
    problem = f"a row of {table} has something in {column} that this program would not write"
    return BadNotebook(str(path), problem, REMEDY)


def _are_texts(found: Any) -> bool:
    return isinstance(found, dict) and all(isinstance(value, str) for value in found.values())


def _are_lines(found: Any) -> bool:
    return isinstance(found, list) and all(
        _are_texts(line) and str(line.get("id", "1")).isdecimal() for line in found
    )


def _are_rows(found: Any) -> bool:
    tables = {table for kind in KINDS.values() for table in (kind.table, *kind.below)}
    return isinstance(found, dict) and all(
        table in tables
        and isinstance(rows, list)
        and all(
            isinstance(row, dict) and all(isinstance(x, str | int | float | None) for x in row.values())
            for row in rows
        )
        for table, rows in found.items()
    )


_JSON = (
    ("drafts", "fields", _are_texts),
    ("draft_steps", "lines", _are_lines),
    ("removed", "content", _are_rows),
    ("shelf_change_bottles", "before", bottle_rows.is_row),
    ("shelf_change_bottles", "after", bottle_rows.is_row),
)
