"""Pressure and strength of every material from all rows of evidence at once.

The model is `recommender.chemistry.fusion`; here stands what each table's rows observe.
"""

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import evidence as ev
import numpy as np
import numpy.typing as npt
from rdkit import Chem, DataStructs
from rdkit.Chem import rdFingerprintGenerator, rdMolDescriptors

from recommender.chemistry import odour_strength, vapour_pressure
from recommender.chemistry import structure as estimate
from recommender.chemistry.fusion import Fused, Observation, Source, fuse
from recommender.errors import BadTable
from recommender.evaporation.lasting import ONE_MOLECULE
from recommender.evidence.sheets import Row
from recommender.model import Curve

Array = npt.NDArray[np.float64]

PRESSURE_SOURCES: Mapping[str, Source] = {
    "measured": Source(fits=("scatter",)),
    "extrapolated": Source(fits=("offset", "scatter")),
    "far extrapolated": Source(fits=("offset", "scatter")),
    "boiling point": Source(fits=("offset",), scatter=0.2),
    "memory": Source(fits=("offset",), scatter=0.25),
    "measured crystals": Source(fits=(), scatter=0.12),
    "extrapolated crystals": Source(fits=(), scatter=0.2),
    "far extrapolated crystals": Source(fits=(), scatter=0.3),
    "memory crystals": Source(fits=(), scatter=0.4),
}
"""Correlations within their range anchor the scale. Memory and boiling points would fit more tightly than
is given here, because the materials that are measured are the best known ones: held out, their bands were
too narrow by a factor of two."""
FAR_K = 40.0
"""From so many degrees below the range of a correlation on, 25 C is far outside [K]."""
PRESSURE_UNTIED, PRESSURE_KINSHIP, PRESSURE_SLOPES, PRESSURE_LEVEL = 0.5, 0.7, 1.0, 3.0
"""Prior of log10 pressure [decades]: what descriptors leave unexplained, the share of it that kin have in
common, and how far each standardised descriptor and the level may move it. Chosen on held-out rows."""
PLASTIC_ENTROPY = 15.0 / vapour_pressure.GAS_CONSTANT
"""Entropy of fusion of globular molecules, which turn in their crystals, over the gas constant (15 J/mol/K;
Timmermans, J. Phys. Chem. Solids 18 (1961) 1-8): Walden's rule does not hold for them."""
GLOBULAR_ATOMS = 12
"""Heavy atoms up to which a bridged ring makes a molecule globular."""

SMELLING = odour_strength.CLASSES[1:]
"""All classes but *none*."""
CLASS_SCATTER, PAIR_SCATTER, USE_SLOPE = 0.35, 0.3, 0.75
"""Scatter of a class and of a pair [decades of dose], and how much less than in proportion to its strength
a material is used: chosen on held-out pairs of `strength_pairs.csv`."""
ORDER_ONLY = 0.3
"""A pair without a factor stands for at least two times."""
ONE_MOLECULE_SCATTER = 0.1
"""A natural that is nearly one molecule is at least as strong as its share of it [decades of dose]."""
STRENGTH_UNTIED, STRENGTH_KINSHIP, STRENGTH_MIDDLE = 1.5, 0.5, 0.6
"""Prior of log10 strength [decades of dose], as for pressure."""
DOUBTFUL_FROM = 2.5
"""A curve or threshold that disagrees by so many scatters is marked doubtful."""


@dataclass(frozen=True)
class Pressures:
    """Latent log10 pressure of each molecule's liquid at 25 C [Pa], and what was fitted.

    `observed` has each observation with its row, in the order of `fused.deviations`; `melting` is the factor
    from crystals to liquid of each molecule that melts above 25 C.
    """

    index: Mapping[str, int]
    fused: Fused
    observed: Sequence[tuple[Observation, Row]]
    melting: Mapping[str, float]


def pressures(evidence: ev.Evidence, molecules: Mapping[str, Chem.Mol]) -> Pressures:
    """Return the pressures of all molecules, from correlations, boiling points, memory and kin."""
    slugs = list(molecules)
    index = {slug: number for number, slug in enumerate(slugs)}
    smiles = {row["slug"]: row["smiles"] for row in evidence["materials"]}
    melting = _melting(evidence["volatility"], molecules)
    observed: list[tuple[Observation, Row]] = []
    for row in evidence["volatility"]:
        slug, value = row["material"], row.number("value") or 0.0
        if slug not in index:
            continue
        if row["quantity"] == "boiling_point":
            tau, hbn = vapour_pressure.torsion_and_hydrogen_bonds(smiles[slug])
            kind, value = "boiling point", vapour_pressure.myrdal_yalkowsky(value, tau, hbn)
        elif row["quantity"] == "vapour_pressure":
            kind = "memory" if row["basis"] == "memory" else _extrapolation(row["note"])
            if row["phase"] == "solid":
                kind, value = f"{kind} crystals", value * melting.get(slug, 1.0)
        else:
            continue
        observed.append((Observation(kind, index[slug], math.log10(value)), row))
    numbers = np.array([estimate.descriptors(molecule) for molecule in molecules.values()])
    numbers = (numbers - numbers.mean(axis=0)) / numbers.std(axis=0)
    covariance = PRESSURE_LEVEL**2 + PRESSURE_SLOPES**2 * numbers @ numbers.T
    covariance += PRESSURE_UNTIED**2 * _kinship(list(molecules.values()), PRESSURE_KINSHIP)
    seen = [observation for observation, _ in observed]
    fused = fuse(seen, PRESSURE_SOURCES, np.zeros(len(slugs)), covariance)
    return Pressures(index, fused, observed, melting)


def check_series(pressures: Pressures, steps: Iterable[tuple[str, str]], rows: Iterable[Row]) -> None:
    """Raise `BadTable` where one CH2 more makes a molecule more volatile, beyond the band of both.

    Parameters
    ----------
    steps : iterable of (str, str)
        Homologues, the longer first.
    rows : iterable of Row
        Evidence; a note of the one that names the other gives the reason and lets it pass.
    """
    reasons: dict[str, str] = defaultdict(str)
    for row in rows:
        reasons[row["material"]] += f" {row['note']} "
    for longer, shorter in steps:
        more, less = pressures.index[longer], pressures.index[shorter]
        rise = pressures.fused.figures[more] - pressures.fused.figures[less]
        band = math.hypot(pressures.fused.bands[more], pressures.fused.bands[less])
        if rise > band and f" {shorter} " not in reasons[longer] and f" {longer} " not in reasons[shorter]:
            problem = f"{longer} is {10**rise:.1f} times as volatile as {shorter}, which has one CH2 less"
            remedy = "Correct a pressure of one, or name the other in its note with the reason"
            raise BadTable("volatility.csv", problem, remedy=remedy)


def _extrapolation(note: str) -> str:
    """Return the kind of a published pressure: by how far 25 C lies outside the range of its correlation."""
    if "extrapolated" not in note:
        return "measured"
    valid = re.search(r"valid (\d+)-(\d+) K", note)
    gap = int(valid[1]) - vapour_pressure.ROOM_TEMPERATURE_K if valid else 0.0
    return "far extrapolated" if gap > FAR_K else "extrapolated"


def _melting(rows: Iterable[Row], molecules: Mapping[str, Chem.Mol]) -> dict[str, float]:
    """Return how many times higher the pressure of the subcooled liquid is than that of the crystals."""
    found: dict[str, dict[str, float]] = defaultdict(dict)
    for row in rows:
        found[row["material"]].setdefault(row["quantity"], row.number("value") or 0.0)
    factors = {}
    for slug, known in found.items():
        if slug in molecules and "melting_point" in known:
            melting_k = known["melting_point"] + 273.15
            entropy = PLASTIC_ENTROPY if globular(molecules[slug]) else vapour_pressure.WALDEN
            if "enthalpy_of_fusion" in known:
                entropy = known["enthalpy_of_fusion"] / (vapour_pressure.GAS_CONSTANT * melting_k)
            factors[slug] = vapour_pressure.subcooled_pressure(1.0, melting_k, entropy=entropy)
    return factors


def globular(molecule: Chem.Mol) -> bool:
    """Return whether a molecule is a small cage without aromatic rings, such as camphor."""
    bridged = rdMolDescriptors.CalcNumBridgeheadAtoms(molecule) > 0
    aromatic = any(atom.GetIsAromatic() for atom in molecule.GetAtoms())
    return bridged and not aromatic and molecule.GetNumHeavyAtoms() <= GLOBULAR_ATOMS


def _kinship(molecules: Sequence[Chem.Mol | None], share: float) -> Array:
    """Return correlations: `share` of each is the Tanimoto likeness of fingerprints, the rest its own."""
    maker = rdFingerprintGenerator.GetMorganGenerator(radius=2, fpSize=4096)
    places = [number for number, molecule in enumerate(molecules) if molecule is not None]
    prints = [maker.GetCountFingerprint(molecules[place]) for place in places]
    likeness = np.eye(len(molecules))
    for place, own in zip(places, prints, strict=True):
        likeness[place, places] = DataStructs.BulkTanimotoSimilarity(own, prints)
    return share * likeness + (1.0 - share) * np.eye(len(molecules))


@dataclass(frozen=True)
class Strengths:
    """Latent strength of each material: decades by which a 1 % strip exceeds *clear*, with its band.

    `classes` are the middles of the classes on that scale, `rests_on` the firmest row of each material,
    `doubtful` the materials whose curve or threshold disagrees with all else, and `observed` has each
    observation with its row, in the order of `fused.deviations`.
    """

    figures: Mapping[str, float]
    bands: Mapping[str, float]
    classes: Mapping[str, float]
    rests_on: Mapping[str, Row]
    doubtful: frozenset[str]
    fused: Fused
    observed: Sequence[tuple[Observation, Row]]


def strengths(
    evidence: ev.Evidence, molecules: Mapping[str, Chem.Mol], one_per_cent: Mapping[str, float]
) -> Strengths:
    """Return the strengths of all materials, from curves, thresholds, classes, use levels and pairs.

    Parameters
    ----------
    one_per_cent : mapping of str -> float
        What the nose meets over a 1 % strip of each molecule [log10 ug/L].
    """
    slugs = [row["slug"] for row in evidence["materials"]]
    index = {slug: number for number, slug in enumerate(slugs)}
    rests_on: dict[str, Row] = {}
    observed: list[tuple[Observation, Row]] = []

    def see(source: str, row: Row, value: float) -> None:
        observed.append((Observation(source, index[row["material"]], value), row))

    order = {"curve": 0, "threshold": 1, "class": 2}
    for row in sorted(evidence["strength"], key=lambda r: order[r["kind"]]):
        slug = row["material"]
        if row["kind"] == "class":
            if row["class"] != "none":
                rests_on.setdefault(slug, row)
                see(row["class"], row, 0.0)
        elif slug in one_per_cent:
            concentration = _clear_or_threshold(row)
            if concentration is not None:
                rests_on.setdefault(slug, row)
                see(row["kind"], row, one_per_cent[slug] - concentration)
    for row in evidence["use_levels"]:
        middle = math.sqrt((row.number("percent_low") or 0.0) * (row.number("percent_high") or 0.0))
        see("use level", row, -math.log10(middle))
    for row in evidence["strength_pairs"]:
        times = row.number("times")
        pair = Observation(
            "pair",
            index[row["stronger"]],
            math.log10(times) if times else ORDER_ONLY,
            index[row["weaker"]],
            at_least=times is None,
        )
        observed.append((pair, row))
    solvents = {row["slug"] for row in evidence["materials"] if row["kind"] == "solvent"}
    for row in evidence["constituents"]:
        share = 0.01 * ev.middle_percent(row)
        if share >= ONE_MOLECULE and not row["class"] and row["constituent"] not in solvents:
            natural, molecule = index[row["natural"]], index[row["constituent"]]
            part = Observation("one molecule", natural, math.log10(share), molecule, at_least=True)
            observed.append((part, row))
    sources = {
        **{name: Source(fits=("offset",), scatter=CLASS_SCATTER) for name in SMELLING},
        "curve": Source(fits=("offset", "slope", "scatter")),
        "threshold": Source(fits=("offset", "slope", "scatter")),
        "use level": Source(slope=USE_SLOPE, fits=("scatter",)),
        "pair": Source(fits=(), scatter=PAIR_SCATTER),
        "one molecule": Source(fits=(), scatter=ONE_MOLECULE_SCATTER),
    }
    structures = [molecules.get(slug) for slug in slugs]
    covariance = STRENGTH_UNTIED**2 * _kinship(structures, STRENGTH_KINSHIP)
    fused = fuse([seen for seen, _ in observed], sources, np.full(len(slugs), STRENGTH_MIDDLE), covariance)
    level = fused.sources["medium"].offset + odour_strength.decades_above_clear(odour_strength.MEDIUM)
    doubtful = {
        row["material"]
        for (seen, row), deviation in zip(observed, fused.deviations, strict=True)
        if seen.source in ("curve", "threshold") and abs(deviation) > DOUBTFUL_FROM
    }
    return Strengths(
        {slug: float(fused.figures[index[slug]] + level) for slug in rests_on},
        {slug: float(fused.bands[index[slug]]) for slug in rests_on},
        {name: level - fused.sources[name].offset for name in SMELLING},
        rests_on,
        frozenset(doubtful),
        fused,
        observed,
    )


def at_odds(fused: Fused, observed: Sequence[tuple[Observation, Row]], count: int) -> list[str]:
    """Return the rows that disagree most with all else, one line each: table, row, both figures, scatters."""
    lines = []
    for place in np.argsort(-np.abs(fused.deviations), kind="stable")[:count]:
        (seen, row), scatters = observed[place], float(fused.deviations[place])
        rest = fused.figures[seen.material] - (0.0 if seen.below is None else fused.figures[seen.below])
        own = rest + fused.sources[seen.source].decades(scatters)
        what = row["material"] if seen.below is None else f"{row['stronger']} over {row['weaker']}"
        lines.append(
            f"{row.file} {row.line}: {what}, {seen.source}: row {own:+.2f}, all else {rest:+.2f}, "
            f"{abs(scatters):.1f} scatters"
        )
    return lines


def _clear_or_threshold(row: Row) -> float | None:
    """Return the concentration at which a curve is clear, or a threshold [log10 ug/L]; None if never."""
    if row["kind"] == "threshold":
        return math.log10((row.number("threshold_ug_m3") or 0.0) * 1e-3)
    i_max, half, width = (row.number(column) or 0.0 for column in ("i_max", "log10_half", "width"))
    curve = Curve(i_max, half, max(width, odour_strength.NARROWEST), "curve", row["basis"])
    found = odour_strength.concentration_at(odour_strength.CLEAR, curve)
    return math.log10(found) if i_max > odour_strength.CLEAR * 1.15 and math.isfinite(found) else None
