"""The verbs for Python: `import recommender as r; r.extend("benzaldehyde", facet="almond")`.

At module level they answer from the shipped evidence; `r.open("notebook.sqlite")` gives the same verbs under
a notebook. A formula is a file, a saved name, a mapping or pairs of material and parts, or a DataFrame.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict, Unpack

import numpy as np
import numpy.typing as npt

from recommender import regulation
from recommender.formulas import comparison
from recommender.output import formats, product, suggestions, weighing
from recommender.output import formulas as over_time
from recommender.output import materials as cards
from recommender.output.wording import tidy
from recommender.similarity.phrases import Words
from recommender.suggest import Request
from recommender.weighing import WeighingRequest
from recommender.workspace import Workspace

if TYPE_CHECKING:
    import networkx as nx
    import pandas as pd


class Filters(TypedDict, total=False):
    """What every suggesting verb takes.

    top : how many suggestions (10). kind : molecule, natural or base. avoid : words for smells that must
    not be brought along, one text or several. market : any, eu or standards, whose prohibitions count.
    why_not : a material, or several, whose absence is to be explained in the notes. dosage_percent : the
    concentrate in the finished product, so that limits bound the dose. category : of the industry Standards
    ("4"). no_label_allergens : leave out what has to stand on the label. notebook : a notebook file, its
    contents over the tables; without it the answer is that of the tables alone. shelf : only what is on its
    shelf. max_price : of a gram of the neat material, as its shelf says.
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


UNITS: Mapping[str, str] = {
    "hours": "h",
    "lasting_hours": "h",
    "lasting_low": "h",
    "lasting_high": "h",
    "clear_hours": "h",
    "clear_low": "h",
    "clear_high": "h",
    "just_there_hours": "h",
    "just_there_low": "h",
    "just_there_high": "h",
    "gap_hours": "h",
    "vapour_pressure_pa": "Pa",
    "strength": "0-100",
    "intensity": "0-100",
    "parts": "parts per thousand",
    "dose_first_try": "parts per thousand",
    "dose_low": "parts per thousand",
    "dose_high": "parts per thousand",
    "dose_dilution": "% by mass",
    "dilution_percent": "% by mass",
    "percent_in_product": "% by mass",
    "percent_in_concentrate": "% by mass",
    "grams": "g",
    "weigh_g": "g",
}
"""Units of the columns of `to_frame`."""


@dataclass(frozen=True, repr=False)
class Answer:
    """An answer: plain data with the keys of `--format json`, and its rows.

    Attributes
    ----------
    data : dict or list
        The whole answer.
    rows : list of dict
        Its rows, each value a number, a text or None.
    columns : sequence of str
        The columns that a table of it has at least.
    title : str
        What it is, in a few words.
    value : object
        The answer as the stages below give it.
    """

    data: Any
    rows: list[dict[str, Any]]
    columns: Sequence[str]
    title: str
    value: Any

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[dict[str, Any]]:
        return iter(self.rows)

    def __getitem__(self, place: int) -> dict[str, Any]:
        return self.rows[place]

    def __repr__(self) -> str:
        names = [str(next((row[key] for key in ("name", "facet") if row.get(key)), "?")) for row in self.rows]
        shown = ", ".join(list(dict.fromkeys(names))[:3])
        return f"<{self.title}: {shown}{', ...' if len(set(names)) > 3 else ''}>"

    def to_dict(self) -> Any:
        """Return the whole answer as plain data; the keys are those of `--format json`."""
        return self.data

    def to_frame(self) -> "pd.DataFrame":
        """Return the rows as a pandas table; `attrs["units"]` has the unit of each column that has one."""
        import pandas as pd

        plain = [{key: _cell(value) for key, value in row.items()} for row in self.rows]
        frame = pd.DataFrame(plain, columns=None if plain else list(self.columns))
        frame.attrs["units"] = {name: UNITS[name] for name in frame.columns if name in UNITS}
        return frame

    def _repr_html_(self) -> str:
        return self.to_frame().to_html(index=False)


def _cell(value: Any) -> Any:
    """Return a value without a list in it: lists are parted by semicolons, as in CSV."""
    if isinstance(value, Mapping):
        return "; ".join(f"{key} {inner}" for key, inner in value.items())
    return formats.cell(value) if isinstance(value, list | tuple) else value


class Notebook:
    """The verbs under a notebook, or on the shipped evidence where there is none."""

    def __init__(self, path: "str | Path | None" = None) -> None:
        self.workspace = Workspace(None if path is None else Path(path))

    def __repr__(self) -> str:
        return f"<recommender on {self.workspace.notebook or 'the shipped evidence'}>"

    def extend(
        self,
        material: Any,
        facet: Words | None = None,
        *,
        into: str | None = None,
        until_hours: float | None = None,
        formula: Any = None,
        relay: bool = False,
        **filters: Unpack[Filters],
    ) -> Answer:
        """Find what keeps a facet alive after the material that carried it has gone.

        Parameters
        ----------
        material : str or formula
            Name, synonym or CAS number, or a formula.
        facet : str, optional
            Words for the facet to keep; by default what the material leads with, or what dies in the formula.
        into : {"heart", "base"}, optional
            Where it has to speak.
        until_hours : float, optional
            Until when on a strip [h]; 24 by default.
        formula : formula, optional
            The formula in which the material fades.
        relay : bool
            A heart carrier and a base carrier together (for a formula).
        **filters
            See `Filters`.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook
        """
        given = _request(filters, facet=facet, into=into, until_hours=until_hours, relay=relay)
        return _suggested(self._under(filters).extend(material, given, within=formula))

    def replace(
        self,
        material: str,
        facet: Words | None = None,
        *,
        formula: Any = None,
        blend: int | None = None,
        **filters: Unpack[Filters],
    ) -> Answer:
        """Find what can stand for a material, alone, in a formula, or as a blend of two or three.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook
        """
        given = _request(filters, facet=facet, blend=blend)
        return _suggested(self._under(filters).replace(material, given, within=formula))

    def vary(self, material: Any, toward: Words, **filters: Unpack[Filters]) -> Answer:
        """Find what moves a material or a formula toward other words; errors as `extend`."""
        return _suggested(self._under(filters).vary(material, _request(filters, toward=toward)))

    def material(self, name: str) -> Answer:
        """Return everything known of a material; each figure of it is a row with basis and source."""
        palette = self.workspace.palette
        found = self.workspace.material(name)
        data = cards.card(palette, found)
        rows = [{"figure": kind, **figure} for kind, figures in data["figures"].items() for figure in figures]
        return Answer(data, rows, ("figure", "value"), found.name, found)

    def materials(self, words: str | None = None) -> Answer:
        """Return the materials that show the facets named by words, strongest first; all without words."""
        palette = self.workspace.palette
        found, _ = self.workspace.materials(words)
        rows = [cards.row(palette, material) for material in found]
        return Answer(rows, rows, cards.ROW_COLUMNS, f"{len(rows)} materials", found)

    def drydown(self, formula: Any) -> Answer:
        """Return hours, facets, ends and gaps of a formula, as `recommender drydown --format json`."""
        table = self.workspace.drydown(formula)
        data = over_time.drydown(table)
        rows = over_time.drydown_rows(data)
        return Answer(data, rows, over_time.DRYDOWN_COLUMNS, f"drydown of {table.formula.name}", table)

    drydown_of = drydown

    def trim(self, formula: Any) -> Answer:
        """Return what would be missed without each material of a formula, the least missed first."""
        table, found = self.workspace.trim(formula)
        rows = [over_time.spare_row(one) for one in found]
        data = {"formula": table.formula.name, "rows": rows, "notes": list(table.notes)}
        return Answer(
            data, rows, over_time.SPARE_COLUMNS, f"{table.formula.name}, the least missed first", found
        )

    def strips(self, *names: str, hours: float = 1 / 60) -> Answer:
        """Compare 1 % strips of materials at one hour."""
        found = self.workspace.strips(names, hours)
        rows = [over_time.strip_row(one) for one in found]
        data = {"hours": hours, "rows": rows, "notes": []}
        return Answer(data, rows, over_time.STRIP_COLUMNS, f"{len(rows)} strips at {tidy(hours)} h", found)

    def dose(
        self,
        names: Sequence[str],
        balance: Words = "",
        *,
        batch_g: float = 10.0,
        dosage_percent: float | None = None,
        category: str = regulation.CATEGORY,
        market: str = "any",
    ) -> Answer:
        """Return first-trial amounts of materials for a balance such as "almond 2, vanilla 1".

        With `dosage_percent`, the concentrate in the finished product, no amount goes above a limit.
        """
        dosage = None if dosage_percent is None else regulation.checked_dosage(dosage_percent)
        use = regulation.ProductUse(dosage, regulation.checked_category(category), market)
        found = self.workspace.dose(names, comparison.balance_of(balance), batch_g=batch_g, use=use)
        rows = [over_time.first_row(one) for one in found]
        data = {"batch_g": batch_g, "rows": rows, "notes": list(over_time.DOSE_NOTES)}
        return Answer(data, rows, over_time.FIRST_COLUMNS, "first amounts", found)

    def check(
        self,
        formula: Any,
        dosage_percent: float,
        category: str = regulation.CATEGORY,
        *,
        market: str = "any",
        content: Sequence[str] = (),
    ) -> Answer:
        """Carry a formula to the finished product, as `recommender check --format json`.

        Parameters
        ----------
        formula : formula
        dosage_percent : float
            The concentrate in the finished product [% by mass].
        category : str
            Category of the industry Standards, such as "4" or "5A".
        market : str
            any, eu or standards.
        content : sequence of str
            What certificates say of naturals: "tonka bean absolute: coumarin 60".

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, WrongCas, BadNotebook
        """
        report = self.workspace.check(formula, dosage_percent, category, market, content)
        data = product.data(report, self.workspace.palette.catalogue)
        rows = [product.flat(row) for row in data["rows"]]
        return Answer(data, rows, product.COLUMNS, f"{report.formula} at {dosage_percent:g} %", report)

    def compare(self, one: Any, other: Any) -> Answer:
        """Follow two formulas side by side, hour by hour."""
        *_, found = self.workspace.compare(one, other)
        rows = over_time.side_rows(found)
        title = f"{found.names[0]} beside {found.names[1]}"
        return Answer(over_time.side_data(found), rows, over_time.SIDE_COLUMNS, title, found)

    def weigh(self, formula: Any, **options: Any) -> Answer:
        """Return how to weigh a formula, as `recommender weigh --format json`.

        Parameters
        ----------
        formula : formula
        **options
            The fields of `recommender.weighing.WeighingRequest`: masses in grams, shares in per cent.

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, BadNotebook
        TypeError
            An option that is none of them, with the nearest that is.
        """
        _known(options, [field.name for field in fields(WeighingRequest)])
        sheet = self.workspace.weigh(formula, WeighingRequest(**options))
        data = weighing.data(sheet, [*sheet.notes, *weighing.notes(sheet)])
        rows = weighing.rows(sheet)
        return Answer(data, rows, weighing.FILE_COLUMNS, f"{sheet.formula.name}, {sheet.batch_g:g} g", sheet)

    def odour_space(self) -> "OdourVectors":
        """Return the materials as unit vectors whose product is their likeness, and the facets."""
        palette = self.workspace.palette
        materials = palette.catalogue.materials
        names = tuple(material.name for material in materials)
        cas = tuple(material.cas for material in materials)
        space = palette.space
        return OdourVectors(names, cas, space.facets, space.vectors.copy(), space.weights.copy())

    def relations(self) -> "nx.MultiDiGraph":
        """Return the relations as a networkx graph: materials by name, edges with kind, basis and source."""
        import networkx as nx

        catalogue = self.workspace.palette.catalogue
        graph = nx.MultiDiGraph()
        for material in catalogue.materials:
            graph.add_node(material.name, cas=material.cas, kind=material.kind, role=material.role)
        for relation in catalogue.relations:
            start, end = catalogue.by_slug(relation.start), catalogue.by_slug(relation.end)
            graph.add_edge(
                start.name,
                end.name,
                kind=relation.kind,
                weight=relation.weight,
                basis=relation.basis,
                source=relation.source,
            )
        return graph

    def evidence(self) -> dict[str, "pd.DataFrame"]:
        """Return materials, labels, figures and limits as DataFrames, with basis and source of each row."""
        import pandas as pd

        catalogue = self.workspace.palette.catalogue
        labels = [
            {"name": m.name, "facet": x.facet, "strength": x.strength, "basis": x.basis, "source": x.source}
            for m in catalogue.materials
            for x in m.labels
        ]
        figures = [
            {"name": m.name, "figure": kind, **{f.name: getattr(figure, f.name) for f in fields(figure)}}
            for m in catalogue.materials
            for kind, found in m.figures.items()
            for figure in found
        ]
        limits = [
            {
                "name": limit.name,
                "cas": "; ".join(limit.cas),
                "kind": limit.kind,
                "market": limit.market,
                "basis": limit.basis,
                "source": limit.source,
                "reference": limit.reference,
                "date": limit.date,
                **{f"cat_{name}": percent for name, percent in limit.percent.items()},
            }
            for limit in catalogue.limits
        ]
        tables = {
            "materials": self.materials().to_frame(),
            "labels": pd.DataFrame(labels),
            "figures": pd.DataFrame(figures),
            "limits": pd.DataFrame(limits),
        }
        for frame in tables.values():
            frame.attrs.setdefault("units", {name: UNITS[name] for name in frame.columns if name in UNITS})
        return tables

    def _under(self, filters: Filters) -> Workspace:
        """Return the workspace, or that of another notebook where a call names one."""
        named = filters.get("notebook")
        return self.workspace if named is None else Workspace(Path(named))


@dataclass(frozen=True)
class OdourVectors:
    """The odour space as arrays.

    Attributes
    ----------
    names, cas : tuple of str
        Of the materials, in the order of the rows.
    facets : tuple of str
        In the order of the columns of `weights`.
    vectors : ndarray, shape (materials, dimensions)
        Unit vectors: the product of two rows is how alike two materials smell, before it is scaled.
    weights : ndarray, shape (materials, facets)
        How strongly each material shows each facet, 0-1.
    """

    names: tuple[str, ...]
    cas: tuple[str, ...]
    facets: tuple[str, ...]
    vectors: npt.NDArray[np.float64]
    weights: npt.NDArray[np.float64]


def _request(filters: Filters, **given: Any) -> Request:
    """Return the request; `shelf` of Python is `only_shelf` of the request."""
    _known(filters, Filters.__annotations__)
    more: dict[str, Any] = {k: v for k, v in filters.items() if k not in ("notebook", "shelf")}
    return Request(**given, **more, only_shelf=filters.get("shelf", False))


def _suggested(findings: Any) -> Answer:
    data = suggestions.as_dict(findings)
    rows = [formats.flat(row) for row in data["suggestions"]]
    return Answer(data, rows, formats.FLAT_COLUMNS, f"{len(rows)} suggestions", findings)


def _known(given: Collection[str], names: Collection[str]) -> None:
    """Raise `TypeError` for an option of another name, with the nearest that there is."""
    for name in given:
        if name not in names:
            near = get_close_matches(name, names, n=1, cutoff=0.5)
            way_out = f"; did you mean {near[0]}?" if near else ""
            raise TypeError(f"there is no option {name}{way_out}")


def open(path: "str | Path") -> Notebook:
    """Open a notebook: the same verbs, with the person's own bottles, nose, formulas and limits.

    The file need not be there yet; it is made with the first entry.
    """
    return Notebook(path)


@cache
def shipped() -> Notebook:
    """Return the verbs on the shipped evidence alone."""
    return Notebook()


_SHIPPED = shipped()
extend = _SHIPPED.extend
replace = _SHIPPED.replace
vary = _SHIPPED.vary
material = _SHIPPED.material
materials = _SHIPPED.materials
drydown = drydown_of = _SHIPPED.drydown
trim = _SHIPPED.trim
strips = _SHIPPED.strips
dose = _SHIPPED.dose
check = _SHIPPED.check
compare = _SHIPPED.compare
weigh = _SHIPPED.weigh
odour_space = _SHIPPED.odour_space
relations = _SHIPPED.relations
evidence = _SHIPPED.evidence
