"""A weighing plan as a workbook: the first sheet can be read again as a formula."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.evidence.cells import in_workbook
from recommender.output import weighing
from recommender.output.formats import cell
from recommender.weighing import Section, WeighingSheet

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

WIDTHS = {"material": 40, "solvent": 22, "note": 30, "make_first": 50, "cautions": 60}
WEIGHED = "weighed"
"""An empty column to write in."""


def write(sheet: WeighingSheet, notes: Sequence[str], path: Path) -> None:
    """Write the batch, each accord, the dilutions and the notes as sheets of one workbook."""
    from openpyxl import Workbook

    book = Workbook()
    assert book.active is not None
    book.remove(book.active)
    for section in reversed(sheet.sections):
        _section(book, sheet, section)
    told = [weighing.heading(s, sheet) + ": " + weighing.whole(s, sheet) for s in sheet.sections]
    told += [f"{weighing.called(step.content)}: {weighing.recipe(step, sheet)}" for step in sheet.dilutions]
    page = book.create_sheet("notes")
    for line in (*told, *weighing.product_lines(sheet), *notes):
        _append(page, [line])
    page.column_dimensions["A"].width = 110
    book.save(path)


def _section(book: "Workbook", sheet: WeighingSheet, section: Section) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    page = book.create_sheet(
        re.sub(r"[\\/*?:\[\]'\x00-\x1f]", " ", section.formula.name)[:31].strip() or "batch"
    )
    columns = list(weighing.FILE_COLUMNS)
    columns.insert(columns.index("grams") + 1, WEIGHED)
    _append(page, columns)
    digits = weighing.grams(0.0, sheet.resolution_g)
    for row in weighing.in_file(sheet, section):
        _append(page, [cell(row.get(key)) for key in columns])
        page.cell(page.max_row, columns.index("grams") + 1).number_format = digits
    for place, name in enumerate(columns, 1):
        page.column_dimensions[get_column_letter(place)].width = WIDTHS.get(name, 14)
        page.cell(1, place).font = Font(bold=True)
    page.freeze_panes = "B2"
    page.print_title_rows = "1:1"
    page.page_setup.orientation, page.page_setup.paperSize = "landscape", 9  # A4
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.oddHeader.left.text = "Lot: ____________  Date: ____________  Weighed by: ____________"


def _append(page: "Worksheet", values: Sequence[object]) -> None:
    """Add a line in which text stays text: nothing is run as a spreadsheet formula."""
    place = page.max_row + 1 if page.max_row > 1 or page.cell(1, 1).value is not None else 1
    for column, value in enumerate(values, 1):
        if value is None or value == "":
            continue
        at = page.cell(place, column)
        if isinstance(value, str):
            at.value = in_workbook(value[:32_000])
            at.data_type = "s"
        else:
            at.value = value  # type: ignore[assignment]
