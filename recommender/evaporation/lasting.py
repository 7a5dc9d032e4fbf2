"""How long a material stays on a strip, and whether that makes it a top, a heart or a base."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength as strength
from recommender.chemistry import vapour_pressure
from recommender.evaporation.conditions import DEFAULT_CONDITIONS, Conditions
from recommender.evaporation.film import Array, last_hours
from recommender.evaporation.surface import (
    HOUR,
    MIXTURE_POWER,
    SurfaceState,
    neat_or_diluted,
    neat_strips,
    strengths,
    together,
)
from recommender.model import Component, Lasting, Material

_WEAKNESS = ["measured", "published", "user", "common practice", "estimated", "memory"]
"""What a figure rests on, from firm to weak."""
_GRID_H = np.geomspace(1 / 60, 24 * 365 * 20, 200)
"""Hours at which whole lives are looked at: a minute to twenty years."""
ONE_MOLECULE = 0.85
"""Mass fraction from which a natural lasts as the molecule that it is made of."""
ABOUT_AS_LONG = 2.0
"""Factor within which two materials last about equally long; the hours themselves are no better than that."""


def about_as_long(hours: float, other_hours: float) -> bool:
    """Return whether two materials last about equally long.

    >>> about_as_long(8.0, 5.0), about_as_long(8.0, 1.0)
    (True, False)
    """
    return 1 / ABOUT_AS_LONG <= hours / other_hours <= ABOUT_AS_LONG


def _last_hours(values: Array, level: npt.ArrayLike) -> Array:
    """Return the last hour at which each row is at its level or above, 0 where it never is."""
    return np.asarray(np.nan_to_num(last_hours(_GRID_H, values, level)), float)


def last_smelled(
    parts: Sequence[Sequence[Component]], name: str, level: float = strength.JUST_THERE
) -> Array:
    """Return the last hour at which a component of each neat mixture is smelled, shape (mixtures,) [h].

    `name` is that of the component; 0 where it never reaches `level`.
    """
    strips = neat_or_diluted(parts)
    places = [next(n for n, part in enumerate(row) if part.name == name) for row in parts]
    return _last_hours(strips.at(_GRID_H)[np.arange(len(parts)), :, places], level)


def half_points_ending_by(parts: Sequence[Component], hours: float) -> Array:
    """Return where each part's curve has its half if all parts are gone from a neat mixture by some hours.

    Shape (parts,) [log10 ug/L]. Parts whose curves have their halves there or above are gone together, each
    as weak as it has to be for their sum; -inf stands where there is no smell or nothing left. What stays
    meets the nose more when the rest has left: the most that is met from then on counts.
    """
    strip = neat_or_diluted([parts])
    later = np.concatenate([[hours], _GRID_H[hours < _GRID_H]])
    most = strip.concentrations(strip.left(later))[0].max(axis=0)
    gone = strength.JUST_THERE * max(len(parts), 1) ** (-1.0 / MIXTURE_POWER)
    return np.array(
        [
            math.log10(met) + curve.width * math.log(curve.i_max / gone - 1.0)
            if (curve := part.curve) is not None and met > 0 and curve.i_max > gone
            else -math.inf
            for part, met in zip(parts, most, strict=True)
        ]
    )


def evaporation_hours(materials: Sequence[Material]) -> Array:
    """Return the hours until three quarters of the volatile part of a neat strip have left.

    By evaporation alone, as the position (top, heart, base) is: odour strength does not enter.
    """
    strips = neat_strips(materials)
    mass = (strips.left(_GRID_H) * strips.molar_mass[:, None, :]).sum(axis=2)
    start = (strips.moles * strips.molar_mass).sum(axis=1)
    return _last_hours(mass, 0.25 * start)


def position(hours: float, top_until: float, heart_until: float) -> str:
    """Return top, heart or base for the hours that a neat strip takes to evaporate."""
    if hours < top_until:
        return "top"
    return "heart" if hours < heart_until else "base"


def lasting(
    materials: Sequence[Material], top_until: float, heart_until: float, level: float = strength.JUST_THERE
) -> list[Lasting | None]:
    """Return how long the whole smell of each neat material stays on a strip.

    Parameters
    ----------
    materials : sequence of Material
    top_until, heart_until : float
        Borders of the positions in hours of evaporation.
    level : float
        The intensity 0-100 at which a smell counts as gone.

    Returns
    -------
    list of Lasting or None
        None where pressure or strength is unknown. The band is the pressure's uncertainty, at least a
        factor 2.2; for solids it also spans crystals and dissolved film.
    """
    ends = []
    for dissolved in (False, True):
        ends.append(_last_hours(together(neat_strips(materials, dissolved).at(_GRID_H)), level))
    evaporation = evaporation_hours(materials)
    found: list[Lasting | None] = []
    for material, crystal, film, gone in zip(materials, *ends, evaporation, strict=True):
        if not any(part.pressure_pa > 0 for part in material.parts) or material.curve is None:
            found.append(None)
            continue
        crystal, film = max(crystal, _GRID_H[0] / 2), max(film, _GRID_H[0] / 2)
        factor = vapour_pressure.duration_factor(material.parts)
        basis = max((p.basis for p in material.parts), key=_WEAKNESS.index)
        low, high = min(crystal, film) / factor, max(crystal, film) * factor
        place = position(float(gone), top_until, heart_until)
        found.append(Lasting(float(crystal), float(low), float(high), place, basis))
    return found


_WARPS = 100
OWN = "user"
"""The basis of hours that a person's own strips of a material show."""


def as_smelled(
    materials: Sequence[Material], conditions: Conditions, borders: Mapping[str, tuple[float, float]]
) -> list[Material]:
    """Return materials with the hours and strength that they have on a person's own strips.

    Hours, band and strength go by the ratio of what is computed under `conditions` and under those of the
    tables. The position moves only with a material's own strips: it compares materials, and the air is the
    same for all. A material with strips of its own is known as well as one strip is.

    Parameters
    ----------
    materials : sequence of Material
    conditions : Conditions
        The strip: air, nose, paper, room, and materials that read otherwise than the table.
    borders : mapping of str -> (float, float)
        Kind of material -> hours until which it is a top and a heart: of evaporation, or of strip hours for
        a natural.
    """
    found, everywhere = list(materials), replace(conditions, own={}) != DEFAULT_CONDITIONS
    several = [len(material.parts) > 1 for material in materials]
    for mixture in (False, True):  # side by side every strip has as many columns as the longest
        places = [
            i
            for i, m in enumerate(materials)
            if m.lasting and several[i] == mixture and (everywhere or m.slug in conditions.own)
        ]
        if not places:
            continue
        picked = [materials[i] for i in places]
        ends = [_ends(neat_strips(picked, conditions=at)) for at in (conditions, DEFAULT_CONDITIONS)]
        levels = [strengths(picked, conditions=at) for at in (conditions, DEFAULT_CONDITIONS)]
        for i, hours, by_table, level, table_level in zip(places, *ends, *levels, strict=True):
            if hours <= 0 or by_table <= 0:
                continue
            moved = _lasting_longer(materials[i], float(hours / by_table), conditions, borders)
            if moved.strength is not None and level and table_level:
                moved = replace(moved, strength=moved.strength * level / table_level)
            found[i] = moved
    return found


def _lasting_longer(
    material: Material, longer: float, conditions: Conditions, borders: Mapping[str, tuple[float, float]]
) -> Material:
    """Return a material with a lasting on record that lasts so many times longer than in the table."""
    stay, own = material.lasting, conditions.own.get(material.slug)
    assert stay is not None
    hours, low, high = (longer * value for value in (stay.hours, stay.low, stay.high))
    place, basis = stay.position, stay.basis
    if own is not None:
        basis, factor = OWN, 10.0**vapour_pressure.STRIP_ERROR
        low, high = max(low, hours / factor), min(high, hours * factor)
        if (between := borders.get(material.kind)) is not None:
            natural = material.kind == "natural"
            gone = stay.hours if natural else float(evaporation_hours([material])[0])
            place = position(gone / own.faster, *between)
        material = _own_pressure(material, own.faster)
    return replace(material, lasting=Lasting(hours, low, high, place, basis))


def _own_pressure(material: Material, faster: float) -> Material:
    """Return a material whose preferred vapour pressure is the one that its strips show."""
    figures = material.figures.get("vapour_pressure", ())
    if not figures:
        return material
    first = figures[0]
    moved = replace(
        first,
        value=first.value * faster,
        low=None if first.low is None else first.low * faster,
        high=None if first.high is None else first.high * faster,
        basis=OWN,
        source="",
    )
    return replace(material, figures={**material.figures, "vapour_pressure": (moved, *figures)})


def _ends(strips: SurfaceState, level: float = strength.JUST_THERE) -> Array:
    """Return the last hour at which each of several strips is smelled, (strips,), by the warp of time."""
    total = strips.moles.sum(axis=1) + strips.inert
    inert = np.maximum(strips.inert, 1e-6 * total)
    warp = np.geomspace(30.0 / total, _GRID_H[-1] * HOUR / inert, _WARPS, axis=-1)
    hours = strips.elapsed(warp) / HOUR
    smelled = together(strips.intensities(strips.left_at(warp)))
    return np.asarray(np.nan_to_num(last_hours(hours, smelled, level)), float)
