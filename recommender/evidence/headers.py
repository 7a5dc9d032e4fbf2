"""Header words of a person's tables, in English, German and French: the one table of what a column is."""

import re
import unicodedata
from collections.abc import Mapping, Sequence

WORDS: Mapping[str, tuple[str, ...]] = {
    "cas": ("cas", "cas no", "cas number", "cas nr", "cas #", "casrn"),
    "dilution": (
        *("dilution", "dilution %", "dilution percent", "%", "percent", "concentration", "conc", "conc."),
        *("strength", "diluted to", "verdunnung", "verdunnung %", "konzentration", "dilue a"),
    ),
    "solvent": (
        *("solvent", "diluent", "carrier", "diluted in", "in", "losungsmittel", "losemittel", "verdunnt in"),
        *("solvant", "diluant", "dilue dans"),
    ),
    "amount": (
        *("amount", "quantity", "qty", "stock", "left", "in stock", "grams", "g", "amount g", "weight"),
        *("size", "menge", "bestand", "quantite"),
    ),
    "price": (
        *("price", "cost", "price per g", "price per gram", "cost per gram", "price/g", "cost/g", "preis"),
        "prix",
    ),
    "opened": ("opened", "open", "date opened", "opened on", "since", "date", "bought", "received"),
    "lot": ("lot", "batch", "lot no", "batch no", "lot number", "batch number", "lot/batch", "charge"),
    "material": ("material", "generic name", "inci", "chemical", "chemical name", "what it is"),
    "label": (
        *("label", "name", "bottle", "ingredient", "raw material", "product", "item", "substance"),
        "description",
    ),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments", "bemerkung", "remarque"),
    "parts": ("parts", "part", "teile", "teil", "parties", "partie"),
    "unit": ("unit", "units", "uom", "einheit", "einheiten", "unite", "unites"),
    "theme": ("theme", "themes", "thema", "themen"),
}
"""Column -> header words as `key` gives them; whole headers go before words in them, the first column that
claims a header gets it."""

PERCENT = ("%", "percent", "percentage", "pct", "prozent", "pourcent", "pourcentage")
_DILUTION = ("dilution", "diluted", "verdunnung", "verdunnt", "dilue", "diluee", "dil", "verd")
_STEM = re.compile("dilut|verdunn")
_SHARE = (
    *PERCENT,
    *("concentration", "conc", "konzentration", "konz", "strength", "starke", "titre", "solution", "losung"),
    *("ppm", "permille", "\N{PER MILLE SIGN}"),
)
_MASSES = (
    *("g", "gr", "gram", "grams", "gramm", "gramme", "grammes", "mg", "kg", "\N{GREEK SMALL LETTER MU}g"),
    *("ug", "mcg", "oz", "lb"),
)
_VOLUMES = frozenset(("ml", "cl", "l", "vol", "volume", "drop", "drops", "tropfen", "goutte", "gouttes"))
_BY_MASS = ("per", "thousand", "mille", "permille", "promille", "by", "mass", "weight", "w", "in")
_PRICED = ("mol", "eur", "usd", "gbp", "chf", "\N{EURO SIGN}", "$", "\N{POUND SIGN}")
"""Words of a header that is about a unit and not an amount in it."""
NEAR = 80.0
"""From this likeness on (0-100) a long word is taken for a misspelling of another."""


def key(header: str) -> str:
    """Return a header as it is compared: lower case, no accents, brackets, points or underscores.

    >>> key("Verdünnung (%)"), key("dil.%"), key("parts_g")
    ('verdunnung %', 'dil %', 'parts g')
    """
    bare = plain(header).replace("%", " % ")
    return " ".join(re.sub(r"[()\[\]{}:;*_.,\"']", " ", bare).split())


def plain(text: str) -> str:
    """Return a text in lower case without accents."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in parts if not unicodedata.combining(letter)).strip()


def says_dilution(header: str) -> bool:
    """Return whether a header is about a dilution, misspelled or not, and is not that of another column.

    >>> [says_dilution(text) for text in ("Dilution (%)", "dilluton_percent", "diluted in", "%")]
    [True, True, False, False]
    """
    return not _is_another(header, "dilution") and any(
        word in _DILUTION or _STEM.search(word) or _near(word, _DILUTION) for word in _words(header)
    )


def says_amount(header: str) -> bool:
    """Return whether a header may be about a share, a concentration or an amount in some unit.

    >>> [says_amount(text) for text in ("Strength", "conc. mg", "price per g", "supplier")]
    [True, True, False, False]
    """
    words = _words(header)
    if any(word in words for word in _PRICED) or any(word in key(header) for word in WORDS["price"]):
        return False
    return any(word in (*_SHARE, *_MASSES, *_VOLUMES) or _near(word, _SHARE) for word in words)


def says_percent(header: str) -> bool:
    """Return whether the numbers under a header are per cent."""
    return any(word in PERCENT for word in _words(header))


def says_parts(header: str) -> bool:
    """Return whether a header is one for parts by mass: parts (g), Teile; not drops, not ml."""
    words = _words(header)
    return bool(words) and words[0] in WORDS["parts"] and {*words[1:]} <= {*_MASSES, *PERCENT, *_BY_MASS}


def says_unit(header: str) -> bool:
    """Return whether a header is one for the unit of the amounts beside it."""
    return key(header) in WORDS["unit"]


def says_theme(header: str) -> bool:
    """Return whether a header is one for what a formula is about: theme, Thema, th\u00e8me."""
    return key(header) in WORDS["theme"]


def _is_another(header: str, column: str) -> bool:
    return any(key(header) in words for name, words in WORDS.items() if name != column)


def _words(header: str) -> list[str]:
    return [word for word in re.split(r"[\s/|-]+", key(header)) if word]


def _near(word: str, known: Sequence[str]) -> bool:
    from rapidfuzz.fuzz import ratio

    return len(word) > 5 and any(len(other) > 6 and ratio(word, other) >= NEAR for other in known)
