"""The bench of an invented studio, from its spreadsheet to a saved formula, by the command line alone."""

from command_line import run


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
