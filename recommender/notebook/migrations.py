"""The schema, step by step: numbered SQL files, each applied once to every notebook."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

SCHEMA = Path(__file__).parent / "schema"
APPLICATION_ID = 0x5065_7266
"""Written into the file, so that another program's database is not taken for a notebook."""


def steps() -> dict[int, str]:
    """Return the schema steps, number -> SQL, in the order in which they are applied."""
    found = sorted(SCHEMA.glob("[0-9][0-9][0-9]_*.sql"))
    return {int(path.name[:3]): path.read_text(encoding="utf-8") for path in found}


def newest() -> int:
    """Return the number of the newest schema step."""
    return max(int(path.name[:3]) for path in SCHEMA.glob("[0-9][0-9][0-9]_*.sql"))


def upgrade(connection: sqlite3.Connection, until: int | None = None) -> None:
    """Apply the schema steps that a database lacks, all of them or none.

    The caller has no transaction open. Waits for a process that is doing the same.
    """
    connection.execute("PRAGMA foreign_keys = OFF")  # steps may rebuild a table that others refer to
    connection.execute("BEGIN IMMEDIATE")
    try:
        step = version(connection)
        for number, script in steps().items():
            if step < number <= (until or number):
                for statement in _statements(script):
                    connection.execute(statement)
                connection.execute(f"PRAGMA user_version = {number}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    connection.execute("PRAGMA foreign_keys = ON")


def _statements(script: str) -> Iterator[str]:
    """Yield single statements: `executescript` would end the transaction first."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def version(connection: sqlite3.Connection) -> int:
    """Return the number of the last schema step that was applied."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])
