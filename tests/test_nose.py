import pytest
from asking import extend, vary
from command_line import run

from recommender.errors import BadValue, UnknownFacet, UnknownMaterial
from recommender.evidence.overlay import Overlay, labels_under
from recommender.formulas.drydown import FormulaDrydown, missed_facets
from recommender.model import Formula, Label, Line, OwnNote
from recommender.palette import Palette, labels_from_words, labels_like, with_overlay
from recommender.palette import shipped as whole
from recommender.workspace import Workspace


def own(palette, *notes):
    return with_overlay(palette, Overlay(notes=notes))


def user(facet, strength):
    return Label(facet, strength, "user")


@pytest.fixture
def studio(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))


def test_labels_under_a_note():
    table = (Label("lemon", 3, "memory"), Label("rose", 1, "memory"))
    smoke = (user("smoke", 2),)
    assert labels_under(table, OwnNote("zest", smoke)) == smoke
    assert labels_under(table, OwnNote("zest", smoke, adds=True)) == (table[0], smoke[0], table[1])
    assert labels_under(table, OwnNote("zest", denied=("lemon",))) == (table[1],)
    stronger = (user("rose", 3),)
    assert set(labels_under(table, OwnNote("zest", stronger, adds=True))) == {table[0], stronger[0]}


def test_a_note_moves_a_material_without_a_new_fit(palette):
    noted = own(palette, OwnNote("twin", (user("smoke", 3),), ("lemon",)))
    names = {s.material.slug for s in extend("zest", palette, facet="lemon").suggestions}
    assert "twin" in names
    names = {s.material.slug for s in extend("zest", noted, facet="lemon").suggestions}
    assert "twin" not in names
    found = vary("zest", noted, toward="smoke").suggestions
    assert "twin" in {s.material.slug for s in found}
    assert (noted.space.labels == palette.space.labels).all()
    told = extend("zest", noted, facet="lemon", why_not="twin").notes
    assert "To your nose twin does not smell of lemon." in told


def test_a_stronger_nose_makes_it_stronger_and_last_longer(palette):
    before = palette.catalogue.find("twin")
    noted = own(palette, OwnNote("twin", strength="stronger")).catalogue.find("twin")
    weaker = own(palette, OwnNote("twin", strength="much weaker")).catalogue.find("twin")
    assert noted.curve.log10_half == pytest.approx(before.curve.log10_half - 0.5)
    assert weaker.strength < noted.strength
    assert weaker.lasting.hours < noted.lasting.hours
    assert noted.labels == before.labels


def test_what_cannot_be_smelled_is_never_offered(palette):
    blind = own(palette, OwnNote("twin", blind=True))
    for verb, fields in ((extend, {"facet": "lemon"}), (vary, {"toward": "rose"})):
        assert "twin" in {s.material.slug for s in verb("zest", palette, **fields).suggestions}
        assert "twin" not in {s.material.slug for s in verb("zest", blind, **fields).suggestions}
    told = extend("zest", blind, facet="lemon", why_not="twin").notes
    assert "You cannot smell twin, as your notebook says." in told


def test_a_blind_nose_misses_what_only_that_material_carries(palette):
    blind = own(palette, OwnNote("vanilla-pod", blind=True))
    materials = [blind.catalogue.find(name) for name in ("zest", "vanilla pod")]
    formula = Formula("f", tuple(Line(m, 10.0) for m in materials))
    names, lost = missed_facets(FormulaDrydown(formula, blind))
    assert names == ["vanilla pod"]
    assert [(m.facet, m.own_hours) for m in lost] == [("vanilla", None)]
    plain = Formula("f", tuple(Line(palette.catalogue.find(m.name), 10.0) for m in materials))
    assert missed_facets(FormulaDrydown(plain, palette)) == ([], [])


def test_relations_that_came_from_labels_do_not_outlive_them(catalogue_of, material, relation):
    held = catalogue_of(
        [material("a", {"lemon": 3}, hours=1.0), material("b", {"lemon": 3}, hours=2.0)],
        [relation("a", "shares-facet", "b"), relation("a", "replaces", "b")],
    )
    noted = own(Palette.of(held), OwnNote("b", (user("smoke", 3),)))
    assert [r.kind for r in noted.catalogue.relations] == ["replaces"]


def test_words_become_labels(palette):
    assert labels_from_words("lemon 3, rose petal; smoke:1", palette) == (
        user("lemon", 3),
        user("rose", 2),
        user("smoke", 1),
    )
    for text, error in (
        ("lemon 4", BadValue),
        ("sour fruit 2", BadValue),  # an umbrella: lemon or lime?
        ("lemon 1, lemon 2", BadValue),
        ("", BadValue),
        ("tar 2", UnknownFacet),
        ("lemon tar", UnknownFacet),
    ):
        with pytest.raises(error):
            labels_from_words(text, palette)


def test_an_own_note_against_violet_leaves_the_first_ten_and_appears_where_it_says(studio):
    def names(toward):
        done = run("vary", "vanillin", "--toward", toward, "--format", "json")
        return [s["name"] for s in done.json["suggestions"]]

    assert "alpha-ionone" in names("violet")
    done = run("nose", "add", "alpha-ionone", "--smells", "raspberry 3, hay 2", "--not", "violet")
    assert done.status == 0
    assert "alpha-ionone" not in names("violet")
    assert "alpha-ionone" in names("raspberry")
    listed = [r["name"] for r in run("materials", "violet", "--format", "json").json]
    assert "alpha-ionone" not in listed
    assert run("nose", "remove", "127-41-3").status == 0
    assert "alpha-ionone" in names("violet")


def test_a_card_shows_both_and_whose_each_is(studio):
    run("nose", "add", "coumarin", "--smells", "rose 3", "--strength", "weaker", "--note", "dusty")
    card = run("material", "coumarin", "--format", "json").json
    assert [(x["facet"], x["basis"]) for x in card["labels"]] == [("rose", "user")]
    assert "hay" in {x["facet"] for x in card["own"]["table"]}
    assert card["own"]["note"] == "dusty"
    text = run("material", "coumarin").out
    assert "by your nose: rose (leading); weaker than in the table" in text
    assert "by the table: " in text
    (row,) = run("nose", "list", "--format", "json").json
    assert row["material"] == "coumarin"


def test_a_drydown_says_what_a_blind_nose_misses(studio):
    assert "missed" not in run("drydown", "data/demo/morello.csv", "--format", "json").json
    assert run("nose", "blind", "ethylene brassylate").status == 0
    done = run("drydown", "data/demo/morello.csv", "--format", "json").json
    assert "powdery musk" in {m["facet"] for m in done["missed"]}
    assert any("You cannot smell ethylene brassylate" in note for note in done["notes"])
    assert "You cannot smell" in run("drydown", "data/demo/morello.csv").err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nose", "add", "coumarin"], "--smells"),
        (["nose", "add", "coumarin", "--smells", "hay 2", "--not", "hay"], "it is in --smells too"),
        (["nose", "add", "nonsense", "--smells", "hay 2"], "no material is called"),
        (["nose", "add", "coumarin", "--also"], "--also"),
        (["nose", "remove", "coumarin"], "no description of coumarin"),
    ],
)
def test_a_note_that_cannot_be_is_one_line(studio, words, told):
    done = run(*words)
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert told in done.err


# a note by likeness


def toy_labels(text, palette):
    labels, named = labels_like(text, palette)
    return {label.facet: label.strength for label in labels}, named


def test_a_likeness_is_the_mean_of_the_labels_rounded_to_strengths(palette):
    assert toy_labels("zest", palette) == ({"lemon": 3, "rose": 1}, "zest")
    # lemon (1 + 0) / 2 = 0.5 is nearest to clear, rose 0.15 is halfway to a trace, smoke 0.5 clear
    assert toy_labels("zest, ember", palette) == ({"lemon": 2, "smoke": 2, "rose": 1}, "zest, ember")
    # lemon 3 / 4 = 0.75 is clear, smoke 0.25 a trace, rose 0.225 a trace
    assert toy_labels("3 zest; 1 ember", palette) == (
        {"lemon": 2, "smoke": 1, "rose": 1},
        "3 zest, 1 ember",
    )
    # rose 0.3 / 4 = 0.075 is less than half a trace
    assert toy_labels("zest, 3 ember", palette)[0] == {"smoke": 2, "lemon": 1}


def test_the_strongest_comes_first_and_eight_are_enough():
    labels, _ = labels_like("rose oil, patchouli oil, vanillin", whole())
    assert len(labels) == 8
    assert [x.strength for x in labels] == sorted((x.strength for x in labels), reverse=True)
    assert all(x.basis == "user" for x in labels)


def test_commas_inside_names_part_nothing():
    _, named = labels_like("2,3-pentanedione, 2 vanillin", whole())
    assert named == "1 2,3-pentanedione, 2 vanillin"
    assert labels_like("97-53-0, 121-33-5", whole())[1] == "eugenol, vanillin"


@pytest.mark.parametrize(
    ("text", "error", "said"),
    [
        ("zest, vanila pod", UnknownMaterial, "vanilla pod"),
        (" , ", BadValue, "name materials"),
        ("0 zest", BadValue, "above 0"),
        ("mute", BadValue, "no smell is on record"),
    ],
)
def test_a_likeness_that_cannot_be_read(palette, text, error, said):
    with pytest.raises(error, match=said):
        labels_like(text, palette)


def test_a_note_by_likeness_is_stored_as_labels_with_what_it_is_like(tmp_path):
    here = Workspace(tmp_path / "n.sqlite")
    own, _ = here.nose.add("linalool", like="2 vanillin, 1 coumarin", words="dusty", denied="powdery")
    assert own.words == "dusty; like 2 vanillin, 1 coumarin"
    assert own.denied == ("powdery",)
    assert "powdery" not in {label.facet for label in own.labels}
    assert "vanilla" in {label.facet for label in here.material("linalool").labels}
    mixed, before = here.nose.add("linalool", "smoke 3, vanilla 1", like="vanillin")
    assert before
    strengths = {label.facet: label.strength for label in mixed.labels}
    assert (strengths["smoke"], strengths["vanilla"]) == (3, 1)  # what is typed counts before the likeness
    assert len(strengths) > 2


def test_what_leads_with_nothing_is_extended_by_what_it_clearly_smells_of(palette):
    noted = own(palette, OwnNote("zest", (user("lemon", 2), user("smoke", 1))))
    assert list(extend("zest", noted).query["facets"]) == ["lemon"]


def test_a_likeness_on_the_command_line(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "n.sqlite"))
    done = run("nose", "add", "linalool", "--like", "vanillin, coumarin")
    assert done.status == 0
    assert "vanilla (" in done.out
    assert "like vanillin, coumarin" in run("nose", "list", "--format", "csv").out
    wrong = run("nose", "add", "linalool", "--like", "vanilin")
    assert wrong.status == 2
    assert "vanillin" in wrong.err
