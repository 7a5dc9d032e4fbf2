"""Every question once: about materials, formulas as they dry, the finished product, saved versions.

Command line, page and Python ask a `Workspace`, with the same frozen request.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from recommender import regulation, suggest
from recommender.errors import BadValue
from recommender.evaporation.surfaces import Application
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown, drydown_of
from recommender.formulas.usual import above_usual, checked_share
from recommender.model import Facet, Findings, Formula, Material, TrialRecord
from recommender.open_notebook import FormulaSource, OpenNotebook
from recommender.palette import Palette, find
from recommender.progress import Progress, StageProgress
from recommender.records.formulas import FormulaRecords
from recommender.records.limits import LimitRecords
from recommender.records.materials import MaterialRecords
from recommender.records.nose import NoseRecords
from recommender.records.removed import RemovedRecords
from recommender.records.shelf import ShelfRecords
from recommender.records.strips import StripRecords
from recommender.records.trials import TrialRecords
from recommender.regulation import ProductUse
from recommender.similarity.phrases import NOTHING, Words
from recommender.suggest import Request
from recommender.suggest.stock import MaterialCost, cost

if TYPE_CHECKING:  # what one question alone needs is imported there: a start is a third of a short answer
    from recommender.formulas import comparison, redundancy
    from recommender.notebook.formulas import SavedVersion
    from recommender.reformulation import Reformulation, ReformulationRequest
    from recommender.suggest.revise import Revision
    from recommender.weighing.plan import WeighingSheet
    from recommender.weighing.request import WeighingRequest


@dataclass(frozen=True)
class SmelledVersion:
    """A saved version with its trials, and its drydown in the room in which it was smelled."""

    version: "SavedVersion"
    records: tuple[TrialRecord, ...]
    drydown: FormulaDrydown

    def predicted(self, record: TrialRecord) -> tuple[float, ...]:
        """Return how strong each reading of a trial is predicted to be, 0-100."""
        from recommender.suggest.trial_findings import level

        return tuple(level(self.drydown, one.facet, one.hours) for one in record.readings)


@dataclass(frozen=True)
class NextVersion(SmelledVersion):
    """A saved version as it smelled, and what its trials propose for the next one."""

    revision: "Revision"


class Workspace(OpenNotebook):
    """The questions, and the person's records in groups.

    A question opens the notebook once and sees one state of it.

    Attributes
    ----------
    shelf, nose, own_materials, limits, formulas, trials, own_strips, removed
        What is stored, each with its verbs.
    """

    def __init__(self, notebook: Path | None = None, palette: Palette | None = None, sheet: str = "") -> None:
        super().__init__(notebook, palette, sheet)
        self.shelf = ShelfRecords(self)
        self.nose = NoseRecords(self)
        self.own_materials = MaterialRecords(self)
        self.limits = LimitRecords(self)
        self.formulas = FormulaRecords(self)
        self.trials = TrialRecords(self, self.formulas)
        self.own_strips = StripRecords(self)
        self.removed = RemovedRecords(self)

    # materials and facets

    def materials(
        self, words: str | None = None, *, only_shelf: bool = False, named: str = ""
    ) -> tuple[list[Material], list[str]]:
        """Return the materials that show the facets named by words, the strongest first, and notes.

        Only those with the text `named` in one of their names or CAS numbers, where it is given.

        Raises
        ------
        UnknownFacet, BadValue, BadNotebook
        """
        with self.reading():
            found, notes = find(words, self.palette)
            if only_shelf:
                bottles = self.shelf.stock().by_material
                found = [material for material in found if material.slug in bottles]
            if named.strip():
                so_called = {material.slug for material in self.palette.catalogue.containing(named)}
                found = [material for material in found if material.slug in so_called]
        return found, notes

    def facets(self, words: str | None = None) -> tuple[list[tuple[Facet, int]], list[str]]:
        """Return the facets that words stand for (all without words), and notes.

        Each with the number of materials of the palette that show it.

        Raises
        ------
        UnknownFacet, BadValue, BadNotebook
        """
        palette = self.palette
        phrase = palette.phrase(words) if words else NOTHING
        chosen = set(phrase.facets or (facet.name for facet in palette.catalogue.facets)) - set(
            phrase.refused
        )
        offered = [material for material in palette.catalogue.materials if material.role == "palette"]
        found = [
            (facet, sum(material.strength_of(facet.name) > 0 for material in offered))
            for facet in palette.catalogue.facets
            if facet.name in chosen
        ]
        return found, list(phrase.notes)

    def similarities(self) -> Iterator[tuple[Material, list[tuple[Material, float]]]]:
        """Yield each material that has a CAS number and labels, with its likeness to those after it, 0-1."""
        palette = self.palette
        numbered = [(i, m) for i, m in enumerate(palette.catalogue.materials) if m.cas and m.labels]
        likeness = palette.space.all_likeness()
        for place, (i, material) in enumerate(numbered):
            yield material, [(other, float(likeness[i, j])) for j, other in numbered[place + 1 :]]

    # what a facet, a material or a formula needs

    def extend(
        self,
        asked: Material | FormulaSource,
        request: Request | None = None,
        *,
        within: FormulaSource | None = None,
        progress: Progress | None = None,
    ) -> Findings:
        """Return what keeps a facet alive after its carrier has gone: the material `asked`, or in a formula.

        `progress` is given the share of the work in a formula that is done, 0-1.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook
        """
        with self.reading():
            inner = None if within is None else self.formula(within)
            subject = self.subject(asked) if inner is None else self.material(asked)
            return suggest.extend(subject, self._stocked(request), self.palette, inner, progress)

    def replace(
        self,
        asked: Material | str,
        request: Request | None = None,
        *,
        within: FormulaSource | None = None,
    ) -> Findings:
        """Return what can stand for a material, alone, `within` a formula or blended; errors as `extend`."""
        with self.reading():
            inner = None if within is None else self.formula(within)
            return suggest.replace(self.material(asked), self._stocked(request), self.palette, inner)

    def vary(
        self, asked: Material | FormulaSource, request: Request, *, progress: Progress | None = None
    ) -> Findings:
        """Return what moves a material or a formula toward other words; `progress`, errors as `extend`."""
        with self.reading():
            return suggest.vary(self.subject(asked), self._stocked(request), self.palette, progress)

    def pair(self, asked: Material | FormulaSource, request: Request | None = None) -> Findings:
        """Return what goes well with a material or a formula; errors as `extend`."""
        with self.reading():
            return suggest.pair(self.subject(asked), self._stocked(request), self.palette)

    def _stocked(self, request: Request | None) -> Request:
        """Return a request with the shelf, where bottles are on it or are asked for."""
        given = request or Request()
        if given.shelf is not None:
            return given
        stock = self.shelf.stock()
        return replace(given, shelf=stock) if stock.bottles or given.needs_shelf else given

    def reformulate(
        self,
        formula: FormulaSource,
        request: "ReformulationRequest | None" = None,
        *,
        progress: StageProgress | None = None,
    ) -> "Reformulation":
        """Return a formula inside limits, label, price and shelf with the least change to its smell.

        `progress` is given what is being done and how much of it is done, 0-1; the search ends with what it
        has where that returns false.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadTable, BadNotebook
        """
        from recommender.reformulation import ReformulationRequest, reformulate

        with self.reading():
            given = request or ReformulationRequest()
            if given.shelf is None and (stock := self.shelf.stock()).bottles:
                given = replace(given, shelf=stock)
            return reformulate(self.formula(formula), given, self.palette, progress)

    # strips and formulas

    def strips(
        self, materials: Sequence[Material | str], hours: float = 1 / 60
    ) -> "list[comparison.StripComparison]":
        """Return 1 % strips of materials beside each other at one hour [h]; errors as `material`."""
        from recommender.formulas import comparison

        with self.reading():
            return comparison.strips([self.material(name) for name in materials], self.palette, hours)

    def dose(
        self,
        materials: Sequence[Material | str],
        balance: Mapping[str, float] | None = None,
        *,
        batch_g: float = 10.0,
        resolution_g: float = 0.01,
        use: ProductUse | None = None,
        share_percent: float | None = None,
    ) -> "list[comparison.FirstAmount]":
        """Return first amounts for a balance, facet or material -> how strong it should seem.

        Usual use bounds them; `share_percent` is what share of a concentrate [%] the trial is.

        Raises
        ------
        UnknownMaterial, UnknownFacet, WrongCas, BadValue, BadNotebook
        """
        from recommender.formulas import comparison

        with self.reading():
            chosen = [self.material(name) for name in materials]
            given = _checked(use or ProductUse())
            return comparison.dose(
                chosen, balance or {}, self.palette, batch_g, resolution_g, given, share_percent
            )

    def drydown(
        self,
        formula: FormulaSource,
        market: str = "any",
        application: Application | None = None,
        theme: Words | None = None,
        share_percent: float | None = None,
    ) -> FormulaDrydown:
        """Return a formula on a strip or another surface: its course, theme, ends and gaps.

        `theme` are words for what it is about, in place of its own theme.

        Its notes name the lines above usual use; `share_percent` is its share of a concentrate [%].

        Raises
        ------
        BadTable, BadValue, UnknownFacet, BadNotebook
        """
        applied = application or Application()
        if applied.dosage_percent is not None:
            applied = replace(applied, dosage_percent=regulation.checked_dosage(applied.dosage_percent))
        with self.reading():
            palette = self.palette
            if applied != Application():
                palette = replace(palette, conditions=applied.on(palette.conditions))
            found = formulas.with_theme(self.formula(formula), theme, palette.catalogue)
            return drydown_of(found, palette, market, checked_share(share_percent))

    def trim(
        self,
        formula: FormulaSource,
        application: Application | None = None,
        theme: Words | None = None,
        share_percent: float | None = None,
    ) -> "tuple[FormulaDrydown, list[redundancy.Contribution]]":
        """Return a formula with what would be missed without each material, the least missed first.

        Errors as `drydown`.
        """
        from recommender.formulas import redundancy

        table = self.drydown(formula, application=application, theme=theme, share_percent=share_percent)
        return table, redundancy.trim(table)

    def compare(
        self,
        one: FormulaSource,
        other: FormulaSource,
        application: Application | None = None,
        theme: Words | None = None,
    ) -> "tuple[FormulaDrydown, FormulaDrydown, comparison.Comparison]":
        """Return two formulas, and both side by side hour by hour; errors as `drydown`."""
        from recommender.formulas import comparison

        with self.reading():
            first, second = (
                self.drydown(each, application=application, theme=theme) for each in (one, other)
            )
        return first, second, comparison.compare(first, second)

    def diff(
        self, one: FormulaSource, other: FormulaSource | None = None
    ) -> "tuple[FormulaDrydown, FormulaDrydown, comparison.VersionDiff]":
        """Return two versions, and what moved from one to the other; errors as `formula`.

        A saved name alone is compared with the version before it.
        """
        from recommender.formulas import comparison

        with self.reading():
            if other is None:
                one, other = self._with_the_one_before(str(one))
            both = self.drydown(one), self.drydown(other)
        return *both, comparison.diff(*both)

    def _with_the_one_before(self, name: str) -> tuple[Formula, Formula]:
        """Return the version before a saved one, and that one."""
        found = self.formulas.version(name)
        earlier = [one for one in self.formulas.versions(found.name) if one.number < found.number]
        if not earlier:
            raise BadValue("formula", found.title, "there is no version before it; name two")
        return self._opened(earlier[-1]), self._opened(found)

    def _opened(self, version: "SavedVersion") -> Formula:
        """Return a saved version as a formula, called by name and number."""
        return replace(self.formulas.open(version.title)[1], name=version.title)

    def check(
        self,
        formula: FormulaSource,
        use: ProductUse,
        content: Sequence[str] = (),
        share_percent: float | None = None,
        shown: Sequence[str] = (),
    ) -> regulation.Report:
        """Return a formula in the finished product: limits, prohibitions, label.

        `content` is what certificates say of naturals: "tonka bean absolute: coumarin 60", `shown` which
        conditions they show: "lemon oil: furocoumarins". Its notes name the lines above usual use;
        `share_percent` is the share of the formula in a concentrate [%], for these alone: the dosage is that
        of the formula. Entries count as of the day `on` of the use; without one entries of any date do.

        Raises
        ------
        BadTable, BadValue, UnknownMaterial, WrongCas, BadNotebook
        """
        use, share = _checked(use), checked_share(share_percent)
        if use.dosage_percent is None:
            raise BadValue("dosage_percent", "", "give the concentrate in the finished product in per cent")
        with self.reading():
            catalogue = self.palette.catalogue
            certified = regulation.certificates(content, catalogue)
            found = self.formula(formula)
            amounts = formulas.amounts(found)
            report = regulation.check(
                amounts,
                catalogue,
                use.dosage_percent,
                use.category,
                use.market,
                certified,
                use.on,
                regulation.shown_by_certificate(shown, catalogue),
            )
            remarks = (*formulas.remarks(found), *above_usual(amounts, share))
            notes = tuple(dict.fromkeys((*found.notes, *remarks)))
            return replace(report, formula=found.name, notes=notes)

    def weigh(self, formula: FormulaSource, request: "WeighingRequest | None" = None) -> "WeighingSheet":
        """Return how to weigh a formula; raises `BadTable`, `BadValue`, `UnknownMaterial`, `BadNotebook`."""
        from recommender.weighing.request import WeighingRequest, weighed

        with self.reading():
            found, stock = self.formula(formula), self.shelf.stock()
            return weighed(found, request or WeighingRequest(), self.palette.catalogue, stock.by_material)

    def preferred(self, formula: FormulaSource, request: "WeighingRequest", number: int) -> Formula:
        """Return a formula with the dose of the vial of its bracket that was preferred; errors as `weigh`."""
        from recommender.weighing.request import preferred

        with self.reading():
            return preferred(self.formula(formula), request, number, self.palette.catalogue)

    def cost(
        self, formula: FormulaSource, batch_g: float = 10.0
    ) -> tuple[FormulaDrydown, list[MaterialCost]]:
        """Return a formula, and what a batch of it [g] takes from the bottles; errors as `formula`."""
        with self.reading():
            found = self.drydown(formula)
            return found, cost(found.concentrate, self.shelf.stock(), batch_g)

    # saved versions as they smelled

    def smelled(self, name: str) -> SmelledVersion:
        """Return the saved version that NAME or NAME@2 stands for as it smelled; raises as `drydown`."""
        with self.reading():
            version = self.formulas.version(name)
            return self._as_smelled(version, self.trials.records(version.title))

    def trial(self, number: int) -> tuple[TrialRecord, SmelledVersion]:
        """Return a trial, and its version in the room of that trial.

        Raises
        ------
        BadValue
            No trial has this number.
        BadNotebook
        """
        with self.reading():
            record = self.trials.record(number)
            version = self.formulas.version(f"{record.formula}@{record.version}")
            return record, self._as_smelled(version, [record])

    def next_version(
        self, name: str, request: Request | None = None, *, progress: Progress | None = None
    ) -> NextVersion:
        """Return what the trials of a saved version propose for the next one.

        `progress` is given the share of the work that is done, 0-1.

        Raises
        ------
        BadValue
            Nothing is saved under this name, or no trial of it has readings.
        UnknownFacet, BadNotebook
        """
        from recommender.suggest.revise import revise

        with self.reading():
            found = self.smelled(name)
            if request is not None and request.theme:
                drydown = found.drydown
                formula = formulas.with_theme(drydown.formula, request.theme, drydown.palette.catalogue)
                found = replace(found, drydown=replace(drydown, formula=formula))
            readings = [one for record in found.records for one in record.readings]
            if not readings:
                raise self._without_readings(found.version)
            revision = revise(found.drydown, readings, self._stocked(request), progress)
        return NextVersion(found.version, found.records, found.drydown, revision)

    def _without_readings(self, version: "SavedVersion") -> BadValue:
        with_some = (r for r in self.trials.records(version.name) if r.readings)
        others = sorted({f"{r.formula}@{r.version}" for r in with_some})
        way_out = f"{', '.join(others)} has" if others else "see `recommender trials add --help`"
        return BadValue("trial", version.title, f"there are no readings of it yet; {way_out}")

    def _as_smelled(self, version: "SavedVersion", records: Sequence[TrialRecord]) -> SmelledVersion:
        """Return a version in the mean room of some trials, the usual one where unknown."""
        palette = self.palette
        rooms = [record.room_c for record in records if record.room_c is not None]
        if rooms:
            conditions = replace(palette.conditions, temperature_c=sum(rooms) / len(rooms))
            palette = replace(palette, conditions=conditions)
        drydown = FormulaDrydown(self._opened(version), palette)
        return SmelledVersion(version, tuple(records), drydown)


def _checked(use: ProductUse) -> ProductUse:
    """Return the same use with its category as the Standards write it; raises `BadValue`."""
    dosage_percent = use.dosage_percent
    if dosage_percent is not None:
        dosage_percent = regulation.checked_dosage(dosage_percent)
    category, on = regulation.checked_category(use.category), regulation.checked_day(use.on)
    return ProductUse(dosage_percent, category, use.market, on)
