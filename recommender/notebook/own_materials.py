"""A material that the person adds, read from its cells; what they leave open is estimated and marked."""

import re

from recommender.chemistry.structure import estimate
from recommender.errors import BadValue, UnknownFacet, UnknownMaterial, WrongCas
from recommender.evidence.catalogue import cas_check_digit, label_key, looks_like_cas
from recommender.evidence.overlay import OwnMaterial
from recommender.evidence.sheets import Row, decimal
from recommender.palette import labels_from_words, shipped

KINDS = ("molecule", "natural", "base")
CLASSES = ("faint", "soft", "medium", "strong", "very strong", "extreme")
GUESSED = "medium"
"""Strength class of an own material without one: the most frequent."""
REQUIRED = ("name", "smells")
COLUMNS = ("cas", "smiles", "kind", "strength", "pressure", "molar_mass", "note")
"""Columns of a sheet of such materials, beside the required ones."""
PRESSURE_ERROR = 0.35
"""Uncertainty of a vapour pressure that the person gives [log10]."""


def own_material(row: Row) -> tuple[OwnMaterial, list[str]]:
    """Return a row as an added material, and notes on what was estimated or stays unknown.

    Raises
    ------
    BadTable, WrongCas
    """
    name, cas = " ".join(row["name"].split()), row["cas"].strip()
    _check_free(row, name, cas)
    try:
        labels = labels_from_words(row["smells"], shipped())
    except BadValue as error:
        raise row.wrong("smells", f'"{error.value}": {error.wanted}') from None
    except UnknownFacet as error:
        raise row.wrong("smells", str(error).rstrip(".")) from None
    if row["kind"] not in ("", *KINDS):
        raise row.wrong("kind", f'"{row["kind"]}" is not one of {", ".join(KINDS)}')
    if row["strength"] not in ("", *CLASSES):
        raise row.wrong("strength", f'"{row["strength"]}" is not one of {", ".join(CLASSES)}')
    pressure, mass = decimal(row, "pressure"), decimal(row, "molar_mass")
    for column, value in (("pressure", pressure), ("molar_mass", mass)):
        if value is not None and not 0 < value < 1e6:
            raise row.wrong(column, f"{value:g} is out of range; above 0, below 1,000,000")
    notes: list[str] = []
    liquids = [
        (m.smiles, m.parts[0].pressure_pa)
        for m in shipped().catalogue.materials
        if m.kind == "molecule" and m.smiles and m.parts
    ]
    known = estimate(cas, row["smiles"].strip(), liquids)
    mass = mass or known.molar_mass
    if pressure is None:
        notes += [*known.notes]
        if known.pressure_pa:
            band = 10 ** (known.log_error or 0)
            notes.append(
                f"Vapour pressure estimated: {known.pressure_pa:.2g} Pa (a factor of {band:.1f} either way)."
            )
    elif mass is None:
        notes.append(
            "Without a molar mass the pressure cannot be used: give the molar mass or the structure."
        )
    if not row["strength"]:
        notes.append(f"Strength unknown, assumed {GUESSED}: give it if you know it.")
    slug = "own-" + (re.sub(r"[^a-z0-9]+", "-", label_key(name)).strip("-") or label_key(name))
    own = OwnMaterial(
        slug,
        name,
        cas,
        row["kind"] or "molecule",
        smiles=known.smiles,
        molar_mass=mass,
        pressure_pa=pressure or known.pressure_pa,
        pressure_basis="user" if pressure else "estimated" if known.pressure_pa else "",
        pressure_source="" if pressure else known.source,
        log_error=PRESSURE_ERROR if pressure else known.log_error,
        strength=row["strength"] or GUESSED,
        strength_basis="user" if row["strength"] else "estimated",
        note=row["note"],
        labels=labels,
    )
    return own, notes


def _check_free(row: Row, name: str, cas: str) -> None:
    """Raise if the name is missing, or if name or CAS number belongs to a shipped material."""
    if not name or looks_like_cas(name):
        raise row.wrong("name", "a name is missing")
    if cas and not looks_like_cas(cas):
        raise row.wrong("cas", f'"{cas}" is not a CAS number')
    if cas and cas_check_digit(cas) != int(cas[-1]):
        raise WrongCas(cas, cas_check_digit(cas))
    for column, text in (("name", name), ("cas", cas)):
        try:
            known = shipped().catalogue.find(text) if text else None
        except UnknownMaterial:
            continue
        if known is not None:
            problem = f"it is in the table as {known.name}"
            raise row.wrong(column, problem, "Describe its smell to you with `recommender nose add`")
