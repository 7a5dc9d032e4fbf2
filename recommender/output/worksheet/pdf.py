"""A weighing sheet on A4: boxes to tick, space to write, the table header on every page."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from recommender.model import Material
from recommender.one_line import printable
from recommender.output import weighing
from recommender.weighing import Section, WeighingSheet, WeighingStep

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

FONT = "DejaVuSans"
"""Latin, Greek, Cyrillic and more; it comes with matplotlib."""
PADDING = 6
"""Space on either side of the text of a page, in points."""
LONGEST_NOTE = 160
WIDTHS_MM = (6.5, 64, 35, 15, 18, 18.5, 29)
BOX = "\N{BALLOT BOX}"
HEADS = ("", "material", "as", "parts of 1000", "weigh, g", "weighed", "caution")
INK, GREY, TINT = "#000000", "#444444", "#e8e8e8"


def write(sheet: WeighingSheet, notes: Sequence[str], path: Path) -> list[str]:
    """Write the PDF; return a note if its font lacks some letters."""
    import io

    page = _Page(sheet)
    pages = page.build(sheet, notes, io.BytesIO(), 0)
    page.build(sheet, notes, path.open("wb"), pages)
    if not page.lost:
        return []
    letters = " ".join(sorted(page.lost)[:8])
    return [f"The font of the printed sheet lacks {letters}: boxes are printed. XLSX and CSV have them."]


class _Page:
    """The styles of one sheet, and the letters of it that the font lacks."""

    def __init__(self, sheet: WeighingSheet) -> None:
        from reportlab.lib.colors import HexColor
        from reportlab.lib.enums import TA_RIGHT
        from reportlab.lib.styles import ParagraphStyle

        self.glyphs, self.lost = register_fonts(), set[str]()
        self.title = printable(sheet.formula.name)
        self.normal = ParagraphStyle("normal", fontName=FONT, fontSize=8.2, leading=10.2, splitLongWords=True)
        self.right = ParagraphStyle("right", self.normal, alignment=TA_RIGHT)
        self.strong = ParagraphStyle("strong", self.right, fontName=f"{FONT}-Bold", fontSize=9.5)
        self.tick = ParagraphStyle("tick", self.normal, fontSize=13, leading=14)
        self.small = ParagraphStyle("small", self.normal, fontSize=7, leading=8.8, textColor=HexColor(GREY))
        self.head = ParagraphStyle("head", self.normal, fontName=f"{FONT}-Bold", fontSize=7.5)
        self.head_right = ParagraphStyle("head right", self.head, alignment=TA_RIGHT)
        self.big = ParagraphStyle("big", self.head, fontSize=15, leading=19, spaceAfter=4)
        self.section = ParagraphStyle(
            "section", self.head, fontSize=10, leading=13, spaceBefore=9, spaceAfter=3
        )

    def text(self, plain: str) -> str:
        """Return a text as escaped markup, with boxes for letters that the font lacks."""
        letters = "".join(
            " " if ord(letter) < 32 else letter for letter in plain.replace(" %", "\N{NO-BREAK SPACE}%")
        )
        self.lost |= {letter for letter in letters if ord(letter) not in self.glyphs}
        return escape("".join(x if ord(x) in self.glyphs else "\N{WHITE SQUARE}" for x in letters))

    def build(self, sheet: WeighingSheet, notes: Sequence[str], target: Any, pages: int) -> int:
        from reportlab.lib.pagesizes import A4
        from reportlab.lib.units import mm
        from reportlab.platypus import SimpleDocTemplate

        def foot(canvas: "Canvas", document: Any) -> None:
            canvas.saveState()
            canvas.setFont(FONT, 7)
            canvas.setFillColor(GREY)
            canvas.drawString(12 * mm, 8 * mm, shown(self.title, 90))
            canvas.drawRightString(A4[0] - 12 * mm, 8 * mm, f"page {document.page} of {pages or '?'}")
            canvas.restoreState()

        document = SimpleDocTemplate(
            target, pagesize=A4, leftMargin=12 * mm - PADDING, rightMargin=12 * mm - PADDING,
            topMargin=12 * mm, bottomMargin=15 * mm, title=f"{self.title}: weighing sheet", invariant=1,
        )  # fmt: skip
        with target:
            document.build(self.story(sheet, notes), onFirstPage=foot, onLaterPages=foot)
        return int(document.page)

    def story(self, sheet: WeighingSheet, notes: Sequence[str]) -> list[Any]:
        from reportlab.platypus import Paragraph, Spacer

        found: list[Any] = [Paragraph(self.text(shown(self.title, 120)), self.big), self.fields(sheet)]
        if sheet.dilutions:
            found += [*self.titled("Dilutions to make first"), self.dilutions(sheet)]
        for section in sheet.sections:
            found += [*self.titled(weighing.heading(section, sheet)), self.lines(section, sheet)]
        found += [Spacer(1, 6)]
        found += [Paragraph(self.text(line), self.normal) for line in weighing.product_lines(sheet)]
        return [*found, *self.cautions(sheet), *self.notes(notes)]

    def titled(self, title: str) -> list[Any]:
        """Return a heading that is never alone at the foot of a page."""
        from reportlab.platypus import CondPageBreak, Paragraph

        return [CondPageBreak(80), Paragraph(self.text(title), self.section)]

    def fields(self, sheet: WeighingSheet) -> Any:
        """Return the head of the sheet: batch and balance, and fields for lot, date and names."""
        from reportlab.lib.units import mm
        from reportlab.platypus import Paragraph, Table

        filled = weighing.as_mapping(sheet)
        cells = [
            ("lot", ""),
            ("date", ""),
            ("weighed by", ""),
            *filled.items(),
            ("trial", ""),
            ("checked by", ""),
        ]
        fields = [(key, value) for key, value in cells if value or key not in filled]
        fields += [("", "")] * (-len(fields) % 4)
        boxes = [
            [Paragraph(self.text(key), self.small), Paragraph(self.text(value), self.normal)]
            for key, value in fields
        ]
        grid = [boxes[at : at + 4] for at in range(0, len(boxes), 4)]
        return Table(
            grid,
            colWidths=[46.5 * mm] * 4,
            rowHeights=[10 * mm] * len(grid),
            style=[("GRID", (0, 0), (-1, -1), 0.4, GREY), ("VALIGN", (0, 0), (-1, -1), "TOP"), *_TIGHT],
        )

    def dilutions(self, sheet: WeighingSheet) -> Any:
        from reportlab.lib.units import mm
        from reportlab.platypus import Paragraph

        grid: list[list[Any]] = [
            self.heads(("", "material", "dilution", "take, g", "of", "add, g", "solvent"))
        ]
        for step in sheet.dilutions:
            take, add = (weighing.grams(g, sheet.resolution_g) for g in (step.take_g, step.add_g))
            source = "neat" if step.stronger == 1.0 else weighing.share_percent(step.stronger)
            grid.append([
                Paragraph(BOX, self.tick),
                Paragraph(self.text(weighing.called(step.content)), self.normal),
                Paragraph(self.text(weighing.share_percent(step.dilution)), self.normal),
                Paragraph(take, self.strong),
                Paragraph(self.text(source), self.normal),
                Paragraph(add, self.strong),
                Paragraph(self.text(step.solvent.name), self.normal),
            ])  # fmt: skip
        return self.table(grid, [w * mm for w in (6.5, 62, 22, 20, 20, 20, 35.5)])

    def lines(self, section: Section, sheet: WeighingSheet) -> Any:
        from reportlab.lib.units import mm
        from reportlab.platypus import Paragraph

        grid: list[list[Any]] = [self.heads(HEADS)]
        for pour in section.pours:
            texts = weighing.shown(pour, section, sheet)
            less = f"<br/><font size=7 color='{GREY}'>{self.text(texts['instead'])}</font>"
            shown = weighing.grams(pour.grams, sheet.resolution_g)
            off = f"<br/><font name='{FONT}' size=6.5 color='{GREY}'>{texts['off']}</font>"
            grid.append([
                Paragraph(BOX, self.tick),
                Paragraph(self.material(pour, texts["name"]), self.normal),
                Paragraph(self.text(texts["dilution"]) + (less if texts["instead"] else ""), self.normal),
                Paragraph(texts["parts"], self.right),
                Paragraph(shown + (off if texts["off"] not in ("", "0") else ""), self.strong),
                "",
                Paragraph(self.text(texts["cautions"]), self.small),
            ])  # fmt: skip
        grid.append(["", Paragraph(self.text(weighing.whole(section, sheet)), self.head), *[""] * 5])
        return self.table(grid, [w * mm for w in WIDTHS_MM], last=True)

    def material(self, pour: WeighingStep, name: str) -> str:
        """Return the name, then CAS number and note in small print."""
        content = pour.line.content
        cas = content.cas if isinstance(content, Material) else ""
        small = ", ".join(filter(None, (cas, shown(pour.line.note, LONGEST_NOTE))))
        more = f"<br/><font size=6.5 color='{GREY}'>{self.text(small)}</font>" if small else ""
        return self.text(name) + more

    def heads(self, titles: Sequence[str]) -> list[Any]:
        from reportlab.platypus import Paragraph

        figures = ("take, g", "add, g", "parts of 1000", "weigh, g")
        return [Paragraph(t, self.head_right if t in figures else self.head) for t in titles]

    def table(self, grid: list[list[Any]], widths: list[float], last: bool = False) -> Any:
        from reportlab.platypus import LongTable

        style = [
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, GREY),
            ("BACKGROUND", (0, 0), (-1, 0), TINT),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            *_TIGHT,
        ]
        if last:
            style += [("SPAN", (1, -1), (-1, -1)), ("BOX", (5, 1), (5, -2), 0.3, GREY)]
        return LongTable(grid, colWidths=widths, repeatRows=1, style=style)

    def cautions(self, sheet: WeighingSheet) -> list[Any]:
        """Return the full cautions of each material, once."""
        from reportlab.platypus import Paragraph

        cautions: dict[str, list[str]] = {}
        for section in sheet.sections:
            for pour in section.pours:
                content = pour.line.content
                if isinstance(content, Material) and content.cautions:
                    cautions[content.name] = [caution.text for caution in content.cautions]
        if not cautions:
            return []
        found = [
            Paragraph(
                f"<font color='{INK}'>{self.text(name)}</font>: {self.text(' '.join(texts))}", self.small
            )
            for name, texts in sorted(cautions.items())
        ]
        return [*self.titled("Cautions"), *found]

    def notes(self, notes: Sequence[str]) -> list[Any]:
        from reportlab.platypus import Paragraph

        return [*self.titled("Notes"), *(Paragraph(self.text(note), self.small) for note in notes)]


_TIGHT: tuple[Any, ...] = (
    ("TOPPADDING", (0, 0), (-1, -1), 2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
)


def shown(text: str, most: int) -> str:
    """Return a text, cut short with dots where it is longer than that."""
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def register_fonts() -> frozenset[int]:
    """Register the fonts of printed sheets; return the code points that they cover."""
    from importlib.util import find_spec

    from reportlab.pdfbase.pdfmetrics import getFont, registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    spec = find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
    for name in (FONT, f"{FONT}-Bold"):
        registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    faces: list[Any] = [getFont(name) for name in (FONT, f"{FONT}-Bold")]
    return frozenset.intersection(*(frozenset(font.face.charToGlyph) for font in faces))
