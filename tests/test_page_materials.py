"""The views on materials: what a card is asked, side by side, own materials, nose, limits, the map."""

import pytest

pytest.importorskip("nicegui")

from nicegui import ElementFilter, ui
from test_page_views import POSY, field, on, press, texts, until

from recommender.palette import shipped
from recommender.similarity import likeness_map
from recommender.web.pages import map_page
from recommender.web.pages.limits_page import LimitsPage
from recommender.web.pages.own_materials_page import OwnMaterialsPage
from recommender.web.server.session import PageSession
from recommender.web.widgets.material_question import MaterialQuestion


@pytest.fixture
def session(tmp_path):
    return PageSession(tmp_path / "notebook.sqlite")


def fill(user, **typed):
    with user:
        for label, text in typed.items():
            field(user, label.replace("_", " ")).value = text


def test_the_map_marks_formula_and_shelf_by_shape():
    places = likeness_map.places(shipped().catalogue, shipped().space)
    options = map_page.options(places, [], None, "", [], {"coumarin"}, {"vanillin", "linalool"})
    series = {one["id"]: one for one in options["series"] if "id" in one}
    (square,) = series["own"]["data"]
    assert (square["name"], square["symbol"], square["label"]["show"]) == ("coumarin", "rect", True)
    assert square["lines"][-1] == "in the formula"
    assert {dot["symbol"] for dot in series["materials"]["data"]} == {"circle"}
    assert len(series["shelf"]["data"]) == 2
    assert series["materials"]["data"][0]["name"] in ("vanillin", "linalool")  # named before all others
    names = [dot["shown"] for dot in series["materials"]["data"]]
    assert max(map(len, names)) <= map_page.LONGEST_NAME


def test_a_material_goes_from_the_map_into_a_formula_and_out_again(session):
    draft = session.create("posy", POSY)

    @on(session, "/map?at=coumarin")
    async def _(user):
        fill(user, parts_of_coumarin_to_add="nonsense")
        press(user, "Add coumarin to the formula")
        assert any(text.startswith("Parts of coumarin") or "amount above 0" in text for text in texts(user))
        fill(user, parts_of_coumarin_to_add="4,5")
        press(user, "Add coumarin to the formula")
        assert "coumarin is in posy." in texts(user)
        line = session.get(draft.id).lines[-1]
        assert (line["material"], line["parts"]) == ("coumarin", "4,5")
        press(user, "Undo: coumarin in posy")
        assert len(session.get(draft.id).lines) == 3
        assert "coumarin is out of posy again." in texts(user)


def test_a_card_answers_what_goes_well_with_it_and_says_what_is_wrong_beside_the_field(session):
    @on(session, "/material/coumarin")
    async def _(user):
        press(user, "Move it elsewhere")
        press(user, "Ask")
        assert any("hazelnut or smoke" in text for text in texts(user))
        fill(user, toward="sqwibble")
        press(user, "Ask")
        await until(lambda: any("sqwibble" in text for text in texts(user)))
        press(user, "Find companions")
        fill(user, dosage_in_the_finished_product_in_per_cent="a lot")
        press(user, "Ask")
        assert any("a lot" in text for text in texts(user))
        fill(user, dosage_in_the_finished_product_in_per_cent="")
        press(user, "Ask")
        await until(lambda: "What goes well with coumarin?" in texts(user), 60)
        assert any(text.startswith("Add ") and text.endswith(" to a formula") for text in texts(user))
        assert not [text for text in texts(user) if "--" in text or "`recommender" in text]


def test_every_filter_of_the_card_reaches_the_request(session):
    session.workspace.shelf.add("vanillin", price_per_g="0.2")
    draft = session.create("posy", POSY)

    @on(session, "/beside")
    async def _(user):
        with user:
            asked = MaterialQuestion(session, session.workspace.material("coumarin"))
        asked.choose("replace")
        typed = {
            "facet": "hay", "blend": "2", "because": "price", "within": str(draft.id), "avoid": "smoke",
            "kind": "natural", "max_price": "0,5", "only_shelf": True, "no_label_allergens": True,
            "market": "eu", "dosage_percent": "15", "category": "5A", "on": "2027-02-01",
            "share_percent": "20", "surface": "skin", "top": "12", "why_not": "vanillin",
            "product": "soap", "colourless": True, "available": True,
        }  # fmt: skip
        asked.form.values.update(typed)
        job = asked.job()
        assert (job.verb, job.subject.name, job.within.name) == ("replace", "coumarin", "posy")
        request = job.request
        assert (request.facet, request.blend, request.because, request.avoid) == ("hay", 2, "price", "smoke")
        assert (request.kind, request.max_price, request.only_shelf) == ("natural", 0.5, True)
        assert (request.no_label_allergens, request.market, request.dosage_percent) == (True, "eu", 15.0)
        assert (request.category, request.on, request.share_percent) == ("5A", "2027-02-01", 20.0)
        assert (request.surface, request.top, request.why_not) == ("skin", 12, "vanillin")
        assert (request.product, request.colourless, request.available) == ("soap", True, True)
        asked.choose("extend")
        asked.form.values.update(facet="hay", until_hours="3d", into="base")
        request = asked.job().request
        assert (request.until_hours, request.into, request.blend) == (72.0, "base", None)


def test_side_by_side_compares_strips_and_proposes_amounts(session):
    @on(session, "/beside?m=coumarin&m=vanillin")
    async def _(user):
        press(user, "Compare the strips")
        assert "verdict" in texts(user)
        fill(user, smelled_after="never")
        press(user, "Compare the strips")
        assert any("30min, 8h or 3d" in text for text in texts(user))
        fill(user, how_strong_each_should_smell="vanilla 2, hay 1", size_of_the_trial="5 g")
        press(user, "Propose amounts")
        assert "parts of 1000" in texts(user)
        press(user, "Put them into a new formula")
        lines = session.find("untitled").lines
        assert [line["material"] for line in lines] == ["coumarin", "vanillin"]
        fill(user, material_2="")
        press(user, "Compare the strips")
        assert "Name two or more materials." in texts(user)


def test_an_own_material_is_added_changed_removed_and_brought_back(session):
    own = session.workspace.own_materials

    @on(session, "/beside")
    async def _(user):
        with user:
            page = OwnMaterialsPage(session)
        fill(user, name="rose lactone X", it_smells_of="rose 3", CAS="91-64-6")
        press(user, "Add it")
        assert any("91-64-6" in text for text in texts(user))
        fill(user, CAS="")
        press(user, "Add it")
        await until(lambda: any(t.startswith("rose lactone X is among your materials") for t in texts(user)))
        press(user, "Change rose lactone X")
        fill(user, it_smells_of="honey 3")
        press(user, "Save the change")
        assert session.workspace.material("rose lactone X").labels[0].facet == "honey"
        press(user, "Remove rose lactone X")
        press(user, "Undo")
        assert session.workspace.material("rose lactone X").labels[0].facet == "honey"
        with user:
            await page.uploaded("m.csv", b"name,smells\nhay lactone Y,hay 3\n")
        assert "m.csv: 1 materials, not stored yet" in texts(user)
        press(user, "Add them all")
        assert {one.name for one in session.workspace.overlay[0].materials} == {
            "rose lactone X",
            "hay lactone Y",
        }
        with user:
            await page.uploaded("m.csv", b"name,smells\nhay lactone Z,sqwibble 3\n")
        assert any("line 2" in text and "sqwibble" in text for text in texts(user))
        assert own is session.workspace.own_materials


def test_all_notes_of_the_nose_are_in_one_list(session):
    session.workspace.nose.add("alpha-ionone", "raspberry 3", words="like jam")

    @on(session, "/nose")
    async def _(user):
        assert "raspberry (leading)" in texts(user)
        press(user, "Change your note on alpha-ionone")
        assert field(user, "in your words").value == "like jam"
        fill(user, it_smells_of="violet 2")
        press(user, "Save this note")
        assert session.workspace.material("alpha-ionone").own.labels[0].facet == "violet"
        fill(user, material="nonsuch", it_smells_of="rose 3")
        press(user, "Save this note")
        assert any("nonsuch" in text for text in texts(user))
        press(user, "Remove your note on alpha-ionone")
        assert session.workspace.material("alpha-ionone").own is None
        press(user, "Undo")
        assert session.workspace.material("alpha-ionone").own is not None


def test_own_limits_are_shown_before_they_count_and_taken_back(session):
    @on(session, "/beside")
    async def _(user):
        with user:
            page = LimitsPage(session, "coumarin")
        assert any(text.startswith("coumarin: restriction") for text in texts(user))
        with user:
            await page.uploaded("l.csv", b"name,cas,cat_4\ncoumarin,91-64-5,0.4\n")
        assert session.workspace.limits.tables() == []
        assert any("to 0.4" in text for text in texts(user))
        press(user, "Use them")
        assert any("category 4: 0.4 %" in text for text in texts(user))
        press(user, "Undo")
        assert not any(table.in_use for table in session.workspace.limits.tables())
        (again,) = [t for t in labels(user) if t.startswith("Use l.csv")]
        press(user, again)
        assert any(table.in_use for table in session.workspace.limits.tables())


def labels(user):
    with user:
        return [str(e.props.get("aria-label", "")) for e in ElementFilter(kind=ui.html)]


def test_a_card_shows_what_practice_knows_and_cautions_before_the_nose(session):
    @on(session, "/material/vanillin")
    async def _(user):
        shown = texts(user)
        assert "by the rules of" in shown
        place = shown.index("In practice")
        assert shown[place + 1 : place + 4] == ["quality", "value", "rests on"]
        assert shown[place + 4 : place + 7] == ["availability", "common", "common practice and memory"]
        assert place < shown.index("Your own nose")
        facts = dict(zip(shown[place + 4 :: 3], shown[place + 5 :: 3], strict=False))
        assert facts["price"].startswith("low")
        (here,) = [e for e in marked(user) if e.props.get("aria-current") == "page"]
        assert here.content == "Materials"


def marked(user):
    with user:
        return list(ElementFilter(kind=ui.html))


def test_the_names_of_a_formula_are_cut_like_all_others_on_the_map():
    catalogue = shipped().catalogue
    places = likeness_map.places(catalogue, shipped().space)
    (longest,) = [max((p.material for p in places), key=lambda m: len(m.name))]
    options = map_page.options(places, [], None, "", [], {longest.slug})
    (own,) = next(one for one in options["series"] if one.get("id") == "own")["data"]
    assert len(own["shown"]) == map_page.LONGEST_NAME
    assert own["lines"][0] == longest.name


def test_materials_are_found_by_part_of_a_name(session):
    @on(session, "/materials?named=ionone")
    async def _(user):
        assert "alpha-ionone" in texts(user)
        assert "coumarin" not in texts(user)
        fill(user, part_of_a_name="sqwibble")
        press(user, "Find")
        assert any(text.startswith("No material is found so") for text in texts(user))
        fill(user, words_for_smells="nut")
        press(user, "Show")
        assert "hazelnut" in texts(user)


def test_a_card_shows_how_the_material_dries_on_skin(session):
    from recommender.evaporation.surfaces import Application
    from recommender.web.widgets.material_drydown import drying

    palette = session.workspace.palette
    material = palette.catalogue.find("linalool")
    strip, skin = (drying(material, palette, Application(on))[1] for on in ("strip", "skin"))
    assert [row[0] for row in strip][:1] == ["floral"]
    assert strip != skin
