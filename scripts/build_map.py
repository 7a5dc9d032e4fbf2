#!/usr/bin/env python3
"""Lay all materials out on a plane so that those that smell alike lie together: recommender/output/map.csv.

usage: scripts/build_map.py

Run it when many labels or materials have changed. Materials that are not in the file, and those that a
person's nose has moved, are placed by their nearest neighbours when the map is shown, so an old file still
serves. The start is fixed and so is the seed; another version of the library may turn out another plane.
"""

import csv
from pathlib import Path

import numpy as np
from sklearn.manifold import TSNE

from recommender.output.likeness_map import FILE, kept_neighbours, mapped
from recommender.palette import shipped

PERPLEXITY = 25
"""Neighbours that each material minds; 15 to 40 give much the same picture."""


def main() -> None:
    """Write the file, print how many of the ten nearest stay among the ten nearest on the plane."""
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
    print(
        f"{len(rows)} materials; of the ten nearest {100 * kept_neighbours(apart, plane):.0f} % stay nearest"
    )


if __name__ == "__main__":
    main()
