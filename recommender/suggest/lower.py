"""What to lower or take out of a formula, where a loud material hides the facet that is wanted.

Beside the rest an odour of intensity `own` is smelled as own^2 / (own + 0.147 rest), see `course.masked`: so
less of what is loud and does not carry a facet may show it as well as a carrier does, and more simply.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender.evaporation import Array
from recommender.evaporation.course import Course, FormulaFilm, course, masked
from recommender.formulas import formula as formulas
from recommender.formulas import simulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.redundancy import LITTLE_MISSED
from recommender.model import CLEAR_LABEL, LABEL_WEIGHTS, LoweredLine, Material
from recommender.reasons import MaskedFacet
from recommender.suggest.target import FormulaTarget

FACTORS = (1 / 2, 1 / 3, 0.0)
"""How much of a line is left: the cuts that perfumers make, and without it."""
LOOKED_AT = 4
"""How many of the loudest lines are looked at."""
OFFERED = 2
LEAST_GAIN = 0.03
"""Least presence that is hidden, and that is won: half of a loss that is just noticed."""
STRONGEST = 3
"""So many facets, the strongest, are what a formula without a theme is about."""
DAY_H = (1 / 60, 72.0)
"""Hours over which everything else is compared."""
_STEPS = 24


@dataclass(frozen=True)
class _Presence:
    """Soft presence: of the wanted facet in its window beside the rest, and of all facets over three days."""

    wanted: float
    facets: Array


def lowered(
    table: FormulaDrydown, target: FormulaTarget, unchanged: Collection[str] = ()
) -> tuple[LoweredLine, ...]:
    """Return the one or two materials of which less shows the wanted facets best, the best first.

    Looked at are the loudest in the window that do not clearly carry a wanted facet and without whose smell
    it would be clearer; at a half, a third and without them, on the same load, so that all others take their
    room. What counts is the presence that is won against what it changes elsewhere, as for a carrier; no
    facet of the theme may lose `LITTLE_MISSED` or more.

    Parameters
    ----------
    table : FormulaDrydown
    target : FormulaTarget
        The wanted facets and the window [h].
    unchanged : collection of str
        Keys of materials that stay as they are.
    """
    film = table.film
    columns = [film.facets.index(facet) for facet in target.facets]
    hours = np.union1d(np.geomspace(*DAY_H, _STEPS), np.geomspace(*target.window, _STEPS))
    now = course(film, hours)
    before = _presence(now, columns, target.window)
    found: list[tuple[float, LoweredLine]] = []
    for place in _loudest(table, now, target, unchanged):
        silent = film.changed(i_max=np.where(film.owner == place, 0.0, film.i_max))
        hidden = _presence(course(silent, hours), columns, target.window).wanted - before.wanted
        cut = _least_cut(table, target, place, hours, before) if hidden >= LEAST_GAIN else None
        if cut is None:
            continue
        material, parts = film.amounts[place].material, parts_in(table, film.amounts[place].material)
        reason = MaskedFacet(
            ", ".join(target.facets),
            material.name,
            cut.factor,
            before.wanted,
            cut.reached,
            cut.change,
            *target.window,
            hidden,
            basis="estimated",
        )
        usual, below = _usual_beside(table, material, cut.factor)
        found.append((cut.value, LoweredLine(material, parts, cut.factor * parts, reason, usual, below)))
    found.sort(key=lambda one: (-one[0], one[1].material.name))
    return tuple(line for _, line in found[:OFFERED])


@dataclass(frozen=True)
class _Cut:
    """A line at `factor` times its amount: presence `reached`, `change` elsewhere, the `value` of both."""

    factor: float
    reached: float
    change: float
    value: float


def _least_cut(
    table: FormulaDrydown, target: FormulaTarget, place: int, hours: Array, before: _Presence
) -> _Cut | None:
    """Return the smallest cut of a line that wins most of what cuts can win, None where none is worth it."""
    columns = [table.film.facets.index(facet) for facet in target.facets]
    others = np.setdiff1d(np.arange(len(table.film.facets)), columns)
    about = _about(table, before)
    cuts = []
    for factor in FACTORS:
        less = _with_less(table, place, factor)
        if less is None:
            continue
        after = _presence(course(less, hours), columns, target.window)
        change = float(simulation.presence_change(before.facets, after.facets, others))
        gain = after.wanted - before.wanted
        value = gain - simulation.CHANGE_COSTS * change
        lost = float((before.facets - after.facets)[about].max(initial=0.0))
        if gain >= LEAST_GAIN and value > 0 and lost < LITTLE_MISSED:
            cuts.append(_Cut(factor, after.wanted, change, value))
    enough = simulation.ENOUGH * max((cut.value for cut in cuts), default=0.0)
    return next((cut for cut in cuts if cut.value >= enough), None)


def _about(table: FormulaDrydown, before: _Presence) -> npt.NDArray[np.intp]:
    """Return the columns of the theme, of a formula without one those of its strongest facets."""
    if table.theme.facets:
        return np.array([table.film.facets.index(facet) for facet in table.theme.facets], np.intp)
    return np.argsort(-before.facets, kind="stable")[:STRONGEST]


def _usual_beside(
    table: FormulaDrydown, material: Material, factor: float
) -> tuple[tuple[float, float] | None, bool]:
    """Return the usual range of a material [parts per thousand], and whether less than that is left of it."""
    usual = table.usual(material)
    if usual is None:
        return None, False
    own = sum(a.mass_fraction for a in table.concentrate if a.material.slug == material.slug)
    left = usual.present - 1000.0 * own * (1.0 - factor)
    return (usual.low, usual.high), factor > 0 and left < usual.low


def parts_in(table: FormulaDrydown, material: Material) -> float:
    """Return how many parts of a material a formula has, as weighed, those in its accords too."""
    lines = formulas.opened(table.formula).lines
    return sum(
        line.parts
        for line in lines
        if isinstance(line.content, Material) and line.content.slug == material.slug
    )


def _presence(found: Course, columns: list[int], window: tuple[float, float]) -> _Presence:
    beside = masked(found.facets[:, columns], found.whole[:, None])
    wanted = simulation.soft_presence(found.hours[None], beside[None], *window)[0]
    return _Presence(
        float(wanted.max()), simulation.soft_presence(found.hours[None], found.facets[None], *DAY_H)[0]
    )


def _loudest(
    table: FormulaDrydown, now: Course, target: FormulaTarget, unchanged: Collection[str]
) -> list[int]:
    """Return the places of the materials that are loudest in the window and do not carry what is wanted."""
    palette = table.palette
    carried = palette.space.carries(target.facets)
    rows = [palette.catalogue.index[amount.material.slug] for amount in now.film.amounts]
    loud = simulation.soft_presence(now.hours[None], now.owners[None], *target.window)[0]
    able = [
        place
        for place, row in enumerate(rows)
        if loud[place] > 0
        and carried[row] < LABEL_WEIGHTS[CLEAR_LABEL]
        and now.film.amounts[place].material.slug not in unchanged
        and now.film.amounts[place].material.slug != target.leader.slug
    ]
    return sorted(able, key=lambda place: -loud[place])[:LOOKED_AT]


def _with_less(table: FormulaDrydown, place: int, factor: float) -> FormulaFilm | None:
    """Return the film with so many times as much of one material, on the same load; None if nothing is left.

    A load is a sum by mass, so what the material makes up of it is taken off.
    """
    film = table.film
    amount = film.amounts[place]
    gone = amount.mass_fraction * (1.0 - factor)
    if 1.0 - gone < 1e-9:
        return None
    (alone,) = table.alone([amount.material])
    scale = np.where(film.owner == place, factor, 1.0)
    amounts = [
        replace(a, mass_fraction=a.mass_fraction * (factor if i == place else 1.0) / (1.0 - gone))
        for i, a in enumerate(film.amounts)
    ]
    return film.changed(
        moles=film.moles * scale / (1.0 - gone),
        inert=(film.inert - gone * alone.state.inert) / (1.0 - gone),
        amounts=tuple(amounts),
    )
