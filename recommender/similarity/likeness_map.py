"""A map that puts materials with a similar smell close together; its plane is computed at build time."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from recommender.evidence.catalogue import Catalogue
from recommender.evidence.sheets import read
from recommender.model import Material
from recommender.similarity.odour_space import Array, OdourSpace

FILE = Path(__file__).parent / "map.csv"
NEIGHBOURS = 5
"""Nearest neighbours by which a material that is not in the file is placed."""
LEAST_NAMED = 6
"""A family is named on the map if at least this many materials lead with it."""


@dataclass(frozen=True, slots=True)
class Place:
    """A material on the map; both coordinates are within [-1, 1]."""

    material: Material
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Region:
    """A family of smells, and the middle of the materials that lead with it."""

    name: str
    x: float
    y: float


def mapped(material: Material) -> bool:
    """Return whether a material is shown on the map: it is offered, and it smells."""
    return material.role == "palette" and material.kind != "solvent" and bool(material.labels)


@cache
def _plane() -> dict[str, tuple[float, float]]:
    return {row["material"]: (float(row["x"]), float(row["y"])) for row in read(FILE, ("material", "x", "y"))}


def places(catalogue: Catalogue, space: OdourSpace) -> list[Place]:
    """Return every material that is shown, with its coordinates.

    Unmapped or relabelled materials are placed at the weighted mean of their nearest neighbours.
    """
    plane, materials = _plane(), catalogue.materials
    shown = [i for i, m in enumerate(materials) if mapped(m)]
    fixed = [i for i in shown if materials[i].slug in plane and materials[i].own is None]
    there = np.array([plane[materials[i].slug] for i in fixed])
    found = {i: tuple(at) for i, at in zip(fixed, there.tolist(), strict=True)}
    for row in shown:
        if row not in found:
            likeness = space.likeness(row)[fixed]
            nearest = np.argsort(-likeness, kind="stable")[:NEIGHBOURS]
            weight = np.maximum(likeness[nearest], 1e-3) ** 4
            found[row] = tuple((weight @ there[nearest] / weight.sum()).tolist())
    return [Place(materials[row], *found[row]) for row in shown]


def regions(found: Collection[Place], catalogue: Catalogue) -> list[Region]:
    """Return the families with enough materials to be named, each at the middle of its densest part."""
    family = {facet.name: facet.family for facet in catalogue.facets}
    led: dict[str, list[tuple[float, float]]] = {}
    for place in found:
        leading = {family[label.facet] for label in place.material.labels if label.strength == 3}
        for name in leading:
            led.setdefault(name, []).append((place.x, place.y))
    named = [
        Region(name, *_densest(np.array(points)))
        for name, points in sorted(led.items())
        if len(points) >= LEAST_NAMED and name != "general"
    ]
    return _apart(named)


def _densest(points: Array) -> tuple[float, float]:
    """Return the mean of the points around the one with the most neighbours."""
    apart = ((points[:, None] - points[None]) ** 2).sum(axis=2)
    near = np.exp(-apart / 0.02)
    best = near[near.sum(axis=1).argmax()]
    x, y = (best @ points / best.sum()).tolist()
    return x, y


def _apart(found: list[Region], wide: float = 0.30, high: float = 0.075) -> list[Region]:
    """Return the regions with those that overlap moved up."""
    placed: list[Region] = []
    for region in sorted(found, key=lambda r: (r.y, r.x)):
        y = region.y
        while any(abs(region.x - o.x) < wide and abs(y - o.y) < high for o in placed):
            y += high / 3
        placed.append(Region(region.name, region.x, y))
    return placed


def preserved_neighbours(apart: Array, plane: Array, count: int = 10) -> float:
    """Return the share of each material's nearest neighbours that are also nearest on the plane, 0-1."""
    flat = np.sqrt(((plane[:, None] - plane[None]) ** 2).sum(axis=2))
    nearest = []
    for distances in (apart, flat):
        away = distances + np.diag(np.full(len(distances), np.inf))
        nearest.append(np.argsort(away, axis=1, kind="stable")[:, :count])
    return float(
        np.mean([len(set(a) & set(b)) / count for a, b in zip(*map(np.ndarray.tolist, nearest), strict=True)])
    )
