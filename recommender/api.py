"""The verbs for Python: `import recommender as r; r.extend("benzaldehyde", facet="almond")`.

At module level they answer from the shipped evidence; `r.open("notebook.sqlite")` gives the same verbs under
a notebook. A formula is a file, a saved name, a mapping or pairs of material and parts, or a DataFrame.

>>> import recommender as r
>>> accord = {"benzaldehyde": 40, "coumarin": 60, "vanillin": 100}
>>> [gap["facet"] for gap in r.drydown(accord)["gaps"]]
['bitter almond']
>>> found = r.extend(accord, facet="bitter almond", into="base", top=3)
>>> found["query"]["into"], len(found)
('base', 3)
"""

import html
import os
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from datetime import date
from difflib import get_close_matches
from numbers import Integral, Real
from pathlib import Path
from types import NoneType
from typing import TYPE_CHECKING, Any, Generic, TypedDict, TypeVar, Unpack, get_args, get_type_hints, overload

import numpy as np
import numpy.typing as npt

from recommender import regulation
from recommender.errors import BadValue
from recommender.evaporation.surfaces import Application
from recommender.formulas import comparison, redundancy
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.formula import COLUMNS as FORMULA_COLUMNS
from recommender.formulas.formula import rows as formula_rows
from recommender.model import STRIP, Facet, Findings, Formula, Material
from recommender.open_notebook import FormulaSource
from recommender.output import formats, product, suggestions, weighing
from recommender.output import formulas as over_time
from recommender.output import materials as cards
from recommender.output.wording import tidy
from recommender.similarity.phrases import Words, texts
from recommender.suggest import Request
from recommender.weighing.plan import WeighingSheet
from recommender.weighing.request import WeighingRequest
from recommender.workspace import Workspace

if TYPE_CHECKING:
    import networkx as nx
    import pandas as pd

    from recommender.reformulation import Reformulation

_Value = TypeVar("_Value")


class Filters(TypedDict, total=False):
    """What every suggesting verb takes.

    top : how many suggestions (10). kind : molecule, natural or base. avoid : words for smells that must not
    be brought along, one text or several. market : a key of `evidence.markets.MARKETS`, whose rules decide.
    why_not : a material, or several, whose absence is to be explained in the notes. dosage_percent : the
    concentrate in the finished product, so that limits bound the dose. category : of the industry Standards
    (by default that of product, else "4"). no_label_allergens : leave out what has to stand on the label.
    notebook : a notebook file in place of the one that is open. shelf : only what is on its shelf. max_price
    : of a gram of the neat material, by the prices of its shelf. surface : strip, skin, cotton or polyester,
    on which a formula dries. theme : words for what a formula is about, in place of its own theme.
    share_percent : what share of a concentrate the formula is, so that usual levels scale. on : the day
    (yyyy-mm-dd) on which the product is placed on the market, today by default. product : soap, candle,
    shampoo or wash; leave out what does poorly in it. colourless : leave out what colours, by itself or with
    what is there. available : leave out what is hardly to be had.
    """

    top: int
    kind: str
    avoid: Words
    market: str
    why_not: Words
    dosage_percent: float
    category: str
    no_label_allergens: bool
    notebook: "str | Path"
    shelf: bool
    max_price: float
    surface: str
    theme: Words
    share_percent: float
    on: str
    product: str
    colourless: bool
    available: bool


class Weighing(TypedDict, total=False):
    """How a formula is weighed; the fields of `recommender.weighing.request.WeighingRequest`."""

    batch_g: float
    finished_g: float
    resolution_g: float
    within_percent: float
    dosage_percent: float
    share_percent: float
    finished_share_percent: float
    carrier: str
    flat: bool
    as_written: bool
    market: str
    bracket: str
    category: str
    on: str


class Reformulating(TypedDict, total=False):
    """What a formula has to keep to; the fields of `recommender.reformulation.ReformulationRequest`.

    dosage_percent, category, market, on : the finished product, as for `check`. without : a material, or
    several, that may not be put in. max_price : of a gram of the concentrate, by the prices of the shelf.
    shelf : only what is on the shelf. no_label_allergens : each below the amount from which it is named.
    product : soap, candle, shampoo or wash. keep : lines whose parts stay, by material or number. changes :
    how many at most. theme : words for what the formula is about. share_percent : its share of a
    concentrate. top : how many answers (3). seconds : after how long the search ends (30).
    """

    dosage_percent: float
    category: str
    market: str
    on: str
    without: Words
    max_price: float
    shelf: bool
    no_label_allergens: bool
    product: str
    keep: Words
    changes: int
    theme: Words
    share_percent: float
    top: int
    seconds: float


HOURS, PARTS, PERCENT, SHARE = "h", "parts per thousand", "% by mass", "0-1"
PARTS_OF_FORMULA = "parts of the formula"
UNITS: Mapping[str, str] = {
    "hours": HOURS,
    "lasting_hours": HOURS,
    "lasting_low": HOURS,
    "lasting_high": HOURS,
    "clear_hours": HOURS,
    "clear_low": HOURS,
    "clear_high": HOURS,
    "just_there_hours": HOURS,
    "just_there_low": HOURS,
    "just_there_high": HOURS,
    "gap_hours": HOURS,
    "vapour_pressure_pa": "Pa",
    "strength": "0-100",
    "intensity": "0-100",
    "alone": "0-100",
    "beside": "0-100",
    "parts": PARTS,
    "costs": SHARE,
    "parts_before": PARTS_OF_FORMULA,
    "parts_after": PARTS_OF_FORMULA,
    "parts_per_thousand": PARTS,
    "dose_first_try": PARTS,
    "dose_low": PARTS,
    "dose_high": PARTS,
    "dose_dilution": PERCENT,
    "dose_usual_low": PARTS,
    "dose_usual_high": PARTS,
    "usual_low": PARTS,
    "usual_high": PARTS,
    "dilution_percent": PERCENT,
    "percent_in_product": PERCENT,
    "percent_in_concentrate": PERCENT,
    "percent_of_concentrate": PERCENT,
    "limit_percent": PERCENT,
    "added_percent": PERCENT,
    "use_ratio": "of the limit",
    "highest_dosage": PERCENT,
    "rounding_percent": "%",
    "reading_percent": "%",
    "grams": "g",
    "exact_g": "g",
    "written_g": "g",
    "score": SHARE,
    "likeness": SHARE,
    "similarity": SHARE,
    "missed": SHARE,
    "share_of_theme": SHARE,
    "share_of_whole": SHARE,
}
"""Units of the columns of `to_frame`; the terms of a score, `term_...`, are all 0-1."""
NAMES = {"only_shelf": "shelf", "within": "formula"}
"""What the fields of a request are called here, where it is another word."""
WEIGHING_COLUMNS = ("section", "name", "grams")
FACET_COLUMNS = ("facet", "family", "meaning", "synonyms", "materials")
PAIR_COLUMNS = ("cas_a", "cas_b", "similarity")
FIGURE_COLUMNS = ("figure", "value", "unit", "basis", "source")


@dataclass(frozen=True, repr=False)
class Answer(Generic[_Value]):
    """An answer: plain data with the keys of `--format json`, its rows, and the value itself.

    It iterates over its rows; `answer[0]` is the first of them and `answer["notes"]` an entry of the data.
    What it has not itself, it looks up in its value: `material("coumarin").name`.

    Attributes
    ----------
    data : dict
        The whole answer.
    rows : list of dict
        Its rows, with the keys that the data gives them.
    columns : sequence of str
        The columns that a table of it has at least.
    title : str
        What it is, in a few words.
    value : object
        The answer as an object of the package: a `Material`, `Findings`, a `FormulaDrydown`.
    notes : sequence of str
        What a reader should know, such as how words were read.

    Examples
    --------
    >>> import recommender as r
    >>> r.material("coumarin")["cas"], r.material("coumarin").value.cas
    ('91-64-5', '91-64-5')
    """

    data: dict[str, Any]
    rows: list[dict[str, Any]]
    columns: Sequence[str]
    title: str
    value: _Value
    notes: Sequence[str] = ()

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[dict[str, Any]]:
        return iter(self.rows)

    @overload
    def __getitem__(self, key: int) -> dict[str, Any]: ...
    @overload
    def __getitem__(self, key: slice) -> list[dict[str, Any]]: ...
    @overload
    def __getitem__(self, key: str) -> Any: ...
    def __getitem__(self, key: int | slice | str) -> Any:
        return self.data[key] if isinstance(key, str) else self.rows[key]

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_") or name == "value":  # not there yet while it is copied or unpickled
            raise AttributeError(name)
        try:
            return getattr(self.value, name)
        except AttributeError:
            raise AttributeError(f"neither this answer nor its value has {name!r}") from None

    def __repr__(self) -> str:
        names = [str(next((row[key] for key in ("name", "facet") if row.get(key)), "")) for row in self.rows]
        unlike = [name for name in dict.fromkeys(names) if name]
        shown = f": {', '.join(unlike[:3])}" if unlike else ""
        return f"<{self.title}{shown}{', ...' if len(unlike) > 3 else ''}>"

    def to_dict(self) -> dict[str, Any]:
        """Return the whole answer as plain data; the keys are those of `--format json`."""
        return self.data

    def to_frame(self) -> "pd.DataFrame":
        """Return the rows as a pandas table; `attrs["units"]` has the unit of each column that has one.

        A list is one cell, separated by semicolons; what is nested deeper is in `to_dict` only.
        """
        import pandas as pd

        names = dict.fromkeys((*self.columns, *(key for row in self.rows for key in row)))
        columns = [name for name in names if not any(_nested(row.get(name)) for row in self.rows)]
        frame = pd.DataFrame(
            [{name: _cell(row.get(name)) for name in columns} for row in self.rows], columns=columns
        )
        frame.attrs["units"] = _units(columns)
        return frame

    def _repr_html_(self) -> str:
        notes = "".join(f"<p>{html.escape(note)}</p>" for note in self.notes)
        return self.to_frame().to_html(index=False) + notes


def _nested(value: Any) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list | tuple) and any(isinstance(part, Mapping | list | tuple) for part in value)
    )


def _cell(value: Any) -> Any:
    return "; ".join(map(str, value)) if isinstance(value, list | tuple) else value


def _units(columns: Collection[str]) -> dict[str, str]:
    found = {name: SHARE if name.startswith("term_") else UNITS.get(name) for name in columns}
    return {name: unit for name, unit in found.items() if unit}


def _answer(
    data: dict[str, Any],
    rows: list[dict[str, Any]],
    columns: Sequence[str],
    title: str,
    value: _Value,
    notes: Sequence[str] | None = None,
) -> Answer[_Value]:
    data, rows = formats.known(data), formats.known(rows)
    return Answer(data, rows, columns, title, value, tuple(data.get("notes", ()) if notes is None else notes))


class Notebook:
    """The verbs under a notebook, or on the shipped evidence where there is none.

    Attributes
    ----------
    workspace : Workspace
        What the verbs ask, each with one request in place of keywords.
    shelf, nose, own_materials, limits, formulas, trials, own_strips, removed
        What is stored in the notebook, each with its verbs; see `recommender.records`.

    Examples
    --------
    >>> import recommender as r, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     mine = r.open(f"{folder}/notebook.sqlite")
    ...     bottle = mine.shelf.add("violet stuff", "alpha-ionone", dilution_percent=10)
    ...     saved = mine.formulas.save({"violet stuff": 20, "coumarin": 80}, "meadow")
    ...     trial = mine.trials.add("meadow", {0: "violet strong", 8: "violet gone, hay clear"})
    ...     [row["name"] for row in mine.materials(shelf=True)], trial.version
    (['alpha-ionone'], 1)
    """

    def __init__(self, path: "str | Path | None" = None, sheet: str = "") -> None:
        self.workspace = workspace = _workspace(path, sheet)
        self.shelf, self.nose, self.own_materials = workspace.shelf, workspace.nose, workspace.own_materials
        self.limits, self.formulas, self.trials = workspace.limits, workspace.formulas, workspace.trials
        self.own_strips, self.removed = workspace.own_strips, workspace.removed

    def __repr__(self) -> str:
        return f"<recommender on {self.workspace.notebook or 'the shipped evidence'}>"

    def extend(
        self,
        material: Material | FormulaSource,
        facet: Words | None = None,
        *,
        into: str | None = None,
        until_hours: float | None = None,
        formula: FormulaSource | None = None,
        relay: bool = False,
        **filters: Unpack[Filters],
    ) -> Answer[Findings]:
        """Find what carries a facet on after the material that carried it has gone.

        Parameters
        ----------
        material : Material, str or formula
            Name, synonym or CAS number, or a formula.
        facet : str or sequence of str, optional
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

        Examples
        --------
        >>> import recommender as r
        >>> found = r.extend("benzaldehyde", facet="bitter almond", until_hours=24, top=3)
        >>> found["query"]["facets"], len(found), found[0]["rank"]
        (['bitter almond'], 3, 1)
        >>> accord = {"benzaldehyde": 40, "coumarin": 60, "vanillin": 100}
        >>> r.extend("benzaldehyde", facet="cherry", formula=accord)[0]["dose_first_try"] > 0
        True
        """
        given = _request(filters, facet=facet, into=into, until_hours=until_hours, relay=relay)
        with _named():
            return _suggested(self._under(filters).extend(material, given, within=formula))

    def replace(
        self,
        material: Material | str,
        facet: Words | None = None,
        *,
        formula: FormulaSource | None = None,
        blend: int | None = None,
        because: str | None = None,
        **filters: Unpack[Filters],
    ) -> Answer[Findings]:
        """Find what can stand for a material, alone, in a formula, or as a blend of two or three.

        Parameters
        ----------
        material : Material or str
        facet : str or sequence of str, optional
            What of its smell has to stay; by default the whole.
        formula : formula, optional
            The formula in which it is replaced.
        blend : {2, 3}, optional
            How many materials together stand for it.
        because : {"stock", "price", "law", "smell"}, optional
            Why it is replaced, which decides what weighs: what is easy to get, what is cheaper by the prices
            of the shelf, what has no trouble of its own, or the smell alone.
        **filters
            See `Filters`.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> r.replace("coumarin", top=3)["query"]["material"]
        'coumarin'
        >>> [len(found["members"]) for found in r.replace("clove bud oil", blend=2, top=2)]
        [2, 2]
        """
        given = _request(filters, facet=facet, blend=blend, because=because)
        with _named():
            return _suggested(self._under(filters).replace(material, given, within=formula))

    def vary(
        self, material: Material | FormulaSource, toward: Words, **filters: Unpack[Filters]
    ) -> Answer[Findings]:
        """Find what moves a material or a formula toward other words; errors as `extend`.

        Examples
        --------
        >>> import recommender as r
        >>> r.vary("vanillin", "pear", top=5)["query"]["facets"]
        ['pear']
        """
        given = _request(filters, toward=toward)
        with _named():
            return _suggested(self._under(filters).vary(material, given))

    def pair(
        self, material: Material | FormulaSource, facet: Words | None = None, **filters: Unpack[Filters]
    ) -> Answer[Findings]:
        """Find what goes well with a material or an accord, and never what smells the same.

        Parameters
        ----------
        material : Material, str or formula
            Name, synonym or CAS number, or a formula.
        facet : str or sequence of str, optional
            Words that a companion has to show.
        **filters
            See `Filters`.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> found = r.pair("lavender oil", top=3)
        >>> found["query"]["verb"], len(found), "linalool" in [row["name"] for row in found]
        ('pair', 3, False)
        """
        given = _request(filters, facet=facet)
        with _named():
            return _suggested(self._under(filters).pair(material, given))

    def material(self, name: Material | str, *, market: str = "any") -> Answer[Material]:
        """Return everything known of a material; each figure of it is a row with basis and source.

        Raises
        ------
        UnknownMaterial, WrongCas, BadValue, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> found = r.material("91-64-5")
        >>> found.name, found.strength_of("hay"), found["lasting"]["position"]
        ('coumarin', 3, 'base')
        """
        palette = self.workspace.palette
        found = self.workspace.material(name)
        data = cards.card(palette, found, market)
        rows = [{"figure": kind, **figure} for kind, figures in data["figures"].items() for figure in figures]
        return _answer(data, rows, FIGURE_COLUMNS, found.name, found)

    def materials(
        self, words: Words | None = None, *, shelf: bool = False, market: str = "any", named: str = ""
    ) -> Answer[tuple[Material, ...]]:
        """Return the materials that show the facets named by words, strongest first; all without words.

        Parameters
        ----------
        words : str or sequence of str, optional
        shelf : bool
            Only what is on the shelf of the notebook.
        market : str
            Whose prohibitions count.
        named : str
            Only those with this text in one of their names or CAS numbers.

        Raises
        ------
        UnknownFacet, BadValue, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> found = r.materials("bitter almond")
        >>> "benzaldehyde" in [row["name"] for row in found]
        True
        >>> found.value[0].strength_of("bitter almond")
        3
        """
        _typed(_Arguments, words=words, shelf=shelf, named=named)
        palette = self.workspace.palette
        wanted = ", ".join(texts(words)) or None
        found, notes = self.workspace.materials(wanted, only_shelf=shelf, named=named)
        rows = [cards.row(palette, material, market) for material in found]
        data = {"materials": rows, "notes": notes}
        return _answer(data, rows, cards.ROW_COLUMNS, f"{len(rows)} materials", tuple(found))

    def facets(self, words: Words | None = None) -> Answer[tuple[Facet, ...]]:
        """Return the facets that words stand for, all without words, and how many materials show each.

        Raises
        ------
        UnknownFacet, BadValue, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> [row["facet"] for row in r.facets("bitter almond")]
        ['bitter almond']
        """
        _typed(_Arguments, words=words)
        found, notes = self.workspace.facets(", ".join(texts(words)) or None)
        rows = [
            {
                "facet": facet.name,
                "family": facet.family,
                "meaning": facet.meaning,
                "synonyms": list(facet.synonyms),
                "materials": count,
            }
            for facet, count in found
        ]
        data = {"facets": rows, "notes": notes}
        return _answer(data, rows, FACET_COLUMNS, f"{len(rows)} facets", tuple(facet for facet, _ in found))

    def similarities(self) -> Answer[tuple[tuple[Material, Material, float], ...]]:
        """Return how alike each pair of materials with CAS numbers smells, 0-1; see `odour_space` for arrays.

        Examples
        --------
        >>> import recommender as r
        >>> sorted(r.similarities()[0])
        ['cas_a', 'cas_b', 'similarity']
        """
        pairs = tuple(
            (one, other, alike) for one, others in self.workspace.similarities() for other, alike in others
        )
        rows = [
            {"cas_a": one.cas, "cas_b": other.cas, "similarity": round(alike, 5)}
            for one, other, alike in pairs
        ]
        return _answer({"similarities": rows}, rows, PAIR_COLUMNS, f"{len(rows)} pairs", pairs)

    def drydown(
        self,
        formula: FormulaSource,
        *,
        market: str = "any",
        surface: str = STRIP,
        load_mg: float | None = None,
        area_cm2: float | None = None,
        room_c: float | None = None,
        dosage_percent: float | None = None,
        theme: Words | None = None,
        share_percent: float | None = None,
    ) -> Answer[FormulaDrydown]:
        """Return hours, facets, ends, theme and gaps of a formula, as `recommender drydown --format json`.

        Parameters
        ----------
        formula : formula
        market : str
            Whose prohibitions are named in the notes.
        surface : {"strip", "skin", "cotton", "polyester"}
            What it dries on.
        load_mg, area_cm2 : float, optional
            What is put on [mg], on how much of the surface [cm2]; 20 and 5 by default.
        room_c : float, optional
            The room of a strip or of cloth [C], 25 by default.
        dosage_percent : float, optional
            Put on a finished product with so much concentrate in ethanol [% by mass].
        theme : str or sequence of str, optional
            Words for what it is about, in place of its own theme.
        share_percent : float, optional
            The share of the formula in a concentrate [% by mass], for the note on what is above usual use.
        on : str, optional
            The day (yyyy-mm-dd) on which the product is placed on the market, today by default.

        Raises
        ------
        BadTable, BadValue, UnknownFacet, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> found = r.drydown([("limonene", 50), ("coumarin", 50)])
        >>> found["hours"][0] > 0, found[0]["facet"] in found["facets"]
        (True, True)
        >>> r.drydown({"limonene": 50, "coumarin": 50}, surface="skin", dosage_percent=15)["ends"]["hay"][
        ...     "clear"
        ... ]["hours"] < found["ends"]["hay"]["clear"]["hours"]
        True
        """
        given: dict[str, Any] = {
            "surface": surface,
            "load_mg": load_mg,
            "area_cm2": area_cm2,
            "room_c": room_c,
            "dosage_percent": dosage_percent,
        }
        _typed(Application, **given)
        _typed(Request, theme=theme, share_percent=share_percent)
        table = self.workspace.drydown(formula, market, Application(**given), theme, share_percent)
        data = over_time.drydown(table)
        rows = over_time.drydown_rows(data)
        return _answer(data, rows, over_time.DRYDOWN_COLUMNS, f"drydown of {table.formula.name}", table)

    drydown_of = drydown

    def trim(
        self,
        formula: FormulaSource,
        *,
        surface: str = STRIP,
        theme: Words | None = None,
        share_percent: float | None = None,
    ) -> Answer[tuple[redundancy.Contribution, ...]]:
        """Return what would be missed without each material of a formula, the least missed first.

        `surface` is what it dries on: strip, skin, cotton or polyester; `theme` words for what it is about,
        in place of its own theme; `share_percent` its share of a concentrate [% by mass], for the note on
        what is above usual use.

        Raises
        ------
        BadTable, BadValue, UnknownFacet, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> accord = {"benzaldehyde": 40, "coumarin": 60, "vanillin": 99, "ethyl vanillin": 1}
        >>> r.trim(accord)[0]["name"]
        'ethyl vanillin'
        """
        _typed(Application, surface=surface)
        _typed(Request, theme=theme, share_percent=share_percent)
        table, found = self.workspace.trim(formula, Application(surface), theme, share_percent)
        data = over_time.trim_data(table, found)
        title = f"{table.formula.name}, the least missed first"
        return _answer(data, data["rows"], over_time.SPARE_COLUMNS, title, tuple(found))

    def strips(
        self, *materials: Material | str, hours: float = 1 / 60
    ) -> Answer[tuple[comparison.StripComparison, ...]]:
        """Compare 1 % strips of materials at one hour [h].

        Raises
        ------
        UnknownMaterial, WrongCas, BadValue, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> [row["name"] for row in r.strips("coumarin", "vanillin", hours=1)]
        ['coumarin', 'vanillin']
        """
        _typed(_Arguments, hours=hours)
        found = self.workspace.strips(materials, hours)
        rows = [over_time.strip_row(one) for one in found]
        data = {"hours": hours, "rows": rows, "notes": []}
        title = f"{len(rows)} strips at {tidy(hours)} h"
        return _answer(data, rows, over_time.STRIP_COLUMNS, title, tuple(found))

    def dose(
        self,
        materials: "Sequence[Material | str]",
        balance: Words | Mapping[str, float] = "",
        *,
        batch_g: float = 10.0,
        resolution_g: float = 0.01,
        dosage_percent: float | None = None,
        category: str = regulation.CATEGORY,
        market: str = "any",
        share_percent: float | None = None,
        on: str | None = None,
    ) -> Answer[tuple[comparison.FirstAmount, ...]]:
        """Return first-trial amounts of materials.

        Parameters
        ----------
        materials : sequence of Material or str
        balance : str, sequence of str or mapping
            How strong each should seem: "almond 2, vanilla 1" or {"almond": 2, "vanilla": 1}.
        batch_g, resolution_g : float
            Size of the trial and last digit of the balance [g].
        dosage_percent : float, optional
            The concentrate in the finished product [% by mass]; no amount goes above a limit.
        category, market : str
            Whose limits and prohibitions count.
        share_percent : float, optional
            What share of a concentrate the trial is [% by mass]; usual use bounds the amounts.
        on : str, optional
            The day (yyyy-mm-dd) on which the product is placed on the market, today by default.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> found = r.dose(["benzaldehyde", "vanillin"], "almond 2, vanilla 1")
        >>> found[0]["balance"], found[1]["balance"]
        (2.0, 1.0)
        """
        if isinstance(materials, str) or not isinstance(materials, Sequence):
            raise BadValue("materials", _shown(materials), 'it is a list such as ["coumarin", "vanillin"]')
        _typed(_Arguments, batch_g=batch_g, resolution_g=resolution_g)
        given = {"dosage_percent": dosage_percent, "share_percent": share_percent}
        _typed(Request, category=category, market=market, **given)
        use = regulation.ProductUse(dosage_percent, category, market, _day(on))
        found = self.workspace.dose(
            materials,
            _balance(balance),
            batch_g=batch_g,
            resolution_g=resolution_g,
            use=use,
            share_percent=share_percent,
        )
        data = {
            "batch_g": batch_g,
            "rows": [over_time.first_row(one) for one in found],
            "notes": over_time.dose_notes(found),
        }
        rows = [over_time.first_flat(one) for one in found]
        return _answer(data, rows, over_time.FIRST_COLUMNS, f"{len(rows)} first amounts", tuple(found))

    def check(
        self,
        formula: FormulaSource,
        dosage_percent: float,
        category: str = regulation.CATEGORY,
        *,
        market: str = "any",
        content: Words = (),
        share_percent: float | None = None,
        on: str | None = None,
        shown: Words = (),
    ) -> Answer[regulation.Report]:
        """Carry a formula to the finished product, as `recommender check --format json`.

        Parameters
        ----------
        formula : formula
        dosage_percent : float
            The concentrate in the finished product [% by mass].
        category : str
            Category of the industry Standards, such as "4" or "5A".
        market : str
            A key of `evidence.markets.MARKETS`.
        content : str or sequence of str
            What certificates say of naturals: "tonka bean absolute: coumarin 60".
        share_percent : float, optional
            The share of the formula in a concentrate [% by mass], for the note on what is above usual use.
        on : str, optional
            The day (yyyy-mm-dd) on which the product is placed on the market, today by default.
        shown : str or sequence of str
            Conditions that certificates show: "lemon oil: furocoumarins".

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, WrongCas, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> found = r.check({"eugenol": 30, "phenethyl alcohol": 970}, 10)
        >>> [(row["name"], row["percent_in_product"]) for row in found][:1]
        [('eugenol', 0.3)]
        """
        _typed(Request, category=category, market=market, share_percent=share_percent)
        _typed(_Arguments, dosage_percent=dosage_percent, content=content, shown=shown)
        use = regulation.ProductUse(dosage_percent, category, market, _day(on))
        report = self.workspace.check(formula, use, texts(content), share_percent, texts(shown))
        data = product.data(report, self.workspace.palette.catalogue)
        rows = [product.flat(row) for row in data["rows"]]
        return _answer(data, rows, product.COLUMNS, f"{report.formula} at {dosage_percent:g} %", report)

    def compare(
        self,
        one: FormulaSource,
        other: FormulaSource,
        *,
        surface: str = STRIP,
        theme: Words | None = None,
    ) -> Answer[comparison.Comparison]:
        """Follow two formulas side by side on a surface, hour by hour; errors as `drydown`.

        `theme` are words for what both are about, in place of their own themes.

        Examples
        --------
        >>> import recommender as r
        >>> found = r.compare({"coumarin": 1}, [("vanillin", 2), ("coumarin", 1)])
        >>> found["formulas"], sorted(found[0])
        (['table (first)', 'table (second)'], ['facet', 'formula', 'hours', 'intensity'])
        """
        _typed(Application, surface=surface)
        _typed(Request, theme=theme)
        first, second, found = self.workspace.compare(one, other, Application(surface), theme)
        rows = over_time.side_rows(found)
        title = f"{found.names[0]} beside {found.names[1]}"
        notes = (*first.notes, *second.notes)
        data = over_time.side_data(found, [first.theme, second.theme], notes)
        return _answer(data, rows, over_time.SIDE_COLUMNS, title, found)

    def reformulate(
        self, formula: FormulaSource, **options: Unpack[Reformulating]
    ) -> "Answer[Reformulation]":
        """Bring a formula inside limits, label, price and shelf with the least change to its smell.

        Parameters
        ----------
        formula : formula
        **options
            See `Reformulating`.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook
        TypeError
            An option that is none of them, with the nearest that is.

        Examples
        --------
        >>> import recommender as r
        >>> accord = {"eugenol": 30, "phenethyl alcohol": 970}
        >>> found = r.reformulate(accord, dosage_percent=1, market="eu")
        >>> found["preserved"], found["changes"]
        (1.0, [])
        """
        from recommender.output import reformulation
        from recommender.reformulation import ReformulationRequest

        _known(options, Reformulating.__annotations__)
        given: dict[str, Any] = {name: value for name, value in options.items() if name != "shelf"}
        shelf = options.get("shelf", False)
        _typed(_Arguments, shelf=shelf)
        given["on"] = _day(options.get("on"))
        _typed(ReformulationRequest, **given)
        with _named():
            found = self.workspace.reformulate(formula, ReformulationRequest(**given, only_shelf=shelf))
        data = reformulation.data(found, self.workspace.palette.catalogue)
        rows = reformulation.rows(data)
        title = f"{len(found.answers)} answers for {found.before.name}"
        return _answer(data, rows, reformulation.CHANGE_COLUMNS, title, found)

    def weigh(self, formula: FormulaSource, **options: Unpack[Weighing]) -> Answer[WeighingSheet]:
        """Return how to weigh a formula, as `recommender weigh --format json`.

        Parameters
        ----------
        formula : formula
        **options
            See `Weighing`: masses in grams, shares in per cent.

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, BadNotebook
        TypeError
            An option that is none of them, with the nearest that is.

        Examples
        --------
        >>> import recommender as r
        >>> found = r.weigh({"eugenol": 30, "phenethyl alcohol": 970}, batch_g=20, resolution_g=0.001)
        >>> {row["name"]: row["grams"] for row in found}["eugenol"]
        0.6
        """
        _known(options, Weighing.__annotations__)
        given: dict[str, Any] = {**options, "on": _day(options.get("on"))}
        _typed(WeighingRequest, **given)
        sheet = self.workspace.weigh(formula, WeighingRequest(**given))
        data = weighing.data(sheet, [*sheet.notes, *weighing.notes(sheet)])
        title = f"{sheet.formula.name}, {sheet.batch_g:g} g"
        return _answer(data, weighing.rows(sheet), WEIGHING_COLUMNS, title, sheet)

    def preferred(
        self, formula: FormulaSource, bracket: str, number: int, *, share_percent: float | None = None
    ) -> Answer[Formula]:
        """Return a formula with the dose of the vial that was preferred, by its blind number.

        Parameters
        ----------
        formula : formula
        bracket : str
            The line of which `weigh(formula, bracket=...)` planned three vials.
        number : int
            That of the vial.
        share_percent : float, optional
            As it was given to `weigh`.

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, BadNotebook

        Examples
        --------
        >>> import recommender as r
        >>> accord = {"eugenol": 3, "phenethyl alcohol": 97}
        >>> key = r.weigh(accord, bracket="eugenol")["bracket"]["key"]
        >>> high = next(int(number) for number, dose in key.items() if dose == "high")
        >>> r.preferred(accord, "eugenol", high)[0]["material"]
        'eugenol'
        """
        _typed(WeighingRequest, bracket=bracket, share_percent=share_percent)
        _typed(_Arguments, number=number)
        request = WeighingRequest(bracket=bracket, share_percent=share_percent)
        found = self.workspace.preferred(formula, request, number)
        rows: list[dict[str, Any]] = [dict(row) for row in formula_rows(found)]
        data = weighing.preferred_data(found, formula_rows(found), None)
        return _answer(data, rows, FORMULA_COLUMNS, f"{found.name} with vial {number}", found)

    def odour_space(self) -> "OdourVectors":
        """Return the materials as unit vectors, and how strongly each shows each facet, as arrays.

        Examples
        --------
        >>> import recommender as r
        >>> space = r.odour_space()
        >>> space.vectors.shape[0] == space.weights.shape[0] == len(space.names)
        True
        >>> float(space.weights[space.names.index("coumarin"), space.facets.index("hay")])
        1.0
        """
        palette = self.workspace.palette
        materials = palette.catalogue.materials
        names = tuple(material.name for material in materials)
        cas = tuple(material.cas for material in materials)
        space = palette.space
        return OdourVectors(names, cas, space.facets, space.vectors.copy(), space.weights.copy())

    def relations(self) -> "nx.MultiDiGraph":
        """Return the relations as a networkx graph: materials by name, edges with kind, basis and source.

        Examples
        --------
        >>> import recommender as r
        >>> graph = r.relations()
        >>> graph.nodes["coumarin"]["cas"]
        '91-64-5'
        """
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

    def evidence_tables(self) -> dict[str, "pd.DataFrame"]:
        """Return materials, labels, figures and limits as DataFrames, with basis and source of each row.

        Examples
        --------
        >>> import recommender as r
        >>> tables = r.evidence_tables()
        >>> sorted(tables), "basis" in tables["labels"]
        (['figures', 'labels', 'limits', 'materials'], True)
        """
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
                "applies_from": limit.applies_from,
                "applies_until": limit.applies_until,
                "condition": limit.condition,
                "superseded_by": limit.superseded_by,
                **{f"cat_{name}": percent for name, percent in limit.percent.items()},
            }
            for limit in catalogue.entries
        ]
        tables = {
            "materials": self.materials().to_frame(),
            "labels": pd.DataFrame(labels),
            "figures": pd.DataFrame(figures),
            "limits": pd.DataFrame(limits),
        }
        tables["labels"].attrs["units"] = {"strength": "1-3"}
        tables["figures"].attrs["units"] = {}  # a column of its own
        percents = {str(name): PERCENT for name in tables["limits"] if str(name).startswith("cat_")}
        tables["limits"].attrs["units"] = percents
        return tables

    def _under(self, filters: Filters) -> Workspace:
        """Return the workspace, or that of another notebook where a call names one."""
        named = filters.get("notebook")
        return self.workspace if named is None else _workspace(named, self.workspace.sheet)


def _workspace(notebook: "str | Path | None", sheet: str = "") -> Workspace:
    if not isinstance(notebook, str | os.PathLike | None):
        raise BadValue("notebook", _shown(notebook), "it is the path of a file")
    return Workspace(None if notebook is None else Path(notebook).expanduser(), sheet=sheet)


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


@dataclass(frozen=True)
class _Arguments:
    """What verbs take beside the fields of a request."""

    words: Words | None
    content: Words | None
    shown: Words | None
    shelf: bool
    named: str
    hours: float
    batch_g: float
    resolution_g: float
    dosage_percent: float
    number: int


WANTED: Mapping[type, str] = {
    bool: "it is True or False",
    int: "it is a whole number",
    float: "it is a number",
    str: "it is a text",
}


def _typed(owner: type, **given: Any) -> None:
    """Raise `BadValue` for a value of another type than the field of this name has in `owner`."""
    hints = get_type_hints(owner)
    for name, value in given.items():
        types = get_args(hints[name]) or (hints[name],)
        if value is None and NoneType in types:
            continue
        wanted = next(kind for kind in WANTED if kind in types)
        if not (_is(wanted, value) or (str in types and len(types) > 2 and _are_texts(value))):
            raise BadValue(name, _shown(value), WANTED[wanted])


def _is(wanted: type, value: Any) -> bool:
    if isinstance(value, bool | np.bool_):
        return wanted is bool
    kinds: Mapping[type, type] = {int: Integral, float: Real}
    return isinstance(value, kinds.get(wanted, wanted))


def _are_texts(value: Any) -> bool:
    """Tell whether a value is several texts; None among them stands for nothing."""
    return isinstance(value, Sequence) and all(isinstance(text, str) for text in value)


def _shown(value: Any) -> str:
    return value if isinstance(value, str) else repr(value)[:60]


def _balance(given: Words | Mapping[str, float]) -> Mapping[str, float]:
    if not isinstance(given, Mapping):
        _typed(_Arguments, words=given)
        return comparison.balance_of(given)
    for name, strength in given.items():
        if not (_is(float, strength) and 0 < strength < float("inf")):
            raise BadValue("balance", f"{name} {_shown(strength)}", "how strong it should seem is above 0")
    return given


def _request(filters: Filters, **given: Any) -> Request:
    """Return the request; `shelf` of Python is `only_shelf` of the request."""
    _known(filters, Filters.__annotations__)
    more: dict[str, Any] = {k: v for k, v in filters.items() if k not in ("notebook", "shelf")}
    shelf = filters.get("shelf", False)
    _typed(_Arguments, shelf=shelf)
    more["on"] = _day(filters.get("on"))
    _typed(Request, **given, **more)
    return Request(**given, **more, only_shelf=shelf)


def _day(on: str | None) -> str:
    """Return the day on which a product is placed on the market, today where none is given."""
    if on is None:
        return date.today().isoformat()
    _typed(Request, on=on)
    return on


@contextmanager
def _named() -> Iterator[None]:
    """Word an error about a field with the name that it has here."""
    try:
        yield
    except BadValue as error:
        raise error.named(NAMES) from None


def _suggested(findings: Findings) -> Answer[Findings]:
    data = suggestions.as_dict(findings)
    rows = [formats.flat(row) for row in data["suggestions"]]
    return _answer(data, rows, formats.FLAT_COLUMNS, f"{len(rows)} suggestions", findings)


def _known(given: Collection[str], names: Collection[str]) -> None:
    """Raise `TypeError` for an option of another name, with the nearest that there is."""
    for name in given:
        if name not in names:
            near = get_close_matches(name, names, n=1, cutoff=0.5)
            way_out = f"; did you mean {near[0]}?" if near else ""
            raise TypeError(f"there is no option {name}{way_out}")


def open(path: "str | Path", sheet: str = "") -> Notebook:
    """Open a notebook: the same verbs, with the person's own bottles, nose, formulas and limits.

    The file need not be there yet; it is made with the first entry. `sheet` names the sheet to read of
    workbooks; by default it is the one that was active when each was saved.

    Examples
    --------
    >>> import recommender as r
    >>> mine = r.open("notebook.sqlite")
    >>> mine
    <recommender on notebook.sqlite>
    >>> mine.material("coumarin").name
    'coumarin'
    """
    return Notebook(path, sheet)


_SHIPPED = Notebook()
check = _SHIPPED.check
compare = _SHIPPED.compare
dose = _SHIPPED.dose
drydown = _SHIPPED.drydown
drydown_of = _SHIPPED.drydown_of
evidence_tables = _SHIPPED.evidence_tables
extend = _SHIPPED.extend
facets = _SHIPPED.facets
material = _SHIPPED.material
materials = _SHIPPED.materials
odour_space = _SHIPPED.odour_space
pair = _SHIPPED.pair
preferred = _SHIPPED.preferred
reformulate = _SHIPPED.reformulate
relations = _SHIPPED.relations
replace = _SHIPPED.replace
similarities = _SHIPPED.similarities
strips = _SHIPPED.strips
trim = _SHIPPED.trim
vary = _SHIPPED.vary
weigh = _SHIPPED.weigh
