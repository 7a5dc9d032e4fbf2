"""What goes on the balance: every line in grams, in the order of weighing, with what must be made first."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from recommender.errors import BadTable, BadValue
from recommender.model import Formula, Line, Material
from recommender.regulation import Report
from recommender.weighing.bracket import Bracket
from recommender.weighing.dilutions import FLOOR_DIGITS, HAIR, LADDER, DilutionStep, rounded, steps, weighable
from recommender.weighing.shares import Shares

ACCORD_SPARE = 1.02
"""An accord inside another is made two hundredths larger: a little stays in its vessel."""
LEAST_ACCORD_G = 1.0
LARGEST_STEP_PERCENT = 100 / FLOOR_DIGITS
"""Largest share of a line that one digit of the balance may be [%]."""
LEAST_G, MOST_G = 1e-6, 1e6
"""No balance of a bench reads finer, no vessel of it is larger."""


@dataclass(frozen=True, slots=True)
class WeighingStep:
    """One line on the balance.

    `written_g` is the mass as the formula has it, `exact_g` the mass of what is weighed instead (`dilution`
    in `solvent`), `grams` that mass as the balance shows it; `too_little` where no dilution helps. `at_hand`
    is the dilution from which it is weighed or made where that is not the formula's but a bottle's.
    """

    line: Line
    per_thousand: float
    written_g: float
    dilution: float
    solvent: Material | None
    exact_g: float
    grams: float
    too_little: bool = False
    at_hand: float | None = None

    @property
    def diluted(self) -> bool:
        """Whether a weaker dilution than the formula's is weighed."""
        return self.dilution < self.line.dilution


@dataclass(frozen=True, slots=True)
class Section:
    """One vessel: the batch itself, or an accord that goes into it. `needed_g` of it is used."""

    formula: Formula
    wanted_g: float
    needed_g: float
    pours: tuple[WeighingStep, ...]

    @property
    def exact_g(self) -> float:
        """What the lines add up to, solvent that came on top included [g]."""
        return sum(pour.exact_g for pour in self.pours)

    @property
    def weighed_g(self) -> float:
        """What the lines add up to as the balance shows them [g]."""
        return sum(pour.grams for pour in self.pours)


@dataclass(frozen=True, slots=True)
class WeighingSheet:
    """All that is weighed for a batch: accords first, then the batch; masses in grams.

    `off_top_up_g` is solvent of dilutions that the finished product gets less of later, `on_top_g` such
    solvent that makes the batch weaker; `top_up_g` is what the finished product still needs of `carrier`,
    None without a dosage. With a `bracket` the batch is the base, shared in its three vials. `report` is that
    of the finished product, None without a dosage.
    """

    formula: Formula
    batch_g: float
    resolution_g: float
    least_g: float
    sections: tuple[Section, ...]
    dilutions: tuple[DilutionStep, ...]
    shares: Shares
    on_top_g: float
    off_top_up_g: float
    finished_g: float | None
    carrier: Material | None
    top_up_g: float | None
    notes: tuple[str, ...] = ()
    bracket: Bracket | None = None
    report: Report | None = None


def plan(
    formula: Formula,
    batch_g: float,
    resolution_g: float,
    default_solvent: Material,
    *,
    shares: Shares | None = None,
    carrier: Material | None = None,
    within_percent: float = LARGEST_STEP_PERCENT,
    as_written: bool = False,
    at_hand: Mapping[str, tuple[float, Material]] | None = None,
) -> WeighingSheet:
    """Plan the weighing of a batch.

    A line for which one digit of the balance is more than `within_percent` is weighed as a dilution. Its
    solvent is one of which the formula has a line with enough room, and is taken off that line; else the
    carrier of the finished product; else it comes on top.

    Parameters
    ----------
    formula : Formula
    batch_g, resolution_g : float
        Mass of the batch and last digit of the balance [g].
    default_solvent : Material
        For a dilution where the formula has no solvent.
    shares : Shares, optional
        With a dosage the finished product is topped up with `carrier`.
    within_percent : float
        Largest share of a line that one digit of the balance may be [%].
    as_written : bool
        Keep the order of the file instead of the order of weighing.
    at_hand : mapping of str -> (float, Material), optional
        What is there only as a dilution: key -> mass fraction, solvent. A line that has it neat is weighed
        from that; the solvent comes off a line of the same solvent, or that of the top-up, or on top.

    Raises
    ------
    BadValue
        The balance is too coarse for the batch.
    BadTable
        The parts add up to nothing.
    """
    shares = shares or Shares(100.0, None, None)
    for field, grams in (("batch_g", batch_g), ("resolution_g", resolution_g)):
        if not LEAST_G <= grams <= MOST_G:
            raise BadValue(field, f"{grams:g} g", f"it is between {LEAST_G:g} g and {MOST_G:g} g")
    if not 0 < within_percent <= 100:
        raise BadValue("within_percent", f"{within_percent:g} %", "it is above 0 and at most 100 %")
    least_g = 100.0 * resolution_g / within_percent
    if batch_g < least_g:
        raise BadValue(
            "resolution_g",
            f"{resolution_g:g} g",
            f"a balance of such steps weighs {least_g:g} g and more to {within_percent:g} %, "
            f"not a batch of {batch_g:g} g",
        )
    finished_g = 100.0 * batch_g / shares.of_finished_percent if shares.of_finished_percent else None
    top_up_g = (
        finished_g - 100.0 * batch_g / shares.of_concentrate_percent if finished_g is not None else None
    )
    palette = _Bench(resolution_g, least_g, default_solvent, as_written, at_hand or {})
    batch = palette.section(formula, batch_g, batch_g, (carrier, top_up_g) if carrier and top_up_g else None)
    sections = [batch]
    for accord in _inside(formula):
        needed = palette.needed(accord)
        made = max(needed * ACCORD_SPARE, LEAST_ACCORD_G)
        sections.append(palette.section(accord, rounded(made, resolution_g), needed))
    sections, diluted = _weaker_accords(sections, list(palette.steps()), resolution_g)
    on_top = sections[0].exact_g - batch_g
    on_top = on_top if on_top > HAIR * batch_g else 0.0
    off_top_up = min(on_top, top_up_g or 0.0)
    return WeighingSheet(
        formula,
        batch_g,
        resolution_g,
        least_g,
        tuple(reversed(sections)),
        tuple(diluted),
        shares,
        on_top - off_top_up,
        off_top_up,
        finished_g,
        carrier if finished_g is not None else None,
        None if top_up_g is None else top_up_g - off_top_up,
    )


def _inside(formula: Formula) -> list[Formula]:
    """Return the accords inside, each once, none before another that it goes into."""
    found: list[Formula] = []
    level = [formula]
    while level:
        inner = [line.content for f in level for line in f.lines if isinstance(line.content, Formula)]
        level = [f for place, f in enumerate(inner) if f not in inner[:place]]
        found = [f for f in found if f not in level] + level
    return found


def _weaker_accords(
    sections: list[Section], made: list[DilutionStep], resolution_g: float
) -> tuple[list[Section], list[DilutionStep]]:
    """Return the plan with more of each accord that the solvent of its dilutions has made weaker."""
    weaker: list[tuple[Formula, float]] = []
    found: list[Section] = []
    for section in reversed(sections):
        pours = list(section.pours)
        for accord, factor in weaker:
            for place, pour in enumerate(pours):
                if pour.line.content == accord and pour.dilution == 1.0:
                    exact = pour.exact_g * factor
                    pours[place] = replace(pour, exact_g=exact, grams=rounded(exact, resolution_g))
        section = replace(section, pours=tuple(pours))
        factor = section.exact_g / section.wanted_g
        if factor > 1 + HAIR:
            weaker.append((section.formula, factor))
            section = replace(section, needed_g=section.needed_g * factor)
            made = [
                replace(step, take_g=step.take_g * factor, add_g=step.made_g - step.take_g * factor)
                if step.content == section.formula and step.stronger == 1.0
                else step
                for step in made
            ]
        found.append(section)
    return found[::-1], made


@dataclass(frozen=True, slots=True)
class _Need:
    """So much of a dilution of something that has to be made first."""

    content: Material | Formula
    stronger: float
    dilution: float
    solvent: Material
    grams: float

    @property
    def key(self) -> tuple[str, str, float, str]:
        slug = self.content.slug if isinstance(self.content, Material) else ""
        return (slug, self.content.name, self.stronger, self.solvent.slug)


class _Bench:
    """Collects what must be made first while the sections are planned."""

    def __init__(
        self,
        resolution_g: float,
        least_g: float,
        default: Material,
        as_written: bool,
        at_hand: Mapping[str, tuple[float, Material]],
    ) -> None:
        self.resolution_g, self.least_g, self.default = resolution_g, least_g, default
        self.as_written, self.at_hand = as_written, at_hand
        self.needs: list[_Need] = []
        self.neat: list[tuple[Formula, float]] = []

    def section(
        self,
        formula: Formula,
        batch_g: float,
        needed_g: float,
        top_up: tuple[Material, float] | None = None,
    ) -> Section:
        total = sum(line.parts for line in formula.lines)
        if not total > 0:
            raise BadTable(formula.name, "the parts add up to nothing", remedy="Write parts above 0")
        pool = _Pool(formula, batch_g / total, top_up, self.default)
        pours = [self._pour(line, line.parts / total, batch_g, pool) for line in formula.lines]
        left = [self._rounded(pool.left(pour)) for pour in pours]
        for pour in left:
            self._ask(pour)
        return Section(
            formula, batch_g, needed_g, tuple(left if self.as_written else sorted(left, key=_order))
        )

    def _pour(self, line: Line, share: float, batch_g: float, pool: "_Pool") -> WeighingStep:
        grams = share * batch_g
        written = WeighingStep(line, 1000 * share, grams, line.dilution, line.solvent, grams, grams)
        if _is_solvent(line):
            return written
        slug = line.content.slug if isinstance(line.content, Material) and line.dilution == 1.0 else ""
        if slug in self.at_hand:
            return self._from_bottle(written, *self.at_hand[slug], pool)
        if grams >= self.least_g * (1 - HAIR):
            return written
        neat = grams * line.dilution
        found = weighable(neat, line.dilution, self.least_g)
        dilution = min(LADDER[-1], line.dilution) if found is None else found
        solvent = line.solvent
        if dilution < line.dilution:
            solvent = pool.take(neat / dilution - grams, line.solvent)
        return replace(
            written, dilution=dilution, solvent=solvent, exact_g=neat / dilution, too_little=found is None
        )

    def _from_bottle(
        self, written: WeighingStep, bottle: float, solvent: Material, pool: "_Pool"
    ) -> WeighingStep:
        """Return a neat line weighed from a dilution that is at hand, or from a weaker one made of that."""
        neat = written.written_g
        found = weighable(neat, bottle, self.least_g)
        dilution = min(LADDER[-1], bottle) if found is None else found
        pool.take_off(neat / dilution - neat, solvent)
        return replace(
            written,
            dilution=dilution,
            solvent=solvent,
            exact_g=neat / dilution,
            too_little=found is None,
            at_hand=bottle,
        )

    def _rounded(self, pour: WeighingStep) -> WeighingStep:
        return replace(pour, grams=rounded(pour.exact_g, self.resolution_g))

    def _ask(self, pour: WeighingStep) -> None:
        content = pour.line.content
        accord = isinstance(content, Formula)
        stronger = 1.0 if accord else pour.at_hand or pour.line.dilution
        if pour.dilution < stronger:
            assert pour.solvent is not None
            self.needs.append(_Need(content, stronger, pour.dilution, pour.solvent, pour.exact_g))
        elif isinstance(content, Formula):
            self.neat.append((content, pour.exact_g))

    def needed(self, accord: Formula) -> float:
        """Return how much of an accord goes into the batch, other accords and its own dilutions [g]."""
        diluted = [s for s in self.steps() if s.content == accord and s.stronger == 1.0]
        return sum(g for f, g in self.neat if f == accord) + sum(s.take_g for s in diluted)

    def steps(self) -> Iterator[DilutionStep]:
        """Yield the dilutions to make, each chain from its strongest on."""
        for _, group in groupby(sorted(self.needs, key=lambda need: need.key), key=lambda need: need.key):
            same = list(group)
            wanted: dict[float, float] = {}
            for need in same:
                wanted[need.dilution] = wanted.get(need.dilution, 0.0) + need.grams
            yield from steps(same[0].content, same[0].stronger, wanted, same[0].solvent, self.least_g)


class _Pool:
    """The solvents of one section, from which the solvent of dilutions is taken off."""

    def __init__(
        self, formula: Formula, grams_a_part: float, top_up: tuple[Material, float] | None, default: Material
    ) -> None:
        self.room: dict[str, float] = {}
        self.used: dict[str, float] = {}
        self.known: dict[str, Material] = {}
        for line in formula.lines:
            content = line.content
            grams = line.parts * grams_a_part
            if isinstance(content, Material) and _is_solvent(line):
                self.room[content.slug] = self.room.get(content.slug, 0.0) + grams
                self.known[content.slug] = content
            elif line.solvent is not None:
                rest = grams * (1 - line.dilution)
                self.used[line.solvent.slug] = self.used.get(line.solvent.slug, 0.0) + rest
                self.known[line.solvent.slug] = line.solvent
        self.whole = dict(self.room)
        self.top_up, self.default = top_up, default

    def take(self, grams: float, own: Material | None) -> Material:
        """Return the solvent for a dilution, taken off a solvent line where one has room."""
        order = sorted(self.room, key=lambda slug: (own is None or slug != own.slug, -self.whole[slug]))
        for slug in order:
            if self.room[slug] >= grams:
                self.room[slug] -= grams
                return self.known[slug]
        if self.top_up is not None and self.top_up[1] >= grams:
            self.top_up = (self.top_up[0], self.top_up[1] - grams)
            return self.top_up[0]
        if own is not None:
            return own
        most = max(self.whole or self.used, key=lambda slug: (self.whole or self.used)[slug], default=None)
        return self.default if most is None else self.known[most]

    def take_off(self, grams: float, solvent: Material) -> None:
        """Take a solvent that a bottle brings off its own line or the top-up, where there is room for it."""
        if self.room.get(solvent.slug, 0.0) >= grams:
            self.room[solvent.slug] -= grams
        elif self.top_up is not None and self.top_up[0].slug == solvent.slug and self.top_up[1] >= grams:
            self.top_up = (self.top_up[0], self.top_up[1] - grams)

    def left(self, pour: WeighingStep) -> WeighingStep:
        """Return a solvent's line with what the dilutions have left of it."""
        content = pour.line.content
        if not isinstance(content, Material) or not _is_solvent(pour.line):
            return pour
        return replace(pour, exact_g=pour.exact_g * self.room[content.slug] / self.whole[content.slug])


def _is_solvent(line: Line) -> bool:
    return isinstance(line.content, Material) and line.content.kind == "solvent" and line.solvent is None


def _order(pour: WeighingStep) -> tuple[int, float]:
    """Solids and resins first, so that the rest dissolves them; then the smallest first; solvents last.

    A slip with a small amount, early, costs little: the rest can still be scaled to it (common practice).
    """
    content = pour.line.content
    if _is_solvent(pour.line):
        return 2, pour.exact_g
    neat = isinstance(content, Material) and pour.dilution == 1.0
    solid = neat and isinstance(content, Material) and content.form in ("solid", "resin")
    return (0 if solid else 1), pour.exact_g
