"""Which column of a person's own spreadsheet is what: guessed from the headers, and shown."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from recommender.errors import BadTable, BadValue, UnknownMaterial, WrongCas
from recommender.evidence import sheets
from recommender.evidence.catalogue import LONGEST_NAME, Catalogue, label_key, plain
from recommender.evidence.headers import WORDS, key, says_dilution, unit_in
from recommender.evidence.identity import (
    Identity,
    agreed_percent,
    diluted,
    identify,
    solvent_of,
)
from recommender.evidence.sheets import Row, decimal, percent_of, quantity
from recommender.model import Bottle
from recommender.one_line import printable
from recommender.units import MASSES, MILLILITRES

FIELDS = (
    *("label", "material", "cas", "dilution", "solvent", "amount", "price", "opened", "lot", "note"),
    *("size", "density", "unit"),
)
"""What a column can be."""
BOTTLE = "bottle"
"""A price is for a bottle, and not for a mass."""
_WHOLE = re.compile(
    r"\b(?:bottle|pack|package|unit|each|piece|flasche|flaschen|flakon|gebinde|packung|stuck|flacon|bouteille"
    r"|unite|piece)\b|flaschenpreis"
)
_LEFT = re.compile(r"\b(?:left|stock|on hand|bestand|vorrat|rest|restmenge|reste|restant)\b")
_PER = re.compile(
    r"(?:/|\b(?:per|a|for|pro|par|je|le)\b)\s*(\d+(?:[.,]\d+)?)?\s*("
    + "|".join(map(re.escape, sorted((*MASSES, *MILLILITRES), key=len, reverse=True)))
    + r")\b"
)
_PRICE = re.compile(
    r"(\D*?)\s*(-?\s*[\d.,' \N{RIGHT SINGLE QUOTATION MARK}]*\d)"
    r"(?:[.,][-\N{EN DASH}\N{EM DASH}]+)?\s*(\D*)"
)
MOST_UNKNOWN = 300
"""Rows of a sheet for which the nearest known names are looked for."""
CURRENCIES: Mapping[str, str] = {
    **dict.fromkeys(("\N{EURO SIGN}", "eur", "euro", "euros"), "EUR"),
    **dict.fromkeys(("$", "us$", "usd", "dollar", "dollars"), "USD"),
    **dict.fromkeys(("\N{POUND SIGN}", "gbp"), "GBP"),
    **dict.fromkeys(("chf", "sfr", "fr"), "CHF"),
    **{word: word.upper() for word in ("sek", "dkk", "nok", "pln", "czk", "jpy", "aud", "cad", "inr")},
    "\N{YEN SIGN}": "JPY",
}
"""Sign or word of a currency -> its code (ISO 4217)."""


@dataclass(frozen=True, slots=True)
class Columns:
    """What each column is: field -> place; how many grams a price or an amount is for; and the headers.

    `amount_unit` and `price_unit` are the units in the headers, blank where there is none; a price may be for
    `BOTTLE`. `notes` says which lines were left out, and what was understood of the sheet.
    """

    places: Mapping[str, int]
    headers: Sequence[str]
    price_for_g: float = 1.0
    amount_g: float = 1.0
    amount_unit: str = ""
    price_unit: str = ""
    notes: Sequence[str] = field(default=())

    def summary(self) -> list[str]:
        """Return the guess in lines: what was taken for what, and what was left out."""
        lines = [f'"{self.headers[at]}" is taken as {self._what(name)}' for name, at in self.places.items()]
        left = [h for i, h in enumerate(self.headers) if h and i not in self.places.values()]
        return [*lines, *([f"left out: {', '.join(left)}"] if left else [])]

    def _what(self, name: str) -> str:
        if name == "price":
            if self.price_unit == BOTTLE:
                whole = "size" if "size" in self.places else "amount"
                return f'the price of a bottle, for what "{self.headers[self.places[whole]]}" says'
            if self.price_unit in MILLILITRES:
                return f"the price of {self.price_for_g:g} ml"
            return "the price of a gram" if self.price_for_g == 1 else f"the price of {self.price_for_g:g} g"
        if name == "amount":
            if self.amount_unit in MILLILITRES:
                return f"{self.amount_unit}, brought to grams by the density"
            return "grams" if self.amount_g == 1 else f"units of {self.amount_g:g} g"
        named = {"label": "the label", "opened": "the date of opening", "density": "the density in g/ml"}
        return {**named, "size": "the size of a full bottle", "unit": "the unit of the amount"}.get(
            name, name
        )


def guess(cells: Sequence[str], given: Mapping[str, str] | None = None) -> Columns | None:
    """Return what the columns under these headers are, None where they are no headers of a shelf.

    `given` names the header of a field where the person chose it.

    Raises
    ------
    BadValue
        A field or header that is not there.
    """
    headers = [" ".join(cell.split()) for cell in cells]
    keys = [key(header) for header in headers]
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
    if "amount" not in places and "size" in places and "price" not in places:
        places["amount"] = places.pop("size")
    price = keys[places["price"]] if "price" in places else ""
    unit = unit_in(headers[places["amount"]]) if "amount" in places else ""
    ordered = {name: places[name] for name in FIELDS if name in places}
    price_unit = BOTTLE if _WHOLE.search(price) else _per(price)[1]
    return Columns(ordered, headers, _price_for(price), MASSES.get(unit, 1.0), unit, price_unit)


def _hit(keys: Sequence[str], free: Sequence[int], words: Sequence[str], whole: bool) -> int | None:
    for word in map(key, words):
        for place in free:
            inside = len(word) > 2 and re.search(rf"(?<!\w){re.escape(word)}(?!\w)", keys[place])
            if keys[place] == word or (not whole and inside):
                return place
    return None


def _per(text: str) -> tuple[float, str]:
    """Return for how much a price is, and its unit; a gram where nothing is given.

    >>> _per("price per 100 g"), _per("12 eur/kg"), _per("preis"), _per("prix par 10 ml")
    ((100.0, 'g'), (1.0, 'kg'), (1.0, ''), (10.0, 'ml'))
    """
    found = _PER.search(text)
    return (float((found[1] or "1").replace(",", ".")), found[2]) if found else (1.0, "")


def _price_for(header: str) -> float:
    """Return for how many grams, or millilitres, a price is; a gram where nothing is given.

    >>> _price_for("price per 100 g"), _price_for("price/kg"), _price_for("price")
    (100.0, 1000.0, 1.0)
    """
    count, unit = _per(header)
    return count * (MASSES.get(unit) or MILLILITRES.get(unit) or 1.0)


_MONTHS = (
    *(("jan",), ("feb", "fev"), ("mar",), ("apr", "avr"), ("may", "mai"), ("jun", "juin"), ("jul", "juil")),
    *(("aug", "aou"), ("sep",), ("oct", "okt"), ("nov",), ("dec", "dez")),
)
"""How the months begin in English, German and French, without accents."""


def amount_of(row: Row, unit_g: float, unit: str = "") -> float | None:
    """Return grams of a cell such as 12.5, 500 mg, 1 oz or 30 ml; a bare number is in the unit of the header.

    Raises
    ------
    BadTable
        It is no amount, or a volume without a density.
    """
    beside = plain(row.cells.get("unit", "")).replace(".", "")
    if not beside:
        return _grams(row, "amount", unit_g, unit)
    if beside not in MASSES and beside not in MILLILITRES:
        raise row.wrong("unit", f'"{row["unit"]}" is no unit of mass', "Write g, mg, kg or oz")
    if (typed := quantity(row["amount"])[1]) and typed != beside:
        raise row.wrong("unit", f'"{row["unit"]}" beside "{row["amount"]}"', "Leave the unit that is meant")
    return _grams(row, "amount", MASSES.get(beside, 1.0), beside)


def _grams(row: Row, column: str, unit_g: float, unit: str) -> float | None:
    text = row.cells.get(column, "")
    if not text:
        return None
    number, typed = quantity(text)
    bare = replace(row, cells=row.cells | {column: number})
    if (typed or unit) in MILLILITRES:
        density = _density(row)
        if density is None:
            remedy = "Add a column density in g/ml"
            raise row.wrong(column, "millilitres: weigh the bottle, amounts are in grams", remedy)
        return scaled(bare, column, density * MILLILITRES[typed or unit])
    if typed and typed not in MASSES:
        raise row.wrong(column, f'"{typed}" is no unit of mass', "Write g, mg, kg or oz")
    return scaled(bare, column, MASSES[typed] if typed else unit_g)


def _is_volume(row: Row, column: str, unit: str) -> bool:
    """Return whether a cell is a volume; `unit` is that of its header."""
    beside = plain(row.cells.get("unit", "")).replace(".", "") if column == "amount" else ""
    return bool(row.cells.get(column)) and (quantity(row[column])[1] or beside or unit) in MILLILITRES


def _density(row: Row) -> float | None:
    """Return the density of a row [g/ml], None without one."""
    if not row.cells.get("density"):
        return None
    number, unit = quantity(row["density"])
    value = decimal(replace(row, cells=row.cells | {"density": number}), "density")
    if value is None or not 0.5 <= value <= 2.5 or unit not in ("", "g/ml", "g/cm3", "kg/l"):
        raise row.wrong("density", f'"{row["density"]}" is no density in g/ml')
    return value


def price_of(row: Row, columns: "Columns") -> tuple[float | None, str, list[str]]:
    """Return the price of a gram, the currency (ISO 4217, or blank), and remarks.

    A price for a bottle is divided by its size, one for a volume needs the density: without them it is left
    open, with a remark.

    Raises
    ------
    BadTable
        It is no price.
    """
    text = plain(row["price"])
    if not text:
        return None, "", []
    count, unit = _per(text)
    bare = _PER.sub("", text)
    found = _PRICE.fullmatch(bare)
    if found is None:
        raise row.wrong("price", f'"{row["price"]}" is not a number')
    signs = [sign.strip(" .:") for sign in (found[1], found[3]) if sign.strip(" .:")]
    currencies = {CURRENCIES.get(sign, "") for sign in signs}
    if "" in currencies or len(currencies) > 1:
        raise row.wrong("price", f'"{row["price"]}" is not a price', "Write 12 or 12/kg")
    value = scaled(replace(row, cells=row.cells | {"price": found[2].replace(" ", "")}), "price", 1.0)
    assert value is not None
    for_g = count * (MASSES.get(unit) or MILLILITRES.get(unit) or 1.0) if unit else columns.price_for_g
    remarks: list[str] = []
    grams: float | None = for_g
    if not unit and columns.price_unit == BOTTLE:
        whole = "size" if "size" in columns.places else "amount"
        header = columns.headers[columns.places[whole]]
        volume = _is_volume(row, whole, unit_in(header)) and not row.cells.get("density")
        grams = None if volume else _grams(row, whole, MASSES.get(unit_in(header), 1.0), unit_in(header))
        if not grams:
            missing = "not given in grams" if volume else "not given"
            remarks.append(f"the price is left out: the size of the bottle is {missing}")
    elif (unit or columns.price_unit) in MILLILITRES:
        density = _density(row)
        grams = density and for_g * density
        if not grams:
            remarks.append("the price is left out: a price for a volume needs the density")
    currency = next(iter(currencies), "")
    return (float(f"{value / grams:.10g}") if grams else None), currency, remarks


def scaled(row: Row, column: str, factor: float) -> float | None:
    """Return a number that is not negative times a factor, None where the cell is blank."""
    value = decimal(row, column)
    if value is None:
        return None
    if value < 0:
        raise row.wrong(column, f"{value:g} is below 0")
    return float(f"{value * factor:.10g}")  # 118 a kilogram is 0.118 a gram


def day(row: Row, column: str) -> str:
    """Return a date as yyyy-mm-dd: 2024-03-01, 01.03.2024, 03/2024, March 2024; blank where the cell is.

    Raises
    ------
    BadTable
        It is no date, or day and month are ambiguous.
    """
    text = plain(row[column])
    if not text:
        return ""
    wrong = row.wrong(column, f'"{row[column]}" is not a date', "Write it as 2024-03-01")
    if match := re.fullmatch(r"(\d{4})[-/](\d{1,2})(?:[-/](\d{1,2}))?(?:[ t].*)?", text):
        numbers = int(match[1]), int(match[2]), int(match[3] or 1)
    elif match := re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})", text):
        first, second = int(match[1]), int(match[3])
        if match[2] != "." and first <= 12 and second <= 12 and first != second:
            raise row.wrong(column, f'day and month of "{row[column]}" are ambiguous')
        numbers = (int(match[4]), first, second) if second > 12 else (int(match[4]), second, first)
    elif match := re.fullmatch(r"(\d{1,2})[./-](\d{4})", text):
        numbers = int(match[2]), int(match[1]), 1
    elif (match := re.fullmatch(r"([a-z]{3,})\.? (\d{4})", text)) and (month := _month(match[1])):
        numbers = int(match[2]), month, 1
    elif match := re.fullmatch(r"(\d{4})", text):
        numbers = int(match[1]), 1, 1
    else:
        raise wrong
    try:
        return date(*numbers).isoformat()
    except ValueError:
        raise wrong from None


def _month(word: str) -> int:
    """Return the number of a month, 0 where the word is none."""
    return next((n for n, starts in enumerate(_MONTHS, 1) if word.startswith(starts)), 0)


@dataclass(frozen=True, slots=True)
class ImportedRow:
    """One row of a sheet: the bottle, how its material was found, what is odd; `error` where it is left out.

    `found_by` is name, CAS or blank where it is not resolved; `candidates` are the keys of the materials of
    which it is one where label and CAS number disagree; `cells` is the row as it stands in the sheet, by
    field, and `column` the field in which the error is.
    """

    line: int
    bottle: Bottle | None
    found_by: str = ""
    remark: str = ""
    error: str = ""
    candidates: tuple[str, ...] = ()
    cells: Mapping[str, str] = field(default_factory=dict)
    column: str = ""


def read(
    path: Path, catalogue: Catalogue, given: Mapping[str, str] | None = None, sheet: str = ""
) -> tuple[Columns, list[ImportedRow]]:
    """Read a sheet of bottles, CSV, XLSX, XLS or ODS, with whatever headers it has.

    `sheet` is that of a workbook, the active one by default.

    Raises
    ------
    BadTable
        It is no table, or no column looks like the name of a bottle.
    """

    def fits(cells: Sequence[str]) -> int:
        columns = guess(cells, given)
        return 0 if columns is None or len(cells) > 1 == len(columns.places) else len(columns.places)

    found = sheets.body(path, fits, 1, sheet)
    file, columns = found.grid.file, guess(found.header[1], given) if fits(found.header[1]) else None
    if columns is None:
        wanted = f", or there is no {' or '.join(given.values())}" if given else ""
        raise BadTable(
            file,
            f"no column looks like the name of a bottle{wanted}",
            remedy='Name it: --map "label=My header"',
        )
    rows = [_row(file, line, cells, columns) for line, cells in found.lines]
    pairs = zip(found.lines, rows, strict=True)
    sums = {line for (line, cells), row in pairs if sheets.is_total(cells, row, "label")}
    notes = list(found.notes)
    rows = sheets.without_totals(rows, "label", "amount", sums, notes)
    found.check(rows, columns.places)
    for name in ("amount", "size", "price"):
        rows = sheets.settled(rows, name, notes)
    units = {quantity(row[name])[1] or plain(row["unit"]) for row in rows for name in ("amount", "size")}
    notes += sheets.ounces_in(file, units)
    if "dilution" in columns.places:
        header = columns.headers[columns.places["dilution"]]
        sheets.check_fractions(
            [replace(row, titles={"dilution": header}) for row in rows], "dilution", header
        )
    if bare := _check_prices(file, found.header[0], rows, columns):
        notes.append(bare)
    found_rows, currency = _imported(rows, columns, catalogue)
    if currency:
        notes.append(f"{file}: prices are in {currency}; the shelf stores them without a currency.")
    return replace(columns, notes=tuple(map(printable, notes))), found_rows


def _check_prices(file: str, line: int, rows: Sequence[Row], columns: Columns) -> str:
    """Return a note on prices that do not say for how much, blank where all do.

    Raises
    ------
    BadTable
        A price for a bottle of unknown size, or one that may be for a bottle or for a gram.
    """
    bare = [row for row in rows if row["price"] and not _per(plain(row["price"]))[1]]
    if not bare or columns.price_unit not in ("", BOTTLE):
        return ""
    title = columns.headers[columns.places["price"]]
    amount = key(columns.headers[columns.places["amount"]]) if "amount" in columns.places else ""
    size = "size" in columns.places or amount in ("size", *WORDS["size"])
    if columns.price_unit == BOTTLE and not size and (not amount or _LEFT.search(amount)):
        problem = "a price for a bottle, and no column says how much a full bottle has"
        remedy = "Add a column size, or give the price of a gram or a kilogram"
        raise BadTable(file, problem, line=line, column=title, remedy=remedy)
    if columns.price_unit == BOTTLE:
        return ""
    if size:
        problem = "this may be the price of a bottle or of a gram"
        remedy = 'Name it "price per bottle" or "price per g" (or kg)'
        raise BadTable(file, problem, line=line, column=title, remedy=remedy)
    return (
        f'{file}: "{title}" does not say for how much, so a bare number is for a gram; '
        'head the price of a bottle "price per bottle", with its size.'
    )


def _row(file: str, line: int, cells: Sequence[str], columns: Columns) -> Row:
    places = columns.places
    filled = {name: cells[place].strip() for name, place in places.items() if place < len(cells)}
    return Row(file, line, dict.fromkeys(FIELDS, "") | filled)


def _imported(rows: Sequence[Row], columns: Columns, catalogue: Catalogue) -> tuple[list[ImportedRow], str]:
    """Return rows as bottles, and their currency; another one and a label that comes again are named."""
    done: list[ImportedRow] = []
    labels: dict[str, int] = {}
    first: tuple[str, int] = "", 0
    unknown = 0
    for row in rows:
        try:
            bottle, found, remarks = _bottle(row, catalogue, columns, unknown < MOST_UNKNOWN, True)
            unknown += not bottle.material
            price, currency, _ = price_of(row, columns)
            if currency and first[0] not in ("", currency):
                problem = f"{currency} beside {first[0]} in line {first[1]}: prices have no currency"
                raise row.wrong("price", problem, "Bring them to one")
            first = first if first[0] or price is None else (currency, row.line)
        except BadTable as error:
            remedy = f". {error.remedy}" if error.remedy else ""
            problem = f"{error.column}: {error.problem}{remedy}"
            done.append(
                ImportedRow(row.line, None, error=problem, cells=row.cells, column=error.column or "")
            )
            continue
        before = labels.setdefault(label_key(bottle.label), row.line)
        if before != row.line:
            remarks.append(f"the same label is in line {before}: another bottle")
        candidates = tuple(material.slug for material in found.candidates)
        done.append(
            ImportedRow(row.line, bottle, found.found_by, "; ".join(remarks), "", candidates, row.cells)
        )
    return done, first[0]


def read_again(
    row: ImportedRow, cells: Mapping[str, str], columns: Columns, catalogue: Catalogue
) -> ImportedRow:
    """Return a row of a sheet with other texts in some of its cells, by field."""
    (found,), _ = _imported([Row("", row.line, {**row.cells, **cells})], columns, catalogue)
    return found


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
    bottle, found, remarks = _bottle(row, catalogue, Columns({}, (), price_for_g, unit_g))
    return bottle, found.found_by, "; ".join(remarks)


def _bottle(
    row: Row, catalogue: Catalogue, columns: Columns, look_near: bool = True, volume_left_open: bool = False
) -> tuple[Bottle, Identity, list[str]]:
    """Return a bottle, what it is, and remarks; raises `BadTable`.

    A volume without a density is no amount: it is refused, or `volume_left_open`, with a remark.
    """
    on_volume = ""
    is_volume = _is_volume(row, "amount", columns.amount_unit)
    if volume_left_open and is_volume and not row.cells.get("density"):
        on_volume = f'"{row["amount"]}" is a volume, so the grams are left open: weigh it, or add a density'
        row = replace(row, cells={**row.cells, "amount": "", "unit": ""})
    row = sheets.solvent_apart(row, "dilution")
    label = printable(row["label"] or row["material"] or row["cas"])
    if not label:
        raise row.wrong("label", "the name of the bottle is missing")
    if len(label) > LONGEST_NAME:
        raise row.wrong("label", f"more than {LONGEST_NAME} characters are no name of a bottle")
    name, given, solvent = label, percent_of(row, "dilution"), row["solvent"]
    percent = given
    remarks = []
    if inside := diluted(label):
        name, percent = inside.name, agreed_percent(row, given, inside, "label", "dilution")
        if given is None:
            solvent = solvent or inside.solvent
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
    price, _, on_price = price_of(row, columns)
    bottle = Bottle(
        label=label,
        material=found.material.slug if found.material else "",
        dilution_percent=percent,
        solvent=solvent_slug,
        amount_g=amount_of(row, columns.amount_g, columns.amount_unit),
        price_per_g=price,
        opened=day(row, "opened"),
        lot=printable(row["lot"]),
        note=printable(row["note"]),
    )
    remarks += [*([on_volume] if on_volume else []), *on_price]
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
