"""Estimated activity coefficients against a worked example and against what has been measured."""

import importlib
import math
import sys
from pathlib import Path

import pytest

pytest.importorskip("rdkit")
pytest.importorskip("thermo")

SMILES = {
    "acetone": "CC(C)=O",
    "pentane": "CCCCC",
    "heptanol": "CCCCCCCO",
    "benzyl acetate": "CC(=O)OCc1ccccc1",
    "linalool": "CC(C)=CCCC(C)(O)C=C",
    "phenethyl alcohol": "OCCc1ccccc1",
    "phenethyl acetate": "CC(=O)OCCc1ccccc1",
    "limonene": "CC1=CCC(CC1)C(C)=C",
}


@pytest.fixture(scope="module")
def activity():
    sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
    try:
        return importlib.import_module("activity")
    finally:
        sys.path.pop(0)


@pytest.fixture(scope="module")
def gammas(activity):
    from rdkit import Chem

    assigned = activity.groups({name: Chem.MolFromSmiles(smiles) for name, smiles in SMILES.items()})

    def found(parts, kelvin=298.15, parameters=None):
        logs = activity.ln_gammas(parts.values(), [assigned[name] for name in parts], kelvin, parameters)
        return dict(zip(parts, map(math.exp, logs), strict=True))

    return found


# Poling, Prausnitz, O'Connell, The Properties of Gases and Liquids, 5th ed., example 8-12: UNIFAC with its
# original parameters, and the measured 4.41 and 1.11 of Lo and others 1962 there (memory).
def test_the_equation_gives_the_worked_example(gammas):
    from thermo import unifac

    found = gammas({"acetone": 0.047, "pentane": 0.953}, 307.0, unifac.UFIP)
    assert found == pytest.approx({"acetone": 4.99, "pentane": 1.005}, rel=2e-3)


def test_the_parameters_that_are_used_come_near_what_was_measured(gammas):
    found = gammas({"acetone": 0.047, "pentane": 0.953}, 307.0)
    assert found == pytest.approx({"acetone": 4.41, "pentane": 1.11}, rel=0.12)


# Evaporation and the odor quality of perfumes, J. Soc. Cosmet. Chem. 12(3) (about 1961) 176: over equal
# masses of heptyl alcohol and benzyl acetate the ratio of their vapours is 2.8, with as much linalool 2.1.
def test_linalool_lowers_the_vapour_of_heptanol_beside_benzyl_acetate(gammas):
    mass = {"heptanol": 116.2, "benzyl acetate": 150.2, "linalool": 154.2}

    def ratio(*names):
        moles = {name: 1.0 / mass[name] for name in names}
        found = gammas({name: n / sum(moles.values()) for name, n in moles.items()})
        return found["heptanol"] / found["benzyl acetate"]

    assert ratio(*mass) / ratio("heptanol", "benzyl acetate") == pytest.approx(2.1 / 2.8, rel=0.05)


# Friberg, Yin, Aikens, Int. J. Cosmet. Sci. 1998 (abstract): phenethyl alcohol and limonene are both clearly
# above ideal; phenethyl alcohol and its acetate are almost ideal (record of a paper by Friberg and others).
def test_what_is_unlike_is_above_ideal_and_what_is_alike_is_not(gammas):
    unlike = gammas({"phenethyl alcohol": 0.5, "limonene": 0.5})
    alike = gammas({"phenethyl alcohol": 0.5, "phenethyl acetate": 0.5})
    assert min(unlike.values()) > 1.4
    assert max(alike.values()) < 1.2


def test_a_molecule_that_does_not_consist_of_groups_has_no_estimate(activity):
    from rdkit import Chem

    assert activity.groups({"pyrazine": Chem.MolFromSmiles("c1cnccn1")}) == {}


def test_the_estimate_in_much_of_a_carrier_is_that_at_infinite_dilution(activity):
    from rdkit import Chem

    assigned = activity.groups({name: Chem.MolFromSmiles(SMILES[name]) for name in ("acetone", "pentane")})
    found = activity.at_infinite_dilution(assigned, "pentane")
    near = activity.ln_gammas([1e-7, 1.0 - 1e-7], [assigned["acetone"], assigned["pentane"]])
    assert found == pytest.approx({"acetone": near[0]}, rel=1e-5)
