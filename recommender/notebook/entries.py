"""What people write into the cells of a shelf: dilutions, amounts, prices, dates, solvents."""

import re
from dataclasses import replace
from datetime import date

from recommender.catalogue import Catalogue, plain
from recommender.errors import UnknownMaterial, WrongCas
from recommender.sheets import Row, decimal

_SHORT = {
    "tec": "triethyl citrate",
    "ipm": "isopropyl myristate",
    "dep": "diethyl phthalate",
    "etoh": "ethanol",
}
"""How the trade shortens solvents (common practice); DPG is a name that the catalogue has."""
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def printable(text: str) -> str:
    r"""Return a text as one line in which nothing moves the cursor of a terminal.

    >>> printable("fig\n leaf\x1b[2J")
    'fig leaf?[2J'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in " ".join(text.split()))


def solvent_of(text: str, catalogue: Catalogue) -> str:
    """Return the key of a solvent by name or as the trade shortens it, blank where it is none."""
    try:
        found = catalogue.find(_SHORT.get(plain(text).strip("."), text))
    except (UnknownMaterial, WrongCas):
        return ""
    return found.slug


def amount_of(row: Row, unit_g: float) -> float | None:
    """Return grams of a cell such as 12.5, 500 mg or 0.5 kg; raises `BadTable` for millilitres."""
    text = plain(row["amount"])
    if told := re.fullmatch(r"([\d.,]+)\s*(kg|mg|g|grams?|ml)\.?", text):
        if told[2] == "ml":
            raise row.wrong("amount", "millilitres: weigh the bottle, amounts are in grams")
        unit_g = {"kg": 1000.0, "mg": 0.001}.get(told[2], 1.0)
        row = replace(row, cells=row.cells | {"amount": told[1]})
    return scaled(row, "amount", unit_g)


def scaled(row: Row, column: str, factor: float) -> float | None:
    """Return a number that is not negative, currency signs left out, None where the cell is blank."""
    bare = re.sub(r"[^\d.,\- ]", "", row[column]).strip()
    if row[column] and not bare:
        raise row.wrong(column, f'"{row[column]}" is not a number')
    value = decimal(replace(row, cells=row.cells | {column: bare}), column)
    if value is None:
        return None
    if value < 0:
        raise row.wrong(column, f"{value:g} is below 0")
    return float(f"{value * factor:.10g}")  # 118 a kilogram is 0.118 a gram


def day(row: Row, column: str) -> str:
    """Return a date as yyyy-mm-dd: 2024-03-01, 01.03.2024, March 2024; blank where the cell is.

    Raises
    ------
    BadTable
        It is no date, or day and month cannot be told apart.
    """
    text = plain(row[column])
    if not text:
        return ""
    wrong = row.wrong(column, f'"{row[column]}" is not a date', "Write it as 2024-03-01")
    if told := re.fullmatch(r"(\d{4})-(\d{1,2})(?:-(\d{1,2}))?(?:[ t].*)?", text):
        numbers = int(told[1]), int(told[2]), int(told[3] or 1)
    elif told := re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", text):
        first, second = int(told[1]), int(told[3])
        if told[2] != "." and first <= 12 and second <= 12 and first != second:
            raise row.wrong(column, f'day and month of "{row[column]}" cannot be told apart')
        numbers = (int(told[4]), first, second) if second > 12 else (int(told[4]), second, first)
    elif (told := re.fullmatch(r"([a-z]{3})[a-z]*\.? (\d{4})", text)) and told[1] in _MONTHS:
        numbers = int(told[2]), _MONTHS.index(told[1]) + 1, 1
    elif told := re.fullmatch(r"(\d{4})", text):
        numbers = int(told[1]), 1, 1
    else:
        raise wrong
    try:
        return date(*numbers).isoformat()
    except ValueError:
        raise wrong from None
