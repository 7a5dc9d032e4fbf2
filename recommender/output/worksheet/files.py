"""Files that are whole or not there: written beside their place, then moved into it."""

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from recommender.errors import BadValue
from recommender.output import weighing
from recommender.output.formats import as_csv
from recommender.weighing import WeighingSheet

KINDS = (".pdf", ".xlsx", ".csv")


def check(file: str, force: bool = False) -> None:
    """Raise `BadValue` where a sheet cannot be written; ask before the work is done."""
    path = Path(file)
    if path.suffix.lower() not in KINDS:
        raise BadValue("out", file, f"its name ends in {', '.join(KINDS)}")
    if not Path(os.path.realpath(path)).parent.is_dir():
        raise BadValue("out", file, "there is no such folder")
    if path.is_dir():
        raise BadValue("out", file, "this is a folder; name a file in it")
    if path.exists() and not force:
        raise BadValue("out", file, "the file is there already; {force} writes over it")


def save(sheet: WeighingSheet, notes: Sequence[str], file: str) -> list[str]:
    """Write a sheet; returns what could not be shown in it.

    Raises
    ------
    BadValue
        The file cannot be written there; nothing of it is left.
    """
    path = Path(os.path.realpath(file))  # unlike `resolve`, no error for a link to itself
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".sheet-", suffix=path.suffix)
        os.close(handle)
        half = Path(name)
        try:
            lost = _write(sheet, notes, half)
            mask = os.umask(0)
            os.umask(mask)
            half.chmod(0o666 & ~mask)  # a temporary file is for its owner alone
            half.replace(path)
        finally:
            half.unlink(missing_ok=True)
    except OSError as error:
        raise BadValue("out", file, f"it cannot be written there ({error.strerror})") from None
    return lost


def _write(sheet: WeighingSheet, notes: Sequence[str], path: Path) -> list[str]:
    if path.suffix.lower() == ".csv":
        rows = weighing.in_file(sheet, sheet.sections[-1])
        text = as_csv(rows, weighing.FILE_COLUMNS) + "\n"
        path.write_text(text, encoding="utf-8-sig", newline="")  # a spreadsheet tells UTF-8 by the mark
        return []
    if path.suffix.lower() == ".xlsx":
        from recommender.output.worksheet import workbook

        workbook.write(sheet, notes, path)
        return []
    from recommender.output.worksheet import pdf

    return pdf.write(sheet, notes, path)
