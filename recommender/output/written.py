"""Formulas and sheets of triangle tests written to files."""

from recommender.formulas import formula as formulas
from recommender.model import Formula
from recommender.output import reformulation
from recommender.output.formats import as_csv
from recommender.output.placing import placed
from recommender.reformulation.triangle import TriangleTest


def formula(found: Formula, file: str) -> None:
    """Write a formula as a file that every command reads; raises `BadValue` where that is not possible."""
    _write(as_csv(formulas.rows(found), formulas.columns(found)) + "\n", file, "out")


def triangle(test: TriangleTest, file: str) -> None:
    """Write the sheet of a triangle test, as a table or as text with its key at the end; as `formula`."""
    if file.lower().endswith(".csv"):
        text = as_csv(reformulation.triangle_rows(test), reformulation.TRIANGLE_COLUMNS)
    else:
        text = "\n".join(reformulation.triangle_lines(test))
    _write(text + "\n", file, "triangle")


def _write(text: str, file: str, field: str) -> None:
    placed(file, field, lambda path: path.write_text(text, encoding="utf-8", newline=""))
