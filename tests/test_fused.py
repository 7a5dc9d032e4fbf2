"""What the rows of the tables observe, and what fusing all of them gives: pressures, strengths, naturals."""

import importlib
import math
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest

import recommender
from recommender import evaporation
from recommender.chemistry import vapour_pressure
from recommender.evaporation import surface
from recommender.evidence.sheets import Row

pytest.importorskip("rdkit")
pytest.importorskip("sklearn")


@pytest.fixture(scope="module")
def fused():
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(Path(__file__).resolve().parent.parent / "scripts")
        yield importlib.import_module("fused")


@pytest.fixture(scope="module")
def builder(fused):
    """All materials fused from the evidence, and the parts of naturals."""
    build_tables = importlib.import_module("build_tables")
    made = build_tables.Builder(importlib.import_module("evidence").load(build_tables.DATA))
    for step in (made.masses, made.pressures, made.strengths, made.components):
        step()
    return made


def rows(*cells):
    return [Row("toy.csv", line, row) for line, row in enumerate(cells, 2)]


def molecule(smiles):
    from rdkit import Chem

    return Chem.MolFromSmiles(smiles)


@pytest.mark.parametrize(
    ("name", "smiles", "globular"),
    [
        ("camphor", "CC1(C)C2CCC1(C)C(=O)C2", True),
        ("borneol", "CC1(C)C2CCC1(C)C(O)C2", True),
        ("camphene", "CC1(C)C2CCC(C2)C1=C", True),
        ("vanillin", "COc1cc(C=O)ccc1O", False),
        ("limonene", "CC1=CCC(CC1)C(C)=C", False),
        ("a cage on an aromatic ring", "C1CC2CC1c1ccccc12", False),
        ("patchoulol", "CC1CCC2(C)C(C)(C)C3CCC2(O)C1C3", False),  # a cage of 16 heavy atoms
    ],
)
def test_a_small_cage_without_aromatic_rings_is_globular(fused, name, smiles, globular):
    assert fused.globular(molecule(smiles)) is globular


def test_crystals_by_walden_by_the_measured_heat_and_as_plastic_crystals(fused):
    table = rows(
        {"material": "rigid", "quantity": "melting_point", "value": "100"},
        {"material": "heated", "quantity": "melting_point", "value": "100"},
        {"material": "heated", "quantity": "enthalpy_of_fusion", "value": "20000"},
        {"material": "cage", "quantity": "melting_point", "value": "100"},
        {"material": "unknown", "quantity": "vapour_pressure", "value": "1"},
    )
    known = dict.fromkeys(("rigid", "heated", "unknown"), molecule("COc1cc(C=O)ccc1O"))
    factors = fused._melting(table, known | {"cage": molecule("CC1(C)C2CCC1(C)C(=O)C2")})
    # Tm / T - 1 = 373.15 / 298.15 - 1 = 0.25155
    assert factors["rigid"] == pytest.approx(math.exp(6.8 * 0.25155), rel=1e-4)
    # 20 kJ/mol at 373.15 K: 53.6 J/mol/K, 6.446 R
    assert factors["heated"] == pytest.approx(math.exp(6.446 * 0.25155), rel=1e-3)
    # 15 J/mol/K: 1.804 R (Timmermans 1961)
    assert factors["cage"] == pytest.approx(math.exp(1.804 * 0.25155), rel=1e-3)
    assert "unknown" not in factors


def test_crystals_that_melt_below_room_temperature_are_a_liquid():
    assert vapour_pressure.subcooled_pressure(1.0, 290.0, entropy=7.0) == 1.0


# all of the evidence


def test_every_source_is_read_within_reason(builder):
    for found in (builder.fused_pressures.fused, builder.strength.fused):
        for name, source in found.sources.items():
            assert 0.05 <= source.scatter <= 1.5, name
            assert 0.2 <= source.slope <= 2.0, name
    # correlations within their range anchor the scale of pressures
    anchor = builder.fused_pressures.fused.sources["measured"]
    assert (anchor.offset, anchor.slope) == (0.0, 1.0)


def test_most_rows_agree_with_all_else_within_two_scatters(builder):
    for found in (builder.fused_pressures.fused, builder.strength.fused):
        assert fmean(np.abs(found.deviations) < 2.0) > 0.9


def test_at_least_nine_of_ten_sourced_pairs_are_in_order(builder):
    figures = builder.strength.figures
    pairs = builder.evidence["strength_pairs"]
    right = [
        figures[row["stronger"]] > figures[row["weaker"]]
        for row in pairs
        if row["stronger"] in figures and row["weaker"] in figures
    ]
    assert len(right) > 200
    assert fmean(right) >= 0.9


def test_strengths_stand_in_the_order_of_the_trade(builder):
    # common practice, at equal dose
    figures = builder.strength.figures
    order = ("2-ethyl-3-5-dimethylpyrazine", "benzaldehyde", "coumarin")
    found = [figures[next(s for s in builder.rows if s == name)] for name in order]
    assert found == sorted(found, reverse=True)


def test_every_natural_has_the_strength_that_was_fused_for_it(builder):
    for slug, parts in builder.parts.items():
        if slug in builder.chosen or slug not in builder.strength.figures:
            continue
        if not any(part.curve and part.pressure_pa > 0 for part in parts):
            continue
        dilution = 10.0 ** (-2.0 - builder.strength.figures[slug])
        if dilution <= 1.0:
            assert surface.first_strength(parts, dilution) == pytest.approx(6.0, rel=0.01), slug


def test_no_named_part_of_a_natural_with_a_residue_outlasts_its_strip(builder):
    for slug, parts in builder.parts.items():
        if parts[-1].name != evaporation.UNNAMED:
            continue
        high = builder.hours[slug][1]
        for part in parts[:-1]:
            if part.curve:
                assert float(evaporation.last_smelled([parts], part.name)[0]) <= 1.1 * high, (slug, part.name)


def test_a_build_is_the_same_to_the_last_digit(builder, fused):
    again = fused.pressures(builder.evidence, builder.molecules).fused
    assert (again.figures == builder.fused_pressures.fused.figures).all()


# naturals as they are shipped

ONE_MOLECULE = {
    "bitter almond oil": "benzaldehyde, which leaves within the hour",
    "cassia bark oil": "cinnamaldehyde",
    "clementine oil": "limonene; alpha-sinensal and the aldehydes carry the mandarin",
    "grapefruit oil": "nootkatone carries the grapefruit",
    "grapefruit terpenes": "nootkatone carries the grapefruit",
    "ho wood oil": "linalool",
    "rosewood oil": "linalool",
    "sweet orange oil": "limonene; decanal and octanal carry the orange",
}
"""Naturals whose leading facet ends otherwise than their strips: they last as their one molecule does."""


def test_naturals_last_as_long_as_their_strips(builder):
    cards = {m.slug: m for m in recommender.materials().value}
    odd, count = [], 0
    for slug, (low, high, _) in builder.hours.items():
        material = cards.get(slug)
        if material is None or material.lasting is None or len(material.parts) < 2:
            continue
        count += 1
        if not 0.5 <= material.lasting.hours / math.sqrt(low * high) <= 2.0:
            odd.append(material.name)
    assert count > 150
    assert odd == []


def test_the_leading_facet_of_a_neat_natural_ends_when_its_strip_does(builder):
    from recommender.evidence.catalogue import load

    found = {}
    for slug, (low, high, _) in builder.hours.items():
        material = load().by_slug(slug)
        lead = next((label.facet for label in material.labels if label.strength == 3), None)
        if lead is None or len(material.parts) < 2 or material.curve is None:
            continue
        drydown = recommender.drydown({material.name: 1000}).value
        end = drydown.ends[lead]["just_there"].hours
        found[material.name] = end / math.sqrt(low * high)
    odd = {name for name, ratio in found.items() if not 0.5 <= ratio <= 2.0}
    assert len(found) > 150
    assert len(odd) <= 0.1 * len(found)
    assert odd <= set(ONE_MOLECULE)
