"""A sheet for smelling without knowing which strip is which: codes, hours, room to write; the key apart."""

import io
from collections.abc import Sequence
from typing import Any

from recommender.output.worksheet.pdf import FONT, register_fonts
from recommender.units import duration

HOURS = (1 / 60, 0.25, 1.0, 4.0, 8.0, 24.0, 72.0)
"""Hours at which strips are smelled."""
ROW_MM = 21


def sheet(title: str, key: Sequence[tuple[str, str]]) -> bytes:
    """Return a PDF: a page to write on, and on a second page the key.

    Parameters
    ----------
    title : str
        What is smelled, without saying which is which.
    key : sequence of (str, str)
        The code on each strip, and what it stands for, in the order of the columns.
    """
    from reportlab.lib import colors
    from reportlab.lib.pagesizes import A4
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.lib.units import mm
    from reportlab.platypus import PageBreak, Paragraph, SimpleDocTemplate, Table

    glyphs = register_fonts()

    def text(plain: str, style: ParagraphStyle) -> Paragraph:
        shown = "".join(x if ord(x) in glyphs else "\N{WHITE SQUARE}" for x in plain)
        return Paragraph(shown.replace("&", "&amp;").replace("<", "&lt;"), style)

    normal = ParagraphStyle("normal", fontName=FONT, fontSize=9, leading=12)
    head = ParagraphStyle("head", normal, fontName=f"{FONT}-Bold", fontSize=15, leading=20, spaceAfter=6)
    bold = ParagraphStyle("bold", normal, fontName=f"{FONT}-Bold", fontSize=11)
    grid: list[Any] = [("GRID", (0, 0), (-1, -1), 0.5, colors.black), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    width = 160 / max(len(key), 1)
    rows: list[list[Any]] = [[text("hour", bold), *(text(code, bold) for code, _ in key)]]
    rows += [[text(duration(hour), normal), *("" for _ in key)] for hour in HOURS]
    rows.append([text("which, and why", normal), *("" for _ in key)])
    table = Table(rows, [26 * mm, *(width * mm for _ in key)], [9 * mm, *(ROW_MM * mm for _ in rows[1:])])
    table.setStyle(grid)
    answers = Table([[text(code, bold), text(meant, normal)] for code, meant in key], [26 * mm, 140 * mm])
    answers.setStyle(grid)
    how = "Have somebody else write the codes on strips and dip them. Write what is smelled, and how strong."
    story = [
        text(f"Smelled blind: {title}", head), text(how, normal), text("date, nose, room:", normal), table,
        PageBreak(), text(f"Key to {title}", head), text("Fold it away until then.", normal), answers,
    ]  # fmt: skip
    target = io.BytesIO()
    SimpleDocTemplate(
        target, pagesize=A4, leftMargin=12 * mm, rightMargin=12 * mm, topMargin=12 * mm, bottomMargin=12 * mm,
        title=f"Smelled blind: {title}", invariant=1,
    ).build(story)  # fmt: skip
    return target.getvalue()
