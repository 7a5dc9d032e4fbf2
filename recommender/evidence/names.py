"""Names and CAS numbers as they are compared."""

import re
import unicodedata

_SPACES = re.compile(r"[\s_]+")
_GERMAN_OIL = re.compile(r"\u00f6l\b", re.IGNORECASE)
_CAS = re.compile(r"\d{2,7}-\d{2}-\d")


def cas_check_digit(cas: str) -> int:
    """Return the check digit that a CAS number should end in.

    References
    ----------
    CAS, Check Digit Verification of CAS Registry Numbers: the digits before the last, counted from the
    right, are weighted 1, 2, 3 ...; the sum modulo 10 is the check digit.

    >>> cas_check_digit("100-52-7")
    7
    """
    digits = cas.replace("-", "")[:-1]
    return sum(int(d) * place for place, d in enumerate(reversed(digits), 1)) % 10


def looks_like_cas(text: str) -> bool:
    """Return whether a text has the shape of a CAS number."""
    return _CAS.fullmatch(text) is not None


def plain(text: str) -> str:
    """Return a name as it is compared: lower case, no accents, Greek letters written out, single spaces."""
    if text.isascii():  # nearly all names: there is nothing to fold but case and spaces
        return _SPACES.sub(" ", text.lower()).strip()
    parts = unicodedata.normalize("NFKD", text)
    bare = "".join(c for c in parts if not unicodedata.combining(c)).casefold()
    bare = "".join(c for c in unicodedata.normalize("NFKD", bare) if not unicodedata.combining(c))
    for letter, word in zip("αβγδ", ("alpha", "beta", "gamma", "delta"), strict=True):
        bare = bare.replace(letter, word)
    return _SPACES.sub(" ", bare.replace("–", "-").replace("’", "'")).strip()


def name_key(text: str) -> str:
    """Return the name of a material as it is compared; the German word for oil is no ending of an alcohol.

    >>> name_key(" \u03b2-Ionone "), name_key("Vetiver\u00f6l")
    ('beta-ionone', 'vetiveroel')
    """
    return plain(text if text.isascii() else _GERMAN_OIL.sub("oel", unicodedata.normalize("NFC", text)))


def squeezed(name: str) -> str:
    """Return a plain name without spaces, hyphens and brackets: "beta ionone" and "beta-ionone" are one.

    >>> squeezed("cis-3-hexenol"), squeezed("cis 3 hexenol")
    ('cis3hexenol', 'cis3hexenol')
    """
    turned = name.replace("(-)", "minus").replace("(+)", "plus")  # mirror images are not one material
    return re.sub(r"[^a-z0-9,.+]", "", turned)


def label_key(label: str) -> str:
    """Return a person's own label as labels are compared, in any script.

    >>> label_key("Ionone  alpha (old)"), label_key("ionone-alpha old"), label_key("+")
    ('iononealphaold', 'iononealphaold', '+')
    """
    key = plain(label)
    return re.sub(r"[^\w,.+]", "", key).strip(",.") or key
