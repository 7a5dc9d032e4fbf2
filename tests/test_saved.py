import json

import pytest
from command_line import run

from recommender.errors import BadValue
from recommender.formulas import formula
from recommender.model import Formula, Line
from recommender.notebook import formulas as kept
from recommender.notebook import store

WHEN = "2025-09-01T10:00:00"


@pytest.fixture
def studio(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    return tmp_path


def write(path, text):
    path.write_text(f"material,parts,dilution_percent,solvent,note\n{text}", encoding="utf-8")
    return str(path)


def test_a_saved_formula_comes_back_as_it_was(shipped, tmp_path):
    write(tmp_path / "base.csv", "vanillin,3,7,,\nHHCB,5,,,soft\n")
    file = write(tmp_path / "whole.csv", "base.csv,10,50,ethanol,\ncoumarin,0.1,10,,=hay\n")
    read = formula.read(file, shipped)
    with store.writing(tmp_path / "n.sqlite") as db:
        saved = kept.save(db, read, WHEN, "first")
        assert [s.title for s in saved] == ["base@1", "whole@1"]
        assert kept.formula_of(db, saved[-1], shipped) == read


def test_versions_are_counted_and_the_same_is_not_saved_twice(shipped, tmp_path):
    one = Formula("Fig", (Line(shipped.find("coumarin"), 1.0),))
    two = Formula("fig", (Line(shipped.find("coumarin"), 2.0),))
    with store.writing(tmp_path / "n.sqlite") as db:
        assert kept.save(db, one, WHEN)[-1].new
        assert not kept.save(db, one, WHEN)[-1].new
        assert kept.save(db, two, WHEN)[-1].number == 2
        assert kept.save(db, one, WHEN)[-1].number == 3  # back to the first is a step as well
        found = kept.find(db, "FIG@2")
        assert found is not None
        assert kept.formula_of(db, found, shipped).lines == two.lines
        assert kept.find(db, "pear") is None
        with pytest.raises(BadValue, match="versions 1 to 3"):
            kept.find(db, "fig@9")


def test_an_accord_stays_in_the_version_that_it_had(shipped, tmp_path):
    base = write(tmp_path / "base.csv", "vanillin,3,,,\n")
    whole = write(tmp_path / "whole.csv", "base.csv,10,,,\nHHCB,1,,,\n")
    with store.writing(tmp_path / "n.sqlite") as db:
        kept.save(db, formula.read(whole, shipped), WHEN)
        write(tmp_path / "base.csv", "vanillin,30,,,\ncoumarin,1,,,\n")
        assert kept.save(db, formula.read(base, shipped), WHEN)[-1].title == "base@2"
        first = kept.find(db, "whole@1")
        assert first is not None
        inner = kept.formula_of(db, first, shipped).lines[0].content
        assert isinstance(inner, Formula)
        assert len(inner.lines) == 1


@pytest.mark.parametrize("name", ["", "a@2", "a/b", "x" * 90, "coumarin"])
def test_a_name_that_could_not_be_found_again_is_refused(shipped, name):
    with pytest.raises(BadValue, match="name"):
        kept.check_name(name, shipped)


def test_every_verb_takes_a_saved_formula(studio):
    file = "data/demo/morello.csv"
    assert run("formulas", "save", file).status == 0
    assert (
        run("formulas", "save", "data/demo/morello_mended.csv", "--as", "morello", "--note", "held").status
        == 0
    )
    for words in (
        ["drydown", "{}"],
        ["trim", "{}"],
        ["extend", "{}", "--top", "2"],
        ["extend", "benzaldehyde", "--in", "{}", "--top", "2"],
        ["replace", "benzaldehyde", "--in", "{}", "--top", "2"],
        ["vary", "{}", "--toward", "smoke", "--top", "2"],
        ["check", "{}", "--dosage", "2", "--category", "9"],
        ["weigh", "{}", "--batch", "50g"],
        ["shelf", "cost", "{}"],
    ):
        by_file = run(*[word.format(file) for word in words], "--format", "json")
        by_name = run(*[word.format("Morello@1") for word in words], "--format", "json")
        assert by_name.status == by_file.status, words
        one, other = json.loads(by_name.out.replace("morello@1", "morello")), by_file.json
        told = "Dilutions without a solvent are taken as in dipropylene glycol."
        assert one | {"notes": None} == other | {"notes": None}, words
        assert one["notes"] == [note for note in other["notes"] if note != told]  # a saved one names it
    sides = run("compare", "morello@1", "morello", "--format", "json")
    assert sides.status == 0
    assert run("compare", "morello", "data/demo/morello_mended.csv").status == 0
    assert run("drydown", "morelo").status == 2


def test_a_file_wins_and_it_is_said(studio, monkeypatch):
    monkeypatch.chdir(studio)
    write(studio / "fig.csv", "coumarin,1,,,\nvanillin,1,,,\n")
    run("formulas", "save", "fig.csv")
    write(studio / "fig", "HHCB,1,,,\ncoumarin,1,,,\n")
    done = run("drydown", "fig", "--format", "json")
    assert any("the file is taken" in note for note in done.json["notes"])
    assert "clean musk" in done.json["facets"]


def test_versions_are_listed_shown_and_exported(studio):
    run("formulas", "save", "data/demo/morello.csv")
    run("formulas", "save", "data/demo/morello_mended.csv", "--as", "morello", "--note", "held")
    assert [r["version"] for r in run("formulas", "list", "--format", "json").json] == [2]
    assert [r["note"] for r in run("formulas", "list", "morello", "--format", "json").json] == [None, "held"]
    shown = run("formulas", "show", "morello@1", "--format", "json").json
    assert len(shown["lines"]) == 12
    out = studio / "out.csv"
    assert run("formulas", "export", "morello@1", str(out)).status == 0
    again = run("formulas", "save", str(out), "--as", "morello", "--format", "json").json
    assert again["saved"][-1]["version"] == 3
    assert run("formulas", "export", "morello", str(out)).status == 2
    assert "morello" in run("formulas", "show", "morelo").err
    same = run("formulas", "save", "morello", "--format", "json").json
    assert same["saved"][-1]["new"] is False


def test_accords_are_exported_beside(studio):
    write(studio / "base.csv", "vanillin,3,,,\n")
    run("formulas", "save", write(studio / "whole.csv", "base.csv,10,,,\nHHCB,1,,,\n"))
    (studio / "out").mkdir()
    assert run("formulas", "export", "whole", str(studio / "out" / "whole.csv")).status == 0
    assert sorted(f.name for f in (studio / "out").iterdir()) == ["base.csv", "whole.csv"]
    again = run("formulas", "save", str(studio / "out" / "whole.csv"), "--format", "json").json
    assert [s["new"] for s in again["saved"]] == [False, False]


def test_a_material_that_is_no_longer_known_is_told(studio):
    run("materials", "add", "studio kernel", "--smells", "bitter almond 3")
    run("formulas", "save", write(studio / "f.csv", "studio kernel,1,,,\ncoumarin,1,,,\n"))
    run("materials", "remove", "studio kernel")
    done = run("drydown", "f")
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert "no longer known" in done.err


def test_a_line_of_a_file_may_name_a_saved_formula_and_its_version(studio):
    base = write(studio / "rain.csv", "vanillin,3\nHHCB,5\n")
    assert run("formulas", "save", base, "--as", "Rain on stone").status == 0
    write(studio / "rain.csv", "vanillin,3\nHHCB,9\n")
    assert run("formulas", "save", base, "--as", "Rain on stone").status == 0
    whole = write(studio / "whole.csv", "rain on stone,8\nRain on stone@1,8\ncoumarin,4\n")
    assert run("formulas", "save", whole).status == 0
    listed = json.loads(run("formulas", "list", "--format", "json").out)
    assert {row["name"]: row["version"] for row in listed} == {"Rain on stone": 2, "whole": 1}
    shown = json.loads(run("formulas", "show", "whole", "--format", "json").out)
    assert [line["material"] for line in shown["lines"]] == ["Rain on stone", "Rain on stone", "coumarin"]
    wrong = write(studio / "wrong.csv", "Rain on stone@7,8\n")
    done = run("drydown", wrong)
    assert done.status == 2
    assert "wrong.csv, line 2, column material: it has versions 1 to 2" in done.err
