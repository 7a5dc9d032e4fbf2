"""Text in the cells of a spreadsheet: none is run as a formula, and each comes back as it was."""

import re

# A spreadsheet takes a cell for a formula that starts with one of these. One that parts columns by another
# sign may see a cell start in mid-text. An apostrophe goes before, and comes off again when it is read.
_FORMULA = "=+\\-@＝＋－＠"
_IN_TEXT = re.compile(rf"(^|[;,|\"\t\r\n])( *)('*)(?=[{_FORMULA}])")
_AT_START = re.compile(r"^('*)(?=[\t\r\n])")
_IN_TEXT_BACK = re.compile(rf"(^|[;,|\"\t\r\n])( *)'('*)(?=[{_FORMULA}])")
_AT_START_BACK = re.compile(r"^'('*)(?=[\t\r\n])")
_NOT_IN_XML = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
_ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    >>> harmless("=1+1"), harmless("'=1+1"), harmless("hay; =1"), harmless("rose - honey")
    ("'=1+1", "''=1+1", "hay; '=1", 'rose - honey')
    """
    return _AT_START.sub(r"'\1", _IN_TEXT.sub(r"\1\2'\3", text))


def as_written(text: str) -> str:
    """Return the text that `harmless` was given.

    >>> as_written("''=1+1"), as_written("'tis")
    ("'=1+1", "'tis")
    """
    return _IN_TEXT_BACK.sub(r"\1\2\3", _AT_START_BACK.sub(r"\1", text))


def content(cell: str) -> str:
    """Return the text of a cell of a sheet: without blanks around it, and without a leading apostrophe.

    >>> content(" rose "), content("'-5 drops")
    ('rose', '-5 drops')
    """
    text = as_written(cell)
    return text.strip() if text == cell else text


def in_workbook(text: str) -> str:
    r"""Return a text for the cell of a workbook that is marked as text, which no spreadsheet runs.

    An apostrophe goes only before what would not be read as it is without it. Characters that XML cannot
    hold are escaped (ECMA-376-1, 22.9.2.19, ST_Xstring).

    >>> in_workbook("=1+1"), in_workbook("'=1+1"), in_workbook("a\rb")
    ('=1+1', "''=1+1", 'a_x000D_b')
    """
    cell = text if content(text) == text else harmless(text)
    return _NOT_IN_XML.sub(lambda found: f"_x{ord(found[0]):04X}_", cell)


def from_workbook(text: str) -> str:
    """Return the text of a workbook's cell, escaped characters as themselves; `content` reads it further."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
