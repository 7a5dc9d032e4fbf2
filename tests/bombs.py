"""Files that are small and would be too much to read: a workbook that unpacks to a gigabyte, blank lines."""

import io
import zipfile
from collections.abc import Iterable, Iterator

BLOCK = 1 << 20
_TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/>'
    '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    'spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-'
    'officedocument.spreadsheetml.worksheet+xml"/></Types>'
)
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_RELATIONS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="r1" Type="{kind}" Target="{target}"/></Relationships>'
)
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def workbook(sheet: Iterable[str], more: dict[str, Iterable[str]] | None = None) -> bytes:
    """Return a workbook (ECMA-376) whose one sheet is this XML, given in pieces, with further members."""
    book = (
        f'<workbook xmlns="{MAIN}" xmlns:r="{_OFFICE}"><sheets>'
        '<sheet name="one" sheetId="1" r:id="r1"/></sheets></workbook>'
    )
    members: dict[str, Iterable[str]] = {
        "[Content_Types].xml": [_TYPES],
        "_rels/.rels": [_RELATIONS.format(kind=f"{_OFFICE}/officeDocument", target="xl/workbook.xml")],
        "xl/workbook.xml": [book],
        "xl/_rels/workbook.xml.rels": [
            _RELATIONS.format(kind=f"{_OFFICE}/worksheet", target="worksheets/sheet1.xml")
        ],
        "xl/worksheets/sheet1.xml": sheet,
        **(more or {}),
    }
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, pieces in members.items():
            with archive.open(name, "w", force_zip64=True) as member:
                for piece in pieces:
                    member.write(piece.encode())
    return whole.getvalue()


def sheet(rows: Iterable[str], before: str = "") -> Iterator[str]:
    """Yield the XML of a sheet around that of its rows."""
    yield f'<worksheet xmlns="{MAIN}">{before}<sheetData>'
    yield from rows
    yield "</sheetData></worksheet>"


def cell(text: str, place: str = "") -> str:
    """Return the XML of a cell of text."""
    at = f' r="{place}"' if place else ""
    return f'<c{at} t="inlineStr"><is><t>{text}</t></is></c>'


HEAD = f"<row>{cell('material')}{cell('parts')}</row>"


def row(material: str, parts: str = "1") -> str:
    """Return the XML of a line of a formula."""
    return f"<row>{cell(material)}<c><v>{parts}</v></c></row>"


def _long_cell(characters: int) -> Iterator[str]:
    yield HEAD + '<row><c t="inlineStr"><is><t>'
    for _ in range(0, characters, BLOCK):
        yield "a" * BLOCK
    yield "</t></is></c><c><v>1</v></c></row>"


def _many(piece: str, times: int) -> Iterator[str]:
    step = 10_000
    for _ in range(0, times, step):
        yield piece * step


def workbooks(scale: float = 1.0) -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of workbooks that are too much; `scale` makes those that are counted smaller."""
    yield "a cell of 1e9 characters", workbook(sheet(_long_cell(int(1e9 * scale))))
    yield "3 million rows", workbook(sheet([HEAD, *_many(row("coumarin"), int(3e6 * scale))]))
    yield "3 million blank rows", workbook(sheet([HEAD, *_many("<row/>", int(3e6 * scale))]))
    yield "8 million cells in a row", workbook(sheet(["<row>", *_many("<c/>", int(8e6 * scale)), "</row>"]))
    far = f'<row r="1048576">{cell("coumarin")}<c><v>1</v></c></row>'
    yield "a row far below", workbook(sheet([HEAD, far]))
    wide = "".join(f'<row r="{n}">{cell("a", f"XFD{n}")}</row>' for n in range(1, 2_000))
    yield "cells far to the right", workbook(sheet([wide], '<dimension ref="A1:XFD1048576"/>'))
    strings = {"xl/sharedStrings.xml": [f'<sst xmlns="{MAIN}">', *_many("<si/>", int(3e6 * scale)), "</sst>"]}
    yield "3 million texts", workbook(sheet([HEAD]), strings)
    styles = [f'<styleSheet xmlns="{MAIN}"><cellXfs>', *_many("<xf/>", int(2e6 * scale))]
    yield (
        "2 million formats",
        workbook(sheet([HEAD]), {"xl/styles.xml": [*styles, "</cellXfs></styleSheet>"]}),
    )
    yield "20,000 members", workbook(sheet([HEAD]), {f"xl/media/{n}.xml": ["a"] for n in range(20_000)})
    laughs = '<!DOCTYPE a [<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True)
    )
    yield "entities in entities", workbook([laughs + "]>", *sheet([f"<row>{cell('&j;')}</row>"])])


def texts(scale: float = 1.0) -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of texts that are too much."""
    yield "a cell of 10 MB", b"material,parts\n" + b"a" * int(1e7 * scale) + b",1\n"
    yield "a quote that is not closed", b'material,parts\n"' + b"a,1\n" * int(2e6 * scale)
    yield "10 million lines", b"material,parts\n" + b"a,1\n" * int(1e7 * scale)
    yield "1 million lines", b"material,parts\n" + b"coumarin,1\n" * int(1e6 * scale)
    yield "10 MB of blank lines", b"material,parts\n" + b"\n" * int(1e7 * scale)
    yield "10 MB of delimiters", b"material,parts\n" + b"," * int(1e7 * scale)
    yield "10 MB of header", b"a," * int(5e6 * scale) + b"\n" + b"1,2\n"
    yield "10 MB of zero bytes", b"\0" * int(1e7 * scale)
