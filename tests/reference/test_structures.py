"""Molar masses and structures against the open library `chemicals`, wherever it knows the CAS number."""

import pytest

import recommender

# For dipropylene glycol the library draws an isomer that is a hemiacetal; its molar mass is right.
WRONG_IN_THE_LIBRARY = {"25265-71-8"}


def known() -> list[tuple]:
    from chemicals.identifiers import search_chemical

    found = []
    for material in recommender.materials().value:
        if not material.cas or material.molar_mass is None:
            continue
        try:
            found.append((material, search_chemical(material.cas)))
        except ValueError:
            continue
    return found


@pytest.fixture(scope="module")
def pairs():
    return known()


def test_the_library_knows_most_molecules(pairs):
    assert len(pairs) >= 400


def test_molar_masses_agree(pairs):
    off = {
        material.name: (material.molar_mass, entry.MW)
        for material, entry in pairs
        if abs(material.molar_mass - entry.MW) > 0.1
    }
    assert off == {}


def test_structures_agree_but_for_stereochemistry(pairs):
    from rdkit import Chem

    def skeleton(smiles: str) -> str:
        return Chem.MolToInchiKey(Chem.MolFromSmiles(smiles))[:14]

    off = {
        material.name: (material.smiles, entry.smiles)
        for material, entry in pairs
        if material.smiles
        and material.cas not in WRONG_IN_THE_LIBRARY
        and skeleton(material.smiles) != skeleton(entry.smiles)
    }
    assert off == {}
