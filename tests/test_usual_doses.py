"""First doses stay within usual use: twelve accords of an invented studio, three facets each.

Each accord is written with the share of a concentrate at which it is used [%].
"""

import math
from dataclasses import dataclass, replace

import pytest

from recommender.formulas import dosing, formula
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.usual import usual_range
from recommender.palette import Palette, shipped
from recommender.suggest import Request
from recommender.suggest.in_formula import extend
from recommender.suggest.target import carriers, target_of

ACCORDS = {
    "harbour cologne": (
        100.0,
        "bergamot oil 190, lemon oil 95, petitgrain oil 60, neroli oil 25, linalyl acetate 150, linalool 110, "
        "lavender oil 60, rosemary oil 15, methyl dihydrojasmonate 200, ethylene brassylate 70, "
        "vetiveryl acetate 25",
        ("lemon", "orange blossom", "lavender"),
    ),
    "slate fern": (
        60.0,
        "lavender oil 140, bergamot oil 120, linalyl acetate 120, coumarin 70, geranium oil 60, "
        "methyl 2,4-dihydroxy-3,6-dimethylbenzoate 30, patchouli oil 60, benzyl salicylate 150, "
        "clary sage oil 40, vanillin 15, dihydromyrcenol 120",
        ("lavender", "hay", "moss"),
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
        ("rose", "violet", "honey"),
    ),
    "night terrace": (
        30.0,
        "benzyl acetate 260, alpha-hexylcinnamaldehyde 250, methyl dihydrojasmonate 220, indole 4, "
        "methyl anthranilate 12, linalool 110, cis-jasmone 10, hydroxycitronellal 60, p-anisaldehyde 20, "
        "ylang ylang oil extra 50",
        ("jasmine", "orange blossom", "banana"),
    ),
    "fig yard": (
        20.0,
        "gamma-nonalactone 60, cis-3-hexenol 20, cis-3-hexenyl acetate 15, galbanum oil 12, "
        "linalool 250, violet leaf absolute 12, cedarwood oil virginia 330, coumarin 60, "
        "gamma-undecalactone 10",
        ("cut grass", "coconut", "cedar"),
    ),
    "low tide": (
        25.0,
        "7-methyl-2H-1,5-benzodioxepin-3(4H)-one 8, methyl dihydrojasmonate 420, bergamot oil 200, "
        "dihydromyrcenol 160, ambroxide 25, cis-3-hexenol 6, ethylene brassylate 160",
        ("marine", "melon", "amber"),
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
        ("coffee", "chocolate", "caramel"),
    ),
    "orchard wall": (
        15.0,
        "hexyl acetate 120, ethyl 2-methylbutyrate 20, isoamyl acetate 40, allyl hexanoate 40, "
        "blackcurrant bud absolute 50, raspberry ketone 150, gamma-decalactone 80, alpha-ionone 350, "
        "cis-3-hexenol 50, benzyl acetate 100",
        ("pear", "blackcurrant", "raspberry"),
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
    pairs = [line.rsplit(" ", 1) for line in lines.replace(", ", ";").split(";")]
    return share, formula.of_pairs(name, [(m, float(p)) for m, p in pairs], palette.catalogue), facets
