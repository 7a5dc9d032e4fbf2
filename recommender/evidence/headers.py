"""Header words of a person's tables, in English, German and French: the one table of what a column is."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import lru_cache

from recommender.units import COUNTED, MASSES, MILLILITRES, PERCENT

WORDS: Mapping[str, tuple[str, ...]] = {
    "cas": (
        *(
            "cas",
            "cas no",
            "cas number",
            "cas nr",
            "cas-nr",
            "cas nummer",
            "cas-nummer",
            "cas #",
            "cas#",
            "casrn",
        ),
        *("n\N{DEGREE SIGN} cas", "no cas", "numero cas"),
    ),
    "dilution": (
        *("dilution", "dilution %", "dilution percent", "%", "percent", "concentration", "conc", "conc."),
        *("strength", "diluted to", "verdunnung", "verdunnung %", "konzentration", "dilue a"),
    ),
    "solvent": (
        *("solvent", "diluent", "carrier", "diluted in", "in", "losungsmittel", "losemittel", "verdunnt in"),
        *("solvant", "diluant", "dilue dans"),
    ),
    "density": (
        "density",
        "dichte",
        "densite",
        "specific gravity",
        "density g/ml",
        "dichte g/ml",
        "densite g/ml",
    ),
    "size": (
        *("bottle size", "pack size", "size of bottle", "flaschengrosse", "inhalt", "fullmenge", "gebinde"),
        *("contenance", "contenu"),
    ),
    "amount": (
        *("amount", "quantity", "qty", "stock", "left", "in stock", "grams", "g", "amount g", "weight"),
        *(
            "size",
            "menge",
            "bestand",
            "quantite",
            "mass",
            "gewicht",
            "masse",
            "einwaage",
            "vorrat",
            "restmenge",
        ),
        *("gramm", "grammes", "poids", "pesee", "qte", "reste"),
    ),
    "price": (
        *("price", "cost", "price per g", "price per gram", "cost per gram", "price/g", "cost/g", "preis"),
        *("prix", "kosten", "cout", "tarif", "flaschenpreis", "einkaufspreis"),
    ),
    "opened": (
        *("opened", "open", "date opened", "opened on", "since", "date", "bought", "received", "geoffnet"),
        *("geoffnet am", "angebrochen", "gekauft", "ouvert", "ouvert le", "achete", "achete le", "datum"),
    ),
    "lot": (
        *(
            "lot",
            "batch",
            "lot no",
            "batch no",
            "lot number",
            "batch number",
            "lot/batch",
            "charge",
            "chargennr",
        ),
        *("chargen-nr", "chargennummer", "n\N{DEGREE SIGN} de lot", "no de lot", "numero de lot"),
    ),
    "material": (
        *("material", "generic name", "inci", "chemical", "chemical name", "what it is", "rohstoff", "stoff"),
        *("matiere", "matiere premiere", "matieres premieres", "materials", "rohstoffe"),
    ),
    "label": (
        *("label", "name", "bottle", "ingredient", "raw material", "product", "item", "substance"),
        *("description", "ingredients", "raw materials", "bezeichnung", "etikett", "flasche", "produkt"),
        *("inhaltsstoff", "zutat", "substanz", "etiquette", "flacon", "produit", "nom", "designation"),
    ),
    "note": (
        *(
            "note",
            "notes",
            "remark",
            "remarks",
            "comment",
            "comments",
            "bemerkung",
            "remarque",
            "bemerkungen",
        ),
        *(
            "anmerkung",
            "anmerkungen",
            "notiz",
            "notizen",
            "kommentar",
            "remarques",
            "commentaire",
            "commentaires",
        ),
    ),
    "parts": ("parts", "part", "teile", "teil", "parties", "partie"),
    "percent": (
        *(*PERCENT, "% w/w", "w/w", "% w", "% in formula", "% of formula", "% in concentrate", "anteil"),
        *(
            "\N{PER MILLE SIGN}",
            "promille",
            "permille",
            "anteil %",
            "anteil in %",
            "gew %",
            "gew-%",
            "% dans la formule",
            "part %",
            "part en %",
        ),
    ),
    "unit": ("unit", "units", "uom", "einheit", "einheiten", "unite", "unites"),
    "theme": ("theme", "themes", "thema", "themen"),
    "hours": (
        "hours",
        "hour",
        "time",
        "h",
        "after",
        "stunden",
        "stunde",
        "zeit",
        "nach",
        "heures",
        "heure",
        "temps",
    ),
    "strength": (
        *(
            "strength",
            "intensity",
            "rating",
            "how strong",
            "starke",
            "intensitat",
            "bewertung",
            "intensite",
            "force",
        ),
    ),
    "facet": ("facet", "smell", "odour", "odor", "geruch", "facette", "duft", "odeur"),
    "words": ("words", "in words", "own words", "worte", "in worten", "mots"),
    "formula": ("formula", "accord", "formel", "formule", "akkord"),
    "day": ("day", "date", "datum", "tag", "jour"),
    "batch_g": ("batch", "batch size", "batch g", "ansatz", "ansatz g", "essai g"),
    "room_c": (
        *(
            "room",
            "room \N{DEGREE SIGN}c",
            "temperature",
            "temp",
            "\N{DEGREE SIGN}c",
            "raum",
            "raumtemperatur",
        ),
        *("temperatur", "piece"),
    ),
    "verdict": ("verdict", "urteil", "fazit", "avis", "jugement"),
    "smells": ("smells", "smells of", "smell", "odour", "odor", "riecht nach", "geruch", "odeur", "sent"),
    "kind": ("kind", "type", "art", "typ", "genre"),
    "pressure": (
        *("pressure", "pressure pa", "vapour pressure", "vapour pressure pa", "vapor pressure", "dampfdruck"),
        *("dampfdruck pa", "pression de vapeur", "pression de vapeur pa"),
    ),
    "molar_mass": ("molar mass", "molar mass g/mol", "molecular weight", "mw", "molmasse", "masse molaire"),
    "market": ("market", "markt", "marche"),
    "reference": ("reference", "referenz", "quelle", "source"),
    "date": ("date", "datum"),
}
"""Column -> header words as `key` gives them; whole headers go before words in them, the first column that
claims a header gets it. Several sheets share a word (a date): each has the columns that it has."""
KINDS: Mapping[str, str] = {"dilution_percent": "dilution", "name": "label"}
"""Columns that are under the words of another."""

_TOTAL = re.compile(
    r"(?:sub|grand|sous|zwischen)?[ -]?(?:total|totals|totaux|summe|somme)\b.*|sum"
    r"|gesamt(?:summe|menge|gewicht)?|insgesamt|\N{GREEK SMALL LETTER SIGMA}"
)
_DILUTION = ("dilution", "diluted", "verdunnung", "verdunnt", "dilue", "diluee", "dil", "verd")
_STEM = re.compile("dilut|verdunn")
_SHARE = (
    *PERCENT,
    *("concentration", "conc", "konzentration", "konz", "strength", "starke", "titre", "solution", "losung"),
    *("ppm", "permille", "\N{PER MILLE SIGN}"),
)
_BY_MASS = ("per", "thousand", "mille", "permille", "promille", "by", "mass", "weight", "w", "in")
_PRICED = ("mol", "eur", "usd", "gbp", "chf", "\N{EURO SIGN}", "$", "\N{POUND SIGN}")
"""Words of a header that is about a unit and not an amount in it."""
NEAR = 80.0
"""From this likeness on (0-100) a long word is taken for a misspelling of another."""


@lru_cache(4096)  # each header is compared with every word of the table
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


def column_of(header: str) -> str:
    """Return the name of the column that a header spells out: dilution_percent for "Dilution percent"."""
    return key(header).replace(" ", "_")


def says(header: str, kind: str) -> bool:
    """Return whether a header is one for a kind of column, whole or with a unit behind it.

    >>> says("Menge [mg]", "amount"), says("Rohstoff", "material"), says("Price / kg", "amount")
    (True, True, False)
    """
    known = [key(word) for word in WORDS.get(kind, ())]
    words = key(header).split()
    unit = unit_in(header)
    bare = " ".join(word for word in words if word != unit and word != "in")
    if kind != "amount" or not unit:
        return " ".join(words) in known
    return bare in known or (not bare and unit in MASSES)


def unit_in(header: str) -> str:
    """Return the unit of mass or volume, or %, in which the numbers under a header are; blank without one.

    >>> unit_in("Parts (g)"), unit_in("Menge [mg]"), unit_in("%"), unit_in("g per kg"), unit_in("Grams")
    ('g', 'mg', '%', '', 'grams')
    """
    if "fl oz" in " ".join(_words(header)):
        return "fl oz"
    found = [word for word in _words(header) if word in MASSES or word in MILLILITRES or word in PERCENT]
    return found[0] if len(found) == 1 else ""


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
    return any(word in (*_SHARE, *MASSES, *MILLILITRES, *COUNTED) or _near(word, _SHARE) for word in words)


def says_percent(header: str) -> bool:
    """Return whether the numbers under a header are per cent."""
    return any(word in PERCENT for word in _words(header))


def says_parts(header: str) -> bool:
    """Return whether a header is one for parts by mass: parts (g), Teile; not drops, not ml."""
    words = _words(header)
    return bool(words) and words[0] in WORDS["parts"] and {*words[1:]} <= {*MASSES, *PERCENT, *_BY_MASS}


def says_volume(header: str) -> bool:
    """Return whether the numbers under a header are volumes or drops."""
    return any(word in (*MILLILITRES, *COUNTED) for word in _words(header))


def says_total(cell: str) -> bool:
    """Return whether a cell is the name of a row of sums.

    >>> [says_total(text) for text in ("Total (g):", "Zwischensumme", "Sous-total", "Summit base")]
    [True, True, True, False]
    """
    return bool(_TOTAL.fullmatch(key(cell)))


def _is_another(header: str, column: str) -> bool:
    return any(key(header) in words for name, words in WORDS.items() if name != column)


def _words(header: str) -> list[str]:
    return [word for word in re.split(r"[\s/|-]+", key(header)) if word]


def _near(word: str, known: Sequence[str]) -> bool:
    from rapidfuzz.fuzz import ratio

    return len(word) > 5 and any(len(other) > 6 and ratio(word, other) >= NEAR for other in known)
