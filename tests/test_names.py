"""Names as perfumers write them on labels and in formulas: found, refused or ambiguous, never a guess."""

import pytest

from recommender.errors import AmbiguousMaterial, SpoiltCas, UnknownFacet, UnknownMaterial, WrongCas
from recommender.evidence.identity import identify
from recommender.model import Name
from recommender.workspace import Workspace

FOUND = [
    ("oil of bergamot", "bergamot oil"),
    ("bergamot FCF", "bergamot oil furocoumarin-free"),
    ("Bergamot oil Italy", "bergamot oil"),
    ("lemon EO", "lemon oil"),
    ("Orange, sweet, Brazil", "sweet orange oil"),
    ("green mandarin oil", "mandarin oil"),
    ("lime oil, cold pressed", "lime oil expressed"),
    ("orange flower abs.", "orange flower absolute"),
    ("ylang ylang extra", "ylang ylang oil extra"),
    ("ylang oil complete", "ylang ylang oil complete"),
    ("jasmin sambac abs", "jasmine sambac absolute"),
    ("Bulgarian rose otto", "rose oil"),
    ("Rose absolute Turkey", "rose absolute"),
    ("violet leaves absolute", "violet leaf absolute"),
    ("lavandin grosso", "lavandin oil"),
    ("Lavender oil 40/42", "lavender oil"),
    ("lavender spike oil", "spike lavender oil"),
    ("thyme oil red", "thyme oil"),
    ("Haitian vetiver oil", "vetiver oil"),
    ("Australian sandalwood oil", "sandalwood oil australian"),
    ("sandalwood oil Mysore", "sandalwood oil"),
    ("Texas cedarwood oil", "cedarwood oil texas"),
    ("cedarwood virginian", "cedarwood oil virginia"),
    ("benzoin siam resinoid", "benzoin resinoid"),
    ("cassis absolute", "blackcurrant bud absolute"),
    ("pepper oil black", "black pepper oil"),
    ("Citrus Aurantium Bergamia (Bergamot) Fruit Oil", "bergamot oil"),
    ("Jasmine Oil/Extract", "jasmine absolute"),
    ("TETRAMETHYL ACETYLOCTAHYDRONAPHTHALENES", "tetramethyl acetyloctahydronaphthalenes"),
    ("acetate, linalyl", "linalyl acetate"),
    ("2,6-dimethyl-7-octen-2-ol", "dihydromyrcenol"),
    ("a-terpineol", "alpha-terpineol"),
    ("\u03b1-terpineol", "alpha-terpineol"),
    ("b-ionone", "beta-ionone"),
    ("d-damascone", "delta-damascone"),
    ("damascone beta", "beta-damascone"),
    ("(Z)-3-hexen-1-ol", "cis-3-hexenol"),
    ("para-cresyl methyl ether", "4-methylanisole"),
    ("alpha hexyl cinnamic aldehyde", "alpha-hexylcinnamaldehyde"),
    ("aldehyde C-14", "gamma-undecalactone"),
    ("aldehyde C-14 (peach)", "gamma-undecalactone"),
    ("C14 aldehyde", "gamma-undecalactone"),
    ("C-12 MNA", "2-methylundecanal"),
    ("Hexenol cis-3", "cis-3-hexenol"),
    ("p-methoxybenzaldehyde", "p-anisaldehyde"),
    ("Rosmarinus Officinalis (Rosemary) Leaf Oil", "rosemary oil"),
    ("Ylang extra Comoros", "ylang ylang oil extra"),
    ("Sicilian lemon oil", "lemon oil"),
    ("benzyl acetate extra", "benzyl acetate"),
    ("CAS 91-64-5", "coumarin"),
    ("CAS No. 78-70-6", "linalool"),
    ("91645", "coumarin"),
    ("Lavendel\u00f6l", "lavender oil"),
    ("Lavendel \u00d6l", "lavender oil"),
    ("Vetiver\u00f6l", "vetiver oil"),  # not vetiverol
    ("Citronelloel", "citronella oil"),
    ("Linalylacetat", "linalyl acetate"),
    ("Phenylethylalkohol", "phenethyl alcohol"),
    ("huile essentielle de lavande", "lavender oil"),
    ("absolue mousse de ch\u00eane", "oakmoss absolute"),
    ("ac\u00e9tate de linalyle", "linalyl acetate"),
    ("alcool benzylique", "benzyl alcohol"),
    ("musc c\u00e9tone", "musk ketone"),
]
REFUSED = [
    "lantana oil",
    "juniper wood oil",
    "long pepper oil",
    "birch tar oil",
    "Spanish sage oil",
    "white pepper oil",
    "synthetic civet",
    "cumin CO2",
    "vanillin 10%",
    "91646",
    "7439976",
    "oils",
    "natural extract",
]
AMBIGUOUS = [
    (
        "cedarwood oil",
        {"cedarwood oil atlas", "cedarwood oil himalayan", "cedarwood oil texas", "cedarwood oil virginia"},
    ),
    ("chamomile oil", {"blue tansy oil", "chamomile oil blue", "chamomile oil roman", "wild chamomile oil"}),
    ("Cedrus Atlantica Oil/Extract", {"cedarwood oil atlas", "cedarwood absolute atlas"}),
    (
        "ylang ylang",
        {
            "ylang ylang absolute",
            "ylang ylang oil complete",
            "ylang ylang oil extra",
            "ylang ylang oil third",
        },
    ),
    ("aldehyde C-12", {"dodecanal", "2-methylundecanal"}),
    ("ylang ylang oil", {"ylang ylang oil complete", "ylang ylang oil extra", "ylang ylang oil third"}),
    ("Rose Flower Oil/Extract", {"rose oil", "rose absolute", "rose water absolute"}),
    ("Lavandula Oil/Extract", {"lavender oil", "lavender absolute", "lavandin oil", "lavandin absolute"}),
]


@pytest.mark.parametrize(("text", "name"), FOUND)
def test_a_trade_name_is_found(shipped, text, name):
    assert shipped.find(text).name == name


@pytest.mark.parametrize("text", REFUSED)
def test_what_is_something_else_is_not_taken_for_what_is_nearest(shipped, text):
    assert shipped.meanings(text) == ()
    with pytest.raises(UnknownMaterial):
        shipped.find(text)


@pytest.mark.parametrize(("text", "candidates"), AMBIGUOUS)
def test_a_name_of_several_is_an_error_that_lists_them(shipped, text, candidates):
    assert shipped.meanings(text) == ()
    with pytest.raises(AmbiguousMaterial) as caught:
        shipped.find(text)
    assert set(caught.value.near) == candidates
    assert all(name in str(caught.value) for name in candidates)


def test_a_cas_number_decides_beside_an_ambiguous_name(shipped):
    assert identify("cedarwood oil", "68990-83-0", shipped).material.name == "cedarwood oil texas"


def test_two_materials_with_the_same_words_are_ambiguous(material, catalogue_of):
    catalogue = catalogue_of([material("green-wood"), material("wood-green")])
    assert catalogue.find("green wood").slug == "green-wood"
    with pytest.raises(AmbiguousMaterial):
        catalogue.find("oil of wood, green")


def test_words_of_quality_count_where_a_name_has_them(material, catalogue_of):
    catalogue = catalogue_of([material("ylang"), material("ylang-extra")])
    assert catalogue.find("extra ylang").slug == "ylang-extra"
    assert catalogue.find("ylang, natural").slug == "ylang"


def test_a_number_with_the_word_cas_and_a_wrong_digit_is_mistyped(shipped):
    with pytest.raises(WrongCas):
        shipped.find("CAS 91-64-6")


@pytest.mark.parametrize("date", ["8007-02-01", "01.02.8007", "2/1/8007", "8007-02-01 00:00:00"])
def test_a_cas_number_that_became_a_date_is_recognised(shipped, date):
    with pytest.raises(SpoiltCas, match=r"8007-02-1 .lemongrass"):
        shipped.find(date)


@pytest.mark.parametrize("date", ["2026-11-29", "8007-13-01", "8007-02-11", "9999-99-99"])
def test_any_other_date_is_an_unknown_name(shipped, date):
    with pytest.raises(UnknownMaterial) as caught:
        shipped.find(date)
    assert not isinstance(caught.value, SpoiltCas)


def test_a_date_in_the_column_of_cas_numbers_is_said(shipped):
    found = identify("lemongrass oil", "8007-02-01", shipped)
    assert found.material.name == "lemongrass oil"
    assert "8007-02-1" in found.reason
    assert identify("", "8007-02-01", shipped).material is found.material
    assert identify("rose oil", "8007-02-01", shipped).material is None


@pytest.mark.parametrize("text", ["sexy", "xylophone", "agarwood soup plate"])
def test_a_near_miss_too_far_off_is_not_offered(shipped, text):
    with pytest.raises(UnknownMaterial) as caught:
        shipped.find(text)
    assert set(caught.value.near) <= {"agarwood oil"}


def test_a_smell_too_far_off_is_not_offered(palette):
    with pytest.raises(UnknownFacet) as caught:
        palette.phrase("sexy")
    assert caught.value.near == ()


@pytest.mark.parametrize("text", ["anthranilate", "ANTHRANILAT", "methyl anthranil"])
def test_materials_are_found_by_a_part_of_a_name(shipped, text):
    names = [material.name for material in shipped.containing(text)]
    assert "methyl anthranilate" in names
    assert "linalool" not in names


@pytest.mark.parametrize("text", ["", " ", "qqqq"])
def test_no_material_is_so_called(shipped, text):
    assert shipped.containing(text) == ()


def test_a_part_of_a_name_and_a_smell_both_count():
    here = Workspace()
    found, _ = here.materials("rose", named="acetate")
    every, _ = here.materials("rose")
    assert 0 < len(found) < len(every)
    assert all("acetate" in f"{m.name} {[name.text for name in m.names]}" for m in found)


def test_a_part_of_a_cas_number_is_one_of_a_name(material, catalogue_of):
    catalogue = catalogue_of([material("a", cas="91-64-5"), material("b", names=(Name("91", ""),))])
    assert [m.slug for m in catalogue.containing("91")] == ["a", "b"]


def test_the_loose_index_is_made_only_when_an_exact_name_fails(material, catalogue_of):
    catalogue = catalogue_of([material("rose-oil"), material("linalool")])
    assert catalogue.find("rose oil").slug == catalogue.find("Rose").slug == "rose-oil"
    assert "loose" not in vars(catalogue)
    assert catalogue.find("oil of rose").slug == "rose-oil"
    assert "loose" in vars(catalogue)
