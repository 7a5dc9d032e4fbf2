"""Bottles as they are: the dose in parts of a dilution on the shelf, and the formula weighed from it."""

import pytest
from command_line import run

from recommender.model import Bottle, Formula, Line
from recommender.output import amount_sentences
from recommender.output.suggestions import as_dict
from recommender.suggest import Request
from recommender.weighing.plan import plan
from recommender.weighing.request import WeighingRequest, weighed
from recommender.workspace import Workspace

DPG = "dipropylene-glycol"


@pytest.fixture
def here(tmp_path):
    return Workspace(tmp_path / "notebook.sqlite")


ACCORD = {"linalool": 300, "phenethyl alcohol": 500, "hydroxycitronellal": 200}


def rows(here, **request):
    found = here.extend(ACCORD, Request(facet="raspberry", top=5, **request))
    return {s.material.name: s for s in found.suggestions}


def test_a_dose_is_given_in_parts_of_the_dilution_on_the_shelf(here):
    name = next(iter(rows(here)))
    plain = rows(here)[name]
    assert plain.bottles == ()
    here.shelf.add("my berry", name, dilution_percent=10.0, solvent=DPG, amount_g=50.0)
    found = here.extend(ACCORD, Request(facet="raspberry", top=5))
    bottled = next(s for s in found.suggestions if s.material.name == name)
    assert bottled.dose.first_try == plain.dose.first_try  # neat, as ever
    assert bottled.dose.dilution_percent == 10.0
    (bottle,) = next(s for s in as_dict(found)["suggestions"] if s["name"] == name)["bottles"]
    assert bottle["parts"]["first_try"] == pytest.approx(10 * plain.dose.first_try)
    assert bottle["parts"]["high"] == pytest.approx(10 * plain.dose.high)
    assert bottle["parts"]["solvent"] == pytest.approx(9 * plain.dose.first_try)
    words = amount_sentences.bottles(bottled)
    assert words.startswith("on your shelf: my berry at 10 % in dipropylene glycol, 50 g left, ")
    assert "of them solvent" in words


def test_without_a_dose_it_is_said_how_many_parts_stand_for_one(here):
    first = here.extend("linalool", Request(top=1)).suggestions[0].material.name
    here.shelf.add("mine", first, dilution_percent=5.0)
    found = here.extend("linalool", Request(top=1)).suggestions[0]
    assert "20 parts of it for one of the neat" in amount_sentences.bottles(found)


def test_a_neat_bottle_needs_no_such_words(here):
    first = here.extend("linalool", Request(top=1)).suggestions[0].material.name
    here.shelf.add("mine", first)
    found = here.extend("linalool", Request(top=1)).suggestions[0]
    assert amount_sentences.bottles(found) == "on your shelf: mine neat"


def sheet(here, parts, **more):
    return here.weigh(parts, WeighingRequest(resolution_g=0.001, **more))


def poured(found):
    return {p.line.content.name: p for p in found.sections[-1].pours}


def test_a_neat_line_is_weighed_from_the_dilution_that_is_there(here):
    accord = {"vanillin": 50, "linalool": 550, "dipropylene glycol": 400}
    assert poured(sheet(here, accord))["vanillin"].dilution == 1.0
    here.shelf.add("my vanillin", "vanillin", dilution_percent=20.0, solvent=DPG, amount_g=100.0)
    found = sheet(here, accord)
    vanillin, glycol = poured(found)["vanillin"], poured(found)["dipropylene glycol"]
    assert (vanillin.dilution, vanillin.solvent.slug, vanillin.exact_g) == (0.2, DPG, pytest.approx(2.5))
    assert vanillin.written_g == pytest.approx(0.5)
    assert glycol.exact_g == pytest.approx(4.0 - 2.0)
    assert found.on_top_g == 0
    assert found.dilutions == ()
    assert "vanillin is on your shelf only at 20 % (my vanillin): it is weighed from that." in found.notes
    assert not any("Not enough" in note for note in found.notes)


def test_the_solvent_of_a_bottle_comes_on_top_where_the_formula_has_none_of_it(here):
    here.shelf.add("my vanillin", "vanillin", dilution_percent=10.0, solvent=DPG)
    found = sheet(here, {"vanillin": 50, "linalool": 650, "triethyl citrate": 300})
    assert poured(found)["vanillin"].exact_g == pytest.approx(5.0)
    assert poured(found)["triethyl citrate"].exact_g == pytest.approx(3.0)
    assert found.on_top_g == pytest.approx(4.5)


def test_what_is_too_little_for_the_bottle_is_diluted_further_from_it(here):
    here.shelf.add("my vanillin", "vanillin", dilution_percent=10.0, solvent=DPG, amount_g=5.0)
    found = sheet(here, {"vanillin": 0.1, "linalool": 600, "dipropylene glycol": 399.9})
    vanillin = poured(found)["vanillin"]
    assert vanillin.dilution < 0.1
    (made,) = found.dilutions
    assert (made.stronger, made.dilution) == (0.1, vanillin.dilution)
    assert vanillin.exact_g * vanillin.dilution == pytest.approx(0.001)


@pytest.mark.parametrize(("dilution", "named"), [(100.0, "vanillin"), (20.0, "vanillin at 20 %")])
def test_a_bottle_that_has_not_enough_is_named(here, dilution, named):
    here.shelf.add("my vanillin", "vanillin", dilution_percent=dilution, amount_g=0.25)
    needed = 0.5 * 100 / dilution
    found = sheet(here, {"vanillin": 50, "linalool": 550, "dipropylene glycol": 400})
    assert f"Not enough {named}: {needed:.3g} g needed, 0.25 g on the shelf." in found.notes


@pytest.mark.parametrize(("batch_g", "made"), [(30.0, 0), (0.3, 1)])
def test_the_line_of_a_bracket_is_weighed_from_the_dilution_that_is_there(here, batch_g, made):
    here.shelf.add("my vanillin", "vanillin", dilution_percent=10.0, solvent=DPG, amount_g=0.01)
    found = sheet(here, ACCORD | {"vanillin": 20}, batch_g=batch_g, bracket="vanillin")
    assert (found.bracket.at_hand, found.bracket.solvent.slug) == (0.1, DPG)
    assert [step.stronger for step in found.dilutions] == [0.1] * made
    assert found.bracket.dilution == 0.1 if not made else found.bracket.dilution < 0.1
    only, enough = (note for note in found.notes if "vanillin" in note)
    assert only == "vanillin is on your shelf only at 10 % (my vanillin): it is weighed from that."
    taken = found.dilutions[0].take_g if made else sum(vial.exact_g for vial in found.bracket.vials)
    assert enough == f"Not enough vanillin at 10 %: {taken:.3g} g needed, 0.01 g on the shelf."


def test_a_neat_bottle_beside_a_dilution_changes_nothing(here):
    here.shelf.add("thin", "vanillin", dilution_percent=10.0)
    here.shelf.add("neat", "vanillin")
    found = sheet(here, {"vanillin": 50, "linalool": 950})
    assert poured(found)["vanillin"].dilution == 1.0
    assert not any("only at" in note for note in found.notes)


def test_lines_that_are_written_as_a_dilution_stay_as_written(material):
    solvent = material(DPG, kind="solvent", curve=None)
    pod = material("pod", {"vanilla": 3})
    formula = Formula("toy", (Line(pod, 500, 0.5, solvent), Line(solvent, 500)))
    found = plan(formula, 10.0, 0.001, solvent, at_hand={"pod": (0.1, solvent)})
    (pour,) = [p for p in found.sections[-1].pours if p.line.content is pod]
    assert (pour.dilution, pour.at_hand) == (0.5, None)


def test_the_solvent_of_a_bottle_may_come_off_the_top_up(shipped):
    formula = Formula("toy", (Line(shipped.find("vanillin"), 100), Line(shipped.find("linalool"), 900)))
    bottles = {"vanillin": (Bottle("mine", "vanillin", 10.0, "ethanol"),)}
    found = weighed(formula, WeighingRequest(dosage_percent=10.0, resolution_g=0.001), shipped, bottles)
    assert found.on_top_g == 0
    assert found.off_top_up_g == pytest.approx(9.0)


def test_the_command_line_weighs_from_the_shelf(tmp_path, monkeypatch):
    notebook, accord = tmp_path / "n.sqlite", tmp_path / "a.csv"
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(notebook))
    accord.write_text("material,parts\nvanillin,50\nlinalool,550\ndipropylene glycol,400\n")
    Workspace(notebook).shelf.add("my vanillin", "vanillin", dilution_percent=10.0, amount_g=2.0)
    done = run("weigh", str(accord), "--balance", "0.001", "--format", "json").json
    row = next(row for row in done["rows"] if row["name"] == "vanillin")
    assert (row["dilution_percent"], row["exact_g"], row["written_g"]) == (10.0, 5.0, 0.5)
    assert any(note.startswith("Not enough vanillin at 10 %: 5 g needed, 2 g") for note in done["notes"])


def test_what_is_taken_on_the_page_names_the_solvent_of_the_bottle(here):
    pytest.importorskip("nicegui")
    from recommender.web.server import line_edits, typed_lines

    name = next(iter(rows(here)))
    here.shelf.add("my berry", name, dilution_percent=10.0, solvent="triethyl citrate")
    found = rows(here)[name]
    edit = line_edits.add_suggestion(found, typed_lines.ParsedLines(None))
    (line,) = edit(()).lines
    assert (line["material"], line["dilution_percent"], line["solvent"]) == (name, "10", "triethyl citrate")


# labels of diluted bottles in formulas


@pytest.fixture
def labelled(tmp_path):
    """Return a notebook with two labels of diluted bottles, one of which is also on a neat one."""
    here = Workspace(tmp_path / "notebook.sqlite")
    here.shelf.add("violet stuff", "alpha-ionone", dilution_percent=10)
    here.shelf.add("hay stuff", "coumarin", dilution_percent=1)
    here.shelf.add("hay stuff", "coumarin")
    return here


def test_a_line_with_the_label_of_a_diluted_bottle_and_no_dilution_is_remarked_on(labelled, tmp_path):
    file = tmp_path / "accord.csv"
    file.write_text("material,parts\nviolet stuff,5\nhay stuff,5\nalpha-ionone,5\n", encoding="utf-8")
    (note,) = (note for note in labelled.formula(file).notes if "on your shelf" in note)
    assert note.startswith('accord.csv: line 2: "violet stuff" is a bottle at 10 % on your shelf')
    assert labelled.formula(file).lines[0].dilution == 1.0


def test_a_line_with_its_own_dilution_is_not_remarked_on(labelled, tmp_path):
    file = tmp_path / "accord.csv"
    file.write_text("material,parts,dilution\nviolet stuff,5,10 %\n", encoding="utf-8")
    assert not any("on your shelf" in note for note in labelled.formula(file).notes)
