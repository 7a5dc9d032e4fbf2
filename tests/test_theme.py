"""The theme of a formula: stated or inferred, and what sticks out of it."""

import json
import math

import numpy as np
import pytest
from command_line import run

import recommender as r
from recommender.errors import BadTable, BadValue, UnknownFacet
from recommender.evaporation.gaps import gaps
from recommender.formulas import formula as formulas
from recommender.formulas.drydown import FormulaDrydown
from recommender.formulas.theme import amount_shares
from recommender.model import Formula, Line
from recommender.notebook import formulas as saved
from recommender.notebook.store import reading, writing
from recommender.palette import shipped
from recommender.suggest import Request, extend
from recommender.suggest.target import target_of

LAVENDER_WATER = {
    "lavender oil": 180,
    "linalyl acetate": 120,
    "linalool": 60,
    "bergamot oil": 90,
    "geraniol": 15,
    "coumarin": 60,
    "ethylene brassylate": 80,
    "HHCB": 60,
    "benzyl salicylate": 60,
    "patchouli oil": 10,
    "methyl dihydrojasmonate": 90,
    "citronellol": 3,
}
ROSE = {
    "phenethyl alcohol": 300,
    "citronellol": 180,
    "geraniol": 140,
    "rose oxide": 2,
    "eugenol": 4,
    "alpha-ionone": 30,
    "HHCB": 80,
    "benzyl salicylate": 40,
}
WORLD = {
    "zest": ({"lemon": 3, "rose": 2}, 1.0, 100.0),
    "petal": ({"rose": 3}, 60.0, 1.5),
    "ember": ({"smoke": 3, "vanilla": 2}, 500.0, 0.1),
    "lime-wax": ({"lime": 3}, 60.0, 1.5),
}


@pytest.fixture(scope="module")
def palette(palette_of):
    return palette_of(WORLD)


@pytest.fixture(scope="module")
def table(palette):
    def put(theme=(), **parts):
        found = tuple(Line(palette.catalogue.by_slug(s.replace("_", "-")), n) for s, n in parts.items())
        return FormulaDrydown(Formula("toy", found, theme=theme), palette)

    return put


# inferred


@pytest.mark.parametrize(
    ("accord", "first"),
    [(LAVENDER_WATER, "lavender"), (ROSE, "rose"), ("data/demo/bell_flower.csv", "lily of the valley")],
)
def test_a_theme_is_inferred_as_a_perfumer_would_call_it(accord, first):
    found = r.drydown(accord).theme
    assert found.facets[0] == first
    assert not found.stated
    assert len(found.facets) <= 3


def test_what_a_line_only_shows_at_its_side_is_no_theme(table):
    assert "vanilla" not in table(ember=900, zest=1).theme.facets


def test_scaling_a_formula_leaves_its_theme(table):
    one, other = table(zest=1, petal=5, ember=3), table(zest=10, petal=50, ember=30)
    assert one.theme == other.theme


def test_facets_unlike_each_other_come_before_those_near_one(table):
    found = table(zest=40, lime_wax=60, petal=60).theme.facets
    assert found.index("rose") < max(found.index(x) for x in ("lemon", "lime"))


def test_amount_shares_add_up_and_go_by_amount():
    found = amount_shares(np.array([[20.0, 10.0], [0.0, 0.0]]))
    assert found[0].sum() == pytest.approx(1.0)
    assert found[0, 0] / found[0, 1] == pytest.approx(2.0 ** (1.0 / 0.43))
    assert found[1].tolist() == [0.0, 0.0]


# stated


def test_a_stated_theme_stands(table):
    found = table(("smoke",), zest=200, ember=10).theme
    assert (found.facets, found.stated) == (("smoke",), True)


def test_a_column_of_any_row_says_what_a_formula_is_about(tmp_path):
    path = tmp_path / "water.csv"
    path.write_text(
        "material,parts,Thema\nlavender oil,50,lavender\ncoumarin,10,\nbergamot oil,20,bergamot\n", "utf-8"
    )
    found = formulas.read(path, shipped().catalogue)
    assert found.theme == ("lavender", "bergamot")
    assert any('"Thema" is read as theme' in note for note in found.notes)


def test_the_theme_of_an_accord_inside_is_its_own(tmp_path):
    (tmp_path / "inner.csv").write_text("material,parts,theme\nlavender oil,50,lavender\n", "utf-8")
    path = tmp_path / "outer.csv"
    path.write_text("material,parts\ninner.csv,50\ncoumarin,10\n", "utf-8")
    found = formulas.read(path, shipped().catalogue)
    assert found.theme == ()
    assert found.lines[0].content.theme == ("lavender",)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("lavendr", 'no facet is called "lavendr"; did you mean'),
        ("not lavender", "leave out what is refused"),
    ],
)
def test_a_theme_that_cannot_be_read_names_line_and_column(tmp_path, words, said):
    path = tmp_path / "water.csv"
    path.write_text(f"material,parts,theme\ncoumarin,10,\nlavender oil,50,{words}\n", "utf-8")
    with pytest.raises(BadTable) as caught:
        formulas.read(path, shipped().catalogue)
    assert (caught.value.line, caught.value.column) == (3, "theme")
    assert said.split(";")[0] in str(caught.value)


def test_file_formula_file_is_the_identity_with_a_theme(tmp_path):
    found = formulas.with_theme(formulas.of_pairs("water", ROSE.items(), shipped().catalogue), "rose, clove",
                                shipped().catalogue)  # fmt: skip
    rows = formulas.rows(found)
    path = tmp_path / "water.csv"
    lines = [",".join(formulas.columns(found))]
    lines += [",".join(f'"{row[name]}"' for name in formulas.columns(found)) for row in rows]
    path.write_text("\n".join(lines) + "\n", "utf-8")
    assert formulas.read(path, shipped().catalogue) == found
    assert "theme" not in formulas.columns(formulas.of_pairs("x", ROSE.items(), shipped().catalogue))


def test_a_word_for_several_facets_is_said_in_a_note_and_an_unknown_one_is_refused():
    found = r.drydown(ROSE, theme="almond")
    assert found["theme"]["stated"]
    assert len(found["theme"]["facets"]) > 1
    assert any(note.startswith('Theme: "almond" is taken as') for note in found.notes)
    with pytest.raises(UnknownFacet):
        r.drydown(ROSE, theme="qqqq")
    with pytest.raises(BadValue, match="a theme is what it smells of"):
        r.trim(ROSE, theme="no rose")


def test_a_table_of_lines_may_state_its_theme():
    import pandas as pd

    frame = pd.DataFrame({"material": ["coumarin", "vanillin"], "parts": [1, 1], "theme": [None, "hay"]})
    assert r.drydown(frame)["theme"] == {"facets": ["hay"], "stated": True}


@pytest.mark.parametrize(
    "words",
    [
        ["extend", "FILE", "--facet", "rose"],
        ["vary", "FILE", "--toward", "smoke"],
        ["replace", "geraniol", "--in", "FILE"],
    ],
)
def test_suggestions_in_a_formula_say_by_which_theme(tmp_path, words):
    path = tmp_path / "rose.csv"
    path.write_text("material,parts\n" + "".join(f"{a},{b}\n" for a, b in ROSE.items()), "utf-8")
    words = [str(path) if word == "FILE" else word for word in words]
    inferred = run(*words, "--top", "1", "--format", "json").json
    assert inferred["query"]["theme"] == {"facets": ["rose"], "stated": False}
    stated = run(*words, "--top", "1", "--theme", "clove", "--theme", "violet", "--format", "json").json
    assert stated["query"]["theme"] == {"facets": ["clove", "violet"], "stated": True}
    assert "Theme: rose (inferred)" in run(*words, "--top", "1").out


def test_a_single_material_has_no_theme():
    done = run("extend", "coumarin", "--facet", "hay", "--theme", "hay")
    assert done.status == 2
    assert "it is what a formula is about" in done.err


def test_drydown_trim_and_compare_show_the_theme(tmp_path):
    path = tmp_path / "rose.csv"
    path.write_text("material,parts\n" + "".join(f"{a},{b}\n" for a, b in ROSE.items()), "utf-8")
    assert "Theme: rose (inferred)" in run("drydown", str(path)).out
    assert run("trim", str(path), "--theme", "clove", "--format", "json").json["theme"] == {
        "facets": ["clove"],
        "stated": True,
    }
    found = run("compare", str(path), str(path), "--theme", "rose", "--format", "json").json
    assert found["themes"] == [{"facets": ["rose"], "stated": True}] * 2
    json.dumps(found)


# saved


def test_a_version_keeps_its_theme_and_another_theme_is_another_version(tmp_path):
    catalogue = shipped().catalogue
    plain = formulas.of_pairs("posy", ROSE.items(), catalogue)
    path = tmp_path / "notebook.sqlite"
    with writing(path) as db:
        first = saved.save(db, plain, "2026-01-01T00:00:00")[-1]
        themed = formulas.with_theme(plain, "rose", catalogue)
        second = saved.save(db, themed, "2026-01-02T00:00:00")[-1]
        again = saved.save(db, themed, "2026-01-03T00:00:00")[-1]
    assert (first.number, second.number, again.number, again.new) == (1, 2, 2, False)
    with reading(path) as db:
        assert saved.formula_of(db, first, catalogue).theme == ()
        assert saved.formula_of(db, second, catalogue).theme == ("rose",)
    mine = r.open(path)
    assert mine.drydown("posy@2")["theme"] == {"facets": ["rose"], "stated": True}
    assert mine.formulas.save("posy@2", "posy", theme="clove")[-1].number == 3
    exported = tmp_path / "out.csv"
    assert run("formulas", "export", "posy@2", str(exported), "--notebook", str(path)).status == 0
    assert formulas.read(exported, catalogue).theme == ("rose",)


# gaps


def test_a_side_label_makes_no_gap_unless_it_is_the_theme(table):
    dies = {"zest": 300, "ember": 700}
    assert [gap.facet for gap in table(**dies).gaps] == ["lemon"]
    found = table(("rose",), **dies).gaps
    assert [(gap.facet, gap.of_theme) for gap in found] == [("rose", True), ("lemon", False)]


def test_what_a_line_that_is_not_heard_leads_with_makes_no_gap(table):
    assert [gap.facet for gap in gaps(table(zest=300, petal=0.01, ember=700).course)] == ["lemon"]


def test_the_theme_is_what_extend_keeps_alive_first():
    found = r.extend(LAVENDER_WATER, theme="citrus", top=1)
    assert found["query"]["facets"] == ["citrus"]
    assert any("the one of the theme that is missed most" in note for note in found.notes)
    assert "Also fading: bergamot, lavender." in found.notes


def test_where_nothing_keeps_the_theme_alive_the_next_gap_is_taken(palette_of):
    world = palette_of(
        {
            "zest": ({"lemon": 3}, 1.0, 100.0),
            "bud": ({"rose": 3}, 2.0, 60.0),
            "ember": ({"smoke": 3}, 500.0, 0.1),
            "petal": ({"rose": 3}, 200.0, 0.5),
        }
    )
    lines = [Line(world.catalogue.by_slug(s), n) for s, n in (("zest", 200), ("bud", 200), ("ember", 600))]
    formula = Formula("toy", tuple(lines), theme=("lemon",))
    found = extend(formula, Request(), world)
    assert found.query["facets"] == ["rose"]
    assert found.suggestions[0].material.slug == "petal"
    assert "No carrier was found for lemon; rose is taken instead." in found.notes


@pytest.mark.parametrize(("until_hours", "wanted"), [(None, "lemon"), (200.0, "vanilla")])
def test_a_gap_of_the_theme_after_the_base_comes_last_unless_its_hour_is_asked_for(
    palette_of, until_hours, wanted
):
    world = palette_of(
        {
            "zest": ({"lemon": 3}, 1.0, 100.0),
            "pod": ({"vanilla": 3}, 200.0, 2.0),
            "ember": ({"smoke": 3}, 500.0, 0.1),
        }
    )
    lines = [Line(world.catalogue.by_slug(s), n) for s, n in (("zest", 100), ("pod", 100), ("ember", 800))]
    late = FormulaDrydown(Formula("toy", tuple(lines), theme=("vanilla",)), world)
    assert [(gap.facet, gap.of_theme, gap.hours > 72.0) for gap in late.gaps] == [
        ("vanilla", True, True),
        ("lemon", False, False),
    ]
    target = target_of(Request(until_hours=until_hours), late, None)
    assert list(target.facets) == [wanted]
    named = "the one missed most of those that die within 3 days" in target.notes[0]
    assert named == (wanted == "lemon")


# what sticks out


def test_a_loud_facet_outside_the_theme_is_named_with_its_line(table):
    (loud,) = table(("rose",), petal=20, ember=900, zest=0.001).sticks_out
    assert (loud.facet, loud.material.slug) == ("smoke", "ember")
    assert loud.hours_to >= 3.0 * loud.hours_from
    assert loud.strength > 6.0


def test_what_is_near_the_theme_or_comes_once_it_fades_does_not_stick_out(table):
    assert table(("lemon",), zest=20, lime_wax=900).sticks_out == []  # lime is near lemon
    assert table(petal=500, ember=100).sticks_out == []
    assert r.drydown(LAVENDER_WATER)["sticks_out"] == []


def test_a_formula_about_nothing_that_it_shows_has_nothing_sticking_out(table):
    assert table(("vanilla",), petal=500).sticks_out == []


def test_figures_of_the_theme_do_not_hang_on_the_order_of_lines():
    back = dict(reversed(list(LAVENDER_WATER.items())))
    one, other = r.trim(LAVENDER_WATER), r.trim(back)
    assert one["theme"] == other["theme"]
    for a, b in zip(one, other, strict=True):
        assert a["name"] == b["name"]
        assert a["redundant"] == b["redundant"]
        assert math.isclose(a["share_of_theme"], b["share_of_theme"], rel_tol=1e-2, abs_tol=1e-3)


def test_trim_keeps_what_carries_the_theme_and_finds_what_idles():
    rows = {row["name"]: row for row in r.trim(LAVENDER_WATER)}
    assert rows["lavender oil"]["does"] == "carries lavender"
    assert not any(rows[name]["redundant"] for name in ("lavender oil", "linalyl acetate", "bergamot oil"))
    assert rows["citronellol"]["redundant"]
    rose = {row["name"]: row for row in r.trim(ROSE)}
    assert not any(rose[name]["redundant"] for name in ("phenethyl alcohol", "citronellol", "geraniol"))
