import math

import pytest
from command_line import run

from recommender.chemistry.structure import Estimate, estimate
from recommender.errors import BadTable
from recommender.evidence.overlay import Overlay, OwnMaterial
from recommender.model import Label, Limit
from recommender.notebook import limits
from recommender.palette import Palette, material_of, with_overlay

USER_ROSE = (Label("rose", 3, "user"),)


@pytest.fixture
def studio(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    return tmp_path


def liquids(shipped):
    return [
        (m.smiles, m.parts[0].pressure_pa)
        for m in shipped.materials
        if m.kind == "molecule" and m.smiles and m.parts
    ]


# vapour pressures at 25 C of 1-octanol, acetophenone and anisole: memory
@pytest.mark.parametrize(("cas", "pressure"), [("111-87-5", 10.6), ("98-86-2", 53.0), ("100-66-3", 472.0)])
def test_a_pressure_from_a_tabled_boiling_point_is_near_the_measured_one(shipped, cas, pressure):
    pytest.importorskip("thermo")
    found = estimate(cas, "", liquids(shipped))
    assert found.pressure_pa is not None
    assert abs(math.log10(found.pressure_pa / pressure)) < 0.5
    assert found.log_error == 0.35


def test_a_molecule_that_no_table_has_gets_a_pressure_of_its_family(shipped):
    pytest.importorskip("sklearn")
    found = estimate("", "CCC(=O)OCCC(C)CCCC(C)C", liquids(shipped))  # a propionate of fourteen carbons
    assert found.source == "structure-model"
    assert found.pressure_pa is not None
    assert 0.1 < found.pressure_pa < 20
    assert found.log_error is not None
    assert found.log_error > 0.35


def test_without_structure_nothing_is_made_up():
    assert estimate("", "", []) == Estimate(notes=estimate("", "", []).notes)
    assert "stay unknown" in estimate("", "", []).notes[0]


def test_without_rdkit_the_unknown_figures_are_named(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "rdkit", None)
    found = estimate("", "CCO", [])
    assert (found.smiles, found.pressure_pa) == ("CCO", None)
    assert "recommender[tables]" in found.notes[0]


def test_an_own_material_is_placed_and_smelled(palette):
    mine = OwnMaterial(
        *("own-rose", "my rose", "", "molecule", "liquid", "", 150.0, 1.0, "user", "", 0.35),
        *("strong", "user"),
        labels=USER_ROSE,
    )
    laid = with_overlay(palette, Overlay((mine,)))
    found = laid.catalogue.find("My  Rose")
    assert found.label_basis == "user"
    assert found.lasting is not None
    assert found.strength is not None
    assert found.curve is not None
    assert found.curve.basis == "user"
    row = laid.catalogue.index["own-rose"]
    assert laid.space.likeness(laid.catalogue.index["zest"])[row] != 0
    assert len(laid.catalogue.materials) == len(palette.catalogue.materials) + 1


def test_what_is_unknown_of_an_own_material_stays_unknown(palette):
    found = material_of(OwnMaterial("own-x", "x", labels=USER_ROSE), palette.catalogue.parameters)
    assert (found.lasting, found.strength, found.parts) == (None, None, ())


def test_own_materials_are_offered_listed_and_taken_away(studio):
    words = [
        "--smells",
        "bitter almond 3, marzipan 2",
        "--smiles",
        "CCCCOC(=O)c1ccccc1",
        "--strength",
        "strong",
    ]
    assert run("materials", "add", "studio kernel", *words).status == 0
    found = run("extend", "benzaldehyde", "--facet", "almond", "--top", "40", "--format", "json").json
    assert "studio kernel" in {s["name"] for s in found["suggestions"]}
    card = run("material", "studio kernel", "--format", "json").json
    assert {x["basis"] for x in card["labels"]} == {"user"}
    assert card["figures"]["vapour_pressure"][0]["basis"] == "estimated"
    listed = run("materials", "bitter almond", "--format", "csv").out
    assert "studio kernel" in listed
    (studio / "f.csv").write_text("material,parts\nstudio kernel,5\ncoumarin,5\n", encoding="utf-8")
    assert run("drydown", str(studio / "f.csv")).status == 0
    assert run("materials", "remove", "studio kernel").status == 0
    assert run("material", "studio kernel").status == 2


KERNEL = (
    "materials",
    "add",
    "studio kernel",
    "--smells",
    "bitter almond 3, marzipan 2",
    "--strength",
    "strong",
)


@pytest.mark.parametrize(
    "words",
    [
        "material OWN",
        "extend OWN --facet almond",
        "extend FILE --facet almond",
        "extend OWN --in FILE --facet almond",
        "replace OWN",
        "replace OWN --in FILE",
        "replace coumarin --why-not OWN",
        "vary OWN --toward rose",
        "vary FILE --toward rose",
        "dose OWN coumarin",
        "strips OWN coumarin",
        "drydown FILE",
        "compare FILE FILE",
        "trim FILE",
        "check FILE --dosage 15",
        "weigh FILE --batch 20g",
        "formulas save FILE",
        "shelf add OWN",
        "nose add OWN --strength weaker",
    ],
)
def test_every_command_knows_an_own_material(studio, words):
    assert run(*KERNEL, "--smiles", "CCCCOC(=O)c1ccccc1").status == 0
    file = studio / "f.csv"
    file.write_text("material,parts\nstudio kernel,50\ncoumarin,50\n", encoding="utf-8")
    own = {"OWN": "studio kernel", "FILE": str(file)}
    done = run(*(own.get(word, word) for word in words.split()))
    assert done.status in (0, 1), done.err


@pytest.mark.parametrize("command", ["drydown", "trim", "extend --facet almond"])
@pytest.mark.parametrize("change", [None, ("nose", "add", "studio kernel", "--strength", "weaker")])
def test_an_own_material_without_a_pressure_is_still_in_the_formula(studio, command, change):
    assert run(*KERNEL).status == 0
    assert change is None or run(*change).status == 0
    (studio / "f.csv").write_text("material,parts\nstudio kernel,50\ncoumarin,50\n", encoding="utf-8")
    verb, *options = command.split()
    assert run(verb, str(studio / "f.csv"), *options).status in (0, 1)
    (studio / "f.csv").write_text("material,parts\nstudio kernel,50\n", encoding="utf-8")
    done = run(verb, str(studio / "f.csv"), *options)
    assert done.status == 2
    assert len(done.err.splitlines()) == 1
    assert "studio kernel: how it evaporates is not known" in done.err


def test_a_listing_is_still_a_listing(studio):
    assert (
        run("materials", "hay", "--format", "csv").out
        == run("materials", "list", "hay", "--format", "csv").out
    )
    assert run("materials", "--format", "csv").out.startswith("name,cas,cas_all,kind,role,prohibited,")
    assert run("limits", "coumarin").out == run("limits", "list", "coumarin").out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["coumarin", "--smells", "rose 3"], "recommender nose add"),
        (["mine", "--cas", "91-64-5", "--smells", "rose 3"], "it is in the table as coumarin"),
        (["mine", "--cas", "91-64-6", "--smells", "rose 3"], "check digit"),
        (["mine", "--smiles", "C(((", "--smells", "rose 3"], "not a structure"),
        (["mine", "--smells", "almond 3"], "bitter almond"),
        (["mine", "--smells", "rose 3", "--pressure", "-4"], "--pressure"),
        (["100-52-7", "--smells", "rose 3"], "NAME"),
    ],
)
def test_a_material_that_cannot_be_added_is_one_line(studio, words, told):
    done = run("materials", "add", *words)
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert told in done.err
    assert not (studio / "notebook.sqlite").exists()


def test_a_table_of_materials_is_read_whole_or_not_at_all(studio):
    file = studio / "m.csv"
    file.write_text("name,smells\nplum base,plum 3\nfog,blorb 2\n", encoding="utf-8")
    done = run("materials", "import", str(file))
    assert done.status == 2
    assert "m.csv, line 3, column smells" in done.err
    assert run("material", "plum base").status == 2
    assert run("materials", "import", "data/demo/own_materials.csv", "--dry-run").status == 0
    assert run("material", "studio plum base").status == 2
    assert run("materials", "import", "data/demo/own_materials.csv").status == 0
    assert run("material", "studio plum base").status == 0


def limit(kind="restriction", market="standards", cas=("50-00-0",), basis="published", **percent):
    numbers = {category.removeprefix("c"): value for category, value in percent.items()}
    return Limit("x", cas, (), kind, market, basis, "toy-2020", percent=numbers)


def test_own_limits_count_category_by_category(catalogue_of, material):
    table = [
        limit(c4=1.0, c9=2.0),
        limit(market="eu", c4=3.0),
        limit(kind="prohibition"),
        limit(cas=("64-17-5",), c4=9.0),
    ]
    palette = Palette.of(catalogue_of([material("a", {"lemon": 3})], limits=table))
    typed = limit(basis="user", c4=0.5)
    found = with_overlay(palette, Overlay(limits=(typed,), limits_from="mine")).catalogue
    assert [dict(x.percent) for x in found.limits] == [{"9": 2.0}, {"4": 3.0}, {}, {"4": 9.0}, {"4": 0.5}]
    assert found.sources["own-limits"] == "mine"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name,cas,cat_4\nx,50-00-1,1\n", "line 2, column cas: 50-00-1 is mistyped"),
        ("name,cas,cat_4\nx,50-00-0,0\n", "line 2, column cat_4: 0 is not a limit"),
        ("name,cas,cat_4\nx,50-00-0,101\n", "not a limit"),
        ("name,cas,cat_4\nx,50-00-0,\n", "no limit is typed"),
        ("name,cas,cat_4\n,50-00-0,1\n", "the name of the substance is missing"),
        ("name,cas,cat_4,kind\nx,50-00-0,1,ban\n", '"ban" is not one of'),
        ("name,cas,cat_4\nx,50-00-0,1\ny,50-00-0,2\n", "is in line 2 too"),
        ("name,cas,cat_4,market\nx,50-00-0,1,moon\n", '"moon" is not one of'),
    ],
)
def test_a_table_of_limits_that_cannot_be_names_the_cell(tmp_path, text, told):
    file = tmp_path / "l.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadTable, match=told):
        limits.read(file)


def test_own_limits_are_used_at_once_and_older_tables_stay(studio):
    file = studio / "l.csv"
    file.write_text("name;cas;cat_5a;4\ncinnamic alcohol;104-54-1;0,3;0,01\n", encoding="utf-8")
    done = run("limits", "import", str(file), "--format", "json")
    assert done.json["rows"][0]["changed"] == [
        {"category": "4", "before": 1.2, "after": 0.01},
        {"category": "5A", "before": 0.32, "after": 0.3},
    ]
    (studio / "f.csv").write_text("material,parts\ncinnamyl alcohol,5\nambroxide,95\n", encoding="utf-8")
    check = ["check", str(studio / "f.csv"), "--dosage", "10", "--category", "4", "--format", "json"]
    found = run(*check)
    assert found.status == 1
    (row,) = [r for r in found.json["rows"] if r["cas"] == "104-54-1"]
    assert row["status"] == "above the limit held"
    assert {x["basis"] for x in row["limits"]} == {"user"}
    file.write_text("name,cas,cat_4\ncinnamic alcohol,104-54-1,5\n", encoding="utf-8")
    assert run("limits", "import", str(file)).status == 0
    assert [t["in_use"] for t in run("limits", "tables", "--format", "json").json] == [False, True]
    assert run(*check).status == 0
    assert run("limits", "use", "1").status == 0
    assert run(*check).status == 1
    assert run("limits", "use", "0").out == "limits of your own in use: 0\n"
