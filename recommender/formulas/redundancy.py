"""What is redundant in a formula, by what a nose would miss: of the theme, of the whole smell, of a note."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.evaporation.course import Course, doses_added, masked
from recommender.evaporation.surface import eighth_power, eighth_root
from recommender.formulas import simulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.theme import PHASES, amount_shares, inside, line_shares
from recommender.model import CLEAR_LABEL, LABEL_WEIGHTS, LEADING_LABEL, Material

JUST_NOTICEABLE = 0.06
"""Loss of soft presence below which nobody misses a material: a facet that read 6 of 100 still reads 4.7."""
LITTLE_MISSED = 0.2
"""Loss of soft presence below which a material is missed only a little."""
COVERS = 0.5
"""Another material covers a facet if it clearly shows at least this much of it."""
CARRIES = 0.1
"""A line that makes this much of a theme facet in one phase, as smelled, carries the theme."""
FAINT = odour_strength.CLEAR / 2.0
"""A line that is never as strong as this beside the rest is a trace at most."""
LITTLE: tuple[float, float] = (0.15, 0.5)
"""A line stands beside a far larger amount of a note if it makes less than this of it by mass and as smelled.
A small amount makes more of a note as smelled than by mass, since strength grows more slowly than amount."""
LITTLE_OF_THEME: tuple[float, float] = (0.1, 0.25)
"""The same of a facet of the theme: what makes more of one and leads with it carries the theme."""
SUPPORTS = LABEL_WEIGHTS[1]
"""A line supports a facet that its clear labels show at least as a trace."""
MOSTLY = 0.5
"""A line that makes this much of a note in one phase brings it; less adds to it."""
Columns = npt.NDArray[np.intp]
HARDLY_SMELLED: Literal["is hardly smelled"] = "is hardly smelled"
Role = Literal["carries", "supports", "brings", "adds to", "is hardly smelled"]


@dataclass(frozen=True, slots=True)
class Contribution:
    """One material of a formula, what it does, and what would be missed without it.

    `parts` per thousand of the strip; `missed` the greatest loss of soft presence of any facet that it
    clearly shows, in `phase`; `covered_by` who else clearly shows that facet. `role` with `does_facet` is
    what it does: it carries or supports the theme, brings a facet that nobody else shows as much, adds to one
    that others show, or is hardly smelled. `share_of_theme` and `share_of_whole` are what it makes of them,
    0-1, over log time.
    """

    material: Material
    parts: float
    facet: str
    phase: str
    missed: float
    redundant: bool
    covered_by: tuple[str, ...]
    role: Role
    does_facet: str
    share_of_theme: float
    share_of_whole: float

    @property
    def little_missed(self) -> bool:
        """Whether the formula would lose only a little of the facet."""
        return self.missed < LITTLE_MISSED


def trim(drydown: FormulaDrydown) -> list[Contribution]:
    """Return every smelling material of a formula, the least missed first.

    Each is left out in turn, what the others give off being as it was. Redundant is what does not carry the
    theme, is not missed, and is faint beside the rest or stands beside a far larger amount of each note that
    it leads with. Only labels that are clear count.
    """
    facets = drydown.palette.space.facets
    about = np.array([facets.index(facet) for facet in drydown.theme.facets], np.intp)
    smelling = [
        place
        for place, amount in enumerate(drydown.amounts)
        if amount.material.kind != "solvent" and amount.material.curve is not None
    ]
    if len(set(drydown.film.owner.tolist())) < 2:
        return []
    lines = _Lines.of(drydown)
    found = [_contribution(drydown, lines, place, about) for place in smelling]
    return sorted(found, key=lambda spare: (spare.missed, spare.material.name))


@dataclass(frozen=True)
class _Lines:
    """What each line of a formula shows over time, by its clear labels.

    `alone` (times, components) are intensities before doses of one odour are added, `weights` (components,
    facets) those of clear labels; `shown` (times, lines, facets) the intensities, near facets standing in,
    `shares` of the same shape whose each facet is, counted as amounts; `whole` (lines,) the share of the
    smell.
    """

    course: Course
    alone: Array
    weights: Array
    near: Array
    shown: Array
    shares: Array
    whole: Array

    @classmethod
    def of(cls, drydown: FormulaDrydown) -> "_Lines":
        found, near = drydown.course, drydown.palette.space.near
        film = found.film
        weights = film.weights * film.shows(CLEAR_LABEL)[film.owner]
        alone = film.at(found.hours)
        perceived = doses_added(film, alone)
        shown = np.zeros((len(found.hours), len(film.amounts), len(film.facets)))
        for place in range(len(film.amounts)):
            mine = film.owner == place
            columns = np.flatnonzero(weights[mine].any(axis=0))
            if len(columns):
                powered = eighth_power(perceived[:, mine]) @ eighth_power(weights[mine][:, columns])
                shown[:, place] = (eighth_root(powered)[:, :, None] * near[columns]).max(axis=1)
        shares = amount_shares(shown.transpose(0, 2, 1)).transpose(0, 2, 1)
        return cls(found, alone, weights, near, shown, shares, line_shares(found).mean(axis=0))

    def loudest(self, place: int) -> float:
        """Return how strong a line ever is beside the rest, masked by it, 0-100."""
        return float(masked(self.course.owners[:, place], self.course.whole).max())

    def lends(self, place: int, columns: Columns) -> Array:
        """Return how much of some facets a line's clear labels show, near ones standing in, (columns,)."""
        mine = self.weights[self.course.film.owner == place].max(axis=0)
        return np.asarray((mine[:, None] * self.near[:, columns]).max(axis=0), float)

    def presence(self, columns: Columns, without: int | None = None) -> Array:
        """Return the soft presence of some facets by phase, (phases, columns), without one line if named.

        Lines add as odours do, by the p-norm of 8: what another line shows as well is covered by it.
        """
        film = self.course.film
        alone = self.alone if without is None else np.where(film.owner == without, 0.0, self.alone)
        facets = eighth_root(eighth_power(doses_added(film, alone)) @ eighth_power(self.weights))
        facets = (facets[:, :, None] * self.near[:, columns]).max(axis=1)[None]
        hours = self.course.hours[None]
        return np.array([simulation.soft_presence(hours, facets, *window)[0] for window in PHASES.values()])

    def most_of(self, place: int, columns: Columns) -> Array:
        """Return the greatest share that a line makes of some facets in any phase, (columns,).

        Averaged over a phase by how clear the facet is; one in which it is never just there does not count.
        """
        found = []
        for window in PHASES.values():
            when = inside(self.course.hours, *window)
            levels = self.shown[when][:, :, columns].max(axis=1)
            clear = odour_strength.soft(levels)
            made = (self.shares[when, place][:, columns] * clear).sum(axis=0)
            there = levels.max(axis=0) >= odour_strength.JUST_THERE
            found.append(np.where(there, made / np.maximum(clear.sum(axis=0), 1e-9), 0.0))
        return np.asarray(np.max(found, axis=0), float).reshape(len(columns))

    def share_of(self, columns: Columns) -> Array:
        """Return which share of some facets each line makes over all hours, (lines,)."""
        clear = odour_strength.soft(self.shown[:, :, columns].max(axis=1))
        made = (self.shares[:, :, columns] * clear[:, None]).sum(axis=(0, 2))
        return np.asarray(made / max(float(clear.sum()), 1e-9), float)


def _contribution(drydown: FormulaDrydown, lines: _Lines, place: int, theme: Columns) -> Contribution:
    """Return what one line does; `theme` are the columns of the theme's facets."""
    facets, amount = drydown.palette.space.facets, drydown.amounts[place]
    levels = np.array([amount.material.strength_of(facet) for facet in facets])
    own = np.flatnonzero(levels >= min(CLEAR_LABEL, levels.max()))
    leading = np.flatnonzero(levels == levels.max())
    before = lines.presence(own)
    lost = before - lines.presence(own, place)
    if lost.max() <= 0:
        lost = 1e-9 * before
    phase, column = np.unravel_index(int(lost.argmax()), lost.shape)
    missed, window = float(lost.max()), list(PHASES.values())[int(phase)]
    carried = lines.most_of(place, theme)
    enough = (carried >= CARRIES) | np.isin(theme, np.flatnonzero(levels == LEADING_LABEL))
    enough &= ~_little(drydown, place, theme, carried, LITTLE_OF_THEME)
    notes = lines.most_of(place, leading)
    loudest = lines.loudest(place)
    hardly_smelled = loudest < odour_strength.JUST_THERE
    spare = loudest < FAINT or bool(_little(drydown, place, leading, notes, LITTLE).all())
    lends = lines.lends(place, theme)
    role: Role
    if enough.any():
        does = theme[int(np.where(enough, carried, -1.0).argmax())]
        role = "carries" if levels[does] >= CLEAR_LABEL else "supports"
    elif hardly_smelled:
        role, does = HARDLY_SMELLED, leading[int(notes.argmax())]
    elif len(theme) and lends.max() >= SUPPORTS:
        role, does = "supports", theme[int(lends.argmax())]
    else:
        role = "brings" if notes.max() >= MOSTLY else "adds to"
        does = leading[int(notes.argmax())]
    redundant = missed < (LITTLE_MISSED if hardly_smelled else JUST_NOTICEABLE) and spare
    return Contribution(
        amount.material,
        1000.0 * amount.mass_fraction,
        facets[own[int(column)]],
        list(PHASES)[int(phase)],
        missed,
        redundant and not enough.any(),
        _covers(drydown, lines, place, int(own[int(column)]), window),
        role,
        facets[int(does)],
        float(lines.share_of(theme)[place]) if len(theme) else 0.0,
        float(lines.whole[place]),
    )


def _little(
    drydown: FormulaDrydown, place: int, columns: Columns, shares: Array, little: tuple[float, float]
) -> npt.NDArray[np.bool_]:
    """Return for some facets whether a line stands beside a far larger amount of them, (columns,).

    `shares` (columns,) is what it makes of them as smelled; by mass all count that clearly show them.
    """
    mine = drydown.amounts[place].mass_fraction
    masses = []
    for column in columns:
        facet = drydown.palette.space.facets[column]
        shown = sum(a.mass_fraction for a in drydown.amounts if a.material.strength_of(facet) >= CLEAR_LABEL)
        masses.append(mine / max(shown, mine))
    return np.asarray((np.array(masses) < little[0]) & (shares < little[1]))


def _covers(
    drydown: FormulaDrydown, lines: _Lines, place: int, column: int, window: tuple[float, float]
) -> tuple[str, ...]:
    """Return up to three materials that clearly show a facet of a line in a phase, and much of it."""
    film = lines.course.film
    when = inside(lines.course.hours, *window)
    shown = [
        float((lines.alone[when][:, mine] * lines.weights[mine, column]).max()) if mine.any() else 0.0
        for mine in (film.owner == i for i in range(len(film.amounts)))
    ]
    least = COVERS * max(shown[place], 1e-9)
    names = [amount.material.name for amount in drydown.amounts]
    return tuple(name for i, name in enumerate(names) if i != place and shown[i] >= least)[:3]
