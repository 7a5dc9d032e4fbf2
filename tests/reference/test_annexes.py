"""What European cosmetics law prohibits and limits, against the entries of its annexes.

Source of every entry number and figure: Regulation (EC) No 1223/2009, Annexes II (prohibited) and III
(restricted), as of 28 August 2026.
"""

import pytest
from command_line import run

from recommender.safety import offered, prohibitions

# a name or CAS number, the entry of Annex II, a material close to it in smell
PROHIBITED = [
    ("benzophenone", "1703", "diphenylmethane"),
    ("119-61-9", "1703", "diphenyl oxide"),
    ("diphenyl ketone", "1703", "geranium oil"),
    ("musk tibetene", "422", "musk ketone"),
    ("145-39-1", "422", "musk ketone"),
    ("musk thibetene", "422", "musk ketone"),
    ("moskene", "421", "musk ketone"),
    ("116-66-5", "421", "musk ketone"),
    ("nitrobenzene", "249", "benzaldehyde"),
    ("98-95-3", "249", "benzaldehyde"),
    ("oil of mirbane", "249", "benzaldehyde"),
    ("geranonitrile", "1638", "citronellyl nitrile"),
    ("5146-66-7", "1638", "citral"),
    ("5585-39-7", "1638", "citral"),  # the (E) isomer
    ("31983-27-4", "1638", "citral"),  # the (Z) isomer
    ("isophorone", "1101", "camphor"),
    ("78-59-1", "1101", "camphor"),
    ("verbena oil", "450", "lemongrass oil"),
]


@pytest.mark.parametrize(("asked", "entry", "kin"), PROHIBITED)
def test_what_annex_ii_names_is_known_as_prohibited(shipped, asked, entry, kin):
    material = run("material", asked, "--market", "eu", "--format", "json").json
    found = [rule for rule in material["prohibited"] if rule["market"] == "eu"]
    assert [rule["reference"] for rule in found] == [f"EU Annex II/{entry}"]
    assert [rule["basis"] for rule in found] == ["published"]
    assert not offered([shipped.find(asked)], shipped.limits, "any")[0]
    assert not offered([shipped.find(asked)], shipped.limits, "eu")[0]


@pytest.mark.parametrize("verb", [("extend",), ("replace",), ("vary", "--toward", "geranium")])
@pytest.mark.parametrize("kin", sorted({kin for _, _, kin in PROHIBITED}))
def test_what_annex_ii_names_is_not_offered(shipped, verb, kin):
    done = run(verb[0], kin, *verb[1:], "--top", "200", "--market", "eu", "--format", "json")
    names = {s["name"] for s in done.json["suggestions"]}
    assert names
    assert not names & {shipped.find(asked).name for asked, _, _ in PROHIBITED}


def test_verbena_absolute_is_limited_and_the_oil_is_prohibited(shipped):
    # Annex II/450 names the oils "and derivatives other than absolute"; Annex III/196: absolute 0.2 %
    absolute = shipped.find("verbena absolute")
    assert prohibitions(shipped.find("verbena oil"), shipped.limits, "eu")
    assert prohibitions(absolute, shipped.limits, "any") == ()
    assert offered([absolute], shipped.limits, "eu")[0]
    limits = run("material", "verbena absolute", "--format", "json").json["limits"]
    (law,) = [rule for rule in limits if rule["market"] == "eu"]
    assert set(law["percent"].values()) == {0.2}
    assert {"4", "6", "9"} <= law["percent"].keys()


def test_the_absolute_says_that_its_cas_number_is_that_of_the_oil_too(shipped):
    assert any("same CAS number" in caution.text for caution in shipped.find("8024-12-2").cautions)
