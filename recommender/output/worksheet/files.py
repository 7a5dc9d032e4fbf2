"""Sheets written completely or not at all: to a temporary file first, which is then moved into place."""

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
    """Raise `BadValue` if a sheet cannot be written there; call it before the work is done."""
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
    """Write a sheet; return notes on what could not be shown in it.

    Raises
    ------
    BadValue
        The file cannot be written there; no partial file is left.
    """
    path = Path(os.path.realpath(file))  # unlike `resolve`, this raises no error for a link to itself
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".sheet-", suffix=path.suffix)
        os.close(handle)
        temporary = Path(name)
        try:
            lost = _write(sheet, notes, temporary)
            mask = os.umask(0)
            os.umask(mask)
            temporary.chmod(0o666 & ~mask)  # a temporary file is readable only by its owner
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise BadValue("out", file, f"it cannot be written there ({error.strerror})") from None
    return lost


def _write(sheet: WeighingSheet, notes: Sequence[str], path: Path) -> list[str]:
    if path.suffix.lower() == ".csv":
        rows = weighing.in_file(sheet, sheet.sections[-1])
        text = as_csv(rows, weighing.FILE_COLUMNS) + "\n"
        # a spreadsheet recognises UTF-8 by its byte order mark
        path.write_text(text, encoding="utf-8-sig", newline="")
        return []
    if path.suffix.lower() == ".xlsx":
        from recommender.output.worksheet import workbook

        workbook.write(sheet, notes, path)
        return []
    from recommender.output.worksheet import pdf

    return pdf.write(sheet, notes, path)
