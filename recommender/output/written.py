"""Formulas and sheets written to files: whole or not at all."""

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from recommender.errors import BadValue
from recommender.formulas import formula as formulas
from recommender.model import Formula
from recommender.output import reformulation
from recommender.output.formats import as_csv
from recommender.output.wording import join
from recommender.reformulation.triangle import TriangleTest


def check(file: str, kinds: Sequence[str], field: str, force: bool = False) -> None:
    """Raise `BadValue` if a file cannot be written there; call it before the work is done."""
    path = Path(file)
    if path.suffix.lower() not in kinds:
        raise BadValue(field, file, f"its name ends in {join(kinds, 'or')}")
    if path.is_dir():
        raise BadValue(field, file, "this is a folder; name a file in it")
    if not Path(os.path.realpath(path)).parent.is_dir():
        raise BadValue(field, file, "there is no such folder")
    if path.exists() and not force:
        raise BadValue(field, file, "the file is there already; {force} writes over it")


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
    path = Path(os.path.realpath(file))
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".file-", suffix=path.suffix)
        temporary = Path(name)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as opened:
                opened.write(text)
            mask = os.umask(0)
            os.umask(mask)
            temporary.chmod(0o666 & ~mask)  # a temporary file is readable only by its owner
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise BadValue(field, file, f"it cannot be written there ({error.strerror})") from None
