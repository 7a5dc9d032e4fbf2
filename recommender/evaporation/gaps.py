"""When a facet of a formula fades: its two ends, and the gaps that it leaves."""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation.activity import CarrierEffect, perceived_in
from recommender.evaporation.course import HOURS, Course, FacetSums, FormulaFilm, doses_added
from recommender.evaporation.film import Array, last_hours
from recommender.evaporation.surface import eighth_power, eighth_root
from recommender.model import CLEAR_LABEL, LEADING_LABEL

HORIZON_H = 24.0 * 365
_LONG_HOURS = np.geomspace(1 / 60, HORIZON_H, 110)
GAP_PEAK, GAP_OWN, GAP_OTHERS = 0.10, 0.25, 0.20
"""A gap: a facet that was clear and a tenth of the smell is below a quarter of its peak and a fifth of the
strongest facet."""
LEVELS = {"clear": (odour_strength.CLEAR, 1 / 3), "just_there": (odour_strength.JUST_THERE, GAP_OTHERS)}
"""The ends of a facet: the level that it needs, and how much of the strongest beside it (own choice)."""
OF_THE_WHOLE = 0.5
"""A gap outside the theme: a line leads with the facet, and is at least so much of the whole at its peak."""
BAND = 2.2
"""Times are right within this factor either way at best."""


@dataclass(frozen=True, slots=True)
class FacetEnd:
    """The hour on a strip after which a facet is below a level, with its band; None if it never was above.

    `carrier` is that in which the facet may end as soon as `low`; None where the band does not rest on one.
    """

    hours: float | None
    low: float | None
    high: float | None
    carrier: str | None = None


def ends(
    dissolved: FormulaFilm,
    crystals: FormulaFilm,
    alternatives: Sequence[tuple[FormulaFilm, FormulaFilm]] = (),
    carriers: Sequence[CarrierEffect] = (),
    facets: Collection[str] | None = None,
) -> dict[str, dict[str, FacetEnd]]:
    """Return when each facet is no longer *clear* (6 of 100) and no longer *just there* (1.4).

    Beside the strongest facet it needs a third of that to be clear, a fifth to be there. Where a material
    shows it clearly, the traces of others do not prolong it. The band spans dissolved and crystalline
    solids, and what the pressure of the part that carries the facet last may be off, at least a factor 2.2
    either way. Each constant of the surface that may be off adds its
    own: `alternatives` are the film `dissolved` at either end of it. What may leave sooner from one of the
    `carriers` lowers the low end where it exceeds that band, and nothing else. `facets` are those of which
    the ends are wanted, all by default.
    """
    named = [f for f in dissolved.facets if facets is None or f in facets]
    columns = np.array([dissolved.facets.index(facet) for facet in named], np.intp)
    shown = [
        _shown(film, columns) for film in ([dissolved] if crystals is dissolved else [dissolved, crystals])
    ]
    others = [_shown(film, columns) for pair in alternatives for film in pair]
    in_carrier = [_shown(dissolved, columns, perceived_in(dissolved, each, _LONG_HOURS)) for each in carriers]
    hours = np.array([[each.last(*level) for each in shown] for level in LEVELS.values()])
    factors = _pressure_factors(dissolved, columns, hours[:, 0])
    found: dict[str, dict[str, FacetEnd]] = {facet: {} for facet in named}
    for (name, level), lasts, factor in zip(LEVELS.items(), hours, factors, strict=True):
        apart = [np.log(np.nan_to_num(each.last(*level), nan=_LONG_HOURS[0]) / lasts[0]) for each in others]
        sooner, later = _band(np.log(factor), apart)
        low, high = np.fmin.reduce(lasts) / np.exp(sooner), np.fmax.reduce(lasts) * np.exp(later)
        carried = [each.last(*level) for each in in_carrier]
        for place, facet in enumerate(named):
            if math.isnan(lasts[0, place]):
                found[facet][name] = FacetEnd(None, None, None)
                continue
            end = FacetEnd(float(lasts[0, place]), float(low[place]), float(high[place]))
            in_each = {effect.carrier: line[place] for effect, line in zip(carriers, carried, strict=True)}
            found[facet][name] = _sooner(end, in_each)
    loudest = np.max([each.facets.max(axis=0) for each in shown], axis=0)
    there = zip(named, loudest >= odour_strength.JUST_THERE, strict=True)
    return {facet: found[facet] for facet, perceptible in there if perceptible}


@dataclass(frozen=True)
class _Shown:
    """A film over `_LONG_HOURS`.

    `facets` (times, columns) are some, without the traces of what another material shows clearly; `loudest`
    (times,) is the strongest of all facets with them.
    """

    facets: Array
    loudest: Array

    def last(self, level: float, beside: float) -> Array:
        """Return the last hour at which each facet has a level and so much of the strongest; NaN if never."""
        needed = np.maximum(level, beside * self.loudest)
        return last_hours(_LONG_HOURS, self.facets.T / needed, 1.0)


def _shown(film: FormulaFilm, columns: npt.NDArray[np.intp], perceived: Array | None = None) -> _Shown:
    """Return what is shown of some facets over `_LONG_HOURS`, by default of the film as it is."""
    if perceived is None:
        perceived = doses_added(film, film.at(_LONG_HOURS))
    loudest = film.sums.facets(perceived).max(axis=1)
    return _Shown(FacetSums.of(film.owner, shown_clearly(film)[:, columns]).facets(perceived), loudest)


def shown_clearly(film: FormulaFilm) -> Array:
    """Return the weights of a film without the traces of facets that a material of it shows clearly."""
    clear = film.shows(CLEAR_LABEL)
    return np.where(clear[film.owner] | ~clear.any(axis=0), film.weights, 0.0)


def _pressure_factors(film: FormulaFilm, columns: npt.NDArray[np.intp], hours: Array) -> Array:
    """Return within which factor the pressure is known of what carries each facet last, (levels, columns).

    `hours`, of the same shape, are the ends of the facets, NaN where there is none.
    """
    levels, places = np.nonzero(~np.isnan(hours))
    shown = film.at(hours[levels, places]) * film.weights[:, columns[places]].T
    factors = np.full(hours.shape, BAND)
    factors[levels, places] = np.maximum(BAND, 10.0 ** film.log_error[shown.argmax(axis=1)])
    return factors


def _band(log_factor: Array, apart: Sequence[Array]) -> tuple[Array, Array]:
    """Return by which logarithms ends may be sooner and later, each (columns,).

    `apart` are the logarithms of the ends at either end of each constant of the surface against the end as
    it is, low and high in turn; what may be off by itself adds up as squares.
    """
    pairs = np.reshape(apart, (-1, 2, len(log_factor)))
    sooner, later = np.maximum(-pairs.min(axis=1), 0.0), np.maximum(pairs.max(axis=1), 0.0)
    first, second = (np.sqrt(log_factor**2 + (each**2).sum(axis=0)) for each in (sooner, later))
    return np.asarray(first, float), np.asarray(second, float)


def _sooner(end: FacetEnd, in_carrier: Mapping[str, float]) -> FacetEnd:
    """Return an end whose low end is the hour in a carrier where that is sooner; NaN is never sooner."""
    for carrier, hours in in_carrier.items():
        if end.low is not None and hours < end.low:
            end = replace(end, low=float(hours), carrier=carrier)
    return end


@dataclass(frozen=True, slots=True)
class Gap:
    """A facet that has fallen out while the rest still smells: from which hour, who carried it, its peak.

    `of_theme` is whether the formula is about it.
    """

    facet: str
    hours: float
    carried_by: tuple[str, ...]
    peak: float
    of_theme: bool = False


def gaps(
    found: Course, theme: Collection[str] = (), gone: Mapping[str, float | None] | None = None
) -> list[Gap]:
    """Return the facets that die while the whole still smells: of the theme first, the most missed first.

    Only those of the theme, or that a line which is itself clear leads with; what supporting lines show at
    their side is not missed. `gone` is the hour by which each facet is gone, of `ends`: a gap begins there,
    or where the course falls if that is sooner or not given.
    """
    gone, leading = gone or {}, found.film.shows(LEADING_LABEL)
    loudest = found.facets.max(axis=1)
    lost = []
    for column, facet in enumerate(found.film.facets):
        line = found.facets[:, column]
        top = int(line.argmax())
        least = 0.0 if facet in theme else GAP_PEAK * found.whole.max()
        if line[top] < max(least, odour_strength.CLEAR):
            continue
        if facet not in theme and not _led(found, leading[:, column], top):
            continue
        fallen = (
            (line < GAP_OWN * line[top])
            & (line < GAP_OTHERS * loudest)
            & (found.whole >= odour_strength.CLEAR)
        )
        fallen[: top + 1] = False
        if not fallen.any():
            continue
        falls = float(found.hours[int(np.flatnonzero(fallen)[0])])
        lost.append((facet, min(falls, gone.get(facet) or falls), column, top, float(line[top])))
    perceived = _perceived(found, [top for *_, top, _ in lost])
    fallen_out = [
        Gap(facet, hours, _carried(found.film, perceived[top], column), peak, facet in theme)
        for facet, hours, column, top, peak in lost
    ]
    loud = float(found.whole.max())
    return sorted(fallen_out, key=lambda gap: (not gap.of_theme, -_lost(gap, loud), gap.facet))


def _led(found: Course, leading: npt.NDArray[np.bool_], place: int) -> bool:
    """Return whether one of the lines that lead with a facet is itself clear at one time of the course."""
    own = np.where(leading, found.owners[place], 0.0).max()
    return bool(own >= max(OF_THE_WHOLE * found.whole[place], odour_strength.CLEAR))


def _lost(gap: Gap, loud: float) -> float:
    """Return how much is lost with a facet: its share of the smell, times how long it is missed (log)."""
    return gap.peak / max(loud, 1e-9) * math.log(HOURS[-1] / gap.hours + 1.0)


def _perceived(found: Course, places: Sequence[int]) -> dict[int, Array]:
    """Return the intensity of each component at some times of a course, by the place of the time."""
    film, wanted = found.film, sorted(set(places))
    if not wanted:
        return {}
    return dict(zip(wanted, doses_added(film, film.at(found.hours[wanted])), strict=True))


def _carried(film: FormulaFilm, perceived: Array, column: int, least: float = 0.3) -> tuple[str, ...]:
    """Return the materials that carry a facet, the strongest first."""
    powered = np.zeros(len(film.amounts))
    np.add.at(powered, film.owner, eighth_power(perceived * film.weights[:, column]))
    own = eighth_root(powered)
    order = np.argsort(-own, kind="stable")
    return tuple(film.amounts[i].material.name for i in order if own[i] >= least * max(own.max(), 1e-9))
