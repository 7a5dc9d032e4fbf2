"""Lines that were copied out of a spreadsheet: read as a sheet, with a header or without one."""

import re
from collections.abc import Sequence

from recommender.errors import BadTable
from recommender.evidence.catalogue import Catalogue
from recommender.evidence.intake import check_size
from recommender.formulas.formula import COLUMNS
from recommender.notebook.drafts import Cells
from recommender.web.server import worker

PASTED = "pasted.tsv"
_NUMBER = re.compile(r"\s*[\d.,']+\s*(?:[a-z]{1,3}|%)?\s*", re.IGNORECASE)


def read(text: str, catalogue: Catalogue) -> list[Cells]:
    """Return the lines of a copied piece of a spreadsheet.

    Without a header the first column of words is the material and the first of numbers the parts; a second of
    numbers is the dilution in per cent, a second of words the note. Names alone have no parts yet.

    Raises
    ------
    BadTable
        It is too much, or no amounts could be found.
    """
    check_size(PASTED, len(text.encode()))
    rows = [line.split("\t") for line in text.splitlines() if line.strip()]
    if all(sum(bool(cell.strip()) for cell in row) == 1 for row in rows):
        return [{"material": next(cell.strip() for cell in row if cell.strip())} for row in rows]
    if not any(map(_NUMBER.fullmatch, rows[0])):  # the first line is a header
        return _read("\n".join("\t".join(row) for row in rows), catalogue)
    names = _columns(rows)
    return _read("\n".join("\t".join(row) for row in [names, *rows]), catalogue)


def _read(text: str, catalogue: Catalogue) -> list[Cells]:
    found, _ = worker.formula_sheet(PASTED, text.encode(), catalogue)
    return [{column: row[column] for column in COLUMNS} for row in found]


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return a header for lines that have none."""
    width = max(map(len, rows))
    cells = [[row[n] for row in rows if n < len(row) and row[n].strip()] for n in range(width)]
    free = {True: ["parts", "dilution_percent"], False: ["material", "note"]}
    names = []
    for n, column in enumerate(cells):
        numbers = bool(column) and sum(bool(_NUMBER.fullmatch(cell)) for cell in column) > len(column) / 2
        names.append(free[numbers].pop(0) if column and free[numbers] else f"column {n + 1}")
    if "parts" not in names or "material" not in names:
        raise BadTable(PASTED, "no amounts beside the names", remedy="Copy the names with their amounts")
    return names
