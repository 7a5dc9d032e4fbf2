"""Errors as sentences of the page: each field by its label on the page."""

import re
from collections.abc import Mapping

from recommender.errors import BadTable, BadValue, RecommenderError, UnknownFacet, UnknownMaterial

FIELDS: Mapping[str, str] = {
    "facet": "the smell",
    "gap": "the smell",
    "until_hours": "until",
    "into": "into",
    "toward": "the direction",
    "theme": "the theme",
    "within": "the formula",
    "relay": "a relay of two",
    "avoid": "without",
    "because": "because",
    "blend": "by how many",
    "kind": "the kind",
    "max_price": "the price of a gram at most",
    "why_not": "why not",
    "only_shelf": "from my shelf only",
    "dosage_percent": "the dosage",
    "category": "the category",
    "market": "the market",
    "on": "the day of sale",
    "share_percent": "the share",
    "batch_g": "the batch",
    "resolution_g": "the last digit of the balance",
    "name": "the name",
    "smells": "it smells of",
    "like": "it smells like",
    "denied": "and not of",
    "strength": "how strong it is",
    "also": "added to the table's smells",
    "dilution_percent": "the dilution",
    "amount_g": "grams left",
    "price_per_g": "price of a gram",
    "finished_g": "the finished product",
    "within_percent": "the share of a digit",
    "finished_share_percent": "the share of the finished product",
    "carrier": "the solvent to top up with",
    "bracket": "the line of three vials",
    "preferred": "the number of the vial",
    "content": "the content by certificate",
    "shown": "the condition that is shown",
    "opened": "opened",
    "lot": "the lot",
    "solvent": "the solvent",
    "label": "the label",
}


HEADER_WANTED = 'Give one the header "label"'
"""The way out where no column of a sheet of bottles has their names, which an option names elsewhere."""


def sentence(error: RecommenderError) -> str:
    """Return an error as one sentence; without a near name, with where on the page all names are.

    One about a file begins with its name as it is.
    """
    match error:
        case BadTable(file=file, problem=problem, remedy=remedy, line=line, column=column):
            remedy = HEADER_WANTED if "--map" in remedy else remedy
            text = str(BadTable(file, problem, line=line, column=column, remedy=remedy))
            return text + ("" if text.endswith((".", "?")) else ".")
        case UnknownMaterial(name=name, near=()):
            return f'No material is called "{name}". The map has all that are known.'
        case UnknownFacet(phrase=phrase, near=()):
            return f'No facet is known by "{phrase}". The list of the field has the words.'
        case BadValue():
            text = str(error.named(FIELDS))
        case _:
            text = str(error)
    text = without_commands(text)
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")


_COMMAND = re.compile(r"(?:[;,:]\s+|\.\s+|^)[^;.`]*`recommender [^`]*`[^;.]*")


def without_commands(text: str) -> str:
    """Return a sentence without the clauses that name a command, which the page has no use for.

    >>> without_commands('"posy" is not saved; `recommender formulas list` shows them')
    '"posy" is not saved'
    """
    return _COMMAND.sub("", text).strip() or "This cannot be done here."
