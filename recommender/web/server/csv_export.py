"""Formulas out of the page: as files that any spreadsheet opens, without a cell that it would execute."""

from recommender.formulas import formula as formulas
from recommender.notebook.drafts import Draft
from recommender.output import formats
from recommender.web.server.typed_lines import blank


def as_csv(draft: Draft) -> bytes:
    """Return a formula as typed, unfinished lines too, in the columns of a formula file.

    A cell that a spreadsheet would read as a formula gets an apostrophe in front.
    """
    rows = [
        {column: line[column].strip() for column in formulas.COLUMNS}
        for line in draft.lines
        if not blank(line)
    ]
    return (formats.as_csv(rows, formulas.COLUMNS) + "\n").encode("utf-8-sig")
