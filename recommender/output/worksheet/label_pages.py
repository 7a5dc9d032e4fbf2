"""Labels for vessels on A4, to print and cut out: ten on a page."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from recommender.one_line import printable
from recommender.output.weighing import PURPOSE, VesselLabel
from recommender.output.worksheet.pdf import FONT, GREY, register_fonts, shown

COLUMNS, ROWS = 2, 5
WIDTH_MM, HEIGHT_MM = 92.0, 53.0
MOST_NAME, MOST_CAUTION = 60, 130
TO_WRITE = "____________"


def write(labels: Sequence[VesselLabel], path: Path) -> list[str]:
    """Write the PDF; return a note if its font lacks some letters."""
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.units import mm
    from reportlab.platypus import SimpleDocTemplate, Table

    glyphs, lost = register_fonts(), set[str]()
    boxes: list[Any] = [_box(one, glyphs, lost) for one in labels]
    boxes += [""] * (-len(boxes) % COLUMNS)
    grid = [boxes[at : at + COLUMNS] for at in range(0, len(boxes), COLUMNS)]
    style: list[tuple[Any, ...]] = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 6)]
    style += [
        ("BOX", (at % COLUMNS, at // COLUMNS), (at % COLUMNS, at // COLUMNS), 0.4, GREY)
        for at in range(len(labels))
    ]
    sides, ends = (A4[0] - COLUMNS * WIDTH_MM * mm) / 2 - 6, (A4[1] - ROWS * HEIGHT_MM * mm) / 2 - 6
    document = SimpleDocTemplate(
        str(path), pagesize=A4, leftMargin=sides, rightMargin=sides, topMargin=ends, bottomMargin=ends,
        title=f"{printable(labels[0].name)}: labels", invariant=1,
    )  # fmt: skip
    table = Table(
        grid, colWidths=[WIDTH_MM * mm] * COLUMNS, rowHeights=[HEIGHT_MM * mm] * len(grid), style=style
    )
    document.build([table])
    if not lost:
        return []
    return [f"The font of the labels lacks {' '.join(sorted(lost)[:8])}: boxes are printed."]


def _box(one: VesselLabel, glyphs: frozenset[int], lost: set[str]) -> Any:
    """Return one label, shrunk where it is longer than its box."""
    from reportlab.lib.colors import HexColor
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.lib.units import mm
    from reportlab.platypus import KeepInFrame, Paragraph

    normal = ParagraphStyle("normal", fontName=FONT, fontSize=10, leading=13, splitLongWords=True)
    big = ParagraphStyle("big", normal, fontName=f"{FONT}-Bold", fontSize=15, leading=18, spaceAfter=3)
    small = ParagraphStyle("small", normal, fontSize=8.5, leading=10.5, textColor=HexColor(GREY))

    def text(plain: str, most: int = MOST_CAUTION) -> str:
        letters = shown(printable(plain), most)
        lost.update(letter for letter in letters if ord(letter) not in glyphs)
        return escape("".join(x if ord(x) in glyphs else "\N{WHITE SQUARE}" for x in letters))

    lines: list[Any] = [
        Paragraph(text(one.name, MOST_NAME), big),
        Paragraph(text(one.dilution), normal),
        Paragraph(text(f"version: {one.version}") if one.version else "", normal),
        Paragraph(f"{text(one.batch)}, lot {text(one.lot, 30) if one.lot else TO_WRITE}, {one.day}", normal),
        *(Paragraph(text(caution), small) for caution in one.cautions),
        Paragraph(text(PURPOSE), small),
    ]
    return KeepInFrame((WIDTH_MM - 5) * mm, (HEIGHT_MM - 5) * mm, lines, mode="shrink")
