"""Vapour pressure: crystals and their liquid, and the estimate from a boiling point."""

import math
from collections.abc import Sequence

from recommender.model import Component, Figure, Material

GAS_CONSTANT = 8.314462618
"""J/(mol K), CODATA 2018 (exact)."""
ROOM_TEMPERATURE_K = 298.15
PASCAL_PER_ATMOSPHERE = 101325.0
STRIP_ERROR = 0.35
"""By how much one strip, room or nose differs from another, however well a material is known [decades]."""
WALDEN = 6.8
"""Entropy of fusion over the gas constant, 56.5 J/mol/K (Walden's rule for rigid molecules)."""


def subcooled_pressure(
    crystal_pa: float,
    melting_point_k: float,
    temperature_k: float = ROOM_TEMPERATURE_K,
    entropy: float = WALDEN,
) -> float:
    """Return the vapour pressure of the subcooled liquid of a solid [Pa].

    P_L = P_S exp(S (Tm/T - 1)) with the entropy of fusion S over the gas constant, 6.8 by Walden's rule;
    `crystal_pa` [Pa], temperatures [K].

    >>> round(subcooled_pressure(0.106, 344.0), 2)
    0.3
    """
    return crystal_pa * math.exp(entropy * max(melting_point_k / temperature_k - 1.0, 0.0))


def myrdal_yalkowsky(
    boiling_point_k: float, tau: float, hbn: float, temperature_k: float = ROOM_TEMPERATURE_K
) -> float:
    """Estimate the vapour pressure of a liquid from its normal boiling point [Pa].

    Parameters
    ----------
    boiling_point_k : float
        Normal boiling point [K]; one taken at reduced pressure gives a result far too high.
    tau : float
        Effective number of torsional bonds.
    hbn : float
        Hydrogen bond number, (sqrt(OH + COOH) + 0.33 sqrt(NH2)) / M [mol/g].
    temperature_k : float
        Temperature [K].

    References
    ----------
    Myrdal, Yalkowsky, Ind. Eng. Chem. Res. 36 (1997) 2494-2499.

    >>> round(myrdal_yalkowsky(450, 0, 0))
    179
    """
    gap = boiling_point_k - temperature_k
    log_atm = -(86.0 + 0.4 * tau + 1421.0 * hbn) * gap / (19.1 * temperature_k) + (
        -90.0 - 2.1 * tau
    ) / 19.1 * (gap / temperature_k - math.log(boiling_point_k / temperature_k))
    return float(PASCAL_PER_ATMOSPHERE * 10.0**log_atm)


def torsion_and_hydrogen_bonds(smiles: str) -> tuple[float, float]:
    """Return tau and the hydrogen bond number of a molecule (needs RDKit).

    tau = max(0, SP3 + 0.5 SP2 + 0.5 RINGS - 1), counted over non-terminal atoms outside rings; fused
    rings count once. See `myrdal_yalkowsky` for the source.
    """
    from rdkit import Chem
    from rdkit.Chem.rdMolDescriptors import _CalcMolWt as molar_mass

    molecule = Chem.MolFromSmiles(smiles)
    chain = [a for a in molecule.GetAtoms() if not a.IsInRing() and a.GetDegree() > 1]
    sp3 = sum(a.GetHybridization() == Chem.HybridizationType.SP3 for a in chain)
    sp2 = sum(a.GetHybridization() == Chem.HybridizationType.SP2 for a in chain)
    rings = [set(ring) for ring in molecule.GetRingInfo().AtomRings()]
    systems = 0
    while rings:
        system = rings.pop()
        while fused := [ring for ring in rings if len(ring & system) > 1]:
            system.update(*fused)
            rings = [ring for ring in rings if ring not in fused]
        systems += 1
    hydroxyls = len(molecule.GetSubstructMatches(Chem.MolFromSmarts("[OX2H]")))
    amines = len(molecule.GetSubstructMatches(Chem.MolFromSmarts("[NX3H2]")))
    tau = max(0.0, sp3 + 0.5 * sp2 + 0.5 * systems - 1.0)
    return tau, (math.sqrt(hydroxyls) + 0.33 * math.sqrt(amines)) / molar_mass(molecule)


def vaporisation_j_per_mol(pressure_pa: float, smiles: str) -> float:
    """Return the heat of vaporisation at 25 C [J/mol] of a molecule from the pressure of its liquid [Pa].

    The slope of `myrdal_yalkowsky` for the boiling point that gives this pressure (needs RDKit).
    """
    bonds = torsion_and_hydrogen_bonds(smiles)
    low, high = ROOM_TEMPERATURE_K - 100.0, 1500.0
    for _ in range(60):
        boiling = 0.5 * (low + high)
        low, high = (boiling, high) if myrdal_yalkowsky(boiling, *bonds) > pressure_pa else (low, boiling)
    cold, warm = ROOM_TEMPERATURE_K - 1.0, ROOM_TEMPERATURE_K + 1.0
    ratio = myrdal_yalkowsky(low, *bonds, warm) / myrdal_yalkowsky(low, *bonds, cold)
    return GAS_CONSTANT * math.log(ratio) / (1.0 / cold - 1.0 / warm)


def duration_factor(parts: Sequence[Component]) -> float:
    """Return by how much a duration may be off either way: it goes as 1 / pressure.

    At least 2.2: strips and rooms differ that much, see `STRIP_ERROR`.
    """
    counted = [part.log_error for part in parts if part.pressure_pa > 0 and part.mass_fraction >= 0.05]
    return float(10.0 ** max([STRIP_ERROR, *counted]))


def pressure(material: Material) -> Figure | None:
    """Return the preferred vapour pressure at 25 C as the bottle holds it (crystals for a solid)."""
    figures = material.figures.get("vapour_pressure", ())
    return figures[0] if figures else None
