"""What is in a formula once naturals are opened: substance by substance, at the high end of their range."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from recommender.errors import BadValue
from recommender.evidence.catalogue import Catalogue, plain
from recommender.model import Amount, Content, Material

Certificates = Mapping[str, Mapping[str, float]]
"""Key of a natural -> constituent -> its share by a certificate [% by mass]."""


@dataclass(frozen=True)
class Substance:
    """A substance as a mass fraction of the whole, from all lines.

    `added` is what was put in as such; `through` are the naturals that bring the rest: name -> mass fraction.
    `material` is None for a constituent that has no row of its own. `bases` are those of the shares in
    naturals; `least` means that of some natural only the least share is known. `brought_by` are the keys of
    those naturals.
    """

    key: str
    name: str
    material: Material | None
    fraction: float
    added: float
    through: Mapping[str, float]
    bases: frozenset[str] = frozenset()
    least: bool = False
    brought_by: frozenset[str] = frozenset()

    @cached_property  # each limit is compared with each substance
    def keys(self) -> tuple[str, ...]:
        """Its key and all of its CAS numbers."""
        return (self.key, *(self.material.cas_all if self.material else ()))


def certificates(texts: Iterable[str], catalogue: Catalogue) -> dict[str, dict[str, float]]:
    """Read shares from certificates: "tonka bean absolute: coumarin 60, dihydrocoumarin 0.4".

    Raises
    ------
    BadValue, UnknownMaterial, WrongCas
    """
    found: dict[str, dict[str, float]] = {}
    for text in texts:
        name, colon, rest = text.partition(":")
        parts = re.split(r",(?!\d)", rest)  # 2,6-nonadienol is one name
        shares = [re.fullmatch(r"(.+?)\s+(\d+(?:\.\d+)?)\s*%?", part.strip()) for part in parts]
        if not colon or not all(shares):
            wanted = 'write a natural, a colon and shares in %, such as "tonka bean absolute: coumarin 60"'
            raise BadValue("content", text, wanted)
        natural = catalogue.find(name)
        if natural.kind != "natural":
            raise BadValue("content", text, f"{natural.name} is not a natural; it is all itself")
        given = found.setdefault(natural.slug, {})
        for share in filter(None, shares):
            if float(share[2]) > 100:
                raise BadValue("content", text, f"{share[2]} % is more than there is")
            if (key := _key(share[1], natural, catalogue)) in given:
                raise BadValue("content", text, f"{share[1]} in {natural.name} is given twice")
            given[key] = float(share[2])
        if sum(given.values()) > 100.5:
            raise BadValue("content", text, f"the shares come to {sum(given.values()):g} %")
    return found


def shown_by_certificate(texts: Iterable[str], catalogue: Catalogue) -> dict[str, tuple[str, ...]]:
    """Read which conditions certificates show: "lemon oil: furocoumarins"; key of a material -> words.

    Raises
    ------
    BadValue, UnknownMaterial, WrongCas
    """
    found: dict[str, tuple[str, ...]] = {}
    for text in texts:
        name, _, words = text.partition(":")
        if not words.strip():
            wanted = (
                'write a material, a colon and words of the condition, such as "lemon oil: furocoumarins"'
            )
            raise BadValue("shown", text, wanted)
        slug = catalogue.find(name).slug
        found[slug] = (*found.get(slug, ()), plain(words))
    return found


def _key(name: str, natural: Material, catalogue: Catalogue) -> str:
    """Return the key of a constituent: a material, or one that only the natural's own list knows."""
    for content in natural.contents:
        if plain(content.name.replace("-", " ")) == plain(name.replace("-", " ")):
            return content.name
    return catalogue.find(name).slug


def contents(natural: Material, certified: Certificates) -> tuple[Content, ...]:
    """Return the constituents of a natural; a certificate's shares replace the tables'."""
    own = certified.get(natural.slug, {})
    given = {content.name: content for content in natural.contents}
    for name, percent in own.items():
        given[name] = Content(name, percent, percent, "certificate")
    return tuple(given.values())


def unnamed(natural: Material, certified: Certificates) -> float:
    """Return the share of a natural that is not known by name [%], from the middle of each range."""
    return max(0.0, 100.0 - sum(content.middle_percent for content in contents(natural, certified)))


def substances(
    amounts: Iterable[Amount], catalogue: Catalogue, certified: Certificates | None = None
) -> list[Substance]:
    """Return every substance in some amounts, naturals themselves and their constituents.

    A natural is listed beside its constituents, for limits and labels that name it; shares are the
    high ends of the known ranges, or those of a certificate.

    Raises
    ------
    BadValue
        A certificate is for a natural that is not there.
    """
    given = certified or {}
    found: dict[str, Substance] = {}
    present = []
    for amount in amounts:
        material = amount.material
        present.append(material.slug)
        _add(found, Substance(material.slug, material.name, material, amount.mass_fraction, 0.0, {}))
        own = found[material.slug]
        found[material.slug] = replace(own, added=own.added + amount.mass_fraction)
        for content in contents(material, given):
            share = content.low if content.high is None else content.high
            if share:
                part = amount.mass_fraction * share / 100.0
                row = catalogue.index.get(content.name)
                known = catalogue.materials[row] if row is not None else None
                name = known.name if known else re.sub(r"(?<=[a-z]{3})-(?=[a-z]{3})", " ", content.name)
                bases, least = frozenset({content.basis}), content.high is None
                by, through = frozenset({material.slug}), {material.name: part}
                _add(found, Substance(content.name, name, known, part, 0.0, through, bases, least, by))
    for slug in given:
        if slug not in present:
            natural = catalogue.by_slug(slug).name
            raise BadValue("content", natural, "it is not in this formula")
    return list(found.values())


def _add(found: dict[str, Substance], more: Substance) -> None:
    old = found.get(more.key)
    if old is None:
        found[more.key] = more
        return
    through = dict(old.through)
    for name, fraction in more.through.items():
        through[name] = through.get(name, 0.0) + fraction
    found[more.key] = replace(
        old,
        fraction=old.fraction + more.fraction,
        through=through,
        bases=old.bases | more.bases,
        least=old.least or more.least,
        brought_by=old.brought_by | more.brought_by,
    )
