"""Phrases read as facets: which are wanted and which are refused ("almond, not cherry", "less sweet")."""

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from recommender.errors import BadValue, UnknownFacet
from recommender.evidence.catalogue import plain
from recommender.model import Facet, Umbrella

Words = str | Sequence[str]
"""A phrase, or several that add up."""

REFUSALS = (
    *("less", "fewer", "without", "no", "not", "never", "neither", "nor", "minus", "none of"),
    *("except", "except for", "excluding", "avoid", "avoiding", "away from", "free of", "free from"),
    *("instead of", "rather than", "other than", "anything but"),
    *("ohne", "nicht", "kein", "keine", "keinen", "weniger", "sans", "pas", "pas de", "moins", "moins de"),
)
"""Words that refuse the facets after them, up to a comma or a word of `TURNS`."""
TURNS = (
    *("but", "more", "with", "plus", "rather", "instead", "yet"),
    *("aber", "sondern", "mehr", "mit", "mais", "avec"),
)
"""Words after which facets are wanted again: "not sweet but woody", "less sweet more woody"."""
COMPARATIVES: Mapping[str, str] = {
    "drier": "less sweet",
    "dryer": "less sweet",
    "softer": "powdery, cream, less pungent, less sour",
    "darker": "smoke, leather, earth, less fresh, less citrus",
}
"""Comparatives that name no facet, and what a perfumer means by them (common practice).

Any other is that of a facet: "sweeter" is more sweet, "smokier" more smoky.
"""
ENDS = (",", ";")
FILLERS = frozenset(
    (
        *("a", "an", "the", "of", "and", "or", "note", "notes", "like", "side", "type", "smell"),
        *("any", "so", "very", "much", "bit", "hint", "touch"),
        *("der", "die", "das", "ein", "eine", "und", "oder", "von", "wie"),
        *("le", "la", "les", "un", "une", "de", "du", "des", "et", "ou"),
    )
)
NO_FACETS = frozenset((*REFUSALS, *TURNS, *FILLERS, "free", "than"))
"""Words of the grammar, which never stand for a facet."""
COMMON = frozenset(
    (
        *("accord", "after", "air", "as", "bag", "bar", "between", "bitter", "black", "bloom", "browned"),
        *("bud", "chewing", "chip", "clothes", "cold", "cooked", "cool", "crushed", "cube", "cured", "cut"),
        *("damp", "dark", "dried", "drink", "dry", "edge", "electric", "face", "fat", "finished", "flesh"),
        *("floor", "freshly", "general", "golden", "ground", "heavy", "hot", "in", "its", "kind", "lifting"),
        *("material", "may", "melted", "modern", "molecules", "mood", "nail", "name", "needle", "none"),
        *("nose", "oil", "on", "paste", "particular", "passion", "polish", "raw", "ripe", "round", "rub"),
        *("seed", "shoe", "skin", "slightly", "soft", "sparkling", "spun", "stick", "sticky", "strong"),
        *("struck", "such", "sun", "sweetness", "tart", "tinned", "tree", "warm", "white", "wild", "without"),
        *("worn", "bell", "savoury", "valley", "pipe", "threads"),
    )
)
"""Words of meanings that say too little by themselves: "dry" and "crushed" are no guess at a facet."""
MOST_BY_MEANING = 2
"""A word in the meanings of more facets says too little too."""
MOST_WORDS = 5
"""The most words that name a facet."""
NEAR, NEARER = 67.0, 78.0
"""How alike a known word is to one that may be a slip of it [%]; the second where it begins otherwise."""
SHORTEST_COMPARATIVE = 5
SHORTEST_MEANT = 3
"""Letters of the shortest word that is looked up in meanings."""


@dataclass(frozen=True, slots=True)
class Term:
    """Words of a phrase with the facets that they stand for, wanted or refused.

    `by_meaning` says that the word is none of the vocabulary and stands in the meaning of these facets.
    """

    words: str
    members: tuple[str, ...]
    refused: bool = False
    by_meaning: bool = False


@dataclass(frozen=True)
class Phrase:
    """A request in words: wanted facets with their share, refused facets, and the words left out."""

    text: str
    terms: tuple[Term, ...]
    ignored: tuple[str, ...]
    facets: Mapping[str, float]
    refused: tuple[str, ...]

    @classmethod
    def of(cls, text: str, terms: Sequence[Term], ignored: Sequence[str] = ()) -> "Phrase":
        """Settle what is wanted and what is refused.

        Where a word for several facets and a word for one of them disagree, the narrower one counts:
        "almond, not marzipan".

        Raises
        ------
        BadValue
            A facet is wanted and refused at once, or nothing is left of what is wanted.
        """
        wanted, refused = _narrowest(terms, False), _narrowest(terms, True)
        both = [facet for facet in wanted if wanted[facet] == refused.get(facet)]
        facets = {f: 1.0 for f, size in wanted.items() if f not in refused or size < refused[f]}
        if both or (wanted and not facets):
            smells = ", ".join(both or wanted)
            raise BadValue("smell", text, f"{smells} would be wanted and refused at once; leave one out")
        return cls(text, tuple(terms), tuple(ignored), facets, tuple(f for f in refused if f not in facets))

    def avoiding(self, others: Iterable["Phrase"]) -> "Phrase":
        """Return the phrase with what others name refused as well; raises `BadValue` as `of` does."""
        more = list(others)
        terms = [*self.terms, *(replace(term, refused=True) for other in more for term in other.terms)]
        text = "; without ".join(filter(None, (self.text, ", ".join(other.text for other in more))))
        return Phrase.of(text, terms, self.ignored)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person should know of how the words were taken."""
        notes = [
            f'"{term.words}" is taken as {", ".join(term.members)}'
            f"{', in whose meaning it stands' if term.by_meaning else ''}."
            for term in self.terms
            if term.members != (term.words,) and term.words not in COMPARATIVES
        ]
        if self.refused or {*REFUSALS, *COMPARATIVES} & set(plain(self.text).split()):
            wanted, refused = ", ".join(self.facets), ", ".join(self.refused)
            read_as = [wanted] if wanted else []
            read_as += [f"a refusal of {refused}"] if refused else []
            notes.append(f'"{self.text}" is read as {", and as ".join(read_as)}.')
        if self.ignored:
            notes.append(f"Not understood and left out: {', '.join(self.ignored)}.")
        return tuple(notes)


def exactly(phrase: Phrase) -> Phrase:
    """Return a phrase whose words are all of the vocabulary: what is stored is no guess from a meaning.

    Raises
    ------
    UnknownFacet
        A word only stands in the meaning of a facet; carries those facets.
    """
    for term in phrase.terms:
        if term.by_meaning:
            raise UnknownFacet(term.words, term.members)
    return phrase


NOTHING = Phrase("", (), (), {}, ())
"""The phrase of somebody who named no smell."""


def _narrowest(terms: Iterable[Term], refused: bool) -> dict[str, int]:
    """Return each facet with the size of the narrowest term that wants (or refuses) it."""
    sizes: dict[str, int] = {}
    for term in terms:
        if term.refused == refused:
            for facet in term.members:
                sizes[facet] = min(len(term.members), sizes.get(facet, len(term.members)))
    return sizes


def texts(words: Words | None) -> list[str]:
    """Return the phrases that were given, blank ones left out.

    >>> texts("rose"), texts(["rose", " ", "no hay"]), texts(None)
    (['rose'], ['rose', 'no hay'], [])
    """
    given = [words] if isinstance(words, str) else words or []
    return [text.strip() for text in given if text.strip()]


def vocabulary(facets: Sequence[Facet], umbrellas: Sequence[Umbrella]) -> dict[str, tuple[str, ...]]:
    """Return every word and synonym with the facets it stands for."""
    words: dict[str, tuple[str, ...]] = {}
    names = {facet.name for facet in facets}
    families: defaultdict[str, list[str]] = defaultdict(list)
    for facet in facets:
        families[facet.family].append(facet.name)
    for facet in facets:
        for synonym in facet.synonyms:
            words.setdefault(plain(synonym), (facet.name,))
    for family, members in families.items():
        words.setdefault(plain(family), tuple(members))
    words.update({plain(facet.name): (facet.name,) for facet in facets})
    for umbrella in sorted(umbrellas, key=lambda one: bool(one.language)):
        covered = tuple(
            member for name in umbrella.members for member in ([name] if name in names else families[name])
        )
        for word in (umbrella.word, *umbrella.synonyms):
            if not umbrella.language:
                words[plain(word)] = covered
            words.setdefault(plain(word), covered)
    return words


def by_meaning(word: str, facets: Sequence[Facet]) -> tuple[str, ...]:
    """Return the facets in whose meaning a word stands, none where it says too little; plurals count.

    >>> by_meaning("ovens", [Facet("roasted almond", "nuts", "almonds browned in the oven, dry and warm")])
    ('roasted almond',)
    >>> by_meaning("dry", [Facet("roasted almond", "nuts", "almonds browned in the oven, dry and warm")])
    ()
    """
    forms = {word, *(word.removesuffix(end) for end in ("s", "es") if word.endswith(end))}
    if len(word) < SHORTEST_MEANT or forms & (COMMON | NO_FACETS):
        return ()
    found = tuple(facet.name for facet in facets if forms & set(_tokens(facet.meaning)))
    return found if len(found) <= MOST_BY_MEANING else ()


def _tokens(text: str) -> list[str]:
    spelled = plain(text).replace("œ", "oe").replace("’", "'")
    return re.findall(r"[a-z0-9']+(?:-[a-z0-9']+)*|,|/|;", spelled)


def parse(text: str, facets: Sequence[Facet], umbrellas: Sequence[Umbrella]) -> Phrase:
    """Turn words into facets: the longest known words first, plurals, adjectives, comparatives allowed.

    Raises
    ------
    UnknownFacet
        No word of the text is known; carries the nearest words.
    BadValue
        A facet is wanted and refused at once.
    """
    known = vocabulary(facets, umbrellas)
    terms, ignored = _read(text, known, facets)
    if not terms:
        meant = " ".join(word for word in plain(text).split() if word not in REFUSALS)
        raise UnknownFacet(text, _near(meant, known))
    return Phrase.of(" ".join(text.split()), terms, ignored)


def _read(
    text: str, known: Mapping[str, tuple[str, ...]], facets: Sequence[Facet] = ()
) -> tuple[list[Term], list[str]]:
    """Return the terms of a text, and the words that were not understood.

    A word that is not `known` is looked up in the meanings of `facets`.

    `refusing` says whether a refusal is open, `bare` whether no facet has come since it was opened: a turn
    right after it is part of it ("no more sweet"), another refusal undoes it ("not without hay").
    """
    tokens = _tokens(text)
    terms: list[Term] = []
    ignored: list[str] = []
    place, ended, refusing, bare = 0, -1, False, False
    while place < len(tokens):
        token = tokens[place]
        if token in ENDS:
            refusing, place = False, place + 1
        elif token.endswith("-free"):
            tokens[place : place + 1] = ["free", "of", token.removesuffix("-free"), ","]
        elif length := _refusal(tokens, place):
            refusing, bare, place = not (refusing and bare), True, place + length
        elif token == "free" and place == ended:
            terms[-1], place = replace(terms[-1], refused=True), place + 1
        elif token in TURNS:
            refusing, place = refusing and bare, place + 1
        elif token == "than":
            end = next((i for i in range(place, len(tokens)) if tokens[i] in (*ENDS, *TURNS)), len(tokens))
            ignored.append(" ".join(tokens[place:end]))
            place = end
        elif (hit := _longest(tokens, place, known)) is not None:
            words, members = hit
            terms.append(Term(words, members, refusing))
            bare, place = False, place + len(words.split(" "))
            ended = place
        elif compared := _comparative(token, known):
            refusing = refusing and bare
            terms += [replace(term, refused=term.refused != refusing) for term in compared]
            bare, place = False, place + 1
        elif "-" in token:
            tokens[place : place + 1] = token.split("-")
        elif meant := by_meaning(token, facets):
            terms.append(Term(token, meant, refusing, by_meaning=True))
            bare, place, ended = False, place + 1, place + 1
        else:
            if token not in FILLERS and token != "/":
                ignored.append(f"not {token}" if refusing else token)
            place += 1
    return terms, ignored


def _refusal(tokens: Sequence[str], place: int) -> int:
    """Return how many words at a place refuse what comes after them, 0 where none does."""
    for length in (2, 1):
        if " ".join(tokens[place : place + length]) in REFUSALS:
            return min(length, len(tokens) - place)
    return int(tokens[place].endswith("n't"))


def _longest(
    tokens: Sequence[str], place: int, known: Mapping[str, tuple[str, ...]]
) -> tuple[str, tuple[str, ...]] | None:
    for length in range(min(MOST_WORDS, len(tokens) - place), 0, -1):
        words = " ".join(tokens[place : place + length])
        if (members := _lookup(words, known)) is not None:
            return words, members
    return None


def _lookup(words: str, known: Mapping[str, tuple[str, ...]]) -> tuple[str, ...] | None:
    spaced = words.replace("-", " ")
    endings = (("ies", "y"), ("ves", "f"), ("s", ""), ("es", ""))
    singulars = [words.removesuffix(end) + other for end, other in endings if words.endswith(end)]
    for form in dict.fromkeys((words, spaced, words + "s", *singulars)):
        if form in known:
            return known[form]
    if words.endswith("y"):
        for form in (words[:-1], words[:-1] + "e"):
            if form in known:
                return known[form]
    return None


def _comparative(token: str, known: Mapping[str, tuple[str, ...]]) -> list[Term]:
    """Return what a comparative means, as if it stood alone; nothing where it is none."""
    if meaning := COMPARATIVES.get(token):
        return [replace(term, words=token) for term in _read(meaning, known)[0]]
    if not token.endswith("er") or len(token) < SHORTEST_COMPARATIVE:
        return []
    stem = token.removesuffix("er")
    if stem.endswith("i"):
        forms = [stem.removesuffix("i") + "y"]
    else:
        forms = [stem, stem + "e", *([stem[:-1]] if stem[-1] == stem[-2] else [])]
    members = next((hit for form in forms if (hit := _lookup(form, known)) is not None), None)
    return [] if members is None else [Term(token, members)]


def _near(key: str, known: Mapping[str, tuple[str, ...]]) -> list[str]:
    from rapidfuzz import fuzz, process

    alike = process.extract(key, known.keys(), scorer=fuzz.ratio, limit=None, score_cutoff=NEAR)
    return [word for word, score, _ in alike if score >= NEARER or word[:1] == key[:1]][:3]
