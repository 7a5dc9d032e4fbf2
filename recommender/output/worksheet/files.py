"""Sheets written completely or not at all: to a temporary file first, which is then moved into place."""

import os
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from recommender.errors import BadValue
from recommender.output import weighing
from recommender.output.formats import as_csv
from recommender.output.weighing import VesselLabel
from recommender.weighing import WeighingSheet

KINDS = {"out": (".pdf", ".xlsx", ".csv"), "labels": (".pdf",)}
"""What a sheet and its labels can be written as."""


def check(file: str, force: bool = False, field: str = "out") -> None:
    """Raise `BadValue` of a field if a sheet cannot be written there; call it before the work is done."""
    path = Path(file)
    if path.suffix.lower() not in KINDS[field]:
        raise BadValue(field, file, f"its name ends in {', '.join(KINDS[field])}")
    if not Path(os.path.realpath(path)).parent.is_dir():
        raise BadValue(field, file, "there is no such folder")
    if path.is_dir():
        raise BadValue(field, file, "this is a folder; name a file in it")
    if path.exists() and not force:
        raise BadValue(field, file, "the file is there already; {force} writes over it")


def save(sheet: WeighingSheet, notes: Sequence[str], file: str) -> list[str]:
    """Write a sheet; return notes on what could not be shown in it.

    Raises
    ------
    BadValue
        The file cannot be written there; no partial file is left.
    """
    return _placed(file, "out", lambda path: _write(sheet, notes, path))


def save_labels(labels: Sequence[VesselLabel], file: str) -> list[str]:
    """Write labels to print and cut out; returns and raises as `save`."""
    from recommender.output.worksheet import label_pages

    return _placed(file, "labels", lambda path: label_pages.write(labels, path))


def _placed(file: str, field: str, write: Callable[[Path], list[str]]) -> list[str]:
    """Let a file be written beside its place and moved there when it is whole; raises `BadValue`."""
    path = Path(os.path.realpath(file))  # unlike `resolve`, this raises no error for a link to itself
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=".sheet-", suffix=path.suffix)
        os.close(handle)
        temporary = Path(name)
        try:
            lost = write(temporary)
            mask = os.umask(0)
            os.umask(mask)
            temporary.chmod(0o666 & ~mask)  # a temporary file is readable only by its owner
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise BadValue(field, file, f"it cannot be written there ({error.strerror})") from None
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
