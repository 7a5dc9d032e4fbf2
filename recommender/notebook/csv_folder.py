"""A notebook as a folder of CSV files that any spreadsheet opens, and back without a change."""

import csv
import hashlib
import os
import shutil
import sqlite3
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TextIO

from recommender.errors import BadNotebook, BadTable, BadValue
from recommender.notebook.backup import Progress, present, put
from recommender.notebook.csv_cells import Record, records, shown
from recommender.notebook.foreign import check_rows
from recommender.notebook.migrations import newest, steps, upgrade, version
from recommender.notebook.store import connected, new_file, reading, tables

ABOUT = "about.csv"
"""Schema step and number of rows of each table."""
_BLOCK = 500
"""Rows between two calls of progress."""


def _rows(db: sqlite3.Connection, table: str) -> Iterator[sqlite3.Row]:
    keys = [row for row in db.execute(f"PRAGMA table_info({table})") if row["pk"]]
    order = ", ".join(row["name"] for row in sorted(keys, key=lambda row: row["pk"])) or "rowid"
    yield from db.execute(f"SELECT * FROM {table} ORDER BY {order}")


def counts(db: sqlite3.Connection) -> dict[str, int]:
    """Return how many rows each table has."""
    return {name: db.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables(db)}


def digest(db: sqlite3.Connection) -> str:
    """Return a fingerprint of all rows of all tables."""
    mark = hashlib.sha256()
    for table in tables(db):
        mark.update(f"\x1d{table}".encode())
        for row in _rows(db, table):
            mark.update(repr(tuple(row)).encode("utf-8", "surrogatepass"))
    return mark.hexdigest()


def _own(path: Path) -> TextIO:
    """Open a new CSV file that its owner alone may read."""
    new_file(path)
    return path.open("w", encoding="utf-8-sig", newline="")


def export(path: Path, folder: Path, progress: Progress | None = None) -> dict[str, int]:
    """Write a notebook as a folder of CSV files, one a table; returns rows by table.

    Raises
    ------
    BadNotebook, BadValue
        The folder is there already and is not empty.
    """
    present(path)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadValue("FOLDER", folder, "it is there already; name a new or an empty folder")
    scratch = folder.with_name(f"{folder.name}.new-{os.getpid()}")
    with reading(path) as db:
        if db is None:
            raise BadNotebook(str(path), "there is no notebook yet")
        rows = counts(db)
        try:
            scratch.mkdir(parents=True, mode=stat.S_IRWXU)
            done, total = 0, sum(rows.values())
            for table, columns in tables(db).items():
                with _own(scratch / f"{table}.csv") as file:
                    writer = csv.writer(file, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
                    writer.writerow(columns)
                    for row in _rows(db, table):
                        writer.writerow(shown(value) for value in row)
                        done += 1
                        if progress and (done % _BLOCK == 0 or done == total):
                            progress(done, total)
            with _own(scratch / ABOUT) as file:
                about = csv.writer(file, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
                about.writerows([("what", "number"), ("schema step", version(db)), *rows.items()])
            if folder.exists():
                folder.rmdir()
            scratch.rename(folder)
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise BadValue("FOLDER", folder, f"it cannot be written: {why}") from None
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    return rows


def import_folder(
    path: Path, folder: Path, *, replace: bool, progress: Progress | None = None
) -> tuple[dict[str, int], Path | None, list[str]]:
    """Read an exported folder into a notebook, all of it or nothing.

    Returns rows by table, where the present notebook is (None where it was empty), and notes.

    Raises
    ------
    BadTable
        A file, line and column that cannot be read.
    BadValue
        The notebook is not empty, and `replace` is not given.
    BadNotebook
    """
    if not replace and path.exists():
        with reading(path) as db:
            if db is not None and any(counts(db).values()):
                raise BadValue(
                    "replace",
                    "",
                    "the notebook is not empty; give {replace} (the present one is moved aside)",
                )
    about = _about(folder)
    fresh = connected(":memory:")
    try:
        upgrade(fresh, until=about["schema step"])
        fresh.execute("PRAGMA foreign_keys = OFF")
        fresh.execute("BEGIN")
        done, total = 0, sum(about.get(table, 0) for table in tables(fresh))
        notes = []
        for table, columns in tables(fresh).items():
            count = 0
            for row in records(folder / f"{table}.csv", columns):
                _insert(fresh, table, list(columns), row)
                count, done = count + 1, done + 1
                if progress and (done % _BLOCK == 0 or done == total):
                    progress(done, max(done, total))
            if count != about.get(table, count):
                notes.append(f"{table}.csv has {count} rows; {about[table]} were exported.")
        _check_references(fresh)
        fresh.execute("COMMIT")
        upgrade(fresh)
        check_rows(fresh, folder)
        aside = put(path, fresh, "before-import")
        return counts(fresh), aside, notes
    finally:
        fresh.close()


def _about(folder: Path) -> dict[str, int]:
    if not folder.is_dir():
        raise BadValue("FOLDER", folder, "there is no such folder")
    found: dict[str, int] = {}
    for row in records(folder / ABOUT, {"what": "TEXT", "number": "INTEGER"}):
        found[str(row["what"])] = int(row["number"] or 0)
    step = found.get("schema step", 0)
    if step not in steps():
        if step > newest():
            problem = f"a newer version of this program wrote it (step {step}; here {newest()} is the last)"
            raise BadTable(ABOUT, problem, remedy="Update the program; nothing was changed")
        raise BadTable(ABOUT, "the schema step is missing", remedy="Export again")
    return found


def _insert(db: sqlite3.Connection, table: str, columns: Sequence[str], row: Record) -> None:
    names, marks = ", ".join(columns), ", ".join("?" * len(columns))
    try:
        db.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", [row[name] for name in columns])
    except sqlite3.IntegrityError as error:
        problem = f"the row cannot be stored ({str(error).lower()})"
        raise BadTable(row.file, problem, line=row.line, remedy="Nothing was read") from None


def _check_references(db: sqlite3.Connection) -> None:
    found = db.execute("PRAGMA foreign_key_check").fetchone()
    if found is not None:
        table, row, parent = found[0], found[1], found[2]
        place = db.execute(f"SELECT count(*) FROM {table} WHERE rowid <= ?", (row,)).fetchone()[0]
        problem = f"it refers to a row of {parent}.csv that is not there"
        raise BadTable(f"{table}.csv", problem, line=place + 1, remedy="Nothing was read")
