"""What structure tells of a material that no table knows (RDKit, chemicals and thermo, where installed)."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from recommender.chemistry.vapour_pressure import myrdal_yalkowsky, torsion_and_hydrogen_bonds
from recommender.errors import BadValue

FROM_TABLE_ERROR = 0.35
"""Uncertainty of a pressure from a boiling point in a table [decades]."""
REDUCED_PRESSURE_K = 50.0
"""A boiling point so far below Joback's was taken at reduced pressure [K]."""
MISSING = (
    "RDKit is not installed, so structure tells nothing: vapour pressure and hours on a strip stay unknown. "
    "Install it with pip install 'recommender[tables]', or give --pressure and --molar-mass."
)


@dataclass(frozen=True, slots=True)
class Estimate:
    """What structure tells: None where it tells nothing, with notes of what stays unknown and why.

    Molar mass in g/mol; `pressure_pa` is that of the liquid at 25 C [Pa], `log_error` its uncertainty in
    decades, `source` a key of the table of sources.
    """

    smiles: str = ""
    molar_mass: float | None = None
    pressure_pa: float | None = None
    log_error: float | None = None
    source: str = ""
    notes: tuple[str, ...] = ()


def estimate(cas: str, smiles: str, known: Iterable[tuple[str, float]]) -> Estimate:
    """Return molar mass and vapour pressure by structure, or by what a library has for a CAS number.

    From a boiling point where one is on record (see `myrdal_yalkowsky`), else from a ridge regression on
    descriptors of the molecules that are known.

    Parameters
    ----------
    cas, smiles : str
        What is known of the material; either may be blank.
    known : iterable of (str, float)
        SMILES and vapour pressure of the liquid [Pa] of the catalogue's molecules.

    Raises
    ------
    BadValue
        The SMILES is no structure, or another one than the CAS number has.
    """
    if not (cas or smiles):
        unknown = "Neither CAS number nor SMILES is given: vapour pressure and hours on a strip stay unknown."
        return Estimate(notes=(unknown,))
    try:
        from rdkit import Chem, rdBase
    except ImportError:
        return Estimate(smiles=smiles, notes=(MISSING,))
    held_smiles, held_mass = _by_cas(cas)
    if not (smiles or held_smiles):
        return Estimate(notes=(f"No structure is known for {cas}: give one, or a pressure.",))
    with rdBase.BlockLogs():
        molecule = Chem.MolFromSmiles(smiles or held_smiles)
        if molecule is None or not molecule.GetNumAtoms():
            raise BadValue("smiles", smiles, "this is not a structure")
        mass = descriptors(molecule)[0] * 100
        if smiles and held_mass is not None and abs(held_mass - mass) > 0.1:
            raise BadValue("smiles", smiles, f"it has {mass:.1f} g/mol, but {cas} has {held_mass:.1f}")
        if (found := _boiling_point(cas, smiles or held_smiles)) is not None:
            tau, hbn = torsion_and_hydrogen_bonds(smiles or held_smiles)
            pressure, error, source = myrdal_yalkowsky(found, tau, hbn), FROM_TABLE_ERROR, "myrdal-1997"
        else:
            pairs = [(Chem.MolFromSmiles(text), pressure) for text, pressure in known]
            try:
                model, error = fit_pressure_model(pairs)
            except ImportError:
                return Estimate(smiles or held_smiles, mass, notes=(MISSING,))
            pressure = float(10 ** model.predict([descriptors(molecule)])[0])
            source = "structure-model"
    return Estimate(smiles or held_smiles, mass, pressure, error, source)


def _by_cas(cas: str) -> tuple[str, float | None]:
    if not cas:
        return "", None
    try:
        from chemicals.identifiers import search_chemical

        record = search_chemical(cas)
    except (ImportError, ValueError):
        return "", None
    return str(record.smiles), float(record.MW)


def _boiling_point(cas: str, smiles: str) -> float | None:
    """Return a normal boiling point from a table [K], None where no record can be one."""
    try:
        from chemicals import Tb

        tabled = Tb(cas) if cas else None
    except ImportError:
        return None
    groups = joback_boiling_point(smiles)
    if tabled is None or (groups is not None and tabled < groups - REDUCED_PRESSURE_K):
        return None
    return float(tabled)


def descriptors(molecule: Any) -> list[float]:
    """Return the numbers from which a pressure is estimated where no boiling point is known."""
    from rdkit.Chem import rdMolDescriptors
    from rdkit.Chem.rdMolDescriptors import _CalcMolWt as molar_mass

    log_p, refractivity = rdMolDescriptors.CalcCrippenDescriptors(molecule)
    return [
        molar_mass(molecule) / 100,
        log_p,
        refractivity / 30,
        rdMolDescriptors.CalcTPSA(molecule) / 30,
        rdMolDescriptors.CalcNumHBD(molecule),
        rdMolDescriptors.CalcNumHBA(molecule),
        rdMolDescriptors.CalcNumRotatableBonds(molecule) / 4,
        rdMolDescriptors.CalcNumRings(molecule),
        rdMolDescriptors.CalcNumAromaticRings(molecule),
        sum(atom.GetAtomicNum() in (7, 16) for atom in molecule.GetAtoms()),
    ]


def fit_pressure_model(pairs: Iterable[tuple[Any, float]]) -> tuple[Any, float]:
    """Fit log10 vapour pressure [Pa] of the liquid on descriptors; returns model and its error in decades.

    The error is the root mean square over ten held-out folds.
    """
    import numpy as np
    from sklearn.linear_model import RidgeCV
    from sklearn.model_selection import KFold, cross_val_predict
    from sklearn.pipeline import make_pipeline
    from sklearn.preprocessing import StandardScaler

    shown = list(pairs)
    numbers = np.array([descriptors(molecule) for molecule, _ in shown])
    logs = np.log10([pressure for _, pressure in shown])
    model = make_pipeline(StandardScaler(), RidgeCV(alphas=np.geomspace(1e-2, 1e3, 26)))
    guesses = cross_val_predict(model, numbers, logs, cv=KFold(10, shuffle=True, random_state=0))
    return model.fit(numbers, logs), float(np.sqrt(np.mean((guesses - logs) ** 2)))


def joback_boiling_point(smiles: str) -> float | None:
    """Return Joback's boiling point [K], None where a group is missing (needs the thermo package)."""
    try:
        from thermo.group_contribution.joback import Joback

        return float(Joback(smiles).estimate()["Tb"])
    except (ImportError, ValueError, TypeError, KeyError):
        return None
