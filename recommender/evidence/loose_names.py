"""Names as labels and formulas write them: other word orders, other spellings, CAS numbers without hyphens.

It is asked only where the exact name and the CAS number are unknown.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from recommender.evidence.names import cas_check_digit, looks_like_cas, name_key, plain
from recommender.model import Allergen, Material

_in = re.compile(r"\w+").findall

NOISE = frozenset(
    _in(
        "oil oils oel of eo ess essential huil essentiell essenc de du des la von so called type quality grad"
    )
)
"""Words that tell no two materials apart, compared without a final e from five letters on."""
QUALITY = frozenset(
    _in("pure natural organic bio extra prim fcc usp nf bp fg crystal crystals cryst powder liquid")
)
"""Words of quality, which may be left out where no material has them in its name."""
FORMS = frozenset(_in("absolut resinoid butter extract tinctur concret balsam co2"))
"""What else than an oil is made of a plant."""
PARTS = frozenset(_in("root leaf seed flower wood bark bud fruit peel needl berry resin moss gum"))
"""Parts of plants."""
_SAME = {
    "abs": "absolut",
    "absolu": "absolut",
    "extrait": "extract",
    "extrakt": "extract",
    "tinktur": "tinctur",
    "teintur": "tinctur",
    "beurr": "butter",
    "para": "p",
    "ortho": "o",
    "meta": "m",
    "leav": "leaf",
    "leaves": "leaf",
    "flowers": "flower",
    "buds": "bud",
    "berries": "berry",
    "seeds": "seed",
    "beans": "bean",
    "ceton": "keton",
    "italian": "italy",
    "bulgarian": "bulgaria",
    "turkish": "turkey",
    "egyptian": "egypt",
    "haitian": "haiti",
    "moroccan": "morocco",
    "tunisian": "tunisia",
    "brazilian": "brazil",
    "indian": "india",
    "chines": "china",
    "french": "franc",
    "spanish": "spain",
    "sicilian": "sicily",
    "mexican": "mexico",
    "russian": "russia",
    "indonesian": "indonesia",
    "somalian": "somalia",
    "somali": "somalia",
    "iranian": "iran",
    "madagascan": "madagascar",
    "virginian": "virginia",
    "texan": "texas",
    "siberian": "siberia",
    "dalmatian": "dalmatia",
}
_WITHIN = (
    ("alkohol", "alcohol"),
    ("alcool", "alcohol"),
    ("oxyd", "oxid"),
    ("jonon", "ionon"),
    ("vetyver", "vetiver"),
)
_GREEK = {"a": "alpha-", "b": "beta-", "g": "gamma-", "d": "delta-"}
_LETTER = re.compile(r"(?<![a-z0-9'])([abg])-(?=[a-z]{2})")
_DELTA = re.compile(r"(?<![a-z0-9'])d-(?=[a-z]{2})")
_ELISION = re.compile(r"\b[dl][' ](?=[aeiouh])")
_CARBONS = re.compile(r"\bc[\s-]*(?=\d{1,2}\b)")
_CHAINS = "meth|eth|prop|but|pent|hex|hept|oct|non|undec|dodec|tridec|dec"
_LOCANT = re.compile(rf"(\d+(?:,\d+)*)-((?:{_CHAINS}))(en|adien|yn)(?=-\d)")
_WORD = re.compile(r"[a-z0-9]+(?:(?<=\d),(?=\d)[a-z0-9]+)*")
_COMMON_NAME = re.compile(r"([a-z]+ [a-z]+(?: [a-z]+)?) \([a-z ]+\) ([a-z ]*(?:oil|extract))")
_RING = re.compile(r"(?<![a-z0-9'])([omp])-(?=[a-z]{2})")
_PLACES = {"o": "2-", "m": "3-", "p": "4-"}
_EITHER = re.compile(r"\boil\s*/\s*extract\b")
_OIL = re.compile(r"\b(?:oil|eo|huile)\b|oel\b")
_CALLED_CAS = re.compile(r"cas(?:\s*(?:no|nr|number|rn|#)\.?)?[\s:.#]*(\d{2,7}-?\d{2}-?\d)")
_DIGITS = re.compile(r"\d{5,10}")
_DATE = re.compile(
    r"(?:(?P<year>\d{4})-(?P<month>\d\d?)-(?P<day>\d\d?)|(?P<one>\d\d?)[./](?P<two>\d\d?)[./](?P<last>\d{4}))"
    r"(?:[t ]00:00(?::00)?(?:\.0+)?)?"
)


def written_cas(text: str) -> str:
    """Return the CAS number that a text names with the word CAS or without hyphens, blank where it is none.

    >>> written_cas("CAS No. 91-64-5"), written_cas("91645"), written_cas("91646")
    ('91-64-5', '91-64-5', '')
    """
    key = plain(text)
    found = _CALLED_CAS.fullmatch(key)
    digits = (found[1] if found else key).replace("-", "")
    if not _DIGITS.fullmatch(digits) or (not found and digits != key):
        return ""
    cas = f"{digits[:-3]}-{digits[-3:-1]}-{digits[-1]}"
    return cas if found or cas_check_digit(cas) == int(digits[-1]) else ""


def dated_cas(text: str) -> tuple[str, ...]:
    """Return the CAS numbers that a spreadsheet may have turned into this date.

    >>> dated_cas("8007-02-01"), dated_cas("01/02/8007"), dated_cas("2026-11-29")
    (('8007-02-1',), ('8007-02-1',), ())
    """
    key = plain(text)
    if looks_like_cas(key) or (date := _DATE.fullmatch(key)) is None:
        return ()
    ends = [(date["month"], date["day"]), (date["one"], date["two"]), (date["two"], date["one"])]
    year = date["year"] or date["last"]
    found = dict.fromkeys(f"{year}-{int(m):02}-{int(d)}" for m, d in ends if m and d and int(d) < 10)
    return tuple(cas for cas in found if cas_check_digit(cas) == int(cas[-1]))


def words_of(text: str) -> list[str]:
    """Return the words that tell a name from others, each as it is compared.

    >>> words_of("Oil of Bergamot"), words_of("acétate de linalyle"), words_of("α-Ionon")
    (['bergamot'], ['acetat', 'linalyl'], ['alpha', 'ionon'])
    """
    key = name_key(text).replace("(-)", " minus ").replace("(+)", " plus ")
    key = _LETTER.sub(lambda letter: _GREEK[letter[1]], _ELISION.sub("", key))
    key = _LOCANT.sub(r"\2-\1-\3", _CARBONS.sub("c", key))
    words = [word for word in map(_as_compared, _WORD.findall(key)) if word and word not in NOISE]
    return [word for place, word in enumerate(words) if not place or word != words[place - 1]]


def names_natural(text: str) -> bool:
    """Return whether a name says that it is an oil, or what else is made of a plant."""
    return bool(_OIL.search(name_key(text)) or FORMS & set(words_of(text)))


def says_oil(text: str) -> bool:
    """Return whether a name says that it is an oil, and no other form of the plant."""
    key = name_key(text)
    return bool(_OIL.search(key)) and not _EITHER.search(key) and not FORMS & set(words_of(text))


def _as_compared(word: str) -> str:
    if len(word) > 4:
        word = word.removesuffix("e").removesuffix("iqu") + ("ic" if word.endswith("ique") else "")
        for other, same in _WITHIN:
            word = word.replace(other, same)
    return _SAME.get(word, word)


def _in_any_order(words: Iterable[str]) -> str:
    return " ".join(sorted(words))


@dataclass(frozen=True, eq=False)
class LooseNames:
    """The names of materials by their words in any order and by their letters alone."""

    materials: tuple[Material, ...]
    allergens: tuple[Allergen, ...] = ()

    def find(self, text: str) -> tuple[int, ...]:
        """Return the rows of the materials that a text may mean: none, one, or several candidates."""
        if label := self._labels.get(plain(text)):
            return label
        if (either := _EITHER.search(key := plain(text))) is not None:
            forms = (key.replace(either[0], form) for form in ("oil", "extract", "absolute", "resinoid"))
            return tuple(dict.fromkeys(row for form in forms for row in self._named(form)))
        return self._named(text)

    def wider(self, text: str) -> tuple[int, ...]:
        """Return the rows of the materials one of whose names has all words of a text, and others."""
        words = set(words_of(text)) - QUALITY
        if not words:
            return ()
        return tuple(dict.fromkeys(row for row, known in self._entries if words <= set(known)))

    def narrower(self, text: str) -> tuple[int, ...]:
        """Return the rows of the materials that have a name of fewer words, all of them in a text."""
        words = set(words_of(text))
        found = [(len(known), row) for row, known in self._entries if known and words > set(known)]
        return tuple(dict.fromkeys(row for _, row in sorted(found, key=lambda one: -one[0])))

    def _named(self, text: str) -> tuple[int, ...]:
        for words in self._readings(text):
            found = {
                **dict.fromkeys(self._by_words.get(_in_any_order(words), ())),
                **dict.fromkeys(self._by_letters.get("".join(words), ())),
            }
            if found:
                return tuple(found)
        return ()

    @staticmethod
    def _readings(text: str) -> Iterator[list[str]]:
        """Yield the words of a text, as exactly as it says them first."""
        key = name_key(text)
        other = (
            _DELTA.sub(_GREEK["d"], key),
            _RING.sub(lambda letter: _PLACES[letter[1]], key),
            _COMMON_NAME.sub(r"\1 \2", key),
        )
        for reading in dict.fromkeys((key, *other)):
            if not (words := words_of(reading)):
                continue
            yield words
            fewer = [word for word in words if word not in QUALITY]
            if fewer and fewer != words:
                yield fewer
            if not names_natural(text):
                yield from ([*fewer, form] for form in ("absolut", "resinoid") if fewer)

    @cached_property
    def _entries(self) -> list[tuple[int, list[str]]]:
        found = []
        for row, material in enumerate(self.materials):
            for name, kind in ((material.name, ""), *((n.text, n.kind) for n in material.names)):
                found.append((row, words_of(name)))
                if kind == "German" and (words := [word.removesuffix("oel") for word in found[-1][1]]):
                    found.append((row, [word for word in words if word]))
        return found

    @cached_property
    def _by_words(self) -> Mapping[str, tuple[int, ...]]:
        return _rows((_in_any_order(words), row) for row, words in self._entries)

    @cached_property
    def _by_letters(self) -> Mapping[str, tuple[int, ...]]:
        return _rows(("".join(words), row) for row, words in self._entries)

    @cached_property
    def _labels(self) -> Mapping[str, tuple[int, ...]]:
        """Naturals by the name under which the label has them."""
        found: list[tuple[str, int]] = []
        for allergen in self.allergens:
            keys = {*allergen.cas, *allergen.materials}
            found += [
                (plain(allergen.name), row)
                for row, material in enumerate(self.materials)
                if material.kind == "natural"
                and not keys.isdisjoint((material.slug, *material.cas_all))
                and material.slug not in allergen.excepted
            ]
        return _rows(found)


def _rows(pairs: Iterable[tuple[str, int]]) -> dict[str, tuple[int, ...]]:
    found: dict[str, dict[int, None]] = {}
    for key, row in pairs:
        if key:
            found.setdefault(key, {})[row] = None
    return {key: tuple(rows) for key, rows in found.items()}
