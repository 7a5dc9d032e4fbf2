from collections import Counter
from dataclasses import replace

import pytest

from recommender.evidence.catalogue import load
from recommender.formulas.formula import amounts, read
from recommender.model import Amount, Content
from recommender.regulation import declared, listed, substances

LISTED = [(rule, cas) for rule in load().allergens for cas in rule.cas]
"""Every name of Regulation (EC) No 1223/2009, Annex III, with each of its CAS numbers."""


def test_the_list_is_whole():
    # Regulation (EU) 2023/1545: 24 of the original names are left, two were prohibited since; 57 are new,
    # 6-methylcoumarin among them, whose entry is about oral products only
    counts = Counter(rule.added for rule in load().allergens)
    assert counts == {"original": 24, "2023": 57, "deleted": 2}
    assert len({rule.entry for rule in load().allergens}) == 83


@pytest.fixture(scope="module")
def toy(material, catalogue_of, shipped):
    def world(cas, slug="made-up"):
        pure = material(slug, {"lemon": 3}, cas=cas)
        natural = material(
            "flower-oil", {"rose": 3}, kind="natural", contents=(Content(slug, 1.0, 20.0, "memory"),)
        )
        filler = material("filler")
        held = catalogue_of([pure, natural, filler])
        return replace(held, allergens=shipped.allergens, categories=shipped.categories)

    return world


def names(present, catalogue, dosage=15.0, use="leave-on"):
    return [found.allergen.name for found in declared(present, catalogue, dosage, use) if found.named]


@pytest.mark.parametrize(("rule", "cas"), LISTED, ids=[f"{rule.name} {cas}" for rule, cas in LISTED])
def test_every_allergen_is_found_by_its_cas_number_neat_and_in_a_natural(toy, rule, cas):
    catalogue = toy(cas)
    pure, natural, filler = catalogue.materials
    neat = substances([Amount(pure, 0.1), Amount(filler, 0.9)], catalogue)
    hidden = substances([Amount(natural, 0.1), Amount(filler, 0.9)], catalogue)
    if rule.added == "deleted":
        assert rule.name not in names(neat, catalogue)
        return
    assert rule.name in names(neat, catalogue)
    assert rule.name in names(hidden, catalogue)
    (found,) = [f for f in declared(hidden, catalogue, 15.0, "leave-on") if f.allergen.name == rule.name]
    assert found.percent == pytest.approx(15.0 * 0.1 * 0.2)
    assert found.through == ("flower oil",)


@pytest.mark.parametrize(("rule", "cas"), LISTED, ids=[f"{rule.name} {cas}" for rule, cas in LISTED])
def test_every_allergen_is_found_in_a_formula_that_names_it_by_cas_number(shipped, tmp_path, rule, cas):
    path = tmp_path / "accord.csv"
    path.write_text(f"material,parts\n{cas},100\ndiethyl phthalate,900\n")
    formula = read(path, shipped)
    named = names(substances(amounts(formula), shipped), shipped)
    material = formula.lines[0].content
    if rule.added == "deleted":
        assert rule.name not in named
    elif material.slug in rule.excepted:
        # a number that peel and flower oil share; what is in the bottle decides
        assert named
    else:
        assert rule.name in named


@pytest.mark.parametrize(
    ("use", "percent", "on_label"),
    [
        # Regulation (EC) No 1223/2009, Annex III: 0.001 % where it stays on, 0.01 % where it is rinsed off
        ("leave-on", 0.001, False),
        ("leave-on", 0.0011, True),
        ("rinse-off", 0.01, False),
        ("rinse-off", 0.011, True),
        ("rinse-off", 0.0011, False),
        ("not a cosmetic", 0.0011, True),
    ],
)
def test_an_allergen_is_named_above_its_amount(toy, use, percent, on_label):
    catalogue = toy("91-64-5")
    present = substances([Amount(catalogue.materials[0], percent / 10.0)], catalogue)
    assert ("Coumarin" in names(present, catalogue, 10.0, use)) is on_label


def test_isomers_are_added_up_under_one_name(shipped):
    # Annex III, entries 157 (rose ketones) and 371 (pinene)
    for name, members in {
        "Rose Ketones": ("alpha-damascone", "beta-damascone", "delta-damascone", "beta-damascenone"),
        "Pinene": ("alpha-pinene", "beta-pinene"),
    }.items():
        one = 0.0008 / 100
        present = substances([Amount(shipped.by_slug(slug), one) for slug in members], shipped)
        (found,) = [f for f in declared(present, shipped, 100.0, "leave-on") if f.allergen.name == name]
        assert found.percent == pytest.approx(0.0008 * len(members))
        assert found.named
        alone = substances([Amount(shipped.by_slug(members[0]), one)], shipped)
        assert name not in names(alone, shipped, 100.0)


def test_a_natural_that_is_listed_is_named_beside_its_constituents(shipped):
    # common practice: clove oil and its eugenol both stand on the label
    brought = listed(shipped.find("clove bud oil"), shipped)
    assert brought["Eugenia Caryophyllus Oil"] == 1.0
    assert brought["Eugenol"] == pytest.approx(0.88)


def test_vanillin_and_benzaldehyde_are_on_the_new_list(shipped):
    # Regulation (EU) 2023/1545
    assert {
        r.name: r.added for r in shipped.allergens if r.name in ("Vanillin", "Benzaldehyde", "Linalool")
    } == {
        "Vanillin": "2023",
        "Benzaldehyde": "2023",
        "Linalool": "original",
    }
