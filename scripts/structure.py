"""Molecular structure (RDKit): checks against the chemicals library, related molecules, heats."""

import itertools
import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from chemicals import phase_change
from chemicals.identifiers import search_chemical
from rdkit import Chem, DataStructs, RDLogger
from rdkit.Chem import AllChem, Descriptors, rdFingerprintGenerator

from recommender.chemistry import vapour_pressure
from recommender.evidence.sheets import Row
from recommender.model import ALDEHYDE, AMINE

RDLogger.DisableLog("rdApp.*")

KIN_FROM = 0.40
"""Tanimoto likeness from which two molecules of one formula are called isomers, or homologues."""
LIBRARY_ERRORS = {
    "25265-71-8": "lists a hemiacetal; dipropylene glycol is an ether of two propylene glycols",
}
"""CAS numbers for which the library's structure is known to be wrong, with the reason."""
FARTHEST_HEAT = 10e3
"""A heat of vaporisation in a table that is so far from that of the pressure is a slip [J/mol]."""
_FINGERPRINT = rdFingerprintGenerator.GetMorganGenerator(radius=2, fpSize=2048)


SIDES_OF_SCHIFF_BASE = {
    AMINE: Chem.MolFromSmarts("[NX3;H2]c"),
    ALDEHYDE: Chem.MolFromSmarts("[CX3;H1](=O)[#6]"),
}
"""Groups that condense to a coloured Schiff base; a formate is no aldehyde, a secondary amine makes none."""


def side_of_schiff_base(molecule: Chem.Mol) -> str:
    """Return the side that a molecule takes in a coloured Schiff base, blank where it takes none."""
    sides = SIDES_OF_SCHIFF_BASE.items()
    return next((side for side, group in sides if molecule.HasSubstructMatch(group)), "")


def molecules(rows: Iterable[Row]) -> dict[str, Chem.Mol]:
    """Parse every SMILES; raises `BadTable` for an invalid one."""
    found = {}
    for row in rows:
        if row["smiles"]:
            found[row["slug"]] = Chem.MolFromSmiles(row["smiles"])
            if found[row["slug"]] is None:
                raise row.wrong("smiles", f'"{row["smiles"]}" is not a structure')
    return found


def check_against_library(rows: Iterable[Row], molecule: Mapping[str, Chem.Mol]) -> tuple[int, int]:
    """Compare molar mass and structure with the chemicals library wherever it knows the CAS number.

    Stereochemistry is ignored: trade materials are often mixtures of stereoisomers. Returns the number of
    materials that were compared, and of those that the library does not know.
    """
    compared = unknown = 0
    for row in rows:
        if row["slug"] not in molecule or not row["cas"]:
            continue
        try:
            library = search_chemical(row["cas"])
        except ValueError:
            unknown += 1
            continue
        compared += 1
        own = molecule[row["slug"]]
        if abs(library.MW - Descriptors.MolWt(own)) > 0.1:
            problem = f"molar mass {Descriptors.MolWt(own):.2f} but {library.MW:.2f} for {row['cas']}"
            raise row.wrong("smiles", problem, "One of CAS number and SMILES is wrong")
        other = Chem.MolFromSmiles(library.smiles)
        if row["cas"] in LIBRARY_ERRORS:
            continue
        if other is not None and skeleton(other) != skeleton(own) and not tautomers(own, other):
            problem = f"another structure than {row['cas']} has in the chemicals library, {library.smiles}"
            raise row.wrong("smiles", problem, "One of CAS number and SMILES is wrong")
    return compared, unknown


def skeleton(molecule: Chem.Mol) -> str:
    """Return canonical SMILES without stereo."""
    return Chem.MolToSmiles(molecule, isomericSmiles=False)


def tautomers(one: Chem.Mol, other: Chem.Mol) -> bool:
    """Return whether two structures are tautomers."""
    from rdkit.Chem.MolStandardize import rdMolStandardize

    same = rdMolStandardize.TautomerEnumerator()
    return skeleton(same.Canonicalize(one)) == skeleton(same.Canonicalize(other))


def kin(molecule: Mapping[str, Chem.Mol]) -> list[tuple[str, str, str, float, str]]:
    """Return computed relations as (from, relation, to, weight, note)."""
    found = [*isomers_and_homologues(molecule), *made_from(molecule)]
    return sorted(set(found))


def isomers_and_homologues(molecule: Mapping[str, Chem.Mol]) -> Iterable[tuple[str, str, str, float, str]]:
    """Yield isomers whose structures are alike, and homologues: one CH2 more, else the same."""
    slugs = sorted(molecule)
    prints = {slug: _FINGERPRINT.GetFingerprint(molecule[slug]) for slug in slugs}
    flat = {slug: skeleton(molecule[slug]) for slug in slugs}
    exact = {slug: Descriptors.ExactMolWt(molecule[slug]) for slug in slugs}
    shorter = {slug: shortened(molecule[slug]) for slug in slugs}
    for one, other in itertools.combinations(slugs, 2):
        apart = exact[one] - exact[other]
        if abs(apart) > 14.02:
            continue
        alike = DataStructs.TanimotoSimilarity(prints[one], prints[other])
        if alike < KIN_FROM:
            continue
        if abs(apart) < 1e-3 and not of_one_mixture(molecule[one], molecule[other], flat[one] == flat[other]):
            yield one, "isomer-of", other, round(alike, 3), "same formula, like structure"
        long, short = (one, other) if apart > 0 else (other, one)
        if flat[short] in shorter[long]:
            yield one, "homologue-of", other, round(alike, 3), "one carbon apart, like structure"


def of_one_mixture(one: Chem.Mol, other: Chem.Mol, flat_alike: bool) -> bool:
    """Return whether the molecules differ only in that one has unspecified stereo, such as a racemate."""
    whole = [Chem.MolToSmiles(m) for m in (one, other)]
    return flat_alike and Chem.MolToSmiles(one, isomericSmiles=False) in whole


def shortened(molecule: Chem.Mol, *, rings: bool = True) -> set[str]:
    """Return the structures with one CH2 less, without stereo.

    A CH2 outside of rings is taken out and its neighbours joined (the CH3 at a chain's end counts as one
    where a CH2 carries it), or, with `rings`, the methyl of a ring is left away.
    """
    found = set()
    for atom in molecule.GetAtoms():
        neighbours = atom.GetNeighbors()
        if atom.GetAtomicNum() != 6 or atom.IsInRing():
            continue
        in_chain = atom.GetDegree() == 2 and atom.GetTotalNumHs() == 2
        on_ring = rings and atom.GetDegree() == 1 and neighbours[0].IsInRing()
        if not (in_chain or on_ring):
            continue
        editable = Chem.RWMol(molecule)
        if in_chain:
            editable.AddBond(neighbours[0].GetIdx(), neighbours[1].GetIdx(), Chem.BondType.SINGLE)
        editable.RemoveAtom(atom.GetIdx())
        try:
            Chem.SanitizeMol(editable)
        except (Chem.KekulizeException, Chem.AtomValenceException):
            continue
        found.add(skeleton(editable))
    return found


def chain_steps(molecule: Mapping[str, Chem.Mol]) -> list[tuple[str, str]]:
    """Return pairs of homologues as (longer, shorter): one CH2 of a chain apart, else the same."""
    known: dict[str, list[str]] = {}
    for slug in sorted(molecule):
        known.setdefault(skeleton(molecule[slug]), []).append(slug)
    return [
        (slug, other)
        for slug in sorted(molecule)
        for short in sorted(shortened(molecule[slug], rings=False))
        for other in known.get(short, ())
    ]


_SPLITS = {
    "ester-of": AllChem.ReactionFromSmarts(
        "[C:1](=[O:2])[O;X2;!r:3][#6;!$([#6]=[O]):4]>>[C:1](=[O:2])[OH].[OH:3][#6:4]"
    ),
    "acetal-of": AllChem.ReactionFromSmarts(
        "[CX4;!$(C(O)(O)O):1]([O;X2:2][#6;!$([#6]=[O]):4])[O;X2:3][#6;!$([#6]=[O]):5]>>[C:1]=O"
    ),
}


def made_from(molecule: Mapping[str, Chem.Mol]) -> Iterable[tuple[str, str, str, float, str]]:
    """Yield esters and acetals with the alcohol, acid or carbonyl that they come from, where it is known."""
    known: dict[str, list[str]] = {}
    for slug in sorted(molecule):
        known.setdefault(skeleton(molecule[slug]), []).append(slug)
    for slug in sorted(molecule):
        for relation, split in _SPLITS.items():
            for products in split.RunReactants((molecule[slug],)):
                for product in products:
                    try:
                        Chem.SanitizeMol(product)
                    except (Chem.KekulizeException, Chem.AtomValenceException):
                        continue
                    for origin in known.get(skeleton(product), ()):
                        if origin != slug:
                            yield slug, relation, origin, 1.0, ""


class Heat(NamedTuple):
    """A heat of vaporisation at 25 C [J/mol], and whether a table has it."""

    j_per_mol: float
    tabled: bool


def vaporisation_j_per_mol(cas: str, smiles: str, pressure_pa: float) -> Heat:
    """Return the heat of vaporisation of a molecule whose liquid has a pressure at 25 C [Pa].

    From the CRC Handbook or else Gharagheizi et al., Fluid Phase Equilib. 360 (2013) 279, both through the
    chemicals library, where they agree with the other way: the slope of the law of Myrdal and Yalkowsky for
    the boiling point that gives this pressure. Against 130 heats in the tables its middle error is 2 kJ/mol.
    """
    slope = vapour_pressure.vaporisation_j_per_mol(pressure_pa, smiles)
    for table in (phase_change.Hvap_data_CRC, phase_change.Hvap_data_Gharagheizi):
        heat = float(table.at[cas, "Hvap298"]) if cas in table.index else math.nan
        if abs(heat - slope) <= FARTHEST_HEAT:
            return Heat(heat, True)
    return Heat(slope, False)
