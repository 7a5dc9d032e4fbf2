"""A person's own spreadsheet of bottles, row by row: what is understood, and what is not."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from recommender.catalogue import Catalogue, looks_like_cas, plain
from recommender.errors import BadTable, UnknownMaterial, WrongCas
from recommender.model import Bottle
from recommender.notebook.columns import Columns, guess
from recommender.sheets import Row, decimal, grid

HEADER_WITHIN = 12
"""A sheet may have a title above its headers, of so many lines at most."""
_IN_LABEL = re.compile(
    r"(?P<name>.*?\S)[\s,(@]+(?:at\s+)?(?P<percent>\d+(?:[.,]\d+)?)\s*%"
    r"\s*\)?\s*(?:(?:in|/)?\s*(?P<solvent>[A-Za-z][\w .-]*?))?\s*\)?",
    re.IGNORECASE,
)
_SHORT = {
    "tec": "triethyl citrate",
    "ipm": "isopropyl myristate",
    "dep": "diethyl phthalate",
    "etoh": "ethanol",
}
"""How the trade shortens solvents (common practice); DPG is a name that the catalogue has."""
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@dataclass(frozen=True, slots=True)
class Taken:
    """One row of a sheet: the bottle, how its material was found, what is odd; `error` where it is left out.

    `found_by` is name, CAS, label (remembered or resolved in the sheet) or blank where it is not resolved.
    """

    line: int
    bottle: Bottle | None
    found_by: str = ""
    remark: str = ""
    error: str = ""


def read(
    path: Path, catalogue: Catalogue, given: Mapping[str, str] | None = None
) -> tuple[Columns, list[Taken]]:
    """Read a sheet of bottles, CSV or XLSX, with whatever headers it has.

    Raises
    ------
    BadTable
        It is no table, or no column looks like the name of a bottle.
    """
    lines = grid(path)
    for place, (_, cells) in enumerate(lines[:HEADER_WITHIN], 1):
        columns = guess(cells, given)
        if columns is not None and len(columns.places) > (1 if len(cells) > 1 else 0):
            return columns, [_taken(path.name, line, row, columns, catalogue) for line, row in lines[place:]]
    wanted = f", or there is no {' or '.join(given.values())}" if given else ""
    raise BadTable(
        path.name,
        f"no column looks like the name of a bottle{wanted}",
        remedy='Say which it is: --map "label=My header"',
    )


def _taken(file: str, line: int, cells: list[str], columns: Columns, catalogue: Catalogue) -> Taken:
    row = Row(
        file,
        line,
        {
            name: cells[columns.places[name]].strip()
            if name in columns.places and columns.places[name] < len(cells)
            else ""
            for name in (
                "label",
                "material",
                "cas",
                "dilution",
                "solvent",
                "amount",
                "price",
                "opened",
                "lot",
                "note",
            )
        },
    )
    try:
        return Taken(line, *bottle_of(row, catalogue, columns.price_for_g, columns.amount_g))
    except BadTable as error:
        return Taken(line, None, error=f"{error.column}: {error.problem}")


def bottle_of(
    row: Row, catalogue: Catalogue, price_for_g: float = 1.0, unit_g: float = 1.0
) -> tuple[Bottle, str, str]:
    """Return a row of cells (`columns.FIELDS`) as a bottle, how it was found, and what is odd.

    Raises
    ------
    BadTable
        A cell cannot be read.
    """
    label = row["label"] or row["material"] or row["cas"]
    if not label:
        raise row.wrong("label", "the name of the bottle is missing")
    name, percent, solvent = label, percent_of(row, "dilution"), row["solvent"]
    remarks = []
    slug, found_by = _known(row, label, catalogue)
    if (told := _IN_LABEL.fullmatch(label)) and percent is None:
        name, percent = told["name"].strip(" ,-"), _percent(told["percent"])
        solvent = solvent or (told["solvent"] or "")
        remarks.append(f"{percent:g} % is read from the label")
    if not slug and name != label:
        slug, found_by = _known(replace(row, cells=row.cells | {"cas": ""}), name, catalogue)
    percent = 100.0 if percent is None else percent
    if not 0 < percent <= 100:
        raise row.wrong("dilution", f"{percent:g} % is not a dilution")
    solvent_slug = ""
    if solvent and percent < 100:
        solvent_slug = solvent_of(solvent, catalogue)
        if not solvent_slug:
            remarks.append(f'the solvent "{solvent}" is not known and left out')
    if found_by == "CAS":
        remarks += _contradicted(label, name, slug, catalogue)
    bottle = Bottle(
        label=label,
        material=slug,
        dilution_percent=percent,
        solvent=solvent_slug,
        amount_g=_amount(row, unit_g),
        price_per_g=_scaled(row, "price", 1.0 / price_for_g),
        opened=day(row, "opened"),
        lot=row["lot"],
        note=row["note"],
    )
    if not slug:
        try:
            catalogue.find(name)
        except (UnknownMaterial, WrongCas) as error:
            near = getattr(error, "near", ())
            remarks.append(f"near: {', '.join(near)}" if near else "nothing near is known")
    return bottle, found_by, "; ".join(remarks)


def _known(row: Row, label: str, catalogue: Catalogue) -> tuple[str, str]:
    """Return the key of a material and how it was found: by CAS number, by name, by label."""
    for text, found_by in ((row["cas"], "CAS"), (row["material"], "name"), (label, "name")):
        if not text or (found_by == "CAS" and not looks_like_cas(text)):
            continue
        try:
            return catalogue.find(text).slug, found_by
        except WrongCas as error:
            raise row.wrong("cas" if found_by == "CAS" else "label", str(error)) from None
        except UnknownMaterial:
            continue
    return "", ""


def _contradicted(label: str, name: str, slug: str, catalogue: Catalogue) -> list[str]:
    for text in (label, name):
        try:
            other = catalogue.find(text)
        except (UnknownMaterial, WrongCas):
            continue
        if other.slug != slug:
            taken = catalogue.by_slug(slug).name
            return [f"the label says {other.name}, the CAS number {taken}; the number is taken"]
        return []
    return []


def solvent_of(text: str, catalogue: Catalogue) -> str:
    """Return the key of a solvent by name or as the trade shortens it, blank where it is none."""
    try:
        found = catalogue.find(_SHORT.get(plain(text).strip("."), text))
    except (UnknownMaterial, WrongCas):
        return ""
    return found.slug


def _percent(text: str) -> float:
    return float(text.replace(",", "."))


def percent_of(row: Row, column: str) -> float | None:
    """Return a dilution: 10, 10 %, 0.1 in a cell of per cent, neat, 1:10 (one part in ten of the whole)."""
    text = plain(row[column])
    if text in ("neat", "pure", "undiluted", "100 %"):
        return 100.0
    if told := re.fullmatch(r"1\s*(?::|in|/)\s*(\d+(?:\.\d+)?)", text):
        return 100.0 / float(told[1]) if float(told[1]) > 0 else 0.0
    return decimal(row, column)


def _amount(row: Row, unit_g: float) -> float | None:
    text = plain(row["amount"])
    if told := re.fullmatch(r"([\d.,]+)\s*(kg|mg|g|grams?|ml)\.?", text):
        if told[2] == "ml":
            raise row.wrong("amount", "millilitres: weigh the bottle, amounts are in grams")
        unit_g = {"kg": 1000.0, "mg": 0.001}.get(told[2], 1.0)
        row = replace(row, cells=row.cells | {"amount": told[1]})
    return _scaled(row, "amount", unit_g)


def _scaled(row: Row, column: str, factor: float) -> float | None:
    """Return a number that is not negative, currency signs left out, None where the cell is blank."""
    bare = re.sub(r"[^\d.,\- ]", "", row[column]).strip()
    if row[column] and not bare:
        raise row.wrong(column, f'"{row[column]}" is not a number')
    value = decimal(replace(row, cells=row.cells | {column: bare}), column)
    if value is None:
        return None
    if value < 0:
        raise row.wrong(column, f"{value:g} is below 0")
    return value * factor


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
