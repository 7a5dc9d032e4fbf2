"""The verbs for Python: `import recommender as r; r.extend("benzaldehyde", facet="almond")`."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import replace as replace_fields
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict, Unpack

from recommender import regulation, suggest, weighing
from recommender.formulas import comparison, redundancy
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Findings, Material
from recommender.output import formulas as courses
from recommender.output import product as checked
from recommender.output import suggestions as contract
from recommender.output import weighing as weighed
from recommender.output.sentences import name_of
from recommender.palette import Palette, find, shipped
from recommender.similarity.phrases import Words
from recommender.workspace import bench_of, shelf_of

if TYPE_CHECKING:
    import pandas as pd


class Filters(TypedDict, total=False):
    """What every suggesting verb takes.

    top : how many suggestions (10). kind : molecule, natural or base. avoid : words for smells that must
    not be brought along, one text or several. market : any, eu or standards, whose prohibitions count.
    why_not : a material, or several, whose absence is to be explained in the notes. dosage_percent : the
    concentrate in the finished product, so that limits bound the dose. category : of the industry Standards
    ("4"). no_label_allergens : leave out what has to stand on the label. notebook : a notebook file, laid
    over the tables; without it the answer is that of the tables alone. shelf : only what is on its shelf.
    max_price : of a gram of the neat material, as its shelf says.
    """

    top: int
    kind: str
    avoid: Words
    market: str
    why_not: Words
    dosage_percent: float
    category: str
    no_label_allergens: bool
    notebook: str
    shelf: bool
    max_price: float


@dataclass(frozen=True)
class Answer:
    """Suggestions with the query and the notes."""

    findings: Findings

    def __len__(self) -> int:
        return len(self.findings.suggestions)

    def __repr__(self) -> str:
        names = ", ".join(name_of(s) for s in self.findings.suggestions[:3])
        return f"<{len(self)} suggestions: {names}{', ...' if len(self) > 3 else ''}>"

    def to_dict(self) -> dict[str, Any]:
        """Return query, suggestions and notes as plain data; the keys are those of `--format json`."""
        return contract.as_dict(self.findings)

    def to_frame(self) -> "pd.DataFrame":
        """Return one row a suggestion as a pandas table; terms become columns of their own."""
        import pandas as pd

        from recommender.output.formats import FLAT_COLUMNS, flat

        rows = [flat(row) for row in self.to_dict()["suggestions"]]
        return pd.DataFrame(rows, columns=None if rows else list(FLAT_COLUMNS))

    def _repr_html_(self) -> str:
        return self.to_frame().to_html(index=False)


def extend(
    material: str,
    facet: Words | None = None,
    *,
    into: str | None = None,
    until_hours: float | None = None,
    formula: str | None = None,
    relay: bool = False,
    **filters: Unpack[Filters],
) -> Answer:
    """Find what keeps a facet alive after the material that carried it has gone.

    Parameters
    ----------
    material : str
        Name, synonym or CAS number, or a formula file.
    facet : str or sequence of str, optional
        Words for the facet to keep; what the material leads with, or what dies in the formula, by default.
    into : {"heart", "base"}, optional
        Where it has to speak.
    until_hours : float, optional
        Until when on a strip [h]; 24 by default.
    formula : str, optional
        The formula file in which the material fades.
    relay : bool
        A heart carrier and a base carrier together (for a formula).
    **filters
        See `Filters`.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable

    Examples
    --------
    >>> extend("benzaldehyde", facet="almond").to_dict()["query"]["material"]
    'benzaldehyde'
    """
    request, palette = _asked(filters, material, formula, facet=facet, into=into, until_hours=until_hours)
    return Answer(suggest.extend(request, palette, formula=formula, relay=relay))


def replace(
    material: str,
    facet: Words | None = None,
    *,
    formula: str | None = None,
    blend: int | None = None,
    **filters: Unpack[Filters],
) -> Answer:
    """Find what can stand for a material, alone, in a formula file, or as a blend of two or three.

    Raises
    ------
    UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable
    """
    request, palette = _asked(filters, material, formula, facet=facet)
    return Answer(suggest.replace(request, palette, formula=formula, blend=blend))


def vary(material: str, toward: Words, **filters: Unpack[Filters]) -> Answer:
    """Find what moves a material or a formula file toward other words; errors as `extend`."""
    return Answer(suggest.vary(*_asked(filters, material, None, toward=toward)))


def _asked(
    filters: Filters, material: str, formula: str | None, **request: Any
) -> tuple[suggest.Request, Palette]:
    """Return the wish, and the bench that it is asked of: the tables, under a notebook where one is named."""
    _known(filters, Filters.__annotations__)
    palette, bottles = shipped(), None
    if path := filters.get("notebook"):
        palette, _ = bench_of(Path(path), material, formula)
        bottles = shelf_of(Path(path), date.today())
    own = {"notebook", "shelf"}
    more: dict[str, Any] = {key: value for key, value in filters.items() if key not in own}
    asked = suggest.Request(material, **request, **more, only_shelf=filters.get("shelf", False))
    needs_shelf = asked.only_shelf or asked.max_price is not None
    return replace_fields(asked, shelf=bottles if needs_shelf else None), palette


def _known(given: Mapping[str, object], names: Collection[str]) -> None:
    """Raise `TypeError` for an option of another name, with the nearest that there is."""
    for name in given:
        if name not in names:
            near = get_close_matches(name, names, n=1, cutoff=0.5)
            way_out = f"; did you mean {near[0]}?" if near else ""
            raise TypeError(f"there is no option {name}{way_out}")


def material(name: str) -> Material:
    """Return everything known of a material by name, synonym or CAS number."""
    return shipped().catalogue.find(name)


def materials(words: str | None = None) -> list[Material]:
    """Return the materials that show the facets named by words, the strongest first; all without words."""
    return find(words)[0]


def drydown_of(formula: str) -> dict[str, Any]:
    """Return hours, facets, ends and gaps of a formula file, as `recommender drydown --format json`."""
    return courses.drydown(FormulaDrydown.of(formula, shipped()))


def trim(formula: str) -> list[redundancy.Contribution]:
    """Return what would be missed without each material of a formula file, the least missed first."""
    return redundancy.trim(FormulaDrydown.of(formula, shipped()))


def strips(*names: str, hours: float = 1 / 60) -> list[comparison.StripComparison]:
    """Hold 1 % strips of materials together at one hour."""
    palette = shipped()
    return comparison.strips([palette.catalogue.find(name) for name in names], palette, hours)


def dose(
    names: Sequence[str],
    balance: Words = "",
    *,
    batch_g: float = 10.0,
    dosage_percent: float | None = None,
    category: str = "4",
    market: str = "any",
) -> list[comparison.FirstAmount]:
    """Return first-trial amounts of materials for a balance such as "almond 2, vanilla 1".

    With a dosage [% of concentrate in the product] no amount goes above the limits held.
    """
    wear = regulation.ProductUse(
        None if dosage_percent is None else regulation.checked_dosage(dosage_percent),
        regulation.checked_category(category),
        market,
    )
    palette = shipped()
    chosen = [palette.catalogue.find(name) for name in names]
    return comparison.dose(chosen, comparison.balance_of(balance), palette, batch_g, wear=wear)


def check(
    formula: str,
    dosage_percent: float,
    category: str = "4",
    *,
    market: str = "any",
    content: Sequence[str] = (),
) -> dict[str, Any]:
    """Carry a formula file to the finished product, as `recommender check --format json`.

    Parameters
    ----------
    dosage_percent : float
        The concentrate in the finished product [% by mass].
    category : str
        Category of the industry Standards, such as "4" or "5A".
    content : sequence of str
        What certificates say of naturals: "tonka bean absolute: coumarin 60".

    Raises
    ------
    BadTable, BadValue, UnknownMaterial, WrongCas
    """
    catalogue = shipped().catalogue
    found, notes = formulas.read(formula, catalogue)
    certified = regulation.certificates(content, catalogue)
    report = regulation.check(formulas.amounts(found), catalogue, dosage_percent, category, market, certified)
    return checked.data(report, found.name, catalogue, notes)


def compare(one: str, other: str) -> comparison.Comparison:
    """Follow two formula files side by side, hour by hour."""
    return comparison.compare(FormulaDrydown.of(one, shipped()), FormulaDrydown.of(other, shipped()))


def weigh(formula: str, **options: Any) -> dict[str, Any]:
    """Return how to weigh a formula file, as `recommender weigh --format json`.

    Parameters
    ----------
    formula : str
        A formula file.
    **options
        The fields of `recommender.weighing.Wanted`: masses in grams, shares in per cent by mass.

    Raises
    ------
    BadTable, BadValue, UnknownMaterial
    """
    _known(options, weighing.WeighingRequest.__annotations__)
    sheet, notes = weighing.of_file(weighing.WeighingRequest(formula, **options), shipped().catalogue)
    return weighed.data(sheet, [*notes, *weighed.notes(sheet)])
