"""Which material a row of a person's sheet means by a name and a CAS number: one rule for every sheet."""

import re
from dataclasses import dataclass, replace

from recommender.errors import UnknownMaterial, WrongCas
from recommender.evidence.catalogue import LONGEST_NAME, Catalogue, cas_check_digit, plain
from recommender.evidence.sheets import DILUTION, Row, percent_of
from recommender.model import Material

_NUMBER = re.compile(r"(?<![\d-])\d{2,7}-\d{2}-\d(?![\d-])")

_PERCENT = r"(?P<percent>\d+(?:[.,]\d+)?)\s*%(?:\s*ig\w*)?|1\s*:\s*(?P<whole>\d+)"
_DILUTED = (
    re.compile(
        rf"(?P<name>.*?\S)[\s,(@-]+(?:at\s+)?(?:{_PERCENT})"
        r"\s*\)?\s*(?:(?:in|dans|/)?\s*(?P<solvent>[A-Za-z][\w .-]*?))?\s*\)?",
        re.IGNORECASE,
    ),
    re.compile(
        rf"(?:{_PERCENT})\s+(?P<name>\S.*?)(?:\s+(?:in|dans)\s+(?P<solvent>[A-Za-z][\w .-]*?))?",
        re.IGNORECASE,
    ),
)
SOLVENTS = {
    "pg": "propylene glycol",
    "bb": "benzyl benzoate",
    "alcohol": "ethanol",
    "tec": "triethyl citrate",
    "ipm": "isopropyl myristate",
    "dep": "diethyl phthalate",
    "etoh": "ethanol",
}
"""How the trade shortens solvents (common practice); DPG is a name that the catalogue has."""
PURITY = 90.0
"""From this on a per cent behind a name may as well be its purity [%]."""

_MIRROR_IMAGE = re.compile(r"\((?:R|S|\+|-)\)-")


@dataclass(frozen=True, slots=True)
class Identity:
    """The material of a row, or None where that is open.

    `found_by` is CAS or name. Where name and number disagree, `candidates` are the materials that each of
    them means, and `reason` is the sentence on it; there is one too where a number is unknown, was a
    date, or is more exact than the name.
    """

    material: Material | None = None
    found_by: str = ""
    candidates: tuple[Material, ...] = ()
    reason: str = ""


def identify(name: str, cas: str, catalogue: Catalogue, called: str = "name") -> Identity:
    """Return the material that a name and a CAS number (or several) mean together; neither has priority.

    A name that is unknown leaves the choice to the number, and the other way round. A number may be that of
    one mirror image of what is named. `called` is what the column of the name is called in the reason.

    Raises
    ------
    WrongCas
        The check digit of a number does not fit.
    """
    if dated := catalogue.dated(cas):
        found = identify(name, dated[0], catalogue, called)
        said = f'"{cas}" is read as the CAS number {dated[0]} that a spreadsheet turned into a date'
        return replace(found, reason="; ".join(filter(None, (said, found.reason))))
    by_name = catalogue.meanings(name) if name else ()
    by_number: dict[str, Material] = {}
    for number in _NUMBER.findall(cas):
        if (expected := cas_check_digit(number)) != int(number[-1]):
            raise WrongCas(number, expected)
        try:
            by_number[number] = catalogue.find(number)
        except UnknownMaterial:
            continue
    slugs = {material.slug for material in by_number.values()}
    if agreed := [material for material in by_name if material.slug in slugs]:
        return Identity(agreed[0], "CAS")
    if by_name and not by_number:
        unknown = ", ".join(_NUMBER.findall(cas))
        reason = f"the CAS number {unknown} is not known here; the {called} is taken" if unknown else ""
        return Identity(by_name[0], "name", reason=reason)
    if len(slugs) == 1 and not by_name:
        return Identity(next(iter(by_number.values())), "CAS")
    if len(slugs) == 1 and _names_mirror_image(by_name[0], finer := next(iter(by_number.values()))):
        reason = f"the {called} says {by_name[0].name}, the CAS number {finer.name}; the number is taken"
        return Identity(finer, "CAS", reason=reason)
    readings = [f"the {called} says {by_name[0].name}"] if by_name else []
    readings += [f"the CAS number {number} is that of {found.name}" for number, found in by_number.items()]
    candidates = {material.slug: material for material in (*by_name[:1], *by_number.values())}
    return Identity(None, "", tuple(candidates.values()), ", ".join(readings))


@dataclass(frozen=True, slots=True)
class Diluted:
    """What a name with a dilution in it says: the name alone, the dilution [%], and the solvent, or blank."""

    name: str
    percent: float
    solvent: str = ""


def diluted(text: str) -> Diluted | None:
    """Return the name and the dilution of a label such as benzaldehyde 10 % in DPG; None without one.

    >>> diluted("vanillin (5 % in TEC)"), diluted("coumarin")
    (Diluted(name='vanillin', percent=5.0, solvent='TEC'), None)
    >>> diluted("Aldehyd 10%ig")
    Diluted(name='Aldehyd', percent=10.0, solvent='')
    """
    if len(text) > LONGEST_NAME:
        return None
    found = next(filter(None, (pattern.fullmatch(text.strip()) for pattern in _DILUTED)), None)
    if found is None:
        return None
    percent = (
        100.0 / int(found["whole"])
        if int(found["whole"] or 0)
        else float((found["percent"] or "0").replace(",", "."))
    )
    return (
        Diluted(found["name"].strip(" ,-"), percent, found["solvent"] or "") if 0 < percent <= 100 else None
    )


def solvent_name(text: str) -> str:
    """Return the name of a solvent that is written as the trade shortens it, any other text as it is.

    >>> solvent_name("T.E.C."), solvent_name("ethanol")
    ('triethyl citrate', 'ethanol')
    """
    return SOLVENTS.get(plain(text).replace(".", ""), text)


def solvent_of(text: str, catalogue: Catalogue) -> str:
    """Return the key of a solvent by name or as the trade shortens it; blank if nothing has the name."""
    try:
        found = catalogue.meanings(solvent_name(text))
    except WrongCas:
        return ""
    return found[0].slug if found else ""


def agreed_percent(
    row: Row, given: float | None, inside: Diluted, named: str = "material", dilution: str = DILUTION
) -> float:
    """Return the dilution [%] on which the cell (`given`, or None) and the name of a row agree.

    `named` and `dilution` are the columns of the two.

    Raises
    ------
    BadTable
        They disagree, or the per cent in the name may be the purity.
    """
    if given is None and inside.percent >= PURITY:
        problem = f"{inside.percent:g} % in the name may be a dilution or how pure it is"
        raise row.wrong(named, problem, f"Write {inside.percent:g} or 100 into a column {dilution}")
    if given is None:
        return inside.percent
    if abs(given - inside.percent) > 1e-6 * inside.percent and inside.percent < PURITY:
        called = "label" if named == "label" else "name"
        problem = f"the {called} says {inside.percent:g} %, the dilution is {given:g} %"
        raise row.wrong(dilution, problem, "Correct the one that is wrong")
    return given


def dilution_in(
    row: Row, text: str, inside: Diluted, catalogue: Catalogue, notes: list[str]
) -> dict[str, str]:
    """Return the cells of dilution and solvent, where they are blank from the name; `notes` says so.

    Raises
    ------
    BadTable
        The row says another dilution or solvent, or the per cent may be the purity.
    """
    given = percent_of(row, DILUTION)
    cells = {DILUTION: row[DILUTION], "solvent": row["solvent"]}
    percent = agreed_percent(row, given, inside)
    if inside.solvent:
        solvent = solvent_of(inside.solvent, catalogue)
        if not solvent:
            problem = f'no solvent is called "{inside.solvent}"'
            raise row.wrong(
                "material", problem, "Write the dilution and the solvent into columns of their own"
            )
        if row["solvent"] and solvent_of(row["solvent"], catalogue) != solvent:
            problem = f'the name says "{inside.solvent}", the solvent is "{row["solvent"]}"'
            raise row.wrong("solvent", problem, "Correct the one that is wrong")
        cells["solvent"] = catalogue.by_slug(solvent).name
    if given is None:
        cells[DILUTION] = f"{percent:.10g}"
        beside = f" in {cells['solvent']}" if cells["solvent"] else ""
        notes.append(
            f'{row.file}: line {row.line}: "{text}" is read as {inside.name}, {inside.percent:g} %{beside}.'
        )
    return cells


def _names_mirror_image(material: Material, other: Material) -> bool:
    """Return whether another material is one mirror image of a material, by their names."""
    return other.name != material.name and _MIRROR_IMAGE.sub("", other.name, count=1) == material.name
