"""Named formulas: every version that was ever saved stays."""

import re
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from recommender.errors import BadValue, UnknownMaterial
from recommender.evidence.catalogue import Catalogue, plain
from recommender.evidence.intake import LONGEST_SHEET
from recommender.formulas.formula import DEEPEST, circle, size, too_deep, too_many_lines
from recommender.model import Formula, Line, Material

_NAMED = re.compile(r"(?P<name>.+?)\s*(?:@\s*(?P<number>\d+))?")
_NOT_IN_NAMES = re.compile(r"[@/\\\x00-\x1f]")
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class SavedVersion:
    """One version of a named formula; `new` is whether saving made it, or found it there already.

    `when` is yyyy-mm-ddThh:mm:ss in UTC.
    """

    version: int
    name: str
    number: int
    when: str
    note: str = ""
    new: bool = False

    @property
    def title(self) -> str:
        """Name and number, as they are asked for."""
        return f"{self.name}@{self.number}"


def check_name(name: str, catalogue: Catalogue) -> str:
    """Return a name under which a formula can be saved and found again.

    Raises
    ------
    BadValue
        It is blank, too long, has @ or a slash in it, or is the name of a material.
    """
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME or _NOT_IN_NAMES.search(name):
        raise BadValue(
            "name", name[:LONGEST_NAME], f"a name has 1 to {LONGEST_NAME} letters, without @ and slashes"
        )
    try:
        known = catalogue.find(name)
    except (UnknownMaterial, BadValue):
        return name
    raise BadValue("name", name, f"it is the name of a material ({known.name}); give the formula another")


def save(db: sqlite3.Connection, formula: Formula, when: str, note: str = "") -> list[SavedVersion]:
    """Save a formula as the next version of its name, accords in it first; the formula itself comes last.

    A formula that equals the last version of its name, in its theme too, is not saved again; an accord that
    equals any version of its name stands as that one.
    """
    return _save(db, formula, when, note, any_version=False)


def _save(
    db: sqlite3.Connection, formula: Formula, when: str, note: str, *, any_version: bool
) -> list[SavedVersion]:
    saved: list[SavedVersion] = []
    lines: list[tuple[object, ...]] = []
    for place, line in enumerate(formula.lines, 1):
        slug, accord = "", None
        if isinstance(line.content, Material):
            slug = line.content.slug
        else:
            saved += _save(db, line.content, when, "", any_version=True)
            accord = saved[-1].version
        solvent = line.solvent.slug if line.solvent else ""
        lines.append((place, slug, accord, line.parts, round(100.0 * line.dilution, 9), solvent, line.note))
    key = plain(formula.name)
    db.execute("INSERT OR IGNORE INTO formulas (name, key) VALUES (?, ?)", (formula.name, key))
    known = versions(db, formula.name)
    number = known[-1].number if known else 0
    for one in reversed(known if any_version else known[-1:]):
        same = [tuple(row) for row in _lines(db, one.version)] == lines
        if same and _theme(db, one.version) == formula.theme:
            return [*saved, one]
    done = db.execute(
        "INSERT INTO formula_versions (formula, number, saved, note)"
        " SELECT id, ?, ?, ? FROM formulas WHERE key = ?",
        (number + 1, when, note, key),
    )
    version = int(done.lastrowid or 0)
    db.executemany(
        "INSERT INTO formula_lines (version, place, material, accord, parts, dilution_percent, solvent, note)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [(version, *line) for line in lines],
    )
    db.executemany(
        "INSERT INTO formula_themes (version, place, facet) VALUES (?, ?, ?)",
        [(version, place, facet) for place, facet in enumerate(formula.theme, 1)],
    )
    return [*saved, SavedVersion(version, formula.name, number + 1, when, note, new=True)]


def _lines(db: sqlite3.Connection, version: int) -> list[sqlite3.Row]:
    return db.execute(
        "SELECT place, material, accord, parts, dilution_percent, solvent, note"
        " FROM formula_lines WHERE version = ? ORDER BY place",
        (version,),
    ).fetchall()


def _theme(db: sqlite3.Connection, version: int) -> tuple[str, ...]:
    """Return the facets that a version states to be about."""
    rows = db.execute("SELECT facet FROM formula_themes WHERE version = ? ORDER BY place", (version,))
    return tuple(row["facet"] for row in rows)


def find(db: sqlite3.Connection, text: str) -> SavedVersion | None:
    """Return the version that a text names, NAME for the last or NAME@2; None where there is none.

    Raises
    ------
    BadValue
        The name is known, the version is not.
    """
    match = _NAMED.fullmatch(text.strip())
    if match is None:
        return None
    rows = versions(db, match["name"])
    if not rows:
        return None
    if match["number"] is None:
        return rows[-1]
    wanted = int(match["number"])
    if found := [row for row in rows if row.number == wanted]:
        return found[0]
    raise BadValue("version", f"{rows[0].name}@{wanted}", f"it has versions 1 to {rows[-1].number}")


def versions(db: sqlite3.Connection, name: str) -> list[SavedVersion]:
    """Return all versions of a name, the oldest first."""
    rows = db.execute(
        "SELECT v.id, f.name, v.number, v.saved, v.note FROM formula_versions v"
        " JOIN formulas f ON f.id = v.formula WHERE f.key = ? ORDER BY v.number",
        (plain(name),),
    )
    return [SavedVersion(*row) for row in rows]


def accord_titles(db: sqlite3.Connection, saved: SavedVersion) -> dict[str, str]:
    """Return the accords in the lines of a version, each by its name as NAME@2."""
    rows = db.execute(
        "SELECT f.name, v.number FROM formula_lines l JOIN formula_versions v ON v.id = l.accord"
        " JOIN formulas f ON f.id = v.formula WHERE l.version = ? ORDER BY l.place",
        (saved.version,),
    )
    return {name: f"{name}@{number}" for name, number in rows}


def latest(db: sqlite3.Connection) -> list[SavedVersion]:
    """Return the last version of every formula, by name."""
    rows = db.execute(
        "SELECT v.id, f.name, max(v.number), v.saved, v.note FROM formula_versions v"
        " JOIN formulas f ON f.id = v.formula GROUP BY f.id ORDER BY f.key"
    )
    return [SavedVersion(*row) for row in rows]


def near(db: sqlite3.Connection, name: str, least: float = 60.0) -> Sequence[str]:
    """Return the names of saved formulas that come nearest to a name, alike to `least` [%] or more."""
    from rapidfuzz import process

    names = [row[0] for row in db.execute("SELECT name FROM formulas")]
    return [found for found, _, _ in process.extract(name, names, limit=3, score_cutoff=least)]


def formula_of(db: sqlite3.Connection, saved: SavedVersion, catalogue: Catalogue) -> Formula:
    """Return a saved version as a formula, accords opened in the versions that they had.

    Raises
    ------
    BadValue
        A material in it is no longer known; or it stands in itself, is too deep or too long.
    """
    return _opened(db, saved, catalogue, (), {})


def _opened(
    db: sqlite3.Connection,
    saved: SavedVersion,
    catalogue: Catalogue,
    above: tuple[SavedVersion, ...],
    opened: dict[int, Formula],
) -> Formula:
    """Return a version as a formula; each one inside is opened once."""
    if saved.version in opened:
        return opened[saved.version]
    if saved in above:
        raise BadValue("formula", saved.title, circle([x.title for x in above], saved.title))
    if len(above) > DEEPEST:
        raise BadValue("formula", above[0].title, too_deep())
    lines = []
    for row in _lines(db, saved.version):
        content: Material | Formula
        if row["accord"] is not None:
            inner = db.execute(
                "SELECT v.id, f.name, v.number, v.saved, v.note FROM formula_versions v"
                " JOIN formulas f ON f.id = v.formula WHERE v.id = ?",
                (row["accord"],),
            ).fetchone()
            content = _opened(db, SavedVersion(*inner), catalogue, (*above, saved), opened)
        else:
            content = _material(catalogue, row["material"], saved)
        solvent = _material(catalogue, row["solvent"], saved) if row["solvent"] else None
        lines.append(Line(content, row["parts"], row["dilution_percent"] / 100.0, solvent, row["note"]))
    known = {facet.name for facet in catalogue.facets}
    theme = _theme(db, saved.version)
    lost = [facet for facet in theme if facet not in known]
    notes = [f"{saved.title}: its theme names {', '.join(lost)}, which is no longer known."] if lost else []
    formula = Formula(saved.name, tuple(lines), tuple(notes), tuple(f for f in theme if f in known))
    if size(formula) > LONGEST_SHEET:
        raise BadValue("formula", saved.title, too_many_lines(saved.title).problem)
    opened[saved.version] = formula
    return formula


def _material(catalogue: Catalogue, slug: str, saved: SavedVersion) -> Material:
    if slug not in catalogue.index:
        problem = f'"{slug}" is in it, which is no longer known; add it with `recommender materials add`'
        raise BadValue("formula", saved.title, problem)
    return catalogue.by_slug(slug)
