"""Formulas out of the page: as files that any spreadsheet opens, without a cell that it would execute."""

from recommender.evidence.sheets import THEME
from recommender.formulas import formula as formulas
from recommender.notebook.drafts import THEME_FIELD, Draft
from recommender.output import formats
from recommender.web.server.typed_lines import bare_parts, blank


def as_csv(draft: Draft) -> bytes:
    """Return a formula as typed, unfinished lines too, in the columns of a formula file, with its theme.

    Lines that are left out for now are not in it. Amounts are bare numbers wherever they could be read.
    A cell that a spreadsheet would read as a formula gets an apostrophe in front.
    """
    rows = [
        {column: line[column].strip() for column in formulas.COLUMNS} | {"parts": bare_parts(line)}
        for line in draft.lines
        if not blank(line) and not line["out"]
    ]
    columns: tuple[str, ...] = formulas.COLUMNS
    if theme := draft.fields.get(THEME_FIELD, "").strip():
        columns = formulas.SHEET_COLUMNS
        rows = [row | {THEME: theme if n == 0 else ""} for n, row in enumerate(rows)]
    return (formats.as_csv(rows, columns) + "\n").encode("utf-8-sig")
