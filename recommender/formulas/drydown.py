"""A formula on a surface: its films, its course, its ends and gaps."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from recommender.errors import BadValue
from recommender.evaporation import DEFAULT_CONDITIONS, Array, Conditions
from recommender.evaporation.activity import CarrierEffect, carrier_effects
from recommender.evaporation.course import Course, FormulaFilm, MaterialFilm, MaterialFilms, course
from recommender.evaporation.gaps import BAND, FacetEnd, Gap, ends, gaps
from recommender.evaporation.presence import LEADING
from recommender.evaporation.surfaces import CM2, UNSURE, WARM, times_within
from recommender.formulas import formula as formulas
from recommender.formulas import theme as themes
from recommender.formulas.usual import WHOLE, UsualUse, above_usual, present_parts, usual_range
from recommender.model import STRIP, Amount, Formula, Line, Material
from recommender.palette import Palette
from recommender.regulation import FormulaLoad, ProductUse, warnings


@dataclass(frozen=True, slots=True)
class BroughtConstituent:
    """How much of a constituent a natural of a formula brings.

    `parts` of the natural are in a thousand of the concentrate; `percent` is what it brings of the
    constituent [% of the concentrate], by the middle of its range, `low` and `high` by the ends of it (`high`
    is None where only a least share is known); `share` is that of all that naturals bring, 0-1.
    """

    natural: Material
    parts: float
    percent: float
    low: float
    high: float | None
    share: float


def brought_by(concentrate: Sequence[Amount], material: Material) -> list[BroughtConstituent]:
    """Return which naturals bring a material, what brings most first; those of unknown amount not."""
    found = [
        (amount, content)
        for amount in concentrate
        for content in amount.material.contents
        if content.name == material.slug and content.middle_percent
    ]
    whole = sum(amount.mass_fraction * content.middle_percent for amount, content in found)
    brought = [
        BroughtConstituent(
            amount.material,
            1000.0 * amount.mass_fraction,
            amount.mass_fraction * content.middle_percent,
            amount.mass_fraction * (content.low or 0.0),
            None if content.high is None else amount.mass_fraction * content.high,
            amount.mass_fraction * content.middle_percent / whole,
        )
        for amount, content in found
    ]
    return sorted(brought, key=lambda one: (-one.percent, one.natural.name))


@dataclass(frozen=True)
class FormulaDrydown:
    """A formula with what is derived from it when it is asked for; `market` is whose prohibitions count.

    `share_percent` is its share of a concentrate [%], to which usual levels are scaled.
    """

    formula: Formula
    palette: Palette
    market: str = "any"
    share_percent: float = WHOLE

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What a person should know: prohibited lines, whose hours these are, how the formula was read."""
        present = [amount.material for amount in self.concentrate]
        return (
            *warnings(present, self.palette.catalogue.entries, self.market),
            *own_strip_notes(present, self.palette.conditions),
            *_applied(self.palette.conditions, self.conditions),
            *self.formula.notes,
            *formulas.remarks(self.formula),
            *above_usual(self.concentrate, self.share_percent),
        )

    @cached_property
    def amounts(self) -> list[Amount]:
        """What is on the strip once ethanol has gone."""
        return formulas.on_strip(self.formula) if self.formula.lines else []

    @cached_property
    def concentrate(self) -> list[Amount]:
        """What the whole formula holds, solvents among it, as mass fractions of the concentrate."""
        return formulas.amounts(self.formula) if self.formula.lines else []

    @cached_property
    def _loads(self) -> dict[ProductUse, FormulaLoad]:
        return {}

    def load(self, use: ProductUse) -> FormulaLoad:
        """Return what the formula counts against the limits of a use, worked out once."""
        if use not in self._loads:
            self._loads[use] = FormulaLoad(self.concentrate, self.palette.catalogue, use)
        return self._loads[use]

    @cached_property
    def conditions(self) -> Conditions:
        """Those of the palette; of a finished product, ethanol inside the concentrate leaves too."""
        found = self.palette.conditions
        if found.dosage_percent is None:
            return found
        ethanol = sum(a.mass_fraction for a in self.concentrate if a.material.slug == formulas.LEAVES_FIRST)
        return replace(found, dosage_percent=found.dosage_percent * (1.0 - ethanol))

    @property
    def surface(self) -> str:
        """What the formula is on: strip, skin, cotton or polyester."""
        return self.conditions.surface

    @property
    def times_within(self) -> float:
        """The factor within which times are right at best."""
        return times_within(self.conditions, BAND)

    @cached_property
    def film(self) -> FormulaFilm:
        """The strip with solids dissolved."""
        return self.films.formula(self.amounts)

    @cached_property
    def crystals(self) -> FormulaFilm:
        """The strip with solids as crystals."""
        return self.films.as_crystals(self.film)

    @cached_property
    def course(self) -> Course:
        """Every facet from a minute to a week."""
        return course(self.film)

    @cached_property
    def ends(self) -> Mapping[str, Mapping[str, FacetEnd]]:
        """When each facet stops being clear, and stops being there."""
        return self.ends_of(None)

    def ends_of(self, facets: Collection[str] | None) -> Mapping[str, Mapping[str, FacetEnd]]:
        """Return the ends of some facets, all where None, without those that are never just perceptible."""
        if "ends" in vars(self):
            return self.ends
        pairs = self.films.alternatives
        others = [(low.on_this(self.film), high.on_this(self.film)) for low, high in pairs]
        return ends(self.film, self.crystals, others, self.carriers, facets)

    @cached_property
    def carriers(self) -> tuple[CarrierEffect, ...]:
        """The carriers from which something may leave a strip sooner than from an ideal solution.

        None on skin and cloth: what they retain dilutes the carrier, and coefficients did not help on skin.
        """
        if self.surface != STRIP:
            return ()
        return carrier_effects(self.film, self.palette.catalogue.ln_gamma)

    @cached_property
    def carrier_notes(self) -> tuple[str, ...]:
        """What the low ends of `ends` owe to carriers, one note for each."""
        return tuple(note for effect in self.carriers if (note := _in_carrier(self, effect.carrier)))

    @cached_property
    def theme(self) -> themes.Theme:
        """What the formula is about, and whether that is stated or inferred."""
        return themes.theme_of(self.formula, self.course, self.palette.space)

    @cached_property
    def gaps(self) -> list[Gap]:
        """The facets that die while the whole still smells: of the theme first, the most missed first."""
        gone = {facet: levels["just_there"].hours for facet, levels in self.ends.items()}
        return gaps(self.course, self.theme.facets, gone)

    @cached_property
    def sticks_out(self) -> list[themes.LoudFacet]:
        """What is louder than the theme for a real stretch and not near it, the loudest first."""
        families = [facet.family for facet in self.palette.catalogue.facets]
        return themes.sticking_out(self.course, self.theme, self.palette.space, families)

    @cached_property
    def missed(self) -> "tuple[list[str], list[MissedFacet]]":
        """The materials that this nose cannot smell, and the facets that it misses; see `missed_facets`."""
        return missed_facets(self)

    @cached_property
    def smell(self) -> Array:
        """The whole smell over the first day as a unit vector in the odour space, shape (dimensions,)."""
        inside = (self.course.hours >= 0.25) & (self.course.hours <= 24)
        return self.palette.space.place(self.course.facets[inside].mean(axis=0))

    @cached_property
    def _present(self) -> Mapping[str, float]:
        """Parts per thousand of each material by key, also those that naturals bring."""
        return present_parts(self.concentrate)

    def usual(self, material: Material) -> UsualUse | None:
        """Return the usual use of a material in this formula, None where no usual level is on record."""
        usual = usual_range(material, self.share_percent)
        return None if usual is None else UsualUse(*usual, self._present.get(material.slug, 0.0))

    def slugs(self) -> set[str]:
        """Return the keys of the materials in the formula."""
        return {amount.material.slug for amount in self.amounts}

    def share_of(self, material: Material) -> float:
        """Return the mass fraction of a material on the strip; raises `BadValue` if it is not there."""
        for amount in self.amounts:
            if amount.material.slug == material.slug:
                return amount.mass_fraction
        raise BadValue("within", self.formula.name, self._not_a_line(material))

    def _not_a_line(self, material: Material) -> str:
        """Return that a material is no line of the formula, and through which naturals it comes."""
        brought = self.brought_by(material)
        if not brought:
            return f"{material.name} is not in this formula"
        through = ", ".join(f"{b.natural.name} ({10.0 * b.percent:.2g} parts per thousand)" for b in brought)
        return f"{material.name} comes only through {through}; ask to replace {brought[0].natural.name} in it"

    def brought_by(self, material: Material) -> list[BroughtConstituent]:
        """Return which naturals of the concentrate bring a material, what brings most first."""
        return brought_by(self.concentrate, material)

    def alone(self, materials: Sequence[Material]) -> list[MaterialFilm]:
        """Return each material alone on a strip."""
        return [self.films.alone(material) for material in materials]

    @property
    def films(self) -> MaterialFilms:
        """The materials alone on the surface; those of the palette where the conditions are."""
        if self.conditions is self.palette.conditions:
            return self.palette.films
        return self._own_films

    @cached_property
    def _own_films(self) -> MaterialFilms:
        return replace(self.palette.films, conditions=self.conditions)

    def plus(self, additions: Sequence[tuple[Material, float]]) -> "FormulaDrydown":
        """Return the formula with materials added, each at a mass fraction of the finished accord."""
        total = sum(line.parts for line in self.formula.lines)
        added = sum(share for _, share in additions)
        scale = total / max(1.0 - added, 1e-9)
        parts = [(material, share * scale) for material, share in additions]
        return replace(self, formula=formulas.plus(self.formula, parts))

    def minus(self, material: Material) -> "FormulaDrydown":
        """Return the formula without a material."""
        return replace(self, formula=formulas.without(self.formula, material.slug))


def drydown_of(formula: Formula, palette: Palette, market: str, share_percent: float) -> FormulaDrydown:
    """Return a formula on its surface: a recent one of the palette where all that it is made of is equal."""
    found = FormulaDrydown(formula, palette, market, share_percent)
    return found if palette.recent is None else palette.recent.like(found, _are_alike)


def _are_alike(one: FormulaDrydown, other: FormulaDrydown) -> bool:
    return (
        (one.market, one.share_percent) == (other.market, other.share_percent)
        and one.palette.catalogue is other.palette.catalogue
        and one.palette.conditions == other.palette.conditions
        and one.formula == other.formula
    )


NOT_MODELLED = {
    "skin": "activity coefficients, diffusion within skin, sebum, sweat and differences between persons",
    "cloth": "activity coefficients, moisture, washing, a fibre that takes up one material more than another",
}


def _applied(conditions: Conditions, dry: Conditions) -> list[str]:
    """Return what a figure stands for where it is not that of the strip of the tables."""
    notes = []
    area, put_on = f"{conditions.area_m2 / CM2:.3g} cm2", f"{conditions.load_mg:.3g} mg"
    usual = (DEFAULT_CONDITIONS.area_m2, DEFAULT_CONDITIONS.load_mg)
    if dry.dosage_percent is not None:
        notes.append(
            f"Hours are for {dry.dry_mg:.3g} mg on {area}: what {put_on} of a finished product with "
            f"{conditions.dosage_percent:.3g} % of concentrate leave once the ethanol has gone "
            "(half of a small amount leaves in 12 to 25 s). The clock starts then, and what leaves with the "
            "ethanol is taken as still there."
        )
    elif conditions.surface != STRIP or (conditions.area_m2, conditions.load_mg) != usual:
        notes.append(f"Hours are for {put_on} of the concentrate on {area} of {conditions.surface}.")
    if notes and conditions.surface == STRIP:
        notes.append(
            "On a strip hours are in proportion to mg per cm2: those of 100 mg are five times those of 20 mg."
        )
    if conditions.surface != STRIP:
        kind = "skin" if conditions.surface == WARM else "cloth"
        notes.append(
            f"{conditions.surface.capitalize()} at {conditions.temperature_c:.3g} C: times are right "
            f"within a factor of 2 to 3. Not modelled: {NOT_MODELLED[kind]}."
        )
    if conditions.surface == UNSURE:
        notes.append("Polyester is of low confidence: of what it retains only an upper bound is known.")
    return notes


MOST_NAMED = 3
"""So many facets are named in a note, those that may end soonest."""


def _in_carrier(drydown: FormulaDrydown, carrier: str) -> str:
    """Return which facets may end sooner because of a carrier, and by how much; empty if none may."""
    times: dict[str, float] = {}
    for facet, levels in drydown.ends.items():
        for end in levels.values():
            if end.carrier == carrier and end.hours and end.low:
                times[facet] = max(times.get(facet, 0.0), end.hours / end.low)
    if not times:
        return ""
    first = sorted(times, key=lambda facet: -times[facet])
    more = len(first) - MOST_NAMED
    named = ", ".join(first[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
    share = sum(
        amount.mass_fraction * part.mass_fraction
        for amount in drydown.amounts
        for part in amount.material.parts
        if part.name == carrier
    )
    return (
        f"In {100 * share:.0f} % {drydown.palette.catalogue.by_slug(carrier).name} these may end up to "
        f"{times[first[0]]:.2g} times sooner, as their low ends show: {named}. That rests on estimated "
        "activity coefficients (UNIFAC), so the hours themselves do not move."
    )


def own_strip_notes(present: Sequence[Material], conditions: Conditions) -> list[str]:
    """Return what a person should know where hours are those of their own strips."""
    if conditions.surface != STRIP:
        return _own_hours(present, conditions)
    usual = ("load_mg", "area_m2", "dosage_percent")
    conditions = replace(conditions, **{name: getattr(DEFAULT_CONDITIONS, name) for name in usual})
    if conditions == DEFAULT_CONDITIONS:
        return []
    if replace(conditions, temperature_c=DEFAULT_CONDITIONS.temperature_c) == DEFAULT_CONDITIONS:
        return [f"Hours are for a room of {conditions.temperature_c:.3g} C."]
    figures = {"still air": "film_m", "nose": "nose_l_per_s", "paper": "paper_share"}
    ratios = {
        word: getattr(conditions, name) / getattr(DEFAULT_CONDITIONS, name) for word, name in figures.items()
    }
    moved = [f"{word} {ratio:.2g}" for word, ratio in ratios.items() if abs(ratio - 1.0) > 0.005]
    times = f", against the table: {', '.join(moved)} times" if moved else ""
    return [
        f"Hours are for your own strips at {conditions.temperature_c:.3g} C{times}.",
        *_own_hours(present, conditions),
    ]


def _own_hours(present: Sequence[Material], conditions: Conditions) -> list[str]:
    """Return the materials of which a person's own strips read otherwise than the table."""
    notes = []
    for material in {material.slug: material for material in present}.values():
        own = conditions.own.get(material.slug)
        if own is not None and own.hours is not None and own.table_hours is not None:
            hours, table = f"{own.hours:.3g}", f"{own.table_hours:.3g}"
            notes.append(
                f"{material.name}: your strip says clear until {hours} h, the table predicted {table} h."
            )
    return notes


def end_figures(found: Mapping[str, FacetEnd] | None) -> dict[str, object]:
    """Return a facet's two ends as plain figures, None where it never reached the level."""
    return {
        name: None
        if found is None or found[name].hours is None
        else {"hours": found[name].hours, "low": found[name].low, "high": found[name].high}
        for name in ("clear", "just_there")
    }


LEADING_SOONER = 3.0
"""The leading smell of a natural is named where it is gone so many times sooner than the whole."""


@dataclass(frozen=True, slots=True)
class LeadingEnd:
    """The leading facet of a material that is smelled longest on a neat strip, and until which hour [h]."""

    facet: str
    hours: float


def leading_end(material: Material, palette: Palette) -> LeadingEnd | None:
    """Return when the leading smell of a natural is gone, None where it lasts about as long as the whole."""
    if material.kind != "natural" or material.lasting is None:
        return None
    alone = FormulaDrydown(Formula(material.name, (Line(material, 1.0),)), palette)
    leading = (label.facet for label in material.labels if label.weight >= LEADING)
    ends = ((facet, alone.ends[facet]["just_there"].hours) for facet in leading if facet in alone.ends)
    last = max((LeadingEnd(facet, h) for facet, h in ends if h), key=lambda end: end.hours, default=None)
    return last if last and material.lasting.hours > LEADING_SOONER * last.hours else None


SHORTER = 1.5
"""A facet is missed where it ends so many times sooner for this nose."""


@dataclass(frozen=True, slots=True)
class MissedFacet:
    """A facet that ends at `others_hours` on a strip, but at `own_hours` to this nose, None for never."""

    facet: str
    others_hours: float
    own_hours: float | None


def missed_facets(drydown: FormulaDrydown) -> tuple[list[str], list[MissedFacet]]:
    """Return the materials in a formula that this nose cannot smell, and the facets that it misses for it.

    The facet that others smell longest comes first.
    """
    blind = [
        amount.material for amount in drydown.amounts if amount.material.own and amount.material.own.blind
    ]
    if not blind:
        return [], []
    own = FormulaDrydown(_muted(drydown.formula), drydown.palette)
    smelled = own.ends if any(a.material.curve is not None for a in own.amounts) else {}
    found = []
    for facet, facet_ends in drydown.ends.items():
        others = facet_ends["just_there"].hours
        left = smelled[facet]["just_there"].hours if facet in smelled else None
        if others is not None and (left is None or others > SHORTER * left):
            found.append(MissedFacet(facet, others, left))
    return [m.name for m in blind], sorted(found, key=lambda m: -m.others_hours)


def _muted(formula: Formula) -> Formula:
    """Return a formula in which what this nose cannot smell evaporates as it does, without a smell."""
    lines = []
    for line in formula.lines:
        content = line.content
        if isinstance(content, Formula):
            content = _muted(content)
        elif content.own and content.own.blind:
            content = replace(content, parts=tuple(replace(part, curve=None) for part in content.parts))
        lines.append(replace(line, content=content))
    return replace(formula, lines=tuple(lines))
