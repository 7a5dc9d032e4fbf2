import csv
import itertools
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("rdkit")
pytest.importorskip("sklearn")
pytest.importorskip("chemicals")

SCRIPT = Path(__file__).resolve().parent.parent / "scripts" / "fit_calibration.py"
LEMON, ROSE = ("5392-40-5", "5989-27-5", "106-23-0"), ("106-24-1", "60-12-8", "106-22-9")


@pytest.fixture
def panel(tmp_path):
    """A made-up panel that finds lemons sour and roses flowery; one odorant is not in the catalogue."""
    path = tmp_path / "panel.csv"
    with path.open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(("cas", "name", "intensity", "sour", "flower", "burnt"))
        for number, cas in enumerate(LEMON):
            rows.writerow((cas, "lemon", 50, 30 + number, 2, 1))
        for number, cas in enumerate(ROSE):
            rows.writerow((cas, "rose", 50, 3, 40 + number, 1))
        rows.writerow(("50-00-0", "formaldehyde", 50, 1, 1, 1))
    return path


def run(*arguments):
    return subprocess.run([sys.executable, str(SCRIPT), *map(str, arguments)], capture_output=True, text=True)


def test_the_fit_tells_of_each_facet_what_the_panel_found_in_it(panel, tmp_path):
    out = tmp_path / "fitted.csv"
    done = run(panel, "--out", out)
    assert done.returncode == 0, done.stderr
    assert "6 materials fitted over 3 words" in done.stdout
    with out.open(encoding="utf-8") as file:
        rows = {row["facet"]: row for row in csv.DictReader(file)}
    assert float(rows["lemon"]["sour"]) > 0 > float(rows["lemon"]["flower"])
    assert float(rows["rose"]["flower"]) > 0 > float(rows["rose"]["sour"])
    assert float(rows["lemon"]["burnt"]) == pytest.approx(0.0, abs=0.01)
    # the base and the facets together give back the mean profile: square roots of about 17, 22 and 1
    assert 1 < float(rows["any"]["sour"]) < 6
    assert {row["source"] for row in rows.values()} == {"keller-2016"}


def test_pairs_are_written_with_each_molecule_left_out_of_its_own_fit(panel, tmp_path):
    out = tmp_path / "pairs.csv"
    assert run(panel, "--leave-out", "--pairs", out).returncode == 0
    with out.open(encoding="utf-8") as file:
        pairs = {frozenset((r["cas_a"], r["cas_b"])): float(r["similarity"]) for r in csv.DictReader(file)}
    assert len(pairs) == 15
    within = [pairs[frozenset(pair)] for group in (LEMON, ROSE) for pair in itertools.pairwise(group)]
    across = [pairs[frozenset((one, other))] for one in LEMON for other in ROSE]
    assert np.mean(within) > np.mean(across)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("--pairs", "x.csv"), "go together"),
        (("--leave-out",), "go together"),
    ],
)
def test_half_a_request_is_refused(panel, arguments, expected):
    done = run(panel, *arguments)
    assert done.returncode == 2
    assert expected in done.stderr


def test_a_file_that_is_no_panel_is_refused_in_one_line(tmp_path):
    path = tmp_path / "x.csv"
    path.write_text("name,sweet\nvanillin,40\n")
    done = run(path)
    assert done.returncode != 0
    assert done.stderr.strip() == "fit_calibration: x.csv needs the columns cas and intensity"
