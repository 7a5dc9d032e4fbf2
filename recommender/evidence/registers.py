"""The published lists: both annexes of the Cosmetics Regulation, and the industry Standards by number.

What they say of a material becomes an entry without a figure, where `limits.csv` has none for it.
"""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from recommender.evidence.markets import LAST_COMMON_YEAR, authorities_of
from recommender.evidence.names import plain
from recommender.model import AnnexEntry, Limit, Material, PublishedStandard

ANNEXES_SOURCE = "eu-cosmetic-annexes-2026-08-28"
"""Key of the source of the annexes."""
LATER_ACT = "set by a European act of later than 2020: look up whether Great Britain has it"
STANDARDS = "standards"
_AMENDMENT = re.compile(r"(?:amendment )?(\d{1,2})(?!\d)")
_KINDS = {"II": "prohibition", "III": "restriction"}


@dataclass(frozen=True)
class Registers:
    """Both lists, each read when something is first looked up in it."""

    read_annexes: Callable[[], tuple[AnnexEntry, ...]] = tuple
    read_standards: Callable[[], tuple[PublishedStandard, ...]] = tuple

    @cached_property
    def annexes(self) -> tuple[AnnexEntry, ...]:
        """Every entry of Annexes II and III."""
        return self.read_annexes()

    @cached_property
    def standards(self) -> tuple[PublishedStandard, ...]:
        """Every published industry Standard."""
        return self.read_standards()

    @cached_property
    def annexes_by_cas(self) -> Mapping[str, tuple[AnnexEntry, ...]]:
        """Entries of the annexes by the CAS numbers that they name."""
        found: dict[str, tuple[AnnexEntry, ...]] = {}
        for entry in self.annexes:
            for cas in entry.cas:
                found[cas] = (*found.get(cas, ()), entry)
        return found

    @cached_property
    def annexes_by_name(self) -> Mapping[str, tuple[AnnexEntry, ...]]:
        """Entries of the annexes by name."""
        found: dict[str, tuple[AnnexEntry, ...]] = {}
        for entry in self.annexes:
            key = plain(entry.name)
            found[key] = (*found.get(key, ()), entry)
        return found

    def words_of(self, text: str) -> str:
        """Return what the annexes say of a CAS number or a name, a prohibition first; blank for nothing."""
        key = plain(text)
        found = self.annexes_by_cas.get(key) or self.annexes_by_name.get(key, ())
        entry = min(found, key=lambda one: one.annex, default=None)
        if entry is None:
            return ""
        says = "prohibited" if entry.annex == "II" else "restricted"
        law = f"entry {entry.entry} of Annex {entry.annex} of the EU Cosmetics Regulation"
        return f"{says} as {law} ({entry.name})"


def entries(
    limits: Sequence[Limit], materials: Iterable[Material], own: Collection[str], registers: Registers
) -> tuple[Limit, ...]:
    """Return the limits on record, those of an older amendment marked, and what the lists add for materials.

    Parameters
    ----------
    limits : sequence of Limit
    materials : iterable of Material
    own : collection of str
        Keys of the materials that a person added: only these are looked up in the annexes here, as those of
        the tables have their rows in `limits.csv`.
    registers : Registers
    """
    by_cas: dict[str, list[Material]] = {}
    for material in materials:
        for cas in material.cas_all:
            by_cas.setdefault(cas, []).append(material)
    standards = [x for x in registers.standards if not by_cas.keys().isdisjoint(x.cas)]
    found = [_marked(limit, standards) for limit in limits]
    rows = [limit for limit in limits if STANDARDS in authorities_of(limit.market)]
    for standard in standards:
        found += _of_standard(standard, rows, by_cas, own)
    added = [cas for cas, named in by_cas.items() if any(m.slug in own for m in named)]
    return (*found, *_of_annexes(added, limits, registers))


def amendment_of(reference: str) -> int | None:
    """Return the amendment that a reference begins with, None where it names none.

    >>> amendment_of("49 (2020)"), amendment_of("2004"), amendment_of("")
    (49, None, None)
    """
    found = _AMENDMENT.match(reference)
    return int(found[1]) if found else None


def _words(standard: PublishedStandard) -> str:
    return f"{standard.amendment} ({standard.published})" if standard.published else standard.amendment


def _marked(limit: Limit, standards: Iterable[PublishedStandard]) -> Limit:
    """Return a limit of the Standards marked where the list has a later amendment than its figures."""
    own = amendment_of(limit.reference)
    if STANDARDS not in authorities_of(limit.market) or not limit.percent or limit.basis == "user" or not own:
        return limit
    later = [x for x in standards if set(x.cas) & set(limit.cas) and (amendment_of(x.amendment) or 0) > own]
    if not later:
        return limit
    newest = max(later, key=lambda x: amendment_of(x.amendment) or 0)
    return replace(limit, superseded_by=_words(newest))


def _of_standard(
    standard: PublishedStandard,
    rows: Sequence[Limit],
    by_cas: Mapping[str, Sequence[Material]],
    own: Collection[str],
) -> list[Limit]:
    """Return what a Standard says of materials for which no row of the Standards is of that kind.

    Where it prohibits and restricts at once, it prohibits one grade or use of several, and the list does not
    say which: materials of the tables then have to be looked up, and others count as prohibited.
    """
    found = []
    for kind in standard.types:
        covered = {cas for x in rows if x.kind == kind for cas in x.cas}
        if kind == "specification":
            covered |= {cas for x in rows if x.condition for cas in x.cas}
        left = tuple(cas for cas in standard.cas if cas in by_cas and cas not in covered)
        mixed = kind == "prohibition" and len(standard.types) > 1
        if mixed:
            left = tuple(cas for cas in left if any(m.slug in own for m in by_cas[cas]))
        known = {m.slug for cas in left for m in by_cas[cas] if m.slug not in own}
        if left:
            found.append(
                Limit(
                    standard.name,
                    left,
                    (),
                    kind,
                    STANDARDS,
                    "published",
                    standard.source,
                    _words(standard),
                    tuple(sorted(known)) if mixed else (),
                    date=standard.published,
                    condition="the purity that the Standard asks for" if kind == "specification" else "",
                )
            )
    return found


def _of_annexes(numbers: Iterable[str], limits: Iterable[Limit], registers: Registers) -> list[Limit]:
    """Return what the annexes say of these CAS numbers, entries that `limits.csv` has left out.

    What a European act of later than 2020 sets is to be looked up in Great Britain, which may have it too.
    """
    found = []
    for cas in numbers:
        rows = [x for x in limits if cas in x.cas]
        for entry in registers.annexes_by_cas.get(cas, ()):
            year = re.search(r"\d{4}", entry.regulation)
            common = year is not None and int(year[0]) <= LAST_COMMON_YEAR
            kinds = {"eu": _KINDS[entry.annex], "gb": _KINDS[entry.annex] if common else "restriction"}
            for kind in dict.fromkeys(kinds.values()):
                covered = {
                    by
                    for x in rows
                    if (x.kind == "prohibition") == (kind == "prohibition")
                    for by in authorities_of(x.market)
                }
                left = [by for by in kinds if kinds[by] == kind and by not in covered]
                if left:
                    found.append(_of_entry(entry, cas, kind, left, "" if common else LATER_ACT))
    return found


def _of_entry(entry: AnnexEntry, cas: str, kind: str, by: Iterable[str], note: str) -> Limit:
    return Limit(
        entry.name,
        (cas,),
        (),
        kind,
        "; ".join(by),
        "published",
        ANNEXES_SOURCE,
        f"Annex {entry.annex}/{entry.entry}",
        note=note,
        date=entry.updated,
    )
