"""Which column of a person's own spreadsheet is what: guessed from the headers, and shown."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from recommender.catalogue import plain
from recommender.errors import BadValue
from recommender.headers import WORDS, says_dilution

FIELDS = ("label", "material", "cas", "dilution", "solvent", "amount", "price", "opened", "lot", "note")
"""What a column can be."""

_GRAMS: Mapping[str, float] = {"kg": 1000.0, "g": 1.0, "gram": 1.0, "grams": 1.0, "mg": 0.001}


@dataclass(frozen=True, slots=True)
class Columns:
    """What each column is: field -> place; how many grams a price or an amount is for; and the headers."""

    places: Mapping[str, int]
    headers: Sequence[str]
    price_for_g: float = 1.0
    amount_g: float = 1.0

    def told(self) -> list[str]:
        """Return the guess in lines: what was taken for what, and what was left out."""
        lines = [f'"{self.headers[at]}" is taken as {self._what(name)}' for name, at in self.places.items()]
        left = [h for i, h in enumerate(self.headers) if h and i not in self.places.values()]
        return [*lines, *([f"left out: {', '.join(left)}"] if left else [])]

    def _what(self, name: str) -> str:
        if name == "price":
            return "the price of a gram" if self.price_for_g == 1 else f"the price of {self.price_for_g:g} g"
        if name == "amount":
            return "grams" if self.amount_g == 1 else f"units of {self.amount_g:g} g"
        return {"label": "the label", "opened": "the date of opening"}.get(name, name)


def guess(cells: Sequence[str], given: Mapping[str, str] | None = None) -> Columns | None:
    """Return what the columns under these headers are, None where they are no headers of a shelf.

    `given` names the header of a field where the person says so.

    Raises
    ------
    BadValue
        A field or header that is not there.
    """
    headers = [" ".join(cell.split()) for cell in cells]
    keys = [re.sub(r"[()\[\]:*]", " ", plain(header)) for header in headers]
    keys = [" ".join(key.split()) for key in keys]
    places: dict[str, int] = {}
    for name, header in (given or {}).items():
        if name not in FIELDS:
            raise BadValue("--map", name, f"a column is one of {', '.join(FIELDS)}")
        if plain(header) not in [plain(h) for h in headers]:
            return None
        places[name] = [plain(h) for h in headers].index(plain(header))
    for whole in (True, False):
        for name, words in WORDS.items():
            free = [i for i in range(len(keys)) if keys[i] and i not in places.values()]
            if name in FIELDS and name not in places and (hit := _hit(keys, free, words, whole)) is not None:
                places[name] = hit
    free = [i for i in range(len(keys)) if keys[i] and i not in places.values()]
    if "dilution" not in places and (near := [i for i in free if says_dilution(headers[i])]):
        places["dilution"] = near[0]
    if "label" not in places and "material" in places:
        places["label"] = places.pop("material")
    if "label" not in places and "cas" not in places:
        return None
    price = keys[places["price"]] if "price" in places else ""
    amount = keys[places["amount"]] if "amount" in places else ""
    ordered = {name: places[name] for name in FIELDS if name in places}
    return Columns(ordered, headers, _price_for(price), _GRAMS.get(_unit(amount), 1.0))


def _hit(keys: Sequence[str], free: Sequence[int], words: Sequence[str], whole: bool) -> int | None:
    for word in words:
        for place in free:
            inside = len(word) > 2 and re.search(rf"(?<!\w){re.escape(word)}(?!\w)", keys[place])
            if keys[place] == word or (not whole and inside):
                return place
    return None


def _price_for(header: str) -> float:
    """Return for how many grams a price is: price/kg, price per 100 g; a gram where nothing is said.

    >>> _price_for("price per 100 g"), _price_for("price/kg"), _price_for("price")
    (100.0, 1000.0, 1.0)
    """
    found = re.search(r"(?:/|per|a|for)\s*(\d+(?:\.\d+)?)?\s*(kg|grams?|g)\b", header)
    return float(found[1] or 1) * _GRAMS[found[2]] if found else 1.0


def _unit(header: str) -> str:
    found = re.search(r"\b(kg|mg|grams?|g)\b", header)
    return found[1] if found else ""
