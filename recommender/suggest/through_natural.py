"""Replacing what comes into a formula only through naturals: which brings how much, and what can be done.

Either something else takes the place of a natural, or less of it stays and something makes good the rest.
Both are simulated in the formula, and ranked in one list by how much of the smell stays and how much of what
was asked about is gone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from recommender.errors import BadValue
from recommender.formulas import dosing, simulation
from recommender.formulas.drydown import BroughtConstituent, FormulaDrydown
from recommender.formulas.usual import checked_share, usual_range
from recommender.model import Amount, Dose, Findings, Formula, Material, Suggestion
from recommender.palette import Array, Palette
from recommender.reasons import ReplacementDose, ThroughNatural
from recommender.suggest import product_limits, scoring
from recommender.suggest.assembly import terms_at
from recommender.suggest.availability import hard_to_get
from recommender.suggest.for_material import left_out, query_of, ranked
from recommender.suggest.query import MaterialQuery, read
from recommender.suggest.request import Request, drydown_for
from recommender.suggest.substitute import (
    CANDIDATES,
    LEAST_LOST,
    preserved,
    replacement_doses,
    stand_in,
    still_shown,
    swap_dose,
)
from recommender.suggest.terms import all_terms

LEFT = (0.5, 0.25, 0.1)
"""So much of a natural is left where something makes good the rest."""
DOSES = (1.0, 0.5, 0.25)
"""What makes good the rest, as shares of the dose that would replace what has gone."""
MAKE_GOOD = 20
"""So many stand-ins of the constituent itself are tried beside those of its natural."""
NOT_COMPARED = frozenset(("kinship", "untroubled", "evidence", "availability", "price"))
"""Terms about the offered material alone; in all others what is left of a natural counts as itself."""


def replace_through(asked: Material, formula: Formula, request: Request, palette: Palette) -> Findings:
    """Find what can be done about a material that comes into a formula only through naturals.

    `query["brought_by"]` are the naturals with what each brings. A suggestion is `instead_of` one of them;
    where less of that stays, it is the first of the `members`, at the dose that is left.

    Raises
    ------
    UnknownFacet, BadValue
    """
    table = drydown_for(formula, request, palette)
    about = read("replace", asked, request, palette, present=frozenset(table.slugs()))
    brought = table.brought_by(asked)
    ways = [_Natural(asked, one, table, request) for one in brought if one.share >= LEAST_LOST]
    ways = [way for way in ways if any(p.pressure_pa > 0 for a in way.rest.amounts for p in a.material.parts)]
    if not ways:
        first = brought[0].natural.name
        raise BadValue("within", formula.name, f"nothing else in it smells; ask for {first} alone")
    offers = [offer for way in ways for offer in way.offers() if offer.terms["away"] >= LEAST_LOST]
    scores = np.array([offer.score for offer in offers])
    materials = [offer.material for offer in offers]
    order = scoring.order(scores, [m.name for m in materials], hard_to_get(materials, request))
    meant = [i for i in order if offers[i].meant]
    too_low = [i for i in order if not offers[i].meant]
    notes = (
        *about.notes,
        *table.notes,
        *table.carrier_notes,
        *left_out(too_low, scores, materials, len(meant), request),
    )
    query = {
        **query_of(about),
        "share": checked_share(request.share_percent),
        "theme": table.theme.figures,
        "brought_by": [_as_data(one) for one in brought],
    }
    shown = tuple(offers[i].suggestion() for i in meant[: request.top])
    return Findings(query, asked.name, shown, tuple(dict.fromkeys(notes)))


def _as_data(found: BroughtConstituent) -> dict[str, object]:
    return {
        "name": found.natural.name,
        "cas": found.natural.cas or None,
        "parts": found.parts,
        "percent": found.percent,
        "low": found.low,
        "high": found.high,
        "share": found.share,
    }


@dataclass(frozen=True)
class _Natural:
    """A natural of a formula that brings what was asked about, and what can be done about it."""

    asked: Material
    brought: BroughtConstituent
    table: FormulaDrydown
    request: Request

    @property
    def natural(self) -> Material:
        """The natural itself."""
        return self.brought.natural

    @cached_property
    def question(self) -> MaterialQuery:
        """What can stand for the natural."""
        present = frozenset(self.table.slugs())
        return read("replace", self.natural, self.request, self.table.palette, present=present)

    @cached_property
    def parts(self) -> float:
        """Parts per thousand of the natural on the strip."""
        return 1000.0 * self.table.share_of(self.natural)

    @cached_property
    def rest(self) -> FormulaDrydown:
        """The formula without the natural."""
        return self.table.minus(self.natural)

    @cached_property
    def as_it_is(self) -> simulation.SimulatedDoses:
        """The formula as it is."""
        film = self.table.films.formula([Amount(self.natural, 1.0)])
        return simulation.simulate(self.rest.film, [film], np.array([self.parts / 1000.0]))

    @cached_property
    def lawful(self) -> float:
        """The share of the natural that limits leave, 1 where they leave all."""
        (most,) = product_limits.most_parts(self.request, [self.natural], self.rest)
        return min(1.0, float(most) / self.parts)

    @cached_property
    def free(self) -> list[int]:
        """Rows of what can stand for the natural, without what brings an unknown amount of the asked."""
        rows, _, _, order = ranked(self.question)
        return [row for row in (rows[i] for i in order) if self._brings(row) is not None][:CANDIDATES]

    @cached_property
    def beside(self) -> list[int]:
        """Rows of what may make good a lower dose: those, and the stand-ins of the asked itself."""
        present = frozenset(self.table.slugs())
        about = read("replace", self.asked, self.request, self.table.palette, present=present)
        rows, _, _, order = ranked(about)
        own = [row for row in (rows[i] for i in order) if self._brings(row) is not None][:MAKE_GOOD]
        return list(dict.fromkeys((*self.free, *own)))

    def _brings(self, row: int) -> float | None:
        """Return how much of the asked a material brings [% of it], None where it is that, or not known."""
        material = self.table.palette.catalogue.materials[row]
        if material.slug in (self.asked.slug, self.natural.slug):
            return None
        contained = [c for c in material.contents if c.name == self.asked.slug]
        if any(content.low is None and content.high is None for content in contained):
            return None
        return sum(content.middle_percent for content in contained)

    def offers(self) -> "list[_Offer]":
        """Return what may take its place or make good the rest of it, each material in its best way."""
        lawful = self.lawful
        left = [share for share in LEFT if share <= lawful]
        if lawful < 1.0:
            left.append(0.999 * lawful)
        found = self._offers(self.free, 0.0, (1.0,))
        found += [offer for share in left for offer in self._offers(self.beside, share, DOSES)]
        best: dict[str, _Offer] = {}
        for offer in found:
            slug = offer.material.slug
            if slug not in best or offer.score > best[slug].score:
                best[slug] = offer
        return list(best.values())

    def _offers(self, rows: Sequence[int], left: float, doses: Sequence[float]) -> "list[_Offer]":
        """Return each material beside so much of the natural, at shares of the dose for the rest."""
        base = self._lowered_to(left)
        rows, most = product_limits.fitting(self.request, rows, base)
        if not rows:
            return []
        materials = self.table.palette.materials(rows)
        gone = (1.0 - left) * self.parts
        chosen = replacement_doses(self.natural, materials, gone, most, base)
        films = simulation.Candidates.of(self.table.alone(materials))
        compared = self._terms(rows, left)
        found: list[_Offer] = []
        for times in doses:
            parts = np.array([times * dose for dose, _ in chosen])
            after = films.in_formula(base.film, parts / 1000.0)
            kept = preserved(self.as_it_is, after) * still_shown(self.question, self.as_it_is, after, ())
            terms = {**compared, "in formula": kept, "away": self._away(rows, base, parts)}
            scores = scoring.score(terms, "replace through natural", self.request.because)
            meant = scoring.means_something(terms, "replace through natural", self.request.because)
            found += [
                _Offer(
                    self,
                    material,
                    left,
                    base,
                    float(parts[i]),
                    float(most[i]),
                    chosen[i][1],
                    terms_at(terms, i),
                    float(scores[i]),
                    bool(meant[i]),
                )
                for i, material in enumerate(materials)
            ]
        return found

    def _terms(self, rows: Sequence[int], left: float) -> dict[str, Array]:
        """Return the terms that rank stand-ins, with what is left of the natural counted as itself."""
        found = all_terms(self.question, rows)
        carried = self.question.carried
        own = {"facet": 1.0 if carried is None else float(carried[self.question.row])}
        return {
            name: values if name in NOT_COMPARED else left * own.get(name, 1.0) + (1.0 - left) * values
            for name, values in found.items()
        }

    def _away(self, rows: Sequence[int], base: FormulaDrydown, parts: Array) -> Array:
        """Return which share of the asked is gone with each material in a concentrate.

        Of all of it, or of what has to go for a limit where one is in the way.
        """
        brought, share = np.array([self._brings(row) or 0.0 for row in rows]), parts / 1000.0
        before, after = self._percent(self.table), self._percent(base) * (1.0 - share) + brought * share
        wanted = before if self.lawful >= 1.0 else before - self._percent(self._lowered_to(self.lawful))
        return np.asarray(np.clip((before - after) / max(wanted, 1e-12), 0.0, 1.0), float)

    def _percent(self, table: FormulaDrydown) -> float:
        """Return how much of the asked a concentrate contains [%]."""
        return sum(one.percent for one in table.brought_by(self.asked))

    def _lowered_to(self, left: float) -> FormulaDrydown:
        """Return the formula with a share of the natural left."""
        return self.rest.plus([(self.natural, left * self.parts / 1000.0)]) if left else self.rest


@dataclass(frozen=True)
class _Offer:
    """A material at a dose in the place of a natural, or of which a share is `left`; `base` is beside it."""

    way: _Natural
    material: Material
    left: float
    base: FormulaDrydown
    parts: float
    room: float
    chosen: ReplacementDose
    terms: Mapping[str, float]
    score: float
    meant: bool

    def suggestion(self) -> Suggestion:
        """Return the offer as it is shown."""
        way, material, natural = self.way, self.material, self.way.natural
        dose = swap_dose(material, self.parts, (1.0 - self.left) * way.parts, self.room, self.base)
        found = stand_in(
            way.question, material, self.score, self.terms, dose, self.chosen, way.table, self.base, ()
        )
        share = dose.first_try / 1000.0
        after = self.base.plus([(material, share)])
        left = self.left * way.parts * (1.0 - share)
        through = ThroughNatural(
            way.asked.name,
            natural.name,
            sum(one.percent for one in way.table.brought_by(way.asked)),
            sum(one.percent for one in after.brought_by(way.asked)),
            way.parts,
            left,
            dose.first_try,
            basis="estimated",
        )
        found = replace(found, reasons=(through, *found.reasons), instead_of=natural)
        if not self.left:
            return found
        usual = usual_range(natural, way.table.share_percent)
        doses = Dose(left, left, left, usual=usual), dose
        both = Dose(
            sum(one.first_try for one in doses),
            sum(one.low for one in doses),
            sum(one.high for one in doses),
            dose.dilution_percent,
            dose.high / way.parts,
            dosing.together(doses),
            doses,
        )
        members = tuple(
            (m, d.first_try / both.first_try) for m, d in zip((natural, material), doses, strict=True)
        )
        return replace(found, dose=both, members=members)
