"""A person's own spreadsheet of bottles, row by row: what is understood, and what is not."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from recommender.catalogue import Catalogue
from recommender.catalogue.identity import Identity, identify
from recommender.errors import BadTable, UnknownMaterial, WrongCas
from recommender.model import Bottle
from recommender.notebook.columns import Columns, guess
from recommender.notebook.entries import amount_of, day, percent_of, printable, scaled, solvent_of
from recommender.sheets import Row, grid

HEADER_WITHIN = 12
"""A sheet may have a title above its headers, of so many lines at most."""
_IN_LABEL = re.compile(
    r"(?P<name>.*?\S)[\s,(@]+(?:at\s+)?(?P<percent>\d+(?:[.,]\d+)?)\s*%"
    r"\s*\)?\s*(?:(?:in|/)?\s*(?P<solvent>[A-Za-z][\w .-]*?))?\s*\)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Taken:
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
        bottle, found, remarks = _bottle(row, catalogue, columns.price_for_g, columns.amount_g)
        candidates = tuple(material.slug for material in found.candidates)
        return Taken(line, bottle, found.found_by, "; ".join(remarks), candidates=candidates)
    except BadTable as error:
        return Taken(line, None, error=f"{error.column}: {error.problem}")


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
    row: Row, catalogue: Catalogue, price_for_g: float, unit_g: float
) -> tuple[Bottle, Identity, list[str]]:
    label = printable(row["label"] or row["material"] or row["cas"])
    if not label:
        raise row.wrong("label", "the name of the bottle is missing")
    name, percent, solvent = label, percent_of(row, "dilution"), row["solvent"]
    remarks = []
    if (told := _IN_LABEL.fullmatch(label)) and percent is None:
        name, percent = told["name"].strip(" ,-"), float(told["percent"].replace(",", "."))
        solvent = solvent or (told["solvent"] or "")
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
