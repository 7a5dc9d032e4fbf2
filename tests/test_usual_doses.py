"""First doses stay within usual use: twelve accords of an invented studio, three facets each.

Each accord is written with the share of a concentrate at which it is used [%].
"""

from dataclasses import dataclass

import pytest

from recommender.formulas import formula, simulation
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Dose
from recommender.palette import shipped
from recommender.reasons import FormulaEffect
from recommender.suggest import Request
from recommender.suggest.in_formula import extend
from recommender.suggest.target import target_of

ACCORDS = {
    "harbour cologne": (
        100.0,
        "bergamot oil 190, lemon oil 95, petitgrain oil 60, neroli oil 25, linalyl acetate 150, "
        "linalool 110, lavender oil 60, rosemary oil 15, methyl dihydrojasmonate 200, "
        "ethylene brassylate 70, vetiveryl acetate 25",
        ("lemon", "orange blossom", "lavender"),
    ),
    "slate fern": (
        60.0,
        "lavender oil 140, bergamot oil 120, linalyl acetate 120, coumarin 70, geranium oil 60, "
        "methyl 2,4-dihydroxy-3,6-dimethylbenzoate 30, patchouli oil 60, benzyl salicylate 150, "
        "clary sage oil 40, vanillin 15, dihydromyrcenol 120",
        ("lavender", "hay", "tobacco"),
    ),
    "moss stair": (
        50.0,
        "bergamot oil 200, patchouli oil 120, labdanum absolute 45, oakmoss absolute 8, vetiver oil 80, "
        "methyl dihydrojasmonate 250, phenethyl alcohol 150, gamma-undecalactone 12, coumarin 30",
        ("moss", "peach", "leather"),
    ),
    "wet rose": (
        35.0,
        "phenethyl alcohol 330, citronellol 260, geraniol 160, rose oil 30, nerol 60, "
        "phenethyl acetate 30, beta-damascenone 1, rose oxide 3, alpha-ionone 100, eugenol 12",
        ("rose", "green", "honey"),
    ),
    "night terrace": (
        30.0,
        "benzyl acetate 260, alpha-hexylcinnamaldehyde 250, methyl dihydrojasmonate 220, indole 4, "
        "methyl anthranilate 12, linalool 110, cis-jasmone 10, hydroxycitronellal 60, p-anisaldehyde 20, "
        "ylang ylang oil extra 50",
        ("jasmine", "orange blossom", "honey"),
    ),
    "fig yard": (
        20.0,
        "gamma-nonalactone 60, cis-3-hexenol 20, cis-3-hexenyl acetate 15, galbanum oil 12, "
        "linalool 250, violet leaf absolute 12, cedarwood oil virginia 330, coumarin 60, "
        "gamma-undecalactone 10",
        ("cut grass", "coconut", "peach"),
    ),
    "low tide": (
        25.0,
        "7-methyl-2H-1,5-benzodioxepin-3(4H)-one 8, methyl dihydrojasmonate 420, bergamot oil 200, "
        "dihydromyrcenol 160, ambroxide 25, cis-3-hexenol 6, ethylene brassylate 160",
        ("bergamot", "lemon", "cut grass"),
    ),
    "spice chest": (
        20.0,
        "eugenol 110, cinnamaldehyde 20, cardamom oil 70, black pepper oil 110, nutmeg oil 60, "
        "vanillin 120, benzoin resinoid 260, piperonal 150, sandalwood oil 100",
        ("clove", "cinnamon", "vanilla"),
    ),
    "cold hearth": (
        10.0,
        "guaiacol 12, cade oil 40, 6-sec-butylquinoline 20, castoreum tincture 250, labdanum absolute 230, "
        "patchouli oil 300, styrax resinoid 148",
        ("smoke", "leather", "tar"),
    ),
    "corner roaster": (
        10.0,
        "coffee absolute 90, cocoa absolute 160, 2,3,5-trimethylpyrazine 3, vanillin 330, ethyl maltol 60, "
        "4-hydroxy-2,5-dimethyl-3(2H)-furanone 8, benzoin resinoid 250, patchouli oil 99",
        ("chocolate", "caramel", "roasted"),
    ),
    "orchard wall": (
        15.0,
        "hexyl acetate 120, ethyl 2-methylbutyrate 20, isoamyl acetate 40, allyl hexanoate 40, "
        "blackcurrant bud absolute 50, raspberry ketone 150, gamma-decalactone 80, alpha-ionone 350, "
        "cis-3-hexenol 50, benzyl acetate 100",
        ("pear", "blackcurrant", "pineapple"),
    ),
    "linen press": (
        40.0,
        "alpha-isomethylionone 220, ethylene brassylate 300, cyclopentadecanolide 100, piperonal 90, "
        "2-methylundecanal 5, decanal 3, phenethyl alcohol 150, orris butter 20, sandalwood oil 112",
        ("aldehydic", "iris", "musk"),
    ),
}
"""Name -> share of a concentrate [%], lines with their parts, facets to keep."""


def accord(name, palette):
    share, lines, facets = ACCORDS[name]
    pairs = [line.rsplit(" ", 1) for line in lines.split(", ")]
    return share, formula.of_pairs(name, [(m, float(p)) for m, p in pairs], palette.catalogue), facets


@dataclass(frozen=True)
class Offer:
    """One first dose of one material, and what its full dose wins of what could be won without usual use."""

    accord: str
    facet: str
    dose: Dose
    won: float


@pytest.fixture(scope="module")
def offers():
    palette = shipped()
    found = []
    for name in ACCORDS:
        share, lines, facets = accord(name, palette)
        table = FormulaDrydown(lines, palette, share_percent=share)
        for facet in facets:
            suggestions = extend(lines, Request(facet=facet, share_percent=share), palette).suggestions
            if not suggestions:
                continue
            target = target_of(Request(facet=facet), table, None)
            films = table.alone([s.material for s in suggestions])
            free = simulation.best_doses(table.film, films, target.facets, target.window)
            for suggestion, most in zip(suggestions, free.after, strict=True):
                (effect,) = (r for r in suggestion.reasons if isinstance(r, FormulaEffect))
                won = (effect.after - effect.before) / (most - effect.before)
                assert suggestion.dose is not None
                found.append(Offer(name, facet, suggestion.dose, won))
    return found


@pytest.fixture(scope="module")
def known(offers):
    return [(offer.dose, *offer.dose.usual) for offer in offers if offer.dose.usual is not None]


def test_most_accords_and_facets_get_an_answer(offers):
    assert {offer.accord for offer in offers} == set(ACCORDS)
    assert len({(offer.accord, offer.facet) for offer in offers}) >= 30
    assert len(offers) >= 150


def test_no_accord_is_written_above_usual_use():
    palette = shipped()
    for name in ACCORDS:
        share, lines, _ = accord(name, palette)
        notes = FormulaDrydown(lines, palette, share_percent=share).notes
        assert not [note for note in notes if note.startswith("Above usual use")]


def test_first_doses_are_within_usual_use(known):
    count = len(known)
    above = [dose for dose, _, high in known if dose.first_try > high]
    far_above = [dose for dose, _, high in known if dose.first_try > 3.0 * high]
    below = [dose for dose, low, _ in known if dose.first_try < low * (1.0 - 1e-9)]
    assert len(above) <= 0.05 * count
    assert not far_above
    assert len(below) <= 0.10 * count
    assert all(dose.high <= high for dose, _, high in known)


def test_most_of_what_can_be_won_is_won_within_usual_use(offers):
    won = sorted(min(offer.won, 1.0) for offer in offers)
    assert won[len(won) // 2] >= 0.8
    assert sum(won) / len(won) >= 0.7
