"""Read the evidence in data/ and check every row; the first error names its row."""

import datetime
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from recommender.chemistry.odour_strength import CLASSES
from recommender.errors import BadTable
from recommender.evidence.catalogue import CATEGORIES, COLUMNS, cas_check_digit, looks_like_cas, plain
from recommender.evidence.markets import AUTHORITIES
from recommender.evidence.registers import STANDARDS
from recommender.evidence.sheets import Row, read
from recommender.evidence.tables import COMPUTED
from recommender.model import AVAILABILITY, PRACTICE, Facet, Umbrella
from recommender.similarity.odour_space import PANEL_BASE
from recommender.similarity.phrases import NO_FACETS, vocabulary
from recommender.similarity.relations import KIND_WEIGHTS

BASES = {"measured", "published", "estimated", "common practice", "memory"}
UNSOURCED = {"common practice", "memory"}
KINDS = {"molecule", "natural", "base", "solvent"}
FORMS = {"liquid", "solid", "resin"}
ROLES = {"palette", "reference"}
LANGUAGES = {"German", "French"}
NAME_KINDS = {"systematic", "INCI", "trivial", "grade", "German", "French"}
QUANTITIES = {
    "vapour_pressure": "Pa",
    "boiling_point": "K",
    "melting_point": "C",
    "enthalpy_of_fusion": "J/mol",
    "poucher_coefficient": "1-100",
}
CAUTION_KINDS = {
    "sensitiser",
    "phototoxic",
    "toxic vapour",
    "discolours",
    "oxidises",
    "crystallises",
    "schiff base",
    "strong odour",
    "specific anosmia",
    "regulated",
    "changes on paper",
    "solubility",
}
CLASS_PRESSURES_PA = {
    "monoterpene hydrocarbon": (200.0, 136.2),
    "oxygenated monoterpene": (15.0, 154.3),
    "sesquiterpene": (2.0, 204.4),
    "sesquiterpenol": (0.05, 222.4),
    "aromatic ester or aldehyde": (2.0, 160.0),
    "light ester or aldehyde": (300.0, 120.0),
    "resin or wax": (0.0, 400.0),
}
"""Pressure [Pa] and molar mass [g/mol] of the unnamed parts of naturals: orders of magnitude, from memory."""
CLASS_STRENGTHS = {
    "monoterpene hydrocarbon": "soft",
    "oxygenated monoterpene": "medium",
    "sesquiterpene": "faint",
    "sesquiterpenol": "soft",
    "aromatic ester or aldehyde": "medium",
    "light ester or aldehyde": "medium",
    "resin or wax": "none",
}
"""Strength class of the unnamed parts; from memory."""

SPEAKS_OF_A_LIMIT = re.compile(
    r"\b(limit|restrict|prohibit|bans?\b|banned|barred|forbid|allowed|rules? out|standards?\b|annex|maximum"
    r"|caps? (it|them)|(held|kept) to|at most \d)",
    re.I,
)
"""Words that mention a limit or a prohibition in a caution."""
QUOTED_LIMIT = re.compile(r"\bat most (\d+(?:\.\d+)?) ?(?:%|per ?cent)", re.I)
"""The figure of a limit that a caution quotes, in per cent."""
SAYS_TIGHTER = re.compile(r"limit|prohibit", re.I)
"""Words with which the note of a replacement says that the substitute is limited or prohibited."""
ADVISES_A_DILUTION = re.compile(
    r"\d (%|per ?cent)[^.;]*\b(dilution|solution)\b|\b(dilution of|work at|try it at) \d", re.I
)
"""Words that advise a dilution, with a figure, in a caution about a strong odour."""
LIMITED_BY = {*AUTHORITIES, "any", "elsewhere"}
LIMIT_KINDS = {"prohibition", "restriction", "specification"}
LAW = {"eu", "gb"}
"""The authorities whose rows name an entry of an annex."""
ENTRY = re.compile(r"Annex (II|III)/\d+[a-z]*")
USES = {"leave-on", "rinse-off", "not a cosmetic"}
EVIDENCE = {name: columns for name, columns in COLUMNS.items() if name not in COMPUTED} | {
    "cautions": ("material", "kind", "text", "limited_by", "basis", "source", "dilution_percent"),
    "volatility": ("material", "quantity", "value", "unit", "phase", "basis", "source", "note"),
    "strength": (
        *("material", "kind", "i_max", "log10_half", "width", "threshold_ug_m3", "class"),
        *("basis", "source", "note"),
    ),
    "strip_hours": ("material", "hours_low", "hours_high", "basis", "source"),
    "relations": ("from", "relation", "to", "basis", "source", "note"),
    "positions": ("material", "position", "basis", "source"),
    "strength_pairs": ("stronger", "weaker", "times", "basis", "source", "note"),
    "annexes": ("annex", "entry", "name", "cas", "regulation", "updated"),
}
"""The tables of evidence and their columns."""


@dataclass(frozen=True)
class Rules:
    """What is on record for one material: who prohibits it, who limits it, and the lowest figures.

    `figures` are per cent of the finished product by authority and category; a limit that the material is
    counted against together with others is among them.
    """

    prohibited: frozenset[str]
    limited: frozenset[str]
    figures: dict[tuple[str, str], float]


@dataclass(frozen=True)
class Evidence:
    """All rows, table by table."""

    tables: dict[str, list[Row]]

    def __getitem__(self, table: str) -> list[Row]:
        return self.tables[table]


def load(folder: Path) -> Evidence:
    """Read and check everything; raises `BadTable` at the first wrong row."""
    evidence = Evidence({name: read(folder / f"{name}.csv", columns) for name, columns in EVIDENCE.items()})
    check(evidence)
    return evidence


def one_of(row: Row, column: str, allowed: Collection[str], what: str) -> None:
    """Raise `BadTable` unless a cell is one of the allowed words."""
    if row[column] not in allowed:
        hint = "" if len(allowed) > 12 else f"It is one of {', '.join(sorted(allowed))}"
        raise row.wrong(column, f'"{row[column]}" is not a known {what}', hint)


def unique(rows: Iterable[Row], *columns: str) -> None:
    """Raise `BadTable` if two rows have the same key."""
    seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        key = tuple(row[c] for c in columns)
        if key in seen:
            raise row.wrong(columns[-1], f'"{" / ".join(key)}" is already in line {seen[key]}')
        seen[key] = row.line


def sourced(rows: Iterable[Row], sources: Collection[str]) -> None:
    """Raise `BadTable` if a basis is unknown, or a source is missing or unknown."""
    for row in rows:
        one_of(row, "basis", BASES, "basis")
        if row["source"]:
            one_of(row, "source", sources, "source")
        elif row["basis"] not in UNSOURCED:
            raise row.wrong("source", f'a source is needed with the basis "{row["basis"]}"')


def middle_percent(row: Row) -> float:
    """Return the middle of the range of a constituent [%], 0 where only its presence is known."""
    return ((row.number("percent_low") or 0.0) + (row.number("percent_high") or 0.0)) / 2


def check(evidence: Evidence) -> None:
    """Check keys, words, numbers, CAS digits, sources and the count of labels."""
    slugs = {row["slug"] for row in evidence["materials"]}
    facets = {row["facet"] for row in evidence["facets"]}
    sources = {row["key"] for row in evidence["sources"]}
    families = {row["family"] for row in evidence["facets"]}
    for table, keys in {
        "facets": ("facet",),
        "materials": ("slug",),
        "labels": ("material", "facet"),
        "sources": ("key",),
        "umbrellas": ("word",),
        "columns": ("table", "column"),
        "allergens": ("name",),
        "categories": ("category",),
        "limits": ("name", "market", "kind", "reference", "applies_from"),
        "panel": ("facet",),
        "practice": ("material", "quality"),
        "standards": ("name",),
        "use_levels": ("material",),
        "constituents": ("natural", "constituent", "class"),
        "relations": ("from", "relation", "to"),
    }.items():
        unique(evidence[table], *keys)
    for table in (
        "labels",
        "volatility",
        "strength",
        "constituents",
        "relations",
        "limits",
        "allergens",
        "categories",
        "cautions",
        "positions",
        "strip_hours",
        "panel",
        "practice",
        "use_levels",
        "strength_pairs",
    ):
        sourced(evidence[table], sources)
    for table, column in (
        ("names", "material"),
        ("labels", "material"),
        ("volatility", "material"),
        ("strength", "material"),
        ("cautions", "material"),
        ("constituents", "natural"),
        ("relations", "from"),
        ("relations", "to"),
        ("positions", "material"),
        ("strip_hours", "material"),
        ("use_levels", "material"),
        ("practice", "material"),
    ):
        for row in evidence[table]:
            one_of(row, column, slugs, "material")
    for row in evidence["panel"]:
        one_of(row, "facet", facets | {PANEL_BASE}, "facet")
    for row in evidence["umbrellas"]:
        one_of(row, "language", {"", *LANGUAGES}, "language")
        for member in row.list("members"):
            if member not in facets | families:
                raise row.wrong("members", f'"{member}" is neither a facet nor a family')
    check_languages(evidence)
    check_materials(evidence["materials"])
    check_figures(evidence, facets, slugs)
    check_label_counts(evidence)
    check_annexes(evidence)
    check_shared_numbers(evidence)
    rules = rules_of_materials(evidence)
    check_quoted_limits(evidence, rules)
    check_replacements(evidence, rules)
    check_columns(evidence)


def check_languages(evidence: Evidence) -> None:
    """Raise `BadTable` where a word of another language is one of ours too and means something else."""
    facets = [Facet(r["facet"], r["family"], r["meaning"], r.list("synonyms")) for r in evidence["facets"]]
    rows = evidence["umbrellas"]
    covered = [Umbrella(r["word"], r.list("members"), r.list("synonyms"), r["language"]) for r in rows]
    known = vocabulary(facets, [one for one in covered if not one.language])
    meant: dict[str, tuple[str, ...]] = {}
    for row, one in zip(rows, covered, strict=True):
        if not one.language:
            continue
        for word in (one.word, *one.synonyms):
            ours = known.get(plain(word)) or meant.setdefault(plain(word), one.members)
            if set(ours) != set(one.members):
                raise row.wrong("word", f'"{word}" already means {", ".join(ours)}', "Leave it out")
            if plain(word) in NO_FACETS:
                raise row.wrong("word", f'"{word}" is a word of the grammar', "Leave it out")


def check_materials(rows: Iterable[Row]) -> None:
    """Check kinds, roles and CAS numbers; a CAS number names one material only."""
    owner: dict[str, Row] = {}
    for row in rows:
        one_of(row, "kind", KINDS, "kind")
        one_of(row, "form", FORMS, "form")
        one_of(row, "role", ROLES, "role")
        one_of(row, "availability", {"", *AVAILABILITY}, "availability")
        if row["kind"] in ("molecule", "solvent") and not row["smiles"]:
            raise row.wrong("smiles", "a molecule needs its SMILES")
        numbers = [*row.list("cas"), *row.list("cas_more")]
        if row.list("cas_more") and not row["cas"]:
            raise row.wrong("cas", "further CAS numbers without a main one")
        for cas in numbers:
            check_cas(row, "cas", cas)
            if cas in owner:
                raise row.wrong(
                    "cas", f"{cas} is already that of {owner[cas]['slug']} in line {owner[cas].line}"
                )
            owner[cas] = row


def check_cas(row: Row, column: str, cas: str) -> None:
    """Raise unless a CAS number has the right shape and check digit."""
    if not looks_like_cas(cas):
        raise row.wrong(column, f'"{cas}" does not have the shape of a CAS number')
    if cas_check_digit(cas) != int(cas[-1]):
        raise row.wrong(column, f"CAS number {cas} has a wrong check digit, {cas_check_digit(cas)} would fit")


def check_figures(evidence: Evidence, facets: Collection[str], slugs: Collection[str]) -> None:
    """Check labels, pressures, strengths, constituents, relations, limits."""
    for row in evidence["practice"]:
        one_of(row, "quality", PRACTICE, "quality of practice")
        one_of(row, "value", PRACTICE[row["quality"]], f"value of {row['quality']}")
    for row in evidence["names"]:
        one_of(row, "kind", NAME_KINDS, "kind of name")
    for row in evidence["labels"]:
        one_of(row, "facet", facets, "facet")
        one_of(row, "strength", {"1", "2", "3"}, "strength")
    for row in evidence["volatility"]:
        one_of(row, "quantity", QUANTITIES, "quantity")
        one_of(row, "unit", {QUANTITIES[row["quantity"]]}, "unit")
        value = row.number("value")
        if value is None or (row["quantity"] != "melting_point" and value <= 0):
            raise row.wrong("value", "a positive number is needed")
        if row["quantity"] == "vapour_pressure":
            one_of(row, "phase", {"liquid", "solid"}, "phase")
    for row in evidence["strength"]:
        due = {"curve": ("i_max", "log10_half", "width"), "threshold": ("threshold_ug_m3",), "class": ()}
        one_of(row, "kind", due, "kind of strength")
        for column in due[row["kind"]]:
            if row.number(column) is None:
                raise row.wrong(column, f"a {row['kind']} needs this number")
        if row["kind"] == "class":
            one_of(row, "class", CLASSES, "class")
    for row in evidence["constituents"]:
        if row["class"]:
            one_of(row, "class", CLASS_PRESSURES_PA, "class")
            if row["constituent"] in slugs:
                raise row.wrong("class", f"{row['constituent']} has a row of its own; leave the class blank")
        else:
            one_of(row, "constituent", slugs, "material")
        low, high = row.number("percent_low"), row.number("percent_high")
        if not 0 <= (low or 0.0) <= (100.0 if high is None else high) <= 100 or (low is None and high):
            raise row.wrong("percent_low", "two percentages are due, the lower one first, or a blank")
    for row in evidence["strip_hours"]:
        low, high = row.number("hours_low"), row.number("hours_high")
        if low is None or high is None or not 0 < low <= high:
            raise row.wrong("hours_low", "two times in hours are due, the lower one first")
    for row in evidence["use_levels"]:
        low, high = row.number("percent_low"), row.number("percent_high")
        if low is None or high is None or not 0 < low < high <= 100:
            raise row.wrong("percent_low", "two percentages are due, the lower one first")
    for row in evidence["relations"]:
        one_of(row, "relation", KIND_WEIGHTS, "relation")
    for row in evidence["strength_pairs"]:
        for column in ("stronger", "weaker"):
            one_of(row, column, slugs, "material")
        if (times := row.number("times")) is not None and times <= 1:
            raise row.wrong("times", "more than 1 is needed, or a blank")
    for row in evidence["cautions"]:
        one_of(row, "kind", CAUTION_KINDS, "kind of caution")
        percent = row.number("dilution_percent")
        if percent is not None and not 0 < percent < 100:
            raise row.wrong("dilution_percent", "a dilution is above 0 and below 100 %")
        if percent is None and row["kind"] == "strong odour" and ADVISES_A_DILUTION.search(row["text"]):
            remedy = "Write the strongest dilution that the text advises, in %"
            raise row.wrong("dilution_percent", "the caution advises a dilution", remedy)
    check_limits(evidence, slugs)
    check_standards(evidence)
    check_cautions(evidence)
    for row in evidence["positions"]:
        one_of(row, "position", {"top", "heart", "base"}, "position")


def numbers_of_materials(evidence: Evidence) -> dict[str, set[str]]:
    """Return the CAS numbers of each material."""
    return {row["slug"]: {*row.list("cas"), *row.list("cas_more")} for row in evidence["materials"]}


def covers(row: Row, slug: str, numbers: Collection[str]) -> bool:
    """Return whether a limit or an allergen covers a material by its key or a CAS number."""
    return slug in row.list("materials") or bool(set(numbers).intersection(row.list("cas")))


def rules_of_materials(evidence: Evidence) -> dict[str, Rules]:
    """Return the prohibitions and limits of each material by its key, without those of its constituents.

    A number of a Standard counts unless limits.csv excepts the material as another grade of it.
    """
    restricted = {
        cas for row in evidence["standards"] if "restriction" in row.list("types") for cas in row.list("cas")
    }
    found = {}
    for slug, own in numbers_of_materials(evidence).items():
        prohibited: set[str] = set()
        others = {
            cas
            for row in evidence["limits"]
            if slug in row.list("excepted") and STANDARDS in row.list("market")
            for cas in row.list("cas")
        }
        limited = {STANDARDS} if own & restricted - others else set()
        figures: dict[tuple[str, str], float] = {}
        for row in evidence["limits"]:
            counted = bool(own.intersection(row.list("counted_with")))
            if slug in row.list("excepted") or not (counted or covers(row, slug, own)):
                continue
            if row["kind"] == "prohibition":
                prohibited.update(row.list("market"))
            elif row["kind"] == "restriction":
                limited.update(row.list("market"))
                for market in row.list("market"):
                    for category in CATEGORIES:
                        if (percent := row.number(f"cat_{category}")) is not None:
                            key = market, category
                            figures[key] = min(percent, figures.get(key, percent))
        found[slug] = Rules(frozenset(prohibited), frozenset(limited), figures)
    return found


def check_quoted_limits(evidence: Evidence, rules: dict[str, Rules]) -> None:
    """Check that a caution that allows "at most X %" quotes the lowest figure of the authorities it names."""
    for row in evidence["cautions"]:
        quoted = [float(text) for text in QUOTED_LIMIT.findall(row["text"])]
        by: Collection[str] = row.list("limited_by")
        if "any" in by:
            by = AUTHORITIES
        figures = [percent for (market, _), percent in rules[row["material"]].figures.items() if market in by]
        if quoted and figures and min(quoted) > min(figures):
            problem = f"the caution allows {min(quoted):g} %, but {row['material']} has a limit of"
            raise row.wrong("text", f"{problem} {min(figures):g} %", "Quote the lowest one on record")


def check_replacements(evidence: Evidence, rules: dict[str, Rules]) -> None:
    """Check that a substitute that is prohibited or more tightly limited than what it replaces has a note so.

    A market that prohibits what is replaced is left out, and so is a category where its limit is not known.
    """
    for row in evidence["relations"]:
        if row["relation"] != "replaces" or SAYS_TIGHTER.search(row["note"]):
            continue
        new, old = rules[row["from"]], rules[row["to"]]
        for market in AUTHORITIES:
            lower = any(
                percent < old.figures.get(key, 0.0)
                for key, percent in new.figures.items()
                if key[0] == market
            )
            if market in old.prohibited:
                continue
            if market in new.prohibited:
                problem = f"{row['from']} is prohibited ({market})"
            elif lower or market in new.limited - old.limited:
                problem = f"{row['from']} is more tightly limited ({market}) than {row['to']}"
            else:
                continue
            raise row.wrong("note", problem, "Say so in the note, or choose another relation")


def check_cautions(evidence: Evidence) -> None:
    """Check that a material that a caution calls limited, or one of its constituents, has a row of limits.

    A Standard by its CAS number is such a row too. A constituent counts only if its share is on record, as
    the check of a formula needs it.
    """
    numbers = numbers_of_materials(evidence)
    inside: dict[str, set[str]] = {slug: {slug} for slug in numbers}
    for row in evidence["constituents"]:
        if row["constituent"] in numbers and (row["percent_low"] or row["percent_high"]):
            inside[row["natural"]].add(row["constituent"])
    listed = {cas for row in evidence["standards"] for cas in row.list("cas")}
    markets = {slug: {STANDARDS, "any"} if own & listed else set() for slug, own in numbers.items()}
    for row in evidence["limits"]:
        for slug, own in numbers.items():
            if covers(row, slug, own) and slug not in row.list("excepted"):
                markets[slug] |= {*row.list("market"), "any"}
    for row in evidence["cautions"]:
        if not row["limited_by"] and SPEAKS_OF_A_LIMIT.search(row["text"]):
            remedy = f"Write {', '.join(sorted(LIMITED_BY))}, separated by semicolons"
            raise row.wrong("limited_by", "the caution mentions a limit but not by whom", remedy)
        for by in row.list("limited_by"):
            if by not in LIMITED_BY:
                raise row.wrong("limited_by", f'"{by}" is not one of {", ".join(sorted(LIMITED_BY))}')
            if by != "elsewhere" and not any(by in markets[slug] for slug in inside[row["material"]]):
                problem = f"limits.csv has no row ({by}) for {row['material']} or its constituents"
                raise row.wrong("limited_by", problem, "Add one; without a figure if none is known")


def check_limits(evidence: Evidence, slugs: Collection[str]) -> None:
    """Check limits, allergens and categories: words, CAS digits, percentages, dates, known materials."""
    for row in evidence["limits"]:
        one_of(row, "kind", LIMIT_KINDS, "kind of limit")
        check_market(row)
        one_of(row, "sum_group", {"", "phototoxic"}, "group of limits")
        for category in CATEGORIES:
            percent = row.number(f"cat_{category}")
            if percent is not None and (row["kind"] != "restriction" or not 0 < percent <= 100):
                raise row.wrong(
                    f"cat_{category}", "only a restriction has a limit, above 0 and at most 100 %"
                )
        for category in row.list("unlimited"):
            if category not in CATEGORIES or row[f"cat_{category}"]:
                raise row.wrong("unlimited", f'"{category}" is not a category without a figure in this row')
        check_days(row)
        check_covered(row, slugs, ("cas", "counted_with"), needed=row["kind"] == "prohibition")
    for row in evidence["allergens"]:
        one_of(row, "added", {"original", "2023", "deleted"}, "list")
        if not row["cas"]:
            raise row.wrong("cas", f"{row['name']} has no CAS number; an allergen is found by it")
        check_covered(row, slugs, ("cas",), needed=True)
    if len(evidence["categories"]) != len(CATEGORIES):
        raise BadTable("categories.csv", f"the categories are {', '.join(CATEGORIES)}, one a line")
    for row, name in zip(evidence["categories"], CATEGORIES, strict=True):
        if row["category"] != name:
            raise row.wrong("category", f'"{row["category"]}" is in the place of {name}')
        one_of(row, "use", USES, "use")


def check_market(row: Row) -> None:
    """Check whose a limit is, and that one of the law names its entry, condition and mapping.

    British law numbers what was added since 2021 otherwise, so a British row from memory may lack its entry.
    """
    markets = row.list("market")
    wrong = [name for name in markets if name not in AUTHORITIES]
    if wrong or not markets or len(set(markets)) < len(markets):
        named = f'"{wrong[0]}" is not a known market' if wrong else "each market is named once"
        raise row.wrong(
            "market", named, f"It is one or more of {', '.join(AUTHORITIES)}, separated by semicolons"
        )
    if not LAW.intersection(markets):
        return
    if not LAW.issuperset(markets):
        raise row.wrong(
            "market", "an entry of the law is no Standard", "Give the Standards a row of their own"
        )
    unread = row["basis"] == "memory" and markets == ("gb",) and not row["reference"]
    if not unread and not ENTRY.fullmatch(row["reference"]):
        problem = f'"{row["reference"]}" is not an entry such as Annex III/102'
        raise row.wrong("reference", problem, "Name one entry a row")
    if row["kind"] == "specification" and not row["condition"]:
        raise row.wrong("condition", "a specification says what a certificate has to show")
    if any(row[f"cat_{category}"] for category in CATEGORIES) and not row["mapping"]:
        raise row.wrong(
            "mapping", "a figure needs the reason why its product types stand in these categories"
        )


def check_days(row: Row) -> None:
    """Check from when until when a limit applies."""
    days = {}
    for column in ("applies_from", "applies_until"):
        try:
            days[column] = datetime.date.fromisoformat(row[column]) if row[column] else None
        except ValueError:
            days[column] = None
        if row[column] and (days[column] is None or len(row[column]) != 10):
            raise row.wrong(column, f'"{row[column]}" is not a day such as 2027-01-01')
    first, last = days["applies_from"], days["applies_until"]
    if first and last and first >= last:
        raise row.wrong("applies_until", f"it ends on {last}, but applies from {first}")


def check_annexes(evidence: Evidence) -> None:
    """Check the entries of the annexes, and that each that matches a CAS number of ours has its row.

    A row of `limits.csv` with its reference answers an entry, or one of `allergens.csv` where the entry asks
    for the label; either covers the material or names it as excepted.
    """
    known: dict[str, list[Row]] = {}
    for row in evidence["annexes"]:
        reference = f"Annex {row['annex']}/{row['entry']}"
        if not ENTRY.fullmatch(reference):
            raise row.wrong("entry", f'"{reference}" is not an entry such as Annex III/102')
        for cas in row.list("cas"):
            check_cas(row, "cas", cas)
        if row["updated"] and not re.fullmatch(r"\d{4}-\d{2}-\d{2}", row["updated"]):
            raise row.wrong("updated", f'"{row["updated"]}" is not a day such as 2027-01-01')
        known.setdefault(reference, []).append(row)
    answers: dict[str, list[Row]] = {}
    for row in evidence["limits"]:
        if "eu" in row.list("market"):
            if row["reference"] not in known:
                raise row.wrong("reference", f"annexes.csv has no {row['reference']}")
            answers.setdefault(row["reference"], []).append(row)
    for row in evidence["allergens"]:
        if row["added"] != "deleted":
            answers.setdefault(f"Annex III/{row['entry']}", []).append(row)
    numbers = numbers_of_materials(evidence)
    rows = {row["slug"]: row for row in evidence["materials"]}
    owners = {cas: slug for slug, own in numbers.items() for cas in own}
    for reference, entries in known.items():
        for slug in {owners[cas] for entry in entries for cas in entry.list("cas") if cas in owners}:
            answered = answers.get(reference, [])
            if not any(covers(row, slug, numbers[slug]) or slug in row.list("excepted") for row in answered):
                problem = f"{slug} has a CAS number of {reference} ({entries[0]['name']}), which has no row"
                remedy = "Add one to limits.csv (a label: to allergens.csv), or name the material as excepted"
                raise rows[slug].wrong("cas", problem, remedy)


def check_shared_numbers(evidence: Evidence) -> None:
    """Check that no prohibition hits an allowed grade through a CAS number shared with a prohibited one.

    A palette material that a prohibition covers by CAS number is such a grade if the same row names another
    material by key, or if the same authority limits or labels something under that number. It has to be named
    as excepted, or to be known for its smell only.
    """
    numbers = numbers_of_materials(evidence)
    palette = [row["slug"] for row in evidence["materials"] if row["role"] == "palette"]
    allows = [(row, set(row.list("market"))) for row in evidence["limits"] if row["kind"] == "restriction"]
    allows += [(row, {"eu"}) for row in evidence["allergens"] if row["added"] != "deleted"]
    for row in evidence["limits"]:
        if row["kind"] != "prohibition":
            continue
        for slug in palette:
            shared = numbers[slug].intersection(row.list("cas"))
            if not shared or slug in row.list("excepted"):
                continue
            allowed = any(
                covers(other, slug, shared) and slug not in other.list("excepted")
                for other, markets in allows
                if markets.intersection(row.list("market"))
            )
            if allowed or set(row.list("materials")) - {slug}:
                problem = f"{slug} may be used and shares {min(shared)} with what is prohibited"
                raise row.wrong("excepted", problem, "Name it here, or give it the role reference")


def check_covered(row: Row, slugs: Collection[str], columns: Iterable[str], *, needed: bool) -> None:
    """Check the coverage of a row: CAS digits, keys of materials, the format of its date."""
    for column in columns:
        for cas in row.list(column):
            check_cas(row, column, cas)
    if needed and not (row["cas"] or row["materials"]):
        raise row.wrong("cas", "a CAS number or a material is needed")
    for column in ("materials", "excepted"):
        for slug in row.list(column):
            if slug not in slugs:
                raise row.wrong(column, f'"{slug}" is not a known material')
    if row["date"] and not re.fullmatch(r"\d{4}(-\d{2}){0,2}", row["date"]):
        raise row.wrong("date", f'"{row["date"]}" is not a date such as 2023, 2023-06 or 2023-06-30')


def check_standards(evidence: Evidence) -> None:
    """Check the list of Standards, and that its prohibitions have a row of limits.

    What a Standard only prohibits needs a prohibition of each of our materials with its CAS number, or one
    that excepts it. A Standard that prohibits in part needs a row that tells what is prohibited.
    """
    sources = {row["key"] for row in evidence["sources"]}
    rules = [row for row in evidence["limits"] if STANDARDS in row.list("market")]
    settled = {
        key
        for row in rules
        if row["kind"] == "prohibition"
        for key in (*row.list("materials"), *row.list("excepted"), *row.list("cas"))
    }
    covered = {cas for row in rules for cas in row.list("cas")}
    by_cas: dict[str, Row] = {}
    for row in rules:
        if not re.match(r"\d+( \(|$)", row["reference"]):
            problem = f'"{row["reference"]}" does not begin with an amendment'
            raise row.wrong("reference", problem, "Write it first, as in 49 (2020)")
        if row["kind"] == "specification" and not row["condition"]:
            raise row.wrong("condition", "a specification says what a certificate has to show")
    for row in evidence["standards"]:
        one_of(row, "source", sources, "source")
        check_standard(row)
        for cas in row.list("cas"):
            check_cas(row, "cas", cas)
            if cas in by_cas:
                raise row.wrong("cas", f"{cas} is already that of {by_cas[cas]['name']}")
            by_cas[cas] = row
        types = row.list("types")
        if "prohibition" in types and len(types) > 1 and not covered & {*row.list("cas")}:
            problem = f"limits.csv has no row ({STANDARDS}) for {row['name']}"
            raise row.wrong("types", problem, "Add one that tells what is prohibited and what is limited")
    for material in evidence["materials"]:
        for cas in (*material.list("cas"), *material.list("cas_more")):
            standard = by_cas.get(cas)
            if not standard or standard.list("types") != ("prohibition",):
                continue
            if not settled & {cas, material["slug"]}:
                problem = f"{material['slug']} ({cas}) has no prohibition in limits.csv"
                remedy = "Add one, or except the material in that of another grade"
                raise standard.wrong("cas", problem, remedy)


def check_standard(row: Row) -> None:
    """Check the types, the amendment and the date of a Standard."""
    types = row.list("types")
    if not types or len({*types}) < len(types):
        raise row.wrong("types", f'"{row["types"]}" does not say what kind of Standard it is')
    for kind in types:
        if kind not in LIMIT_KINDS:
            raise row.wrong("types", f'"{kind}" is not one of {", ".join(sorted(LIMIT_KINDS))}')
    if not row["amendment"].isdigit():
        raise row.wrong("amendment", f'"{row["amendment"]}" is not the number of an amendment')
    if row["published"] and not re.fullmatch(r"\d{4}-\d{2}(-\d{2})?", row["published"]):
        raise row.wrong("published", f'"{row["published"]}" is not a date such as 2023-06 or 2023-06-30')


def check_label_counts(evidence: Evidence) -> None:
    """Raise `BadTable` if a palette material has fewer than four labels or no leading one."""
    labels: dict[str, list[str]] = {}
    for row in evidence["labels"]:
        labels.setdefault(row["material"], []).append(row["strength"])
    silent = {r["material"] for r in evidence["strength"] if r["class"] == "none"}
    for row in evidence["materials"]:
        found = labels.get(row["slug"], [])
        if row["slug"] in silent or row["kind"] == "solvent" or row["role"] == "reference":
            continue
        if len(found) < 4 or "3" not in found:
            raise row.wrong(
                "slug",
                f"{row['slug']} has {len(found)} labels; at least 4 are needed, with a leading one (3)",
            )


def check_columns(evidence: Evidence) -> None:
    """Raise `BadTable` unless every column of every table is explained."""
    explained = {(row["table"], row["column"]) for row in evidence["columns"]}
    for table, columns in EVIDENCE.items():
        for column in columns:
            if (table, column) not in explained:
                raise BadTable("columns.csv", f"the column {column} of {table}.csv is not explained")


def counted(evidence: Evidence) -> dict[str, dict[str, int]]:
    """Return rows by table and basis."""
    counts: dict[str, dict[str, int]] = {}
    for table, rows in evidence.tables.items():
        if rows and "basis" in rows[0].cells:
            for row in rows:
                counts.setdefault(table, {}).setdefault(row["basis"], 0)
                counts[table][row["basis"]] += 1
    return counts


def standards_matched(evidence: Evidence) -> dict[str, int]:
    """Return how many materials have a CAS number that a Standard names, by the types of the Standard."""
    types = {cas: row["types"] for row in evidence["standards"] for cas in row.list("cas")}
    counts: dict[str, int] = {}
    for row in evidence["materials"]:
        for found in {types[cas] for cas in (*row.list("cas"), *row.list("cas_more")) if cas in types}:
            counts[found] = counts.get(found, 0) + 1
    return counts
