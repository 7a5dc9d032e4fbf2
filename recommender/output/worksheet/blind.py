"""Sheets for smelling without knowing which strip is which, with room to write; the key on a second page."""

import io
from collections.abc import Sequence
from functools import cached_property
from typing import Any

from recommender.output.reformulation import key_of, triangle_rows
from recommender.output.worksheet.pdf import FONT, register_fonts
from recommender.reformulation.triangle import TriangleTest
from recommender.units import duration

HOURS = (1 / 60, 0.25, 1.0, 4.0, 8.0, 24.0, 72.0)
"""Hours at which strips are smelled."""
HEAD_MM, ROW_MM = 9, 21
"""Heights of the first row of a table, and of those to write in."""
AWAY = "Fold it away until then."
TRIANGLE = (
    "Have somebody else write the numbers on strips and dip all of them at once. At each hour two of the "
    "three are the same: smell them from left to right, ring the odd one, and write how it differs."
)


class _Sheet:
    """A page to write on and its key on a second page, as PDF."""

    def __init__(self, title: str) -> None:
        self.title, self.glyphs = title, register_fonts()

    @cached_property
    def styles(self) -> dict[str, Any]:
        """The styles of its texts."""
        from reportlab.lib.styles import ParagraphStyle

        normal = ParagraphStyle("normal", fontName=FONT, fontSize=9, leading=12)
        bold = ParagraphStyle("bold", normal, fontName=f"{FONT}-Bold", fontSize=11)
        head = ParagraphStyle("head", bold, fontSize=15, leading=20, spaceAfter=6)
        return {"normal": normal, "bold": bold, "head": head}

    def text(self, plain: str, style: str = "normal") -> Any:
        """Return a text, letters that the font lacks as boxes."""
        from reportlab.platypus import Paragraph

        shown = "".join(x if ord(x) in self.glyphs else "\N{WHITE SQUARE}" for x in plain)
        return Paragraph(shown.replace("&", "&amp;").replace("<", "&lt;"), self.styles[style])

    def table(self, rows: Sequence[Sequence[Any]], widths_mm: Sequence[float], *, writable: bool) -> Any:
        """Return a table; a writable one has a head and rows to write in."""
        from reportlab.lib import colors
        from reportlab.lib.units import mm
        from reportlab.platypus import Table

        heights = [HEAD_MM * mm, *(ROW_MM * mm for _ in rows[1:])] if writable else None
        found = Table([list(row) for row in rows], [width * mm for width in widths_mm], heights)
        found.setStyle([("GRID", (0, 0), (-1, -1), 0.5, colors.black), ("VALIGN", (0, 0), (-1, -1), "TOP")])
        return found

    def pdf(self, how: str, table: Any, key: Sequence[Any]) -> bytes:
        """Return both pages as PDF; the same for the same sheet."""
        from reportlab.lib.pagesizes import A4
        from reportlab.lib.units import mm
        from reportlab.platypus import PageBreak, SimpleDocTemplate

        story = [
            self.text(self.title, "head"), self.text(how), self.text("date, nose, room:"), table,
            PageBreak(), self.text(f"Key to {self.title}", "head"), self.text(AWAY), *key,
        ]  # fmt: skip
        target = io.BytesIO()
        SimpleDocTemplate(
            target, pagesize=A4, leftMargin=12 * mm, rightMargin=12 * mm, topMargin=12 * mm,
            bottomMargin=12 * mm, title=self.title, invariant=1,
        ).build(story)  # fmt: skip
        return target.getvalue()


def sheet(title: str, key: Sequence[tuple[str, str]]) -> bytes:
    """Return a PDF: a page to write on, and on a second page the key.

    Parameters
    ----------
    title : str
        What is smelled, without saying which is which.
    key : sequence of (str, str)
        The code on each strip, and what it stands for, in the order of the columns.
    """
    page = _Sheet(f"Smelled blind: {title}")
    width = 160 / max(len(key), 1)
    rows = [[page.text("hour", "bold"), *(page.text(code, "bold") for code, _ in key)]]
    rows += [[page.text(duration(hour)), *("" for _ in key)] for hour in HOURS]
    rows.append([page.text("which, and why"), *("" for _ in key)])
    answers = [[page.text(code, "bold"), page.text(meant)] for code, meant in key]
    return page.pdf(
        "Have somebody else write the codes on strips and dip them. Write what is smelled, and how strong.",
        page.table(rows, [26, *(width for _ in key)], writable=True),
        [page.table(answers, [26, 140], writable=False)],
    )


def triangle(test: TriangleTest) -> bytes:
    """Return the sheet of a triangle test as PDF, its key on a second page."""
    page = _Sheet(f"Triangle test: {test.name}")
    heads = ("hour", "first", "second", "third", "the odd one, and how it differs")
    rows = [[page.text(head, "bold") for head in heads]]
    rows += [
        [page.text(row["hours"]), *(page.text(str(row[n]), "bold") for n in ("first", "second", "third")), ""]
        for row in triangle_rows(test)
    ]
    guessed = f"By chance {test.by_chance} of {len(test.visits)} are right in one of twenty."
    key = [page.text(f"{text[0].upper()}{text[1:]}") for text in key_of(test).split("; ")]
    return page.pdf(
        TRIANGLE, page.table(rows, (20, 22, 22, 22, 100), writable=True), [*key, page.text(guessed)]
    )
