"""What hides a facet: the loud line is offered with less of it, the quiet diluent and the theme are not."""

import json
from dataclasses import dataclass, replace

import pytest
from command_line import run

from recommender.errors import BadValue
from recommender.evaporation.course import course
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.usual import UsualUse
from recommender.notebook.readings import readings_of
from recommender.output import amount_sentences, text
from recommender.output.suggestions import as_dict
from recommender.reasons import MaskedFacet
from recommender.suggest import Request, for_material, in_formula, lower
from recommender.suggest.revise import applied, revise
from recommender.suggest.smelling_plan import plan
from recommender.suggest.target import target_of
from recommender.workspace import Workspace

WORLD = {
    "zest": ({"lemon": 3}, 50.0, 0.5),
    "ember": ({"smoke": 3}, 100.0, 0.5),
    "pod": ({"vanilla": 2}, 100.0, 0.5),
    "wood": ({"rose": 1}, 5000.0, 1e-4),
    "flash": ({"lemon": 3}, 1.0, 200.0),
}


@dataclass(frozen=True)
class _WithUsual(FormulaDrydown):
    """A formula in which every material has one usual use."""

    use: UsualUse | None = None

    def usual(self, material):
        return self.use


ACCORD = {"zest": 5, "ember": 400, "pod": 100, "wood": 400}


@pytest.fixture(scope="module")
def palette(palette_of):
    return palette_of(WORLD)


@pytest.fixture(scope="module")
def table(palette):
    def put(parts):
        return FormulaDrydown(Workspace(palette=palette).formula(parts), palette)

    return put


def asked(table, parts=ACCORD, facet="lemon", **more):
    made = table(parts)
    return made, target_of(Request(facet=facet, into="heart", **more), made, None)


def test_the_loud_line_that_hides_the_facet_is_offered_with_less_of_it(table):
    (found,) = lower.lowered(*asked(table))
    why = found.reason
    assert found.material.name == why.material == "ember"
    assert found.parts_before == 400
    assert found.parts_after == pytest.approx(400 / 3)
    assert why.facet == "lemon"
    assert why.after >= why.before + lower.LEAST_GAIN
    assert why.hidden >= lower.LEAST_GAIN
    assert 0 < why.change < 0.2
    assert (why.from_hours, why.until_hours) == (1.0, 8.0)


def test_the_effect_is_that_of_the_formula_put_together_again(table):
    made, target = asked(table)
    (found,) = lower.lowered(made, target)
    changed = FormulaDrydown(formulas.times(made.formula, {"ember": found.reason.factor}), made.palette)
    after, _ = lower.lowered(changed, target), None
    hours = course(changed.film).hours
    column = [changed.film.facets.index("lemon")]
    fine = course(changed.film, hours)
    assert lower._presence(fine, column, target.window).wanted == pytest.approx(found.reason.after, abs=0.01)
    assert all(line.material.name != "zest" for line in after)


def test_what_carries_the_facet_or_is_to_stay_is_never_lowered(table):
    made, target = asked(table)
    assert lower.lowered(made, target, unchanged={"ember"}) == ()
    assert lower.lowered(*asked(table, {"zest": 500, "wood": 500})) == ()


def test_a_diluent_that_is_not_smelled_hides_nothing(table):
    assert lower.lowered(*asked(table, {"zest": 5, "wood": 900})) == ()


@pytest.mark.parametrize(("theme", "lowered"), [("smoke", []), ("rose", ["ember"])])
def test_no_facet_of_the_theme_may_be_lost_but_others_may(table, monkeypatch, theme, lowered):
    monkeypatch.setattr(lower, "LITTLE_MISSED", 0.02)
    made, target = asked(table)
    about = FormulaDrydown(replace(made.formula, theme=(theme,)), made.palette)
    assert [line.material.name for line in lower.lowered(about, target)] == lowered


def test_what_is_left_below_usual_use_is_marked(table, palette):
    made, target = asked(table)
    (plain,) = lower.lowered(made, target)
    assert (plain.usual, plain.below_usual) == (None, False)
    for low, below in ((50.0, False), (300.0, True)):
        use = UsualUse(low, 500.0, present=1000 * 400 / 905)
        bounded = _WithUsual(made.formula, palette, use=use)
        (line,) = lower.lowered(bounded, target)
        assert line.usual == (low, 500.0)
        assert line.below_usual == below
        assert (
            "below usual use (usual 300-500 parts per thousand)" in amount_sentences.lowering(line)
        ) == below


def test_what_leads_the_formula_is_not_taken_out(table):
    (found,) = lower.lowered(*asked(table))
    assert found.reason.factor > 0


def test_a_line_of_an_accord_inside_is_found_with_its_parts_in_the_whole(table, palette):
    from recommender.model import Formula, Line

    inner = Formula(
        "smoky", (Line(palette.catalogue.find("ember"), 8), Line(palette.catalogue.find("pod"), 2))
    )
    lines = (*table({"zest": 5, "wood": 400}).formula.lines, Line(inner, 500))
    made = FormulaDrydown(Formula("nested", lines), palette)
    target = target_of(Request(facet="lemon", into="heart"), made, None)
    (found,) = lower.lowered(made, target)
    assert found.parts_before == pytest.approx(400)


def test_extend_gives_it_beside_the_suggestions(table, palette):
    found = in_formula.extend(table(ACCORD).formula, Request(facet="lemon", into="heart"), palette)
    (row,) = as_dict(found)["lower"]
    keys = ["name", "cas", "parts_before", "parts_after", "facet", "effect", "reason"]
    assert list(row)[: len(keys)] == keys
    assert (row["name"], row["cas"], row["parts_before"], row["parts_after"]) == ("ember", None, 400, 133)
    assert row["facet"] == "lemon"
    assert set(row["effect"]) == {"before", "after"}
    assert row["effect"]["after"] > row["effect"]["before"]
    assert row["reason"].startswith("it hides lemon")
    printed = "\n".join(text.suggestions(found, False, {}))
    assert "Or lower:\n    - ember 400 to 133 parts, a third: it hides lemon" in printed


def test_nothing_to_lower_is_an_empty_list_and_no_formula_is_null(table, palette):
    quiet = in_formula.extend(table({"zest": 5, "wood": 900}).formula, Request(facet="lemon"), palette)
    assert as_dict(quiet)["lower"] == []
    alone = for_material.extend(palette.catalogue.find("flash"), Request(), palette)
    assert as_dict(alone)["lower"] is None
    other = for_material.replace(palette.catalogue.find("flash"), Request(), palette)
    assert "lower" not in as_dict(other)


def test_the_command_line_and_python_give_the_key(tmp_path):
    import recommender as r

    path = tmp_path / "spice.csv"
    path.write_text("material,parts\neugenol,300\nphenethyl alcohol,30\nbenzyl salicylate,500\n")
    args = ("extend", str(path), "--facet", "rose", "--into", "heart")
    (row,) = run(*args, "--format", "json").json["lower"]
    assert row["name"] == "eugenol"
    assert row["parts_after"] == 100
    assert "Or lower:" in run(*args).out
    assert r.extend(str(path), facet="rose", into="heart").to_dict()["lower"] == json.loads(json.dumps([row]))
    assert run("extend", "linalool", "--format", "json").json["lower"] is None


def test_a_trial_that_lost_a_hidden_facet_proposes_it_last(table, palette):
    made = table(ACCORD)
    readings = [
        one
        for hours, words in ((0.5, "lemon clear, smoke strong"), (4.0, "lemon gone, smoke strong"))
        for one in readings_of(words, hours, palette.phrase)
    ]
    found = revise(made, readings, Request(until_hours=8.0))
    (hidden,) = [one for one in found.changes if isinstance(one.reason, MaskedFacet)]
    assert hidden.kind == "cut"
    ((material, before, after),) = hidden.moves
    assert material.name == "ember"
    assert before == pytest.approx(1000 * 400 / 905)
    assert after == pytest.approx(before * hidden.factors[0][1])
    now = {a.material.name: a.mass_fraction for a in applied(made, [hidden]).amounts}
    assert now["ember"] < made.share_of(material)
    looks = plan(applied(made, found.changes), found.changes, readings)
    assert any("clearer with less ember" in look.why for look in looks)


def test_a_change_in_words(table, palette):
    from recommender.output.revisions import change_text, reason_text
    from recommender.suggest.revise import Change

    (line,) = lower.lowered(*asked(table))
    move = ((line.material, 442.0, 147.3),)
    change = Change("cut", move, ((line.material, 1 / 3),), (), line.reason)
    assert change_text(change) == "lower to a third: ember 442 to 147"
    assert reason_text(change).startswith("It hides lemon, present ")


def test_the_page_lowers_the_line_or_says_that_it_is_inside_an_accord(table):
    pytest.importorskip("nicegui")
    from recommender.notebook.drafts import numbered
    from recommender.palette import shipped
    from recommender.web.server import line_edits, typed_lines

    typed = numbered([{"material": "eugenol", "parts": "300"}, {"material": "linalool", "parts": "30"}])
    read = typed_lines.read("test", typed, shipped().catalogue, lambda name: None)
    reason = MaskedFacet("rose", "eugenol", 1 / 3, 0.1, 0.2, 0.05, 1.0, 8.0, 0.05)
    eugenol = shipped().catalogue.find("eugenol")
    edit = line_edits.lower(lower.LoweredLine(eugenol, 300.0, 100.0, reason), read)
    assert [line["parts"] for line in edit(typed).lines] == ["100", "30"]
    out = MaskedFacet("rose", "eugenol", 0.0, 0.1, 0.2, 0.05, 1.0, 8.0, 0.05)
    edit = line_edits.lower(lower.LoweredLine(eugenol, 300.0, 0.0, out), read)
    assert [line["material"] for line in edit(typed).lines] == ["linalool"]
    with pytest.raises(BadValue, match="inside an accord"):
        edit(typed[1:])
