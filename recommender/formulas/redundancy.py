"""What is redundant in a formula, by what a nose would miss: of the theme, of the whole smell, of a note."""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation import Array
from recommender.evaporation.course import Course, FormulaFilm, doses_added, joint_intensities, masked
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
    lines = _Lines(drydown.course, drydown.palette.space.near)
    found = [_contribution(drydown, lines, place, about) for place in smelling]
    return sorted(found, key=lambda spare: (spare.missed, spare.material.name))


@dataclass(frozen=True)
class _Lines:
    """What each line of a formula shows over time, by its clear labels; `near` facets stand in for others."""

    course: Course
    near: Array

    @property
    def film(self) -> FormulaFilm:
        """The formula on its strip."""
        return self.course.film

    @cached_property
    def weights(self) -> Array:
        """The weights of clear labels in each component, (components, facets)."""
        return self.film.weights * self.film.shows(CLEAR_LABEL)[self.film.owner]

    @cached_property
    def by_line(self) -> Array:
        """The same by line, the most of its components, (lines, facets)."""
        found = np.zeros((len(self.film.amounts), len(self.film.facets)))
        np.maximum.at(found, self.film.owner, self.weights)
        return found

    @cached_property
    def powers(self) -> Array:
        """The weights to the power with which odours add up, 8, (components, facets)."""
        return eighth_power(self.weights)

    @cached_property
    def alone(self) -> Array:
        """The intensity of each component before doses of one odour are added, (times, components)."""
        return self.film.at(self.course.hours)

    @cached_property
    def perceived(self) -> Array:
        """What is perceived of each component, to the power with which odours add up, (times, components)."""
        return eighth_power(doses_added(self.film, self.alone))

    @cached_property
    def shown(self) -> Array:
        """The intensity of each facet in each line, near facets standing in, (times, lines, facets)."""
        film, order = self.film, np.argsort(self.film.owner, kind="stable")
        places, starts = np.unique(film.owner[order], return_index=True)
        found = np.zeros((len(self.course.hours), len(film.amounts), len(film.facets)))
        for place, mine in zip(places, np.split(order, starts[1:]), strict=True):
            columns = np.flatnonzero(self.by_line[place])
            if len(columns):
                own = eighth_root(self.perceived[:, mine] @ self.powers[np.ix_(mine, columns)])
                found[:, place] = (own[:, :, None] * self.near[columns]).max(axis=1)
        return found

    @cached_property
    def clear(self) -> Array:
        """How clear each facet is in the line that shows most of it, 0-1, (times, facets)."""
        return odour_strength.soft(self.shown.max(axis=1))

    @cached_property
    def made(self) -> Array:
        """Whose each facet is, counted as amounts and by how clear it is, (times, lines, facets)."""
        shares = amount_shares(self.shown.transpose(0, 2, 1)).transpose(0, 2, 1)
        return np.asarray(shares * self.clear[:, None], float)

    @cached_property
    def most(self) -> Array:
        """The greatest share that a line makes of a facet in any phase, (lines, facets).

        Averaged over a phase by how clear the facet is; one in which it is never just there does not count.
        """
        found = []
        for window in PHASES.values():
            when = inside(self.course.hours, *window)
            there = self.shown[when].max(axis=(0, 1)) >= odour_strength.JUST_THERE
            clear = np.maximum(self.clear[when].sum(axis=0), 1e-9)
            found.append(np.where(there, self.made[when].sum(axis=0) / clear, 0.0))
        return np.asarray(np.max(found, axis=0), float)

    @cached_property
    def whole(self) -> Array:
        """The share of the smell that each line makes, (lines,)."""
        return np.asarray(line_shares(self.course).mean(axis=0), float)

    @cached_property
    def loudest(self) -> Array:
        """How strong each line ever is beside the rest, masked by it, 0-100, (lines,)."""
        beside = masked(self.course.owners, self.course.whole[:, None])
        return np.asarray(beside.max(axis=0), float)

    @cached_property
    def masses(self) -> Array:
        """The mass fraction of all lines that clearly show a facet, (facets,)."""
        fractions = np.array([a.mass_fraction for a in self.film.amounts])
        return np.asarray(fractions @ self.film.shows(CLEAR_LABEL), float)

    @cached_property
    def phases(self) -> Array:
        """What each time counts in each phase, (phases, times)."""
        windows = PHASES.values()
        return np.array([simulation.log_time_weights(self.course.hours, *window) for window in windows])

    def lends(self, place: int, columns: Columns) -> Array:
        """Return how much of some facets a line's clear labels show, near ones standing in, (columns,)."""
        return np.asarray((self.by_line[place][:, None] * self.near[:, columns]).max(axis=0), float)

    def lost(self, place: int, columns: Columns) -> Array:
        """Return the soft presence of some facets that would be lost without a line, (phases, columns).

        Lines add as odours do, by the p-norm of 8: what another line shows as well is covered by it. What
        shares an odour with the line is perceived anew, all else stays.
        """
        perceived = self.perceived.copy()
        mine = self.film.owner == place
        perceived[:, mine] = 0.0
        members, starts = self.film.joint_with(mine)
        if len(members):
            own = np.where(mine[members], 0.0, self.alone[:, members])
            perceived[:, members] = eighth_power(joint_intensities(self.film, own, members, starts))
        before = self._presence(self.perceived, columns)
        lost = before - self._presence(perceived, columns)  # exactly 0 where the line adds nothing
        return np.asarray(lost if lost.max() > 0 else 1e-9 * before, float)

    def _presence(self, perceived: Array, columns: Columns) -> Array:
        """Return the soft presence of some facets with so much perceived, near ones standing in."""
        lent = np.flatnonzero(self.near[:, columns].any(axis=1))
        facets = eighth_root(perceived @ self.powers[:, lent])
        facets = (facets[:, :, None] * self.near[np.ix_(lent, columns)]).max(axis=1)
        return np.asarray(self.phases @ odour_strength.soft(facets), float)

    def share_of(self, place: int, columns: Columns) -> float:
        """Return which share of some facets a line makes over all hours."""
        made = float(self.made[:, place][:, columns].sum())
        return made / max(float(self.clear[:, columns].sum()), 1e-9)


def _contribution(drydown: FormulaDrydown, lines: _Lines, place: int, theme: Columns) -> Contribution:
    """Return what one line does; `theme` are the columns of the theme's facets."""
    facets, amount = drydown.palette.space.facets, drydown.amounts[place]
    levels = lines.film.label_strengths[place]
    own = np.flatnonzero(levels >= min(CLEAR_LABEL, levels.max()))
    leading = np.flatnonzero(levels == levels.max())
    lost = lines.lost(place, own)
    phase, column = np.unravel_index(int(lost.argmax()), lost.shape)
    missed, window = float(lost.max()), list(PHASES.values())[int(phase)]
    carried, notes = lines.most[place, theme], lines.most[place, leading]
    enough = (carried >= CARRIES) | (levels[theme] == LEADING_LABEL)
    enough &= ~_little(lines, place, theme, carried, LITTLE_OF_THEME)
    loudest = float(lines.loudest[place])
    hardly_smelled = loudest < odour_strength.JUST_THERE
    spare = loudest < FAINT or bool(_little(lines, place, leading, notes, LITTLE).all())
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
        _covers(lines, place, int(own[int(column)]), window),
        role,
        facets[int(does)],
        lines.share_of(place, theme) if len(theme) else 0.0,
        float(lines.whole[place]),
    )


def _little(
    lines: _Lines, place: int, columns: Columns, shares: Array, little: tuple[float, float]
) -> npt.NDArray[np.bool_]:
    """Return for some facets whether a line stands beside a far larger amount of them, (columns,).

    `shares` (columns,) is what it makes of them as smelled; by mass all count that clearly show them.
    """
    mine = lines.film.amounts[place].mass_fraction
    by_mass = mine / np.maximum(lines.masses[columns], mine)
    return np.asarray((by_mass < little[0]) & (shares < little[1]))


def _covers(lines: _Lines, place: int, column: int, window: tuple[float, float]) -> tuple[str, ...]:
    """Return up to three materials that clearly show a facet of a line in a phase, and much of it."""
    when = inside(lines.course.hours, *window)
    showing = np.flatnonzero(lines.weights[:, column])
    shown = np.zeros(len(lines.film.amounts))
    strongest = lines.alone[when][:, showing].max(axis=0) * lines.weights[showing, column]
    np.maximum.at(shown, lines.film.owner[showing], strongest)
    shown[place], least = -1.0, COVERS * max(float(shown[place]), 1e-9)
    return tuple(lines.film.amounts[i].material.name for i in np.flatnonzero(shown >= least)[:3])
