"""Which part of a material carries a facet, and how present the facet is over a window of hours."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from recommender.chemistry import odour_strength
from recommender.evaporation.film import Array
from recommender.evaporation.surface import SurfaceState, together
from recommender.model import LABEL_WEIGHTS, Material
from recommender.similarity.odour_space import OdourSpace

CLASS_FACETS: Mapping[str, tuple[str, ...]] = {
    "monoterpene hydrocarbon": ("citrus", "orange", "lemon", "pine", "fresh", "juniper"),
    "oxygenated monoterpene": ("herbal", "camphor", "eucalyptus", "lavender", "floral", "fresh"),
    "sesquiterpene": ("woody", "spicy", "cedar"),
    "sesquiterpenol": ("woody", "sandalwood", "vetiver", "patchouli", "earth", "balsamic"),
    "aromatic ester or aldehyde": ("balsamic", "floral", "spicy", "sweet"),
    "light ester or aldehyde": ("fruity", "fresh"),
}
"""What the unnamed parts of naturals are known for (common practice)."""
CLASS_SHARE = 0.6
"""How far such a part carries a facet that its class is known for."""
UNNAMED = "unnamed odorants"
"""The residue of a natural: traces that no table names and that carry its leading smells."""
RESIDUE_CARRIES = 0.4
"""How far the residue carries a smell that does not lead."""
LEADING = LABEL_WEIGHTS[3]
LEAST_CARRIED = 0.15
"""Below this no part of a natural counts as its carrier, and all parts carry it alike."""


def carriers(
    materials: Sequence[Material], wanted: Mapping[str, float], carried: Array, index: Mapping[str, int]
) -> Array:
    """Return how far each part of each material carries the wanted facets, shape (materials, parts).

    A part that is a material of its own carries what its labels name, an unnamed one what its class is
    known for; where none carries the facet, all do alike.

    Parameters
    ----------
    materials : sequence of Material
    wanted : mapping of str -> float
        The facets.
    carried : ndarray, shape (catalogue,)
        How strongly each material of the catalogue shows them.
    index : mapping of str -> int
        The row of each slug in the catalogue.
    """
    width = max((len(m.parts) for m in materials), default=1)
    found = np.ones((len(materials), width))
    for row, material in enumerate(materials):
        if len(material.parts) < 2:
            continue
        leads = any(label.facet in wanted and label.weight >= LEADING for label in material.labels)
        shares = np.array([_carried_by(part.name, wanted, carried, index, leads) for part in material.parts])
        if (top := shares.max()) >= LEAST_CARRIED:
            found[row, : len(shares)] = shares / top
    return found


def part_weights(material: Material, space: OdourSpace, index: Mapping[str, int]) -> Array:
    """Return the weight of every facet in each part of a material, shape (parts, facets).

    A label of the material goes to the parts that carry it: those that show it themselves or whose class is
    known for it, else to all. Facets that only a part shows are not added: the material's labels rule.
    A material of which no part is known, an own one without a pressure, has no row.
    """
    found, parts = np.zeros((len(material.parts), len(space.facets))), material.parts
    if not parts:
        return found
    places = [space.column[label.facet] for label in material.labels]
    weights = np.array([label.weight for label in material.labels])
    if len(parts) == 1:
        found[0, places] = weights
        return found
    shares = np.zeros((len(parts), len(places)))
    in_catalogue = [i for i, part in enumerate(parts) if part.name in index]
    own = space.weights[[index[parts[i].name] for i in in_catalogue]]
    shares[in_catalogue] = (own[:, None] * space.near.T[places]).max(axis=2)
    for row, part in enumerate(parts):
        if part.name == UNNAMED:
            shares[row] = np.where(weights >= LEADING, 1.0, RESIDUE_CARRIES)
        elif part.name not in index:
            known = CLASS_FACETS.get(part.name, ())
            shares[row] = [CLASS_SHARE * (label.facet in known) for label in material.labels]
    top = shares.max(axis=0)
    found[:, places] = weights * np.where(top >= LEAST_CARRIED, shares / np.maximum(top, LEAST_CARRIED), 1.0)
    return found


def _carried_by(
    part: str, wanted: Mapping[str, float], carried: Array, index: Mapping[str, int], leads: bool
) -> float:
    if part == UNNAMED:
        return 1.0 if leads else RESIDUE_CARRIES
    if part in index:
        return float(carried[index[part]])
    return CLASS_SHARE if set(CLASS_FACETS.get(part, ())) & set(wanted) else 0.0


def presence(
    surfaces: SurfaceState,
    weights: npt.ArrayLike,
    carriers: npt.ArrayLike,
    start_hours: float,
    end_hours: float,
) -> tuple[Array, Array]:
    """Return the soft presence of a facet over a window and at its end, 0-1 for each surface.

    S / (S + 6) with S = weight x intensity of the parts that carry the facet; over the window it is
    averaged over log time.

    Parameters
    ----------
    surfaces : SurfaceState
        Side by side.
    weights : array_like, shape (surfaces,)
        Weight of the facet in each material, 0-1.
    carriers : array_like, shape (surfaces, components)
        How far each part carries the facet, 0-1.
    start_hours, end_hours : float
        The window [h].
    """
    hours = np.geomspace(start_hours, end_hours, 16)
    carried = surfaces.at(hours) * np.asarray(carriers, float)[:, None, :]
    facet = np.asarray(weights, float)[:, None] * together(carried)
    soft = odour_strength.soft(facet)
    return np.asarray(soft.mean(axis=1), float), np.asarray(soft[:, -1], float)
