"""The bench of an invented studio, from its spreadsheet to a saved formula, by the command line alone."""

import pytest
from command_line import run

import recommender as r


def test_a_studio_finds_its_own_way(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    read = run("shelf", "import", "data/demo/shelf.xlsx", "--format", "json").json
    assert len(read["rows"]) == 40
    loose = [r for r in read["rows"] if r["done"] == "added, not resolved"]
    assert [r["label"] for r in loose] == ["Plum accord from school"]
    assert run("materials", "import", "data/demo/own_materials.csv").status == 0
    assert run("shelf", "resolve", "Plum accord from school", "studio plum base").status == 0

    nose = ["--smells", "raspberry 3, hay 2", "--not", "violet"]
    assert run("nose", "add", "violet heart no. 2", *nose).status == 0
    violet = run("vary", "vanillin", "--toward", "violet", "--format", "json").json
    assert "alpha-ionone" not in {s["name"] for s in violet["suggestions"]}
    berry = run("vary", "vanillin", "--toward", "raspberry", "--shelf", "--format", "json").json
    assert "alpha-ionone" in {s["name"] for s in berry["suggestions"]}
    assert {b["label"] for s in berry["suggestions"] for b in s["bottles"]} >= {"Violet heart no. 2"}

    assert run("formulas", "save", "data/demo/morello.csv", "--note", "as first weighed").status == 0
    kept = run("extend", "morello", "--facet", "bitter almond", "--shelf", "--format", "json").json
    assert kept["suggestions"]
    shelf = {r["material"] for r in run("shelf", "list", "--format", "json").json}
    assert {s["name"] for s in kept["suggestions"]} <= shelf
    first = kept["suggestions"][0]
    assert first["bottles"][0]["cost_per_kg"] is not None
    assert run("shelf", "cost", "morello", "--batch", "50g", "--format", "json").json["total"] > 0

    # the strip of the first version, smelled over a day, says what the second one needs
    readings = [
        ("0", "whole strong, cherry strong"),
        ("1h", "almond clear"),
        ("8h", "almond gone, whole clear"),
        ("24h", "whole clear, smoke too strong (like a cold stove)"),
    ]
    at = [word for hour, told in readings for word in ("--at", hour, told)]
    assert run("trials", "add", "morello@1", "--batch", "10", "--room", "21", *at).status == 0
    asked = run("trials", "next", "morello", "--shelf", "--accept", "1,2", "--save", "--format", "json")
    following = asked.json
    cut, carrier = following["changes"][:2]
    assert (cut["kind"], cut["figures"]["facet"], cut["figures"]["factor"]) == ("cut", "smoke", 0.5)
    assert carrier["kind"] in ("carrier", "relay")
    assert {move["name"] for move in carrier["moves"]} <= shelf
    assert "almond was clear at 60 min and gone at 8 h" in carrier["reason"]
    assert following["accepted"] == [1, 2]
    assert following["saved"] == "morello@2"
    assert {look["hours"] for look in following["plan"]} >= {0, 1, 8, 24}
    moved = run("formulas", "diff", "morello", "--format", "json").json
    assert moved["formulas"] == ["morello@1", "morello@2"]
    assert {row["name"] for row in moved["moved"]} == {
        move["name"] for change in (cut, carrier) for move in change["moves"]
    }
    checked = run("check", "morello@2", "--dosage", "15", "--category", "4", "--format", "json")
    assert {move["name"] for move in carrier["moves"]} <= {row["name"] for row in checked.json["rows"]}
    weighed = run("weigh", "morello@2", "--batch", "10g", "--resolution", "0.01g", "--format", "json").json
    assert {move["name"] for move in carrier["moves"]} <= {row["name"] for row in weighed["rows"]}


def test_python_asks_a_notebook_only_where_one_is_named(tmp_path, monkeypatch):
    path = str(tmp_path / "notebook.sqlite")
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", path)
    run("shelf", "import", "data/demo/shelf.xlsx")
    run("nose", "add", "alpha-ionone", "--smells", "raspberry 3", "--not", "violet")

    def names(**more):
        return {s["name"] for s in r.vary("vanillin", "violet", **more).to_dict()["suggestions"]}

    assert "alpha-ionone" in names()
    assert "alpha-ionone" not in names(notebook=path)
    found = r.extend("benzaldehyde", facet="almond", notebook=path, shelf=True, max_price=1.0).to_dict()
    assert found["suggestions"]
    assert all(s["bottles"][0]["price_per_g_neat"] <= 1.0 for s in found["suggestions"])
    with pytest.raises(r.BadValue, match=r"^shelf: no bottle"):
        r.extend("benzaldehyde", facet="almond", shelf=True)
