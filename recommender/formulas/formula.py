"""Formulas: read from a sheet, accords inside accords, parts per thousand, and what is on the strip."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import TypeAlias

from recommender.errors import BadTable, BadValue, UnknownFacet, UnknownMaterial, WrongCas
from recommender.evidence.catalogue import EVIDENCE, LONGEST_NAME, Catalogue, label_key, plain
from recommender.evidence.headers import unit_in
from recommender.evidence.identity import diluted, dilution_in, identify, solvent_name
from recommender.evidence.intake import LONGEST_SHEET, NO_SUCH_FILE, file_at
from recommender.evidence.sheets import (
    DILUTION,
    PARTS,
    THEME,
    UNIT,
    Row,
    decimal,
    lines_in,
    ounces_in,
    percent_of,
    quantity,
    read_sheet,
    settled,
    solvent_apart,
)
from recommender.evidence.workbooks import SUFFIXES
from recommender.model import Amount, Formula, Line, Material
from recommender.one_line import printable
from recommender.similarity.phrases import Words, parse, texts
from recommender.units import MASSES, SHARES

REQUIRED, OPTIONAL = ("material", "parts"), ("dilution_percent", "solvent", "note")
COLUMNS = (*REQUIRED, *OPTIONAL)
"""What a line has; what a formula is about, the column `THEME`, may stand beside any of them."""
SHEET_COLUMNS = (*COLUMNS, THEME)
MOST_PARTS = 1e9
DEEPEST = 20
"""Accords inside accords further down than this are a slip, not a formula."""
DEFAULT_SOLVENT = "dipropylene-glycol"
LEAVES_FIRST = "ethanol"
"""A solvent that has gone before the clock of a strip starts."""
ON_PAPER = "changes on paper"
"""The kind of caution that a material's smell on a strip is not that of evaporation alone."""
_WITH_CAS = re.compile(r"(.*?\S)\s*\(CAS ([^()]*)\)")
"""A name and a CAS number in one cell."""
LABEL = "label"
"""A second name beside the material: that of the house, or of the bottle."""
HEADS: Mapping[str, Sequence[str]] = {"material": (LABEL,), PARTS: ("amount", "percent")}
"""Header words that count for a formula beside its own."""
MOST_HEADINGS = 100
"""More lines without an amount are no headings."""
MISSPELT = 85.0
"""From this likeness on (0-100) a line without an amount is a misspelt material and no heading."""


Accord: TypeAlias = Callable[[str], Formula | None]
"""What finds a formula by its name, NAME or NAME@2; None where there is none."""


def demo_files() -> list[Path]:
    """Return the formulas of the invented studio, by name."""
    folder = EVIDENCE / "demo"
    heads = (b"material,parts", b"material;parts")
    return [path for path in sorted(folder.glob("*.csv")) if path.read_bytes().startswith(heads)]


def is_file(text: str) -> bool:
    """Return whether a text names a formula file rather than a material."""
    return text.lower().endswith(SUFFIXES)


def read(
    path: Path | str,
    catalogue: Catalogue,
    sheet: str = "",
    accord: Accord | None = None,
    opened_files: dict[Path, Formula] | None = None,
) -> Formula:
    """Read a formula file, with the formulas that it names; its notes list what was taken for granted.

    `sheet` is the sheet of a workbook, the one that was active when it was saved by default; `accord` finds
    the formula of a name that no material has; an empty `opened_files` takes the files that were opened.

    Raises
    ------
    BadTable
        With file, line and column: a missing file or column, a part that is not a positive number, a
        dilution outside 0-100 %, an unknown material, a formula that contains itself, only solvents.
    """
    notes: list[str] = []
    opened = {} if opened_files is None else opened_files
    formula = _read(Path(path), catalogue, (), notes, opened, sheet, accord)
    if not any(amount.material.kind != "solvent" for amount in amounts(formula)):
        raise BadTable(
            Path(path).name, "nothing but solvents", remedy="Add a line with a material that smells"
        )
    return replace(formula, notes=tuple(dict.fromkeys(notes)))


def of_pairs(
    name: str,
    pairs: "Iterable[tuple[Material | str, float]]",
    catalogue: Catalogue,
    accord: Accord | None = None,
) -> Formula:
    """Return a formula of neat materials by name and parts; errors as `read`, by the number of the pair."""
    blank = dict.fromkeys(COLUMNS, "")
    rows = [
        Row(name, n, blank | {"material": cell_of(material), "parts": cell_of(parts)})
        for n, (material, parts) in enumerate(pairs, 1)
    ]
    return of_rows(name, rows, catalogue, accord=accord)


def cell_of(value: object) -> str:
    """Return a value as a cell of a sheet; a missing value is blank.

    >>> cell_of(2.5), cell_of("coumarin"), cell_of(None), cell_of(float("nan"))
    ('2.5', 'coumarin', '', '')
    """
    if isinstance(value, Material):
        return value.name
    text = "" if value is None else str(value)
    return "" if text in ("nan", "NaN", "NaT", "<NA>") else text


def of_rows(
    name: str,
    rows: Sequence[Row],
    catalogue: Catalogue,
    notes: Sequence[str] = (),
    accord: Accord | None = None,
) -> Formula:
    """Return a formula of rows that name materials, or formulas that `accord` finds; errors as `read`."""

    def no_file(row: Row) -> Formula:
        raise row.wrong("material", "a formula file cannot stand in a table that is not a file itself")

    found = list(notes)
    if not rows:
        raise BadTable(name, "the formula has no lines", remedy="Name one material at least")
    lines = tuple(line_of(row, catalogue, found, no_file, accord) for row in rows)
    theme = theme_in(rows, catalogue, found)
    formula = Formula(name, lines, tuple(dict.fromkeys(found)), theme)
    if not any(amount.material.kind != "solvent" for amount in amounts(formula)):
        raise BadTable(name, "nothing but solvents", remedy="Add a material that smells")
    return formula


def remarks(formula: Formula) -> list[str]:
    """Return remarks on how the strip is read."""
    present = [amount.material for amount in amounts(formula)]
    notes = [
        f"{m.name}: {caution.text} Its hours here are by evaporation alone."
        for m in present
        for caution in m.cautions
        if caution.kind == ON_PAPER
    ]
    if any(material.slug == LEAVES_FIRST for material in present):
        notes.append("The clock starts when the ethanol has gone.")
    return notes


def _named(row: Row, catalogue: Catalogue, notes: list[str]) -> Row:
    """Return a row whose material is what its names and its CAS number mean, a dilution in a name read."""
    cells = dict(row.cells)
    texts, cas = [text for text in (cells["material"], cells.pop(LABEL)) if text], cells.pop("cas")
    cells["material"] = texts[0] if texts else ""
    if any(map(is_file, texts)):
        return replace(row, cells=cells)
    try:
        known = [text for text in texts if catalogue.meanings(text)]
        if len({catalogue.meanings(text)[0].slug for text in known}) > 1:
            problem = f'"{known[0]}" and "{known[1]}" are two materials'
            raise row.wrong("material", problem, "Leave the one that is meant")
        found = next(((text, inside) for text in texts if (inside := diluted(text))), None)
        if known:
            cells["material"] = known[0]
        if found:
            cells |= dilution_in(row, *found, catalogue, notes)
            cells["material"] = known[0] if known else found[1].name
        name = cells["material"]
        identity = identify(name, cas, catalogue) if cas else None
    except WrongCas:
        return replace(row, cells=cells | {"material": _with_cas(cells["material"], cas)})
    if identity and identity.candidates:
        cells["material"] = _with_cas(name, cas)
    elif identity and not identity.material:
        cells["material"] = name or cas
    elif identity and identity.material and catalogue.meanings(name)[:1] != (identity.material,):
        cells["material"] = identity.material.name
    if identity and identity.reason and not identity.candidates:
        notes.append(f"{row.file}: line {row.line}: {identity.reason}.")
    return replace(row, cells=cells)


def _with_cas(name: str, cas: str) -> str:
    return f"{name} (CAS {cas})" if name and cas else name or cas


def candidates(text: str, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the names of which one is meant where a text holds a name and a CAS number that disagree."""
    match = _WITH_CAS.fullmatch(text)
    return tuple(m.name for m in identify(match[1], match[2], catalogue).candidates) if match else ()


def _read(
    path: Path,
    catalogue: Catalogue,
    above: tuple[Path, ...],
    notes: list[str],
    opened_files: dict[Path, Formula],
    sheet: str = "",
    accord: Accord | None = None,
) -> Formula:
    path = file_at(path)
    if path in opened_files:
        return opened_files[path]
    if path in above:
        names = [p.name for p in above[above.index(path) :]]
        raise BadTable(path.name, circle(names, path.name), remedy="Take one of the lines out")
    if len(above) > DEEPEST:
        raise BadTable(above[0].name, too_deep(), remedy="Write the inner ones as one formula")
    rows = sheet_rows(path, catalogue, notes, sheet)
    if not rows:
        raise BadTable(path.name, "the formula has no lines", remedy="Write one material a line")
    if len(rows) + sum(len(other.lines) for other in opened_files.values()) > LONGEST_SHEET:
        raise too_many_lines(path.name)
    lines = tuple(_line(row, path, catalogue, (*above, path), notes, opened_files, accord) for row in rows)
    _note_repeats(rows, lines, notes)
    formula = Formula(path.stem, lines, theme=theme_in(rows, catalogue, notes))
    if size(formula) > LONGEST_SHEET:
        raise too_many_lines(path.name)
    opened_files[path] = formula
    return formula


def sheet_rows(path: Path, catalogue: Catalogue, notes: list[str], sheet: str = "") -> list[Row]:
    """Return the lines of a formula's sheet as rows of `SHEET_COLUMNS`, the parts brought to one unit.

    A CAS number beside the name counts as well. Where they disagree both stand in the cell,
    `vanillin (CAS 91-64-5)`, and `line_of` asks which is meant. A dilution in a name stands in its column;
    headings without an amount are left out; `notes` says so.

    Raises
    ------
    BadTable
        See `read_sheet`; a number or a dilution that may be two things; units that cannot be brought to one.
    """
    before = len(notes)
    found = read_sheet(path, REQUIRED, (*OPTIONAL, THEME, "cas", UNIT, LABEL), notes, HEADS, sheet)
    named_only = [row for row in found if _has_only_a_name(row)]
    if headings := [row for row in named_only[:MOST_HEADINGS] if _is_heading(row, catalogue)]:
        places = {row.line for row in headings}
        found = [row for row in found if row.line not in places]
        names = ", ".join(f'"{row["material"] or row[LABEL]}"' for row in headings)
        where = lines_in([row.line for row in headings])
        notes.append(f"{path.name}: {where}: {names}, without an amount, left out as headings.")
    for column in (PARTS, DILUTION):
        found = settled(found, column, notes)
    found = _in_one_unit([_named(row, catalogue, notes) for row in found], notes)
    notes[before:] = map(printable, notes[before:])
    return [replace(row, cells={column: row[column] for column in SHEET_COLUMNS}) for row in found]


def _has_only_a_name(row: Row) -> bool:
    filled = [name for name, cell in row.cells.items() if cell]
    return len(filled) == 1 and filled[0] in ("material", LABEL) and not is_file(row[filled[0]])


def _is_heading(row: Row, catalogue: Catalogue) -> bool:
    """Return whether a row that has only a name is no line but a heading: the name is that of no material."""
    from rapidfuzz import fuzz, process

    name = plain(row["material"] or row[LABEL])
    if len(name) > LONGEST_NAME:
        return True
    try:
        known = catalogue.meanings(name)
    except WrongCas:
        return False
    return not known and not process.extractOne(
        name, catalogue.by_name.keys(), scorer=fuzz.ratio, score_cutoff=MISSPELT
    )


def _in_one_unit(rows: Sequence[Row], notes: list[str]) -> list[Row]:
    """Return rows whose parts are bare numbers in one unit.

    A unit stands in the cell, in the column of units, or for all lines in the header.
    """
    split = [quantity(row[PARTS]) for row in rows]
    typed = [plain(row[UNIT]).rstrip(".") for row in rows]
    units = [
        inside or beside or unit_in(row.titles.get(PARTS, ""))
        for row, (_, inside), beside in zip(rows, split, typed, strict=True)
    ]
    if not any(units):
        return list(rows)
    for row, unit, (_, inside), beside in zip(rows, units, split, typed, strict=True):
        column = PARTS if inside or UNIT not in row.titles else UNIT
        cell = row[UNIT] if column == UNIT else inside
        if inside and beside and inside != beside:
            raise row.wrong(UNIT, f'"{row[UNIT]}" beside "{row[PARTS]}"', "Leave the unit that is meant")
        if unit not in MASSES and unit not in SHARES:
            problem = f'"{cell or unit}" is no unit of mass' if unit else "the unit is missing here"
            raise row.wrong(column, problem, "Parts are by mass: write g, mg or kg, or no unit at all")
        if (unit in MASSES) != (units[0] in MASSES) or (unit in SHARES and SHARES[unit] != SHARES[units[0]]):
            problem = f'"{cell or unit}" beside "{units[0]}" in line {rows[0].line}'
            raise row.wrong(column, problem, "Write all amounts in one unit, or in units of mass")
    mixed = len({MASSES.get(unit, 1.0) for unit in units}) > 1
    if mixed:
        notes.append(f"{rows[0].file}: units of mass are mixed; all amounts are brought to g.")
    elif any(inside for _, inside in split):
        notes.append(f"{rows[0].file}: the amounts are in {units[0]}.")
    if mixed:
        notes += ounces_in(rows[0].file, units)
    found = []
    for row, unit, (number, _) in zip(rows, units, split, strict=True):
        value = decimal(replace(row, cells=row.cells | {PARTS: number}), PARTS) if mixed else None
        cell = number if value is None else f"{value * MASSES[unit]:.10g}"
        found.append(replace(row, cells=row.cells | {PARTS: cell}))
    return found


def size(formula: Formula) -> int:
    """Return the lines of a formula with those of the accords inside; more than may be count as one more."""
    return sum(1 for _ in islice(_leaves(formula), LONGEST_SHEET + 1))


def _leaves(formula: Formula) -> Iterator[Line]:
    for line in formula.lines:
        if isinstance(line.content, Material):
            yield line
        else:
            yield from _leaves(line.content)


def too_many_lines(name: str) -> BadTable:
    """Return the error for a formula that is too long with its accords."""
    return BadTable(
        name,
        f"more than {LONGEST_SHEET} lines with the accords inside are too many",
        remedy="Leave some of them out",
    )


def circle(above: Sequence[str], name: str) -> str:
    """Return what is wrong with a formula that stands in itself, by way of those above it.

    >>> circle(("base", "rose", "heart"), "rose")
    'the formula contains itself: rose > heart > rose'
    """
    return f"the formula contains itself: {' > '.join((*above[above.index(name) :], name))}"


def too_deep() -> str:
    """Return what is wrong with accords that stand too deep in one another."""
    return f"accords stand in one another more than {DEEPEST} deep"


def _note_repeats(rows: Sequence[Row], lines: Iterable[Line], notes: list[str]) -> None:
    """Refuse lines that are equal to the letter; note materials that stand in several lines."""
    whole: dict[tuple[str, ...], int] = {}
    for row in rows:
        cells = tuple(row.cells.values())
        if cells in whole:
            problem = f"the line is the same as line {whole[cells]}"
            raise row.wrong("material", problem, "If it is meant, add the parts up in one line")
        whole[cells] = row.line
    places: dict[str, list[int]] = {}
    called: dict[str, str] = {}
    for row, line in zip(rows, lines, strict=True):
        name = line.content.slug if isinstance(line.content, Material) else line.content.name
        places.setdefault(name, []).append(row.line)
        called.setdefault(name, row["material"])
    for name, found in places.items():
        if len(found) > 1:
            more = f", and {len(found) - 2} more" if len(found) > 2 else ""
            twice = f"{called[name]} is in lines {found[0]} and {found[1]}{more}; added up."
            notes.append(f"{rows[0].file}: {twice}")


def _line(
    row: Row,
    path: Path,
    catalogue: Catalogue,
    above: tuple[Path, ...],
    notes: list[str],
    opened_files: dict[Path, Formula],
    accord: Accord | None,
) -> Line:
    def inner(row: Row) -> Formula:
        try:
            beside = file_at(path.parent / row["material"])
        except BadTable as error:
            name = row["material"]
            problem = f"there is no file {name} beside this one"
            if error.problem != NO_SUCH_FILE:
                problem = f"the file {name} beside this one cannot be used: {error.problem}"
            raise row.wrong("material", problem, error.remedy) from None
        return _read(beside, catalogue, above, notes, opened_files, accord=accord)

    return line_of(row, catalogue, notes, inner, accord)


def line_of(
    row: Row,
    catalogue: Catalogue,
    notes: list[str],
    inner: Callable[[Row], Formula],
    accord: Accord | None = None,
) -> Line:
    """Return one row of a sheet as a line; `inner` opens a row that names a file.

    `accord` finds the formula of a name that no material has; what it raises as `BadValue` is what is wrong
    with the line.

    Raises
    ------
    BadTable
        With line and column; the notes list what was taken for granted.
    """
    parts = decimal(row, "parts")
    if parts is None or not 0 < parts <= MOST_PARTS:
        raise row.wrong("parts", f'"{row["parts"]}" is not a positive number of parts')
    row = solvent_apart(row, DILUTION)
    percent = percent_of(row, "dilution_percent")
    if ":" in row["dilution_percent"]:
        notes.append("A dilution such as 1:10 is taken as one part in ten of the whole, 10 %.")
    if percent is not None and not 0 < percent <= 100:
        raise row.wrong(
            "dilution_percent", f"{percent:g} % is not a dilution", "It is above 0 and at most 100"
        )
    dilution = 1.0 if percent is None else percent / 100.0
    solvent = _material(row, "solvent", catalogue) if row["solvent"] else None
    if dilution < 1.0 and solvent is None:
        solvent = catalogue.by_slug(DEFAULT_SOLVENT)
        notes.append(f"Dilutions without a solvent are taken as in {solvent.name}.")
    if not row["material"]:
        raise row.wrong("material", "the material is missing")
    if percent is None and (bottles := catalogue.own_dilutions.get(label_key(row["material"]))):
        notes.append(_diluted_bottle(row, bottles))
    content: Material | Formula
    content = inner(row) if is_file(row["material"]) else _content(row, catalogue, accord)
    return Line(content, parts, dilution, solvent if dilution < 1.0 else None, row["note"])


def _diluted_bottle(row: Row, percents: Sequence[float]) -> str:
    """Return a note on a line that has the label of a diluted bottle and no dilution of its own."""
    at = " or ".join(f"{percent:g} %" for percent in percents)
    return (
        f'{row.file}: line {row.line}: "{row["material"]}" is a bottle at {at} on your shelf, and is taken '
        f"as neat here: if it is weighed from that bottle, write {at} as the dilution of the line."
    )


def _content(row: Row, catalogue: Catalogue, accord: Accord | None) -> Material | Formula:
    """Return what the name in a row means: a material, else a formula; raises `BadTable`."""
    try:
        return _material(row, "material", catalogue)
    except BadTable:
        try:
            found = accord(row["material"]) if accord is not None else None
        except BadValue as error:
            raise row.wrong("material", error.wanted, "Take the line out") from None
        if found is None:
            raise
        return found


def read_theme(words: Words | None, catalogue: Catalogue) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the facets that words for a theme stand for, and notes; both empty without words.

    Raises
    ------
    UnknownFacet
        No word is known.
    BadValue
        It refuses something: a theme is what it smells of.
    """
    given = texts(words)
    if not given:
        return (), ()
    phrase = parse(", ".join(given), catalogue.facets, catalogue.umbrellas)
    if phrase.refused:
        raise BadValue("theme", phrase.text, "a theme is what it smells of; leave out what is refused")
    return tuple(phrase.facets), tuple(f"Theme: {note}" for note in phrase.notes)


def with_theme(formula: Formula, words: Words | None, catalogue: Catalogue) -> Formula:
    """Return a formula with a stated theme in place of its own; the same without words.

    Raises
    ------
    UnknownFacet, BadValue
        As `read_theme`.
    """
    facets, notes = read_theme(words, catalogue)
    return replace(formula, theme=facets, notes=(*formula.notes, *notes)) if facets else formula


def theme_in(rows: Sequence[Row], catalogue: Catalogue, notes: list[str]) -> tuple[str, ...]:
    """Return what the rows of a formula say that it is about, several adding up; empty where none does.

    Raises
    ------
    BadTable
        With line and column: a word that is no smell, or a refusal.
    """
    found: dict[str, None] = {}
    for row in rows:
        text = row.cells.get(THEME, "")
        try:
            facets, remarked = read_theme(text, catalogue)
        except UnknownFacet as error:
            raise row.wrong(THEME, f'no facet is called "{text}"', _near(error.near, "facets")) from None
        except BadValue as error:
            raise row.wrong(THEME, f'"{text}" cannot be a theme: {error.wanted}') from None
        found.update(dict.fromkeys(facets))
        notes += remarked
    return tuple(found)


def _near(near: Sequence[str], listing: str) -> str:
    """Return the way out of an unknown name: the nearest known ones, else the command that lists all."""
    return f"Did you mean {', '.join(near)}?" if near else f"`recommender {listing}` lists all"


def _material(row: Row, column: str, catalogue: Catalogue) -> Material:
    try:
        if match := _WITH_CAS.fullmatch(row[column]):
            found = identify(match[1], match[2], catalogue)
            if found.material is not None:
                return found.material
            if found.candidates:
                names = " or ".join(material.name for material in found.candidates)
                raise row.wrong(column, found.reason, f"Write the one that is meant: {names}")
        return catalogue.find(solvent_name(row[column]) if column == "solvent" else row[column])
    except UnknownMaterial as error:
        problem = f'no material is called "{error.name}"'
        raise row.wrong(column, problem, _near(error.near, "materials")) from None
    except WrongCas as error:
        problem = f"the CAS number {error.cas} is mistyped: its check digit would be {error.expected}"
        raise row.wrong(column, problem, "Look at each digit") from None


def columns(formula: Formula) -> tuple[str, ...]:
    """Return the columns of a file of a formula; a theme only where it states one."""
    return SHEET_COLUMNS if formula.theme else COLUMNS


def rows(formula: Formula, files: Mapping[str, str] | None = None) -> list[dict[str, str]]:
    """Return a formula as the rows of a file; inner formulas by file name (`files`: name -> file).

    A stated theme stands in the first row.
    """
    found = [
        {
            "material": line.content.name
            if isinstance(line.content, Material)
            else (files or {}).get(line.content.name, f"{line.content.name}.csv"),
            "parts": f"{line.parts:.10g}",
            "dilution_percent": "" if line.dilution == 1.0 else f"{100 * line.dilution:.10g}",
            "solvent": line.solvent.name if line.solvent else "",
            "note": line.note,
        }
        for line in formula.lines
    ]
    if formula.theme:
        found = [row | {THEME: ", ".join(formula.theme) if n == 0 else ""} for n, row in enumerate(found)]
    return found


def accords(formula: Formula) -> list[Formula]:
    """Return all formulas inside a formula, those inside them too."""
    inner = [line.content for line in formula.lines if isinstance(line.content, Formula)]
    return [*inner, *(deeper for one in inner for deeper in accords(one))]


def amounts(formula: Formula) -> list[Amount]:
    """Return neat materials with their mass fractions, inner formulas opened, equal materials added up.

    Solvents of dilutions stand as materials of their own; the fractions add up to 1.
    """
    total = sum(line.parts for line in formula.lines)
    materials: dict[str, Material] = {}
    fractions: dict[str, float] = {}

    def add(material: Material, fraction: float) -> None:
        materials[material.slug] = material
        fractions[material.slug] = fractions.get(material.slug, 0.0) + fraction

    for line in formula.lines:
        share = line.parts / total
        if isinstance(line.content, Material):
            add(line.content, share * line.dilution)
        else:
            for amount in amounts(line.content):
                add(amount.material, amount.mass_fraction * share * line.dilution)
        if line.solvent is not None:
            add(line.solvent, share * (1.0 - line.dilution))
    return [Amount(material, fractions[slug]) for slug, material in materials.items()]


def on_strip(formula: Formula) -> list[Amount]:
    """Return what is on the strip once ethanol has gone; the fractions add up to 1."""
    left = [amount for amount in amounts(formula) if amount.material.slug != LEAVES_FIRST]
    total = sum(amount.mass_fraction for amount in left)
    return [Amount(amount.material, amount.mass_fraction / total) for amount in left]


def per_thousand(formula: Formula) -> list[Amount]:
    """Return the neat smelling materials in parts per thousand of the concentrate, solvents left out."""
    smelling = [a for a in amounts(formula) if a.material.kind != "solvent"]
    total = sum(a.mass_fraction for a in smelling)
    return [replace(a, mass_fraction=1000.0 * a.mass_fraction / total) for a in smelling]


def opened(formula: Formula) -> Formula:
    """Return a formula without accords inside: their lines stand in it, equal ones added up.

    A dilution of an accord becomes its lines and a line of the solvent; the parts add up to the same.
    """
    found: dict[tuple[str, float, str], Line] = {}
    for line in _opened(formula, 1.0):
        assert isinstance(line.content, Material)
        key = line.content.slug, line.dilution, line.solvent.slug if line.solvent else ""
        if before := found.get(key):
            note = "; ".join(dict.fromkeys(filter(None, (before.note, line.note))))
            line = replace(before, parts=before.parts + line.parts, note=note)
        found[key] = line
    return replace(formula, lines=tuple(found.values()))


def _opened(formula: Formula, factor: float) -> Iterator[Line]:
    for line in formula.lines:
        parts = line.parts * factor
        if isinstance(line.content, Material):
            yield line if factor == 1.0 else replace(line, parts=parts)
            continue
        yield from _opened(line.content, parts * line.dilution / sum(x.parts for x in line.content.lines))
        if line.solvent is not None:
            yield Line(line.solvent, parts * (1.0 - line.dilution))


def scaled(formula: Formula, factor: float) -> Formula:
    """Return a formula with all parts multiplied."""
    return replace(formula, lines=tuple(replace(line, parts=line.parts * factor) for line in formula.lines))


def without(formula: Formula, slug: str) -> Formula:
    """Return a formula without the lines of one material, in inner formulas too."""
    return times(formula, {slug: 0.0})


def times(formula: Formula, factors: Mapping[str, float]) -> Formula:
    """Return a formula in which the parts of some materials, by slug, are multiplied; 0 leaves them out.

    Everything else keeps its amount, in inner formulas too.
    """
    lines = []
    for line in formula.lines:
        if isinstance(line.content, Material):
            if factor := factors.get(line.content.slug, 1.0):
                lines.append(line if factor == 1.0 else replace(line, parts=line.parts * factor))
        elif (inner := times(line.content, factors)).lines:
            share = sum(x.parts for x in inner.lines) / sum(x.parts for x in line.content.lines)
            lines.append(replace(line, content=inner, parts=line.parts * share))
    return replace(formula, lines=tuple(lines))


def plus(formula: Formula, additions: Iterable[tuple[Material, float]]) -> Formula:
    """Return a formula with neat materials added, each in parts on the formula's own scale."""
    return replace(formula, lines=(*formula.lines, *(Line(material, parts) for material, parts in additions)))
