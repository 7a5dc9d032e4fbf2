"""Limits that the person typed from the Standards in force: read, checked, stored; older tables stay."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from recommender.evidence.catalogue import CATEGORIES, Catalogue, cas_check_digit, load, looks_like_cas
from recommender.evidence.identity import identify
from recommender.evidence.markets import AUTHORITIES, authorities_of
from recommender.evidence.overlay import LIMITS_SOURCE
from recommender.evidence.sheets import Row, decimal, read_sheet
from recommender.model import Limit
from recommender.notebook.importers import day

KINDS = ("prohibition", "restriction", "specification")
BASIS = "user"
_WORDS = ("kind", "market", "counted_with", "sum_group", "reference", "date", "excepted", "note")
_PREFIXES = ("cat_", "category_", "kat_", "kategorie_", "categorie_", "")
_HEADS = {c: tuple(f"{head}{c.casefold()}" for head in _PREFIXES) for c in CATEGORIES}


@dataclass(frozen=True, slots=True)
class LimitTable:
    """A table of limits that was read: when (yyyy-mm-ddThh:mm:ss in UTC), from which file, how many rows."""

    number: int
    read: str
    file: str
    in_use: bool
    rows: int


def read(
    path: Path, catalogue: Catalogue | None = None, notes: list[str] | None = None, sheet: str = ""
) -> list[Limit]:
    """Read a table of limits: name, cas, and a column for each category (cat_1 ... cat_12).

    Optional columns: kind (restriction by default), market (standards by default), counted_with, sum_group,
    reference, date, excepted, note. A blank category stays as the package has it. Names and numbers are
    compared by `catalogue`, the shipped one by default. `notes` takes what was understood and the
    columns that are not used. `sheet` is that of a workbook.

    Raises
    ------
    BadTable
        Says file, line and column of the first cell that cannot be, or of a name and a number that disagree.
    """
    columns = [head for heads in _HEADS.values() for head in heads]
    rows = read_sheet(path, ("name", "cas"), (*_WORDS, *columns), notes, sheet=sheet)
    known = catalogue or load()
    found: list[Limit] = []
    seen: dict[tuple[str, str], int] = {}
    for row in rows:
        limit = _limit(row)
        identity = identify(limit.name, row["cas"], known)
        if identity.candidates and known.meanings(limit.name):  # a group has a name of its own
            remedy = "A limit counts by its number: correct the number or the name"
            raise row.wrong("cas", identity.reason, remedy)
        for place in ((number, by) for number in limit.cas for by in authorities_of(limit.market)):
            if place in seen:
                problem = f"{place[0]} is in line {seen[place]} too, for the same market"
                raise row.wrong("cas", problem, "Leave one of them")
            seen[place] = row.line
        found.append(limit)
    return found


def _limit(row: Row) -> Limit:
    if not row["name"]:
        raise row.wrong("name", "the name of the substance is missing")
    kind, market = row["kind"].casefold() or "restriction", row["market"].casefold() or "standards"
    for column, values, known in (
        ("kind", (kind,), KINDS),
        ("market", authorities_of(market), AUTHORITIES),
    ):
        if not set(values) <= set(known):
            raise row.wrong(column, f'"{row[column]}" is not one of {", ".join(known)}')
    percent = {}
    for category, heads in _HEADS.items():
        for head in heads:
            if (typed := decimal(row, head)) is not None:
                if not 0 < typed <= 100:
                    remedy = "It is a per cent of the product; leave it blank where you have none"
                    raise row.wrong(head, f"{typed:g} is not a limit", remedy)
                percent[category] = typed
    if kind == "restriction" and not percent:
        raise row.wrong("name", f"no limit is typed for {row['name']}", "Fill in a category, or the kind")
    if kind == "prohibition" and percent:
        raise row.wrong("kind", "a prohibition has no limits by category", "Write restriction, or clear them")
    numbers = _numbers(row, "cas")
    if not numbers:
        raise row.wrong("cas", "the CAS number is missing", "Limits are found by CAS number")
    return Limit(
        name=row["name"],
        cas=numbers,
        materials=(),
        kind=kind,
        market=market,
        basis=BASIS,
        source=LIMITS_SOURCE,
        reference=row["reference"],
        excepted=row.list("excepted"),
        note=row["note"],
        percent=percent,
        counted_with=_numbers(row, "counted_with"),
        sum_group=row["sum_group"],
        date=day(row, "date"),
    )


def _numbers(row: Row, column: str) -> tuple[str, ...]:
    for number in row.list(column):
        if not looks_like_cas(number):
            raise row.wrong(column, f'"{number}" is not a CAS number', "Part several by semicolons")
        if cas_check_digit(number) != int(number[-1]):
            digit = cas_check_digit(number)
            raise row.wrong(column, f"{number} is mistyped: its check digit would be {digit}")
    return row.list(column)


def store(db: sqlite3.Connection, limits: Sequence[Limit], file: str, when: str) -> int:
    """Store a table of limits and use it from now on, the one before unused; returns its number."""
    db.execute("UPDATE limit_tables SET in_use = 0")
    done = db.execute("INSERT INTO limit_tables (read, file) VALUES (?, ?)", (when, file))
    number = int(done.lastrowid or 0)
    for place, limit in enumerate(limits, 1):
        cells = (
            *(number, place, limit.name, "; ".join(limit.cas), limit.kind, limit.market),
            *("; ".join(limit.counted_with), limit.sum_group, limit.reference, limit.date),
            *("; ".join(limit.excepted), limit.note),
        )
        db.execute(f"INSERT INTO limits VALUES ({', '.join('?' * len(cells))})", cells)
        db.executemany(
            "INSERT INTO limit_percents VALUES (?, ?, ?, ?)",
            [(number, place, category, value) for category, value in limit.percent.items()],
        )
    return number


def tables(db: sqlite3.Connection) -> list[LimitTable]:
    """Return the tables that were read, the newest last."""
    rows = db.execute(
        "SELECT t.id, t.read, t.file, t.in_use, count(l.place) FROM limit_tables t"
        " LEFT JOIN limits l ON l.limit_table = t.id GROUP BY t.id ORDER BY t.id"
    )
    return [LimitTable(number, read, file, bool(used), count) for number, read, file, used, count in rows]


def use(db: sqlite3.Connection, number: int) -> None:
    """Use another table of those that are stored; 0 for that of the package alone."""
    db.execute("UPDATE limit_tables SET in_use = (id = ?)", (number,))


def in_use(db: sqlite3.Connection) -> tuple[tuple[Limit, ...], str]:
    """Return the limits in use, and what their table is called; nothing where none is."""
    table = db.execute("SELECT id, read, file FROM limit_tables WHERE in_use = 1").fetchone()
    if table is None:
        return (), ""
    percents: dict[int, dict[str, float]] = {}
    for place, category, value in db.execute(
        "SELECT place, category, percent FROM limit_percents WHERE limit_table = ?", (table["id"],)
    ):
        percents.setdefault(place, {})[category] = value
    rows = db.execute("SELECT * FROM limits WHERE limit_table = ? ORDER BY place", (table["id"],))
    found = tuple(
        Limit(
            row["name"],
            _listed(row["cas"]),
            (),
            row["kind"],
            row["market"],
            BASIS,
            LIMITS_SOURCE,
            row["reference"],
            _listed(row["excepted"]),
            row["note"],
            percents.get(row["place"], {}),
            _listed(row["counted_with"]),
            row["sum_group"],
            row["date"],
        )
        for row in rows
    )
    return found, f"your own table {table['file']}, read {table['read'][:10]}"


def _listed(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())
