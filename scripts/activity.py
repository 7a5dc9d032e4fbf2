"""Activity coefficients of molecules in carriers, estimated from their groups (UNIFAC, thermo library)."""

from collections.abc import Iterable, Mapping

import numpy as np
from rdkit import Chem
from thermo import unifac
from thermo.group_contribution.group_contribution_base import smarts_fragment_priority

KELVIN = 298.15
CARRIER_UP_TO_PA = 100.0
"""A solvent that is more volatile has gone within the hour (ethanol, isopropyl alcohol, water)."""
ALSO_CARRIERS = ("benzyl-alcohol", "benzyl-benzoate")
"""Materials with a smell in which others are dissolved too."""
SKELETON = 14
"""Letters of an InChIKey that leave out stereochemistry, on which groups do not depend."""
Groups = Mapping[int, int]
"""Number of a group -> how often it occurs."""
Parameters = Mapping[int, Mapping[int, float]]
"""Main group -> other main group -> how they attract each other [K]."""


def groups(molecules: Mapping[str, Chem.Mol]) -> dict[str, Groups]:
    """Return the UNIFAC groups of each molecule that consists of such groups.

    They are those of the published assignments in the library, else those that its patterns find if these
    cover every atom: of 405 molecules that have both, 386 have the same.
    """
    if not unifac.DDBST_UNIFAC_assignments:
        unifac.load_group_assignments_DDBST()
    published = {key[:SKELETON]: found for key, found in sorted(unifac.DDBST_UNIFAC_assignments.items())}
    assigned: dict[str, Groups] = {}
    for slug, molecule in molecules.items():
        known = published.get(Chem.MolToInchiKey(molecule)[:SKELETON])
        if known is None:
            counts, _, _, whole, _ = smarts_fragment_priority(unifac.UNIFAC_SUBGROUPS, rdkitmol=molecule)
            known = counts if whole else None
        if known:
            assigned[slug] = known
    return assigned


def ln_gammas(
    xs: Iterable[float],
    assigned: Iterable[Groups],
    kelvin: float = KELVIN,
    parameters: Parameters | None = None,
) -> list[float]:
    """Return the logarithm of the activity coefficient of each part of a mixture.

    Parameters
    ----------
    xs : iterable of float
        Mole fractions; 0 is infinite dilution.
    assigned : iterable of Groups
        What each part consists of.
    kelvin : float
        Temperature [K].
    parameters : Parameters, optional
        By default those of UNIFAC 2.0.

    References
    ----------
    Equation: Fredenslund, Jones, Prausnitz, AIChE J. 21 (1975) 1086. Parameters: UNIFAC 2.0, Hayer, Wendel,
    Mandt, Hasse, Jirasek, Chem. Eng. J. 504 (2025) 158667, which has every pair of groups: those without
    measurements are learned from the others.
    """
    mixture = unifac.UNIFAC.from_subgroups(
        T=kelvin,
        xs=list(xs),
        chemgroups=list(assigned),
        subgroups=unifac.UFSG,
        interaction_data=unifac.UF2IP if parameters is None else parameters,
        version=0,
    )
    return [float(value) for value in np.log(mixture.gammas())]


def at_infinite_dilution(assigned: Mapping[str, Groups], carrier: str) -> dict[str, float]:
    """Return ln gamma at infinite dilution in a carrier at 25 C, by molecule, the carrier left out."""
    solutes = [slug for slug in assigned if slug != carrier]
    mixture = [*(assigned[slug] for slug in solutes), assigned[carrier]]
    found = ln_gammas([*[0.0] * len(solutes), 1.0], mixture)
    return dict(zip(solutes, found[:-1], strict=True))
