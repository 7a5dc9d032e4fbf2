"""Sheets and labels written to files."""

from collections.abc import Sequence
from pathlib import Path

from recommender.output import placing, weighing
from recommender.output.formats import as_csv
from recommender.output.weighing import VesselLabel
from recommender.weighing import WeighingSheet

KINDS = {"out": (".pdf", ".xlsx", ".csv"), "labels": (".pdf",)}
"""What a sheet and its labels can be written as."""


def check(file: str, force: bool = False, field: str = "out") -> None:
    """Raise `BadValue` of a field if a sheet cannot be written there; call it before the work is done."""
    placing.check(file, KINDS[field], field, force)


def save(sheet: WeighingSheet, notes: Sequence[str], file: str) -> list[str]:
    """Write a sheet; return notes on what could not be shown in it.

    Raises
    ------
    BadValue
        The file cannot be written there; no partial file is left.
    """
    return placing.placed(file, "out", lambda path: _write(sheet, notes, path))


def save_labels(labels: Sequence[VesselLabel], file: str) -> list[str]:
    """Write labels to print and cut out; returns and raises as `save`."""
    from recommender.output.worksheet import label_pages

    return placing.placed(file, "labels", lambda path: label_pages.write(labels, path))


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
