"""Lines as typed: read as a formula, each error at its line."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from recommender.errors import BadTable, BadValue, RecommenderError, UnknownFacet, UnknownMaterial
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.sheets import PARTS, Row, decimal, quantity
from recommender.formulas import formula as formulas
from recommender.model import Formula, Line, Material
from recommender.notebook.drafts import Cells
from recommender.units import MASSES, SHARES

PAGE = "page"
"""File name in errors of typed lines; the page shows each at its line, without it."""


@dataclass(frozen=True, slots=True)
class LineProblem:
    """What is wrong in one line: the column, a sentence, and names that may be meant."""

    column: str
    text: str
    near: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ParsedLines:
    """Lines, read: the formula of those that could be, None where nothing in them smells.

    `found`, `problems` and `per_thousand` are by the number of the line; parts per thousand are of what is
    weighed. `theme_problem` is what is wrong with the words for its theme, None where nothing is. `typed` are
    the names as typed of those found, by number.
    """

    formula: Formula | None
    found: Mapping[str, Line] = field(default_factory=dict)
    problems: Mapping[str, LineProblem] = field(default_factory=dict)
    per_thousand: Mapping[str, float] = field(default_factory=dict)
    theme_problem: RecommenderError | None = None
    typed: Mapping[str, str] = field(default_factory=dict)

    @property
    def total(self) -> float:
        """Parts of all lines that could be read."""
        return sum(line.parts for line in self.found.values())


_FRACTION = re.compile(r"(?:(\d+) +)?(\d+) */ *(\d+)(.*)")
_VULGAR = {"\N{VULGAR FRACTION ONE HALF}": " 1/2", "\N{VULGAR FRACTION ONE QUARTER}": " 1/4",
           "\N{VULGAR FRACTION THREE QUARTERS}": " 3/4"}  # fmt: skip


def parts_of(row: Row) -> str:
    """Return the parts of a row as a bare number: of a mass its grams, of a fraction its value.

    A part is a gram where a unit is written, so that 500 mg beside a bare 2 is a quarter of it.

    Raises
    ------
    BadTable
        The unit is none of mass, or the number may have thousands or decimals.
    """
    text = row[PARTS]
    for sign, written in _VULGAR.items():
        text = text.replace(sign, written)
    if fraction := _FRACTION.fullmatch(text.strip()):
        whole, above, below = (int(figure or 0) for figure in fraction.groups()[:3])
        if not below:
            raise row.wrong(PARTS, f'"{row[PARTS]}" divides by nothing')
        text = f"{whole + above / below:.10g}{fraction[4]}"
    number, unit = quantity(text.strip())
    if unit and unit not in MASSES and SHARES.get(unit) != "parts":
        raise row.wrong(
            PARTS, f'"{unit}" is no unit of mass', "Write parts, or g, mg or kg: a part is a gram"
        )
    if not unit or unit not in MASSES:
        return number
    value = decimal(replace(row, cells=row.cells | {PARTS: number}), PARTS)
    return number if value is None else f"{value * MASSES[unit]:.10g}"


def bare_parts(line: Cells) -> str:
    """Return the parts of a line as a bare number; as typed where they cannot be read."""
    typed = line["parts"].strip()
    try:
        return parts_of(Row(PAGE, 0, {PARTS: typed}))
    except BadTable:
        return typed


def amount(line: Cells) -> float | None:
    """Return the parts of a line as weighed, None where there are none, or the line is left out."""
    bare = Row(PAGE, 0, {PARTS: bare_parts(line)})
    try:
        value = decimal(bare, PARTS)
    except BadTable:
        return None
    return value if value is not None and value > 0 and not line["out"] else None


def blank(line: Cells) -> bool:
    """Tell whether nothing was typed in a line yet."""
    return not any(line[column].strip() for column in formulas.COLUMNS)


def read(
    name: str,
    lines: Sequence[Cells],
    catalogue: Catalogue,
    accord: Callable[[str], Formula | None],
    theme: str = "",
) -> ParsedLines:
    """Read lines as typed, and words for the theme; `accord` opens another formula by its name.

    What it raises as `BadValue` is the problem of the line.
    """

    def inner(row: Row) -> Formula:
        called = row["material"]
        if formulas.is_file(called):
            called = called.rsplit(".", 1)[0]
        try:
            opened = accord(called)
        except BadValue as error:
            raise row.wrong("material", error.wanted, "Take the line out") from None
        if opened is None:
            raise row.wrong(
                "material", f"no formula called {called} is on the page", "Open it first, then it counts here"
            )
        return opened

    def line_of(row: Row) -> Line:
        return formulas.line_of(row, catalogue, notes, inner, accord)

    found: dict[str, Line] = {}
    problems: dict[str, LineProblem] = {}
    notes: list[str] = []
    for number, line in enumerate(lines, 1):
        if blank(line) or line["out"]:
            continue
        row = Row(PAGE, number, {column: line[column].strip() for column in formulas.COLUMNS})
        try:
            if not row["parts"]:  # while it is typed: the material is checked before its parts are due
                line_of(replace(row, cells=row.cells | {"parts": "1"}))
                problems[line["id"]] = LineProblem("parts", "Write its parts.")
                continue
            found[line["id"]] = line_of(replace(row, cells=row.cells | {"parts": parts_of(row)}))
        except BadTable as error:
            problems[line["id"]] = _problem(error, row, catalogue)
    total = sum(line.parts for line in found.values())
    facets: tuple[str, ...] = ()
    theme_problem: RecommenderError | None = None
    try:
        facets, remarked = formulas.read_theme(theme, catalogue)
        notes += remarked
    except (UnknownFacet, BadValue) as error:
        theme_problem = error
    formula = Formula(name, tuple(found.values()), tuple(dict.fromkeys(notes)), facets)
    smells = bool(found) and any(
        amount.material.kind != "solvent" and any(part.pressure_pa > 0 for part in amount.material.parts)
        for amount in formulas.amounts(formula)
    )
    return ParsedLines(
        formula if smells else None,
        found,
        problems,
        {number: 1000.0 * line.parts / total for number, line in found.items()},
        theme_problem,
        {line["id"]: line["material"].strip() for line in lines if line["id"] in found},
    )


def _problem(error: BadTable, row: Row, catalogue: Catalogue) -> LineProblem:
    column = error.column or "material"
    near: tuple[str, ...] = ()
    if column in ("material", "solvent") and row[column]:
        try:
            near = formulas.candidates(row[column], catalogue)
            if not near:
                catalogue.find(row[column])
        except UnknownMaterial as unknown:
            near = unknown.near
        except Exception:
            near = ()
    text = error.problem[0].upper() + error.problem[1:]
    if error.remedy and not near:
        text += f". {error.remedy}"
    return LineProblem(column, f"{text}.", near)


def content_of(line: Line) -> Material | None:
    """Return the material of a line, None where it is an accord."""
    return line.content if isinstance(line.content, Material) else None
