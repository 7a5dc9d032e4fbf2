"""Damaged formula files end in an answer or in one clear line: a seeded sample, or as many as are asked for.

RECOMMENDER_FAULTS=all pytest -m faults
"""

import os

import pytest
from damaged_formulas import VERBS, ask, mutants

COUNT = 2000 if os.environ.get("RECOMMENDER_FAULTS") == "all" else 0
"""How many files for each seed; 0 for the short sample."""


@pytest.mark.faults
@pytest.mark.parametrize("seed", [11, 12])
def test_a_damaged_formula_works_or_ends_in_one_clear_line(tmp_path, seed):
    faults, statuses = [], set()
    for number, mutant in enumerate(mutants(COUNT or 70, seed, tmp_path)):
        for verb in VERBS:
            if verb == "extend" and number % 4 and not COUNT:
                continue  # the slowest: every fourth will do in the sample
            status, _, fault = ask(verb, mutant.path)
            statuses.add(status)
            if fault:
                faults.append(f"{verb} {mutant.path.parent.name} ({mutant.kind}): {fault}")
    assert faults == []
    assert {0, 2} <= statuses


def test_the_same_seed_makes_the_same_files(tmp_path):
    made = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        found = mutants(50, 5, tmp_path / name)
        made.append([m.path.read_bytes() for m in found if m.path.suffix == ".csv"])
    assert made[0] == made[1]


def test_a_fault_is_counted(tmp_path, monkeypatch):
    """The check is not blind: a verb that breaks off, or says two lines, is a fault."""
    from recommender.cli import drydown, fault

    def breaks(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(fault, "_folders", lambda: iter([tmp_path / "state"]))
    (mutant,) = mutants(1, 1, tmp_path)
    assert ask("drydown", mutant.path)[2] == ""
    monkeypatch.setattr(drydown.drydown, "callback", breaks)
    assert "a fault of the program" in ask("drydown", mutant.path)[2]
