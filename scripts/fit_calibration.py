#!/usr/bin/env python3
"""Fit how a panel describes each facet, and write data/panel.csv.

usage: scripts/fit_calibration.py PANEL.csv                            fit and write; then build the tables
       scripts/fit_calibration.py PANEL.csv --leave-out --pairs FILE   write the likeness of all pairs
       scripts/fit_calibration.py PANEL.csv --compare                  score the ways of measuring likeness

PANEL.csv is your copy of a public panel: one odorant per row with a column `cas`, the mean ratings 0-100 of
the panel's words, and `intensity`. The shipped coefficients rest on A. Keller and L. B. Vosshall, Olfactory
perception of chemically diverse molecules, BMC Neuroscience 17:55 (2016), CC BY 4.0; nothing
of the file itself is stored. The fit is a ridge (lambda 1) from `space.features` of a material to the square
root of its profile. With --leave-out and --compare, a molecule and others of the same structure are left out
of its own fit.
"""

import argparse
import csv
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import structure
from chemicals.identifiers import search_chemical
from rdkit import Chem, DataStructs
from rdkit.Chem import rdFingerprintGenerator
from scipy.stats import norm, rankdata, spearmanr
from sklearn.linear_model import Ridge

from recommender.palette import Palette, shipped
from recommender.similarity.odour_space import PANEL_BASE, Panel, features, unit

Array = npt.NDArray[np.float64]

OUT = Path(__file__).resolve().parent.parent / "data" / "panel.csv"
LAMBDA = 1.0
NOT_WORDS = {"cas", "cid", "name", "n_subjects", "intensity", "pleasantness", "familiarity"}
CLEAR_FROM = 35.0
"""Mean intensity from which an odorant counts when likeness is scored; weaker ones are only fitted."""
SHORT_LIST, STRUCTURE_SHARE = 20, 0.35
"""How many nearest materials structure re-orders, and how much it weighs there."""


@dataclass(frozen=True)
class Judged:
    """The materials that the panel judged: rows of the catalogue, profiles (square root), structures."""

    rows: npt.NDArray[np.intp]
    profiles: Array
    intensity: Array
    skeletons: tuple[str, ...]
    words: tuple[str, ...]


def judged(path: Path, palette: Palette) -> Judged:
    """Join a panel's file with the catalogue, by CAS number or else by structure without stereo."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        table = list(csv.DictReader(file))
    if not table or not {"cas", "intensity"} <= set(table[0]):
        raise SystemExit(f"fit_calibration: {path.name} needs the columns cas and intensity")
    words = tuple(word for word in table[0] if word not in NOT_WORDS)
    by_cas, by_skeleton, skeleton_of = {}, {}, {}
    for row, material in enumerate(palette.catalogue.materials):
        if material.labels:
            by_cas.update({cas: row for cas in material.cas_all if cas not in by_cas})
            if material.smiles:
                skeleton_of[row] = structure.skeleton(Chem.MolFromSmiles(material.smiles))
                by_skeleton.setdefault(skeleton_of[row], row)
    found: dict[int, dict[str, str]] = {}
    for line in table:
        row = by_cas.get(line["cas"], by_skeleton.get(skeleton_by_cas(line["cas"])))
        if row is not None and row in skeleton_of:
            found.setdefault(row, line)
    return Judged(
        np.array(list(found), np.intp),
        np.sqrt([[float(line[word]) for word in words] for line in found.values()]),
        np.array([float(line["intensity"]) for line in found.values()]),
        tuple(skeleton_of[row] for row in found),
        words,
    )


def skeleton_by_cas(cas: str) -> str | None:
    """Return the structure without stereo that the chemicals library has for a CAS number."""
    try:
        molecule = Chem.MolFromSmiles(search_chemical(cas).smiles)
    except ValueError:
        return None
    return structure.skeleton(molecule) if molecule is not None else None


def fit(weights: Array, profiles: Array, labels: Array) -> tuple[Array, Array]:
    """Fit effects (facets, words) and base (words,) from label weights and profiles of the same smells."""
    model = Ridge(alpha=LAMBDA).fit(features(weights, labels), profiles)
    own, through = np.split(np.asarray(model.coef_).T, [weights.shape[1]])
    return own + labels @ through, np.asarray(model.intercept_)


def left_out_vectors(palette: Palette, panel: Judged) -> Array:
    """Return the vectors of the judged materials, each from a fit without any molecule of its structure."""
    space, vectors = palette.space, []
    kind = np.array(panel.skeletons)
    for place, row in enumerate(panel.rows):
        others = kind != kind[place]
        effects, base = fit(space.weights[panel.rows[others]], panel.profiles[others], space.labels)
        without = replace(space, panel=Panel(effects, base, 0.0))
        vectors.append(without.place(space.weights[row]))
    return np.array(vectors)


def write_pairs(palette: Palette, panel: Judged, path: Path) -> None:
    """Write cas_a, cas_b, similarity of all pairs of judged materials, each left out of its own fit."""
    vectors = left_out_vectors(palette, panel)
    numbers = [palette.catalogue.materials[row].cas for row in panel.rows]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("cas_a", "cas_b", "similarity"))
        for one in range(len(numbers)):
            for other in range(one + 1, len(numbers)):
                writer.writerow((numbers[one], numbers[other], f"{vectors[one] @ vectors[other]:.5f}"))


def normal_scores(likeness: Array) -> Array:
    """Return the normal scores of all pairs, so that two measures can be averaged whatever their scales."""
    upper = np.triu_indices(len(likeness), 1)
    scores = np.zeros_like(likeness)
    scores[upper] = norm.ppf((rankdata(likeness[upper]) - 0.5) / len(upper[0]))
    return scores + scores.T


def with_structure(likeness: Array, tanimoto: Array) -> Array:
    """Return likeness with structure added among each one's nearest."""
    near = np.sort(likeness, axis=1)[:, -SHORT_LIST - 1][:, None] <= likeness
    return np.asarray(likeness + STRUCTURE_SHARE * np.where(near, tanimoto - tanimoto.mean(), 0.0), float)


def compare(palette: Palette, panel: Judged) -> None:
    """Print Spearman's rho over all pairs and hit@5 for each way; the calibrated ones are left out."""
    clear = panel.intensity >= CLEAR_FROM
    rows, space = panel.rows[clear], palette.space
    bare = unit(space.weights[rows] @ space.labels)
    labelled = unit(space.weights[rows])
    rank = bare.shape[1]
    both = left_out_vectors(palette, panel)[clear]
    panel_vectors = unit(both[:, rank:])
    fingerprints = [
        rdFingerprintGenerator.GetMorganGenerator(radius=2, fpSize=2048).GetFingerprint(
            Chem.MolFromSmiles(palette.catalogue.materials[row].smiles)
        )
        for row in rows
    ]
    tanimoto = np.array([DataStructs.BulkTanimotoSimilarity(one, fingerprints) for one in fingerprints])
    labels, company = labelled @ labelled.T, bare @ bare.T
    noses = panel_vectors @ panel_vectors.T
    truth = np.corrcoef(panel.profiles[clear])
    ways = {
        "structure alone": tanimoto,
        "label cosine": labels,
        "label vectors (PPMI)": company,
        "PPMI and label cosine": company + labels,
        "panel's profile alone": noses,
        "PPMI and panel, averaged": company + noses,
        "PPMI and panel, normal scores": normal_scores(company) + normal_scores(noses),
        "PPMI, panel and label cosine": company + noses + labels,
        "PPMI and panel, structure on the short list": with_structure((company + noses) / 2, tanimoto),
    }
    print(f"{len(rows)} odorants judged clear (of {len(panel.rows)} fitted)")
    for name, likeness in ways.items():
        print(f"{name:45s} rho {rho(likeness, truth):.3f}  hit@5 {hit(likeness, truth):.3f}")


def rho(likeness: Array, truth: Array) -> float:
    """Return Spearman's rank correlation over all pairs."""
    upper = np.triu_indices(len(truth), 1)
    return float(spearmanr(likeness[upper], truth[upper]).statistic)


def hit(likeness: Array, truth: Array, depth: int = 5) -> float:
    """Return the share whose nearest by the panel is among the nearest five."""
    mine, theirs = likeness.astype(float).copy(), truth.copy()
    for matrix in (mine, theirs):
        np.fill_diagonal(matrix, -np.inf)
    nearest = theirs.argmax(axis=1)
    above = (mine > mine[np.arange(len(mine)), nearest][:, None] + 1e-12).sum(axis=1)
    return float((above < depth).mean())


def write(palette: Palette, panel: Judged, path: Path) -> None:
    """Write the coefficients, one row per facet and one for the part common to all smells."""
    space = palette.space
    effects, base = fit(space.weights[panel.rows], panel.profiles, space.labels)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("facet", *panel.words, "basis", "source"))
        for name, values in ((PANEL_BASE, base), *zip(space.facets, effects, strict=True)):
            writer.writerow((name, *(f"{value:.4f}" for value in values), "estimated", "keller-2016"))
    print(
        f"{len(panel.rows)} materials fitted over {len(panel.words)} words; now run scripts/build_tables.py"
    )


def main() -> int:
    """Run from the command line."""
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("panel", type=Path, help="your copy of the panel's mean ratings")
    parser.add_argument("--out", type=Path, default=OUT, help="where the coefficients go")
    parser.add_argument("--leave-out", action="store_true", help="with --pairs: each left out of its own fit")
    parser.add_argument("--pairs", type=Path, help="write the likeness of all pairs of judged materials")
    parser.add_argument("--compare", action="store_true", help="score the ways of measuring likeness")
    args = parser.parse_args()
    if bool(args.pairs) != args.leave_out:
        parser.error("--leave-out and --pairs FILE go together")
    if not args.panel.is_file():
        parser.error(f"{args.panel}: there is no such file")
    palette = shipped()
    panel = judged(args.panel, palette)
    if args.compare:
        compare(palette, panel)
    elif args.pairs:
        write_pairs(palette, panel, args.pairs)
    else:
        write(palette, panel, args.out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
