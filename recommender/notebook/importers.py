"""Which column of a person's own spreadsheet is what: guessed from the headers, and shown."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from recommender.errors import BadTable, BadValue, UnknownMaterial, WrongCas
from recommender.evidence.catalogue import LONGEST_NAME, Catalogue, plain
from recommender.evidence.headers import WORDS, says_dilution
from recommender.evidence.identity import Identity, identify
from recommender.evidence.sheets import Row, decimal, grid, percent_of
from recommender.model import Bottle

FIELDS = ("label", "material", "cas", "dilution", "solvent", "amount", "price", "opened", "lot", "note")
"""What a column can be."""

_GRAMS: Mapping[str, float] = {"kg": 1000.0, "g": 1.0, "gram": 1.0, "grams": 1.0, "mg": 0.001}


@dataclass(frozen=True, slots=True)
class Columns:
    """What each column is: field -> place; how many grams a price or an amount is for; and the headers."""

    places: Mapping[str, int]
    headers: Sequence[str]
    price_for_g: float = 1.0
    amount_g: float = 1.0

    def summary(self) -> list[str]:
        """Return the guess in lines: what was taken for what, and what was left out."""
        lines = [f'"{self.headers[at]}" is taken as {self._what(name)}' for name, at in self.places.items()]
        left = [h for i, h in enumerate(self.headers) if h and i not in self.places.values()]
        return [*lines, *([f"left out: {', '.join(left)}"] if left else [])]

    def _what(self, name: str) -> str:
        if name == "price":
            return "the price of a gram" if self.price_for_g == 1 else f"the price of {self.price_for_g:g} g"
        if name == "amount":
            return "grams" if self.amount_g == 1 else f"units of {self.amount_g:g} g"
        return {"label": "the label", "opened": "the date of opening"}.get(name, name)


def guess(cells: Sequence[str], given: Mapping[str, str] | None = None) -> Columns | None:
    """Return what the columns under these headers are, None where they are no headers of a shelf.

    `given` names the header of a field where the person chose it.

    Raises
    ------
    BadValue
        A field or header that is not there.
    """
    headers = [" ".join(cell.split()) for cell in cells]
    keys = [re.sub(r"[()\[\]:*]", " ", plain(header)) for header in headers]
    keys = [" ".join(key.split()) for key in keys]
    places: dict[str, int] = {}
    for name, header in (given or {}).items():
        if name not in FIELDS:
            raise BadValue("map", name, f"a column is one of {', '.join(FIELDS)}")
        if plain(header) not in [plain(h) for h in headers]:
            return None
        places[name] = [plain(h) for h in headers].index(plain(header))
    for whole in (True, False):
        for name, words in WORDS.items():
            free = [i for i in range(len(keys)) if keys[i] and i not in places.values()]
            if name in FIELDS and name not in places and (hit := _hit(keys, free, words, whole)) is not None:
                places[name] = hit
    free = [i for i in range(len(keys)) if keys[i] and i not in places.values()]
    if "dilution" not in places and (near := [i for i in free if says_dilution(headers[i])]):
        places["dilution"] = near[0]
    if "label" not in places and "material" in places:
        places["label"] = places.pop("material")
    if "label" not in places and "cas" not in places:
        return None
    price = keys[places["price"]] if "price" in places else ""
    amount = keys[places["amount"]] if "amount" in places else ""
    ordered = {name: places[name] for name in FIELDS if name in places}
    return Columns(ordered, headers, _price_for(price), _GRAMS.get(_unit(amount), 1.0))


def _hit(keys: Sequence[str], free: Sequence[int], words: Sequence[str], whole: bool) -> int | None:
    for word in words:
        for place in free:
            inside = len(word) > 2 and re.search(rf"(?<!\w){re.escape(word)}(?!\w)", keys[place])
            if keys[place] == word or (not whole and inside):
                return place
    return None


def _price_for(header: str) -> float:
    """Return for how many grams a price is: price/kg, price per 100 g; a gram where nothing is given.

    >>> _price_for("price per 100 g"), _price_for("price/kg"), _price_for("price")
    (100.0, 1000.0, 1.0)
    """
    found = re.search(r"(?:/|per|a|for)\s*(\d+(?:\.\d+)?)?\s*(kg|grams?|g)\b", header)
    return float(found[1] or 1) * _GRAMS[found[2]] if found else 1.0


def _unit(header: str) -> str:
    found = re.search(r"\b(kg|mg|grams?|g)\b", header)
    return found[1] if found else ""


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
        found = catalogue.meanings(_SHORT.get(plain(text).strip("."), text))
    except WrongCas:
        return ""
    return found[0].slug if found else ""


def amount_of(row: Row, unit_g: float) -> float | None:
    """Return grams of a cell such as 12.5, 500 mg or 0.5 kg; raises `BadTable` for millilitres."""
    text = plain(row["amount"])
    if match := re.fullmatch(r"([\d.,]+)\s*(kg|mg|g|grams?|ml)\.?", text):
        if match[2] == "ml":
            raise row.wrong("amount", "millilitres: weigh the bottle, amounts are in grams")
        unit_g = {"kg": 1000.0, "mg": 0.001}.get(match[2], 1.0)
        row = replace(row, cells=row.cells | {"amount": match[1]})
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
        It is no date, or day and month are ambiguous.
    """
    text = plain(row[column])
    if not text:
        return ""
    wrong = row.wrong(column, f'"{row[column]}" is not a date', "Write it as 2024-03-01")
    if match := re.fullmatch(r"(\d{4})-(\d{1,2})(?:-(\d{1,2}))?(?:[ t].*)?", text):
        numbers = int(match[1]), int(match[2]), int(match[3] or 1)
    elif match := re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", text):
        first, second = int(match[1]), int(match[3])
        if match[2] != "." and first <= 12 and second <= 12 and first != second:
            raise row.wrong(column, f'day and month of "{row[column]}" are ambiguous')
        numbers = (int(match[4]), first, second) if second > 12 else (int(match[4]), second, first)
    elif (match := re.fullmatch(r"([a-z]{3})[a-z]*\.? (\d{4})", text)) and match[1] in _MONTHS:
        numbers = int(match[2]), _MONTHS.index(match[1]) + 1, 1
    elif match := re.fullmatch(r"(\d{4})", text):
        numbers = int(match[1]), 1, 1
    else:
        raise wrong
    try:
        return date(*numbers).isoformat()
    except ValueError:
        raise wrong from None


MOST_UNKNOWN = 300
"""Rows of a sheet for which the nearest known names are looked for."""
HEADER_WITHIN = 12
"""A sheet may have a title above its headers, of so many lines at most."""
_IN_LABEL = re.compile(
    r"(?P<name>.*?\S)[\s,(@]+(?:at\s+)?(?P<percent>\d+(?:[.,]\d+)?)\s*%"
    r"\s*\)?\s*(?:(?:in|/)?\s*(?P<solvent>[A-Za-z][\w .-]*?))?\s*\)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class ImportedRow:
    """One row of a sheet: the bottle, how its material was found, what is odd; `error` where it is left out.

    `found_by` is name, CAS or blank where it is not resolved; `candidates` are the keys of the materials of
    which it is one where label and CAS number disagree.
    """

    line: int
    bottle: Bottle | None
    found_by: str = ""
    remark: str = ""
    error: str = ""
    candidates: tuple[str, ...] = ()


def read(
    path: Path, catalogue: Catalogue, given: Mapping[str, str] | None = None
) -> tuple[Columns, list[ImportedRow]]:
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
            rows: list[ImportedRow] = []
            unknown = 0
            for line, row in lines[place:]:
                rows.append(_taken(path.name, line, row, columns, catalogue, unknown < MOST_UNKNOWN))
                unknown += bool(rows[-1].bottle and not rows[-1].bottle.material)
            return columns, rows
    wanted = f", or there is no {' or '.join(given.values())}" if given else ""
    raise BadTable(
        path.name,
        f"no column looks like the name of a bottle{wanted}",
        remedy='Name it: --map "label=My header"',
    )


def _taken(
    file: str, line: int, cells: list[str], columns: Columns, catalogue: Catalogue, look_near: bool
) -> ImportedRow:
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
        bottle, found, remarks = _bottle(row, catalogue, columns.price_for_g, columns.amount_g, look_near)
        candidates = tuple(material.slug for material in found.candidates)
        return ImportedRow(line, bottle, found.found_by, "; ".join(remarks), candidates=candidates)
    except BadTable as error:
        return ImportedRow(line, None, error=f"{error.column}: {error.problem}")


def bottle_of(
    row: Row, catalogue: Catalogue, price_for_g: float = 1.0, unit_g: float = 1.0
) -> tuple[Bottle, str, str]:
    """Return a row of cells (`columns.FIELDS`) as a bottle, how it was found, and what is odd.

    The material stays blank where it is not known, or label and CAS number disagree.

    Raises
    ------
    BadTable
        A cell cannot be read.
    """
    bottle, found, remarks = _bottle(row, catalogue, price_for_g, unit_g)
    return bottle, found.found_by, "; ".join(remarks)


def _bottle(
    row: Row, catalogue: Catalogue, price_for_g: float, unit_g: float, look_near: bool = True
) -> tuple[Bottle, Identity, list[str]]:
    label = printable(row["label"] or row["material"] or row["cas"])
    if not label:
        raise row.wrong("label", "the name of the bottle is missing")
    if len(label) > LONGEST_NAME:
        raise row.wrong("label", f"more than {LONGEST_NAME} characters are no name of a bottle")
    name, percent, solvent = label, percent_of(row, "dilution"), row["solvent"]
    remarks = []
    if (match := _IN_LABEL.fullmatch(label)) and percent is None:
        name, percent = match["name"].strip(" ,-"), float(match["percent"].replace(",", "."))
        solvent = solvent or (match["solvent"] or "")
        remarks.append(f"{percent:g} % is read from the label")
    found = _identity(row, label, name, catalogue)
    percent = 100.0 if percent is None else percent
    if not 0 < percent <= 100:
        raise row.wrong("dilution", f"{percent:g} % is not a dilution")
    solvent_slug = ""
    if solvent and percent < 100:
        solvent_slug = solvent_of(solvent, catalogue)
        if not solvent_slug:
            remarks.append(f'the solvent "{solvent}" is not known and left out')
    bottle = Bottle(
        label=label,
        material=found.material.slug if found.material else "",
        dilution_percent=percent,
        solvent=solvent_slug,
        amount_g=amount_of(row, unit_g),
        price_per_g=scaled(row, "price", 1.0 / price_for_g),
        opened=day(row, "opened"),
        lot=printable(row["lot"]),
        note=printable(row["note"]),
    )
    if found.reason:
        remarks.append(found.reason)
    elif found.material is None and not look_near:
        remarks.append("not known")
    elif found.material is None:
        try:
            catalogue.find(name)
        except (UnknownMaterial, WrongCas) as error:
            near = getattr(error, "near", ())
            remarks.append(f"near: {', '.join(near)}" if near else "nothing near is known")
    return bottle, found, remarks


def _identity(row: Row, label: str, name: str, catalogue: Catalogue) -> Identity:
    """Return what a bottle is: the CAS number, and the material that is named or else the label, agree."""
    column = "label"
    try:
        texts = (("material", row["material"]), ("label", label), ("label", name))
        known = ((called, text) for called, text in texts if text and catalogue.meanings(text))
        called, text = next(known, ("label", ""))
        column = "cas"
        return identify(text, row["cas"], catalogue, called)
    except WrongCas as error:
        raise row.wrong(column, str(error)) from None
