#!/usr/bin/env python3
"""Compute a plane on which materials that smell alike are close together: recommender/similarity/map.csv.

usage: scripts/build_map.py

Run it when many labels or materials have changed. Materials that are not in the file, and those that the
person has relabelled, are placed by their nearest neighbours when the map is shown, so an old file remains
usable. Start and seed are fixed; another version of the library may give another plane.
"""

import csv
from pathlib import Path

import numpy as np
from sklearn.manifold import TSNE

from recommender.palette import shipped
from recommender.similarity.likeness_map import FILE, mapped, preserved_neighbours

PERPLEXITY = 25
"""Effective number of neighbours of each material; 15 to 40 give much the same picture."""


def main() -> None:
    """Write the file and print the share of the ten nearest neighbours that stay nearest on the plane."""
    palette = shipped()
    rows = [i for i, m in enumerate(palette.catalogue.materials) if mapped(m)]
    vectors = palette.space.vectors[rows]
    apart = 1.0 - palette.space.alike(vectors, vectors)
    np.fill_diagonal(apart, 0.0)
    centred = vectors - vectors.mean(axis=0)
    left, size, _ = np.linalg.svd(centred, full_matrices=False)
    start = left[:, :2] * size[:2]
    start *= np.sign(start[np.abs(start).argmax(axis=0), [0, 1]])
    model = TSNE(
        metric="precomputed", init=1e-4 * start / start.std(), perplexity=PERPLEXITY, random_state=0, n_jobs=1
    )
    plane = model.fit_transform(np.maximum(apart, 0.0))
    middle = (plane.max(axis=0) + plane.min(axis=0)) / 2
    plane = (plane - middle) / np.abs(plane - middle).max(axis=0)  # a screen is wide: fill it
    with (Path(FILE)).open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("material", "x", "y"))
        for row, (x, y) in zip(rows, plane.tolist(), strict=True):
            writer.writerow((palette.catalogue.materials[row].slug, f"{x:.4f}", f"{y:.4f}"))
    share = 100 * preserved_neighbours(apart, plane)
    print(f"{len(rows)} materials; {share:.0f} % of the ten nearest neighbours stay nearest")


if __name__ == "__main__":
    main()
