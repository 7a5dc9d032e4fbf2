"""Errors as sentences of the page: a field of a request is called what its label on the page says."""

from collections.abc import Mapping

from recommender.errors import BadValue, RecommenderError

FIELDS: Mapping[str, str] = {
    "facet": "the smell",
    "gap": "the smell",
    "until_hours": "until",
    "into": "into",
    "toward": "the direction",
    "within": "the formula",
    "relay": "a relay of two",
    "avoid": "without",
    "only_shelf": "from my shelf only",
    "dosage_percent": "the dosage",
    "category": "the category",
}


def sentence(error: RecommenderError) -> str:
    """Return an error as one sentence."""
    text = str(error.named(FIELDS) if isinstance(error, BadValue) else error)
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")
