"""A seeded sample of what `scripts/fuzz_formulas.py` does by the hundred."""

import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def fuzz(monkeypatch):
    if not (ROOT / "scripts" / "fuzz_formulas.py").exists():
        pytest.skip("scripts are not shipped here")
    monkeypatch.syspath_prepend(ROOT / "scripts")
    return importlib.import_module("fuzz_formulas")


@pytest.mark.parametrize("seed", [11, 12])
def test_a_damaged_formula_works_or_ends_in_one_clear_line(fuzz, tmp_path, seed):
    faults, statuses = [], set()
    for mutant in fuzz.mutants(70, seed, tmp_path):
        for verb in fuzz.verbs():
            if verb == "extend" and int(mutant.path.parent.name) % 4:
                continue  # the slowest: every fourth will do here
            status, _, fault = fuzz.ask(verb, mutant.path)
            statuses.add(status)
            if fault:
                faults.append(f"{verb} {mutant.kind}: {fault}")
    assert faults == []
    assert {0, 2} <= statuses


def test_the_same_seed_makes_the_same_files(fuzz, tmp_path):
    made = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        found = fuzz.mutants(50, 5, tmp_path / name)
        made.append([m.path.read_bytes() for m in found if m.path.suffix == ".csv"])
    assert made[0] == made[1]
