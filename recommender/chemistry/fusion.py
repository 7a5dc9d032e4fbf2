"""Fusion: one latent figure for each material from everything that is reported about it.

An observation is a figure of one material, or the difference of two, in its source's own scale. Sources'
offsets, slopes and scatters are fitted together with the latent figures. Scatter has heavy tails, so that
one bad row bends nothing, and the prior ties materials of like structure softly.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

FREEDOM = 4.0
"""Degrees of freedom of Student's t distribution, which every source's scatter has."""
ROUNDS = 300
"""Rounds of expectation-maximisation at most."""
SETTLED = 1e-4
"""The fit has settled when no figure moves by more [decades]."""
LEAST_SCATTER = 0.05
"""No source is taken to be better than this [decades]."""


@dataclass(frozen=True, slots=True)
class Observation:
    """A value that a source reports of a material, or of how far it lies above another [decades].

    `value` = offset + slope x (figure of `material` - figure of `below`). With `at_least`, a larger
    difference is no disagreement.
    """

    source: str
    material: int
    value: float
    below: int | None = None
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """How a source reads the latent figures.

    `fits` says what of offset, slope and scatter [decades] is fitted; the rest stays as given.
    """

    offset: float = 0.0
    slope: float = 1.0
    scatter: float = 0.5
    fits: Collection[str] = ("offset", "scatter")

    def decades(self, scatters: float) -> float:
        """Return how far a deviation moves the latent figure [decades]."""
        return scatters * self.scatter / self.slope


@dataclass(frozen=True)
class Fused:
    """Latent figures and their standard deviations, arrays (materials,) [decades].

    `deviations` has for each observation by how many scatters of its source it disagrees with the rest; 0 for
    an `at_least` that is met.
    """

    figures: Array
    bands: Array
    sources: Mapping[str, Source]
    deviations: Array


def fuse(
    observations: Sequence[Observation], sources: Mapping[str, Source], mean: Array, covariance: Array
) -> Fused:
    """Return the figures that agree best with all observations.

    Parameters
    ----------
    observations : sequence of Observation
    sources : mapping of str -> Source
        One at least must have a fixed slope, or the scale has no anchor, and one a fixed offset unless the
        prior gives the level.
    mean, covariance : ndarray, shapes (materials,) and (materials, materials)
        What is expected before anything is reported [decades].

    References
    ----------
    Lange, Little, Taylor, J. Am. Stat. Assoc. 84 (1989) 881-896: the t distribution in
    expectation-maximisation.

    >>> seen = [Observation("a", 0, 1.0), Observation("a", 1, 2.0), Observation("b", 0, 6.0)]
    >>> found = fuse(seen, {"a": Source(fits=("scatter",)), "b": Source()}, np.zeros(2), 4.0 * np.eye(2))
    >>> bool(found.figures[1] > found.figures[0] > 0.5), round(found.sources["b"].offset)
    (True, 5)
    """
    values = np.array([seen.value for seen in observations])
    names = np.array([seen.source for seen in observations])
    one_sided = np.array([seen.at_least for seen in observations])
    above = np.array([seen.material for seen in observations])
    below = np.array([seen.material if seen.below is None else seen.below for seen in observations])
    sign = np.where(above == below, 0.0, -1.0)
    prior = np.linalg.inv(covariance)
    rows = {name: np.flatnonzero(names == name) for name in sources}
    fitted = dict(sources)
    figures, weights, offset, slope, scatter = mean, np.ones(len(values)), *_columns(names, fitted)
    for _ in range(ROUNDS):
        strength = weights * (slope / scatter) ** 2
        system, target = prior.copy(), prior @ mean
        pull = weights * slope * (values - offset) / scatter**2
        for one, other, factor in (
            (above, above, 1.0),
            (above, below, sign),
            (below, above, sign),
            (below, below, sign**2),
        ):
            np.add.at(system, (one, other), factor * strength)
        np.add.at(target, above, pull)
        np.add.at(target, below, sign * pull)
        bands = np.linalg.inv(system)
        before, figures = figures, bands @ target
        read = figures[above] + sign * figures[below]
        variance = np.diag(bands)
        spread = variance[above] + sign**2 * variance[below] + 2 * sign * bands[above, below]
        for name, source in fitted.items():
            at = rows[name]
            fitted[name] = _fit(source, read[at], spread[at], values[at], weights[at])
        offset, slope, _ = _columns(names, fitted)
        residual = values - offset - slope * read
        met = one_sided & (residual <= 0)
        squares = np.where(met, 0.0, residual**2 + slope**2 * spread)
        fitted = _with_scatter(fitted, rows, squares, weights)
        offset, slope, scatter = _columns(names, fitted)
        weights = np.where(met, 0.0, (FREEDOM + 1.0) / (FREEDOM + squares / scatter**2))
        if np.abs(figures - before).max() < SETTLED:
            break
    return Fused(figures, np.sqrt(np.diag(bands)), fitted, np.where(met, 0.0, residual / scatter))


def _columns(names: npt.NDArray[np.str_], sources: Mapping[str, Source]) -> tuple[Array, Array, Array]:
    found = np.array([[sources[n].offset, sources[n].slope, sources[n].scatter] for n in names])
    return found[:, 0], found[:, 1], found[:, 2]


def _fit(source: Source, read: Array, spread: Array, values: Array, weights: Array) -> Source:
    """Return a source with offset and slope by weighted least squares, the figures' bands counted."""
    total = weights.sum()
    if total <= 0:
        return source
    slope, offset = source.slope, source.offset
    middle_x, middle_y = weights @ read / total, weights @ values / total
    if "slope" in source.fits:
        away = read - middle_x
        slope = float((weights * away) @ (values - middle_y) / (weights @ (away**2 + spread)))
    if "offset" in source.fits:
        offset = float(middle_y - slope * middle_x)
    return replace(source, offset=offset, slope=slope)


def _with_scatter(
    sources: Mapping[str, Source], rows: Mapping[str, npt.NDArray[np.intp]], squares: Array, weights: Array
) -> dict[str, Source]:
    """Return the sources with the scatter of their rows."""
    found = dict(sources)
    for name, source in sources.items():
        places = rows[name]
        if "scatter" in source.fits and (counted := np.count_nonzero(weights[places])):
            scatter = float(np.sqrt((weights[places] @ squares[places]) / counted))
            found[name] = replace(source, scatter=max(scatter, LEAST_SCATTER))
    return found
