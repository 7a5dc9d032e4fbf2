"""Three vials around one line of a formula, from one base, under blind numbers."""

import pytest
from command_line import run

import recommender as r
from recommender.errors import BadValue
from recommender.formulas import formula as formulas
from recommender.model import Formula, Line
from recommender.palette import shipped
from recommender.weighing import WeighingRequest
from recommender.weighing.bracket import bracketed
from recommender.workspace import Workspace

MORELLO = "data/demo/morello.csv"
ACCORD = {"eugenol": 10, "phenethyl alcohol": 490, "vanillin": 20, "benzyl salicylate": 480}


@pytest.fixture(scope="module")
def sheet():
    return Workspace().weigh(ACCORD, WeighingRequest(batch_g=30.0, bracket="eugenol"))


def line_of(name="eugenol", share=100.0, **parts):
    find = shipped().catalogue.find
    lines = tuple(Line(find(n.replace("_", " ")), p) for n, p in parts.items())
    return bracketed(Formula("toy", lines), find(name), share)


def neat_parts(formula, name):
    return next(1000 * a.mass_fraction for a in formulas.amounts(formula) if a.material.name == name)


# the doses


@pytest.mark.parametrize(
    ("parts", "share", "doses"),
    # usual 1 to 40 parts of a concentrate
    [
        (10.0, 100.0, (6.7, 10.0, 20.0)),  # as it is is the first try, twice as much the high dose
        (30.0, 100.0, (13.0, 20.0, 40.0)),  # no more than usual use
        (30.0, 20.0, (20.0, 30.0, 60.0)),
        (0.1, 100.0, (0.67, 1.0, 2.0)),  # far below usual use: from its low end
        (60.0, 100.0, (20.0, 30.0, 60.0)),  # above usual use: what is there is the high dose
    ],
)
def test_three_doses_around_the_present_one_within_usual_use(parts, share, doses):
    found = line_of(share=share, eugenol=parts, phenethyl_alcohol=1000.0 - parts).doses
    assert (found.low, found.first_try, found.high) == pytest.approx(doses)


def test_a_formula_with_a_dose_keeps_all_else_as_it_is():
    found = line_of(eugenol=10.0, phenethyl_alcohol=700.0, vanillin=290.0)
    made = found.at(20.0)
    assert neat_parts(made, "eugenol") == pytest.approx(20.0)
    assert [line.parts for line in made.lines[1:]] == [700.0, 290.0]


def test_a_diluted_line_in_an_accord_gets_its_neat_dose():
    find = shipped().catalogue.find
    inner = Formula(
        "spice", (Line(find("eugenol"), 50.0, 0.1, find("ethanol")), Line(find("vanillin"), 50.0))
    )
    outer = Formula("toy", (Line(inner, 100.0), Line(find("phenethyl alcohol"), 900.0)))
    found = bracketed(outer, find("eugenol"), 100.0)
    assert (found.present, found.whole) == (pytest.approx(5.0), pytest.approx(0.05))
    assert neat_parts(found.at(8.0), "eugenol") == pytest.approx(8.0)


# the sheet


def test_the_base_is_weighed_once_and_shared_in_three(sheet):
    (base,) = sheet.sections
    assert "eugenol" not in [step.line.content.name for step in base.pours]
    assert base.exact_g == pytest.approx(30.0 * 0.99)
    assert [vial.base_g for vial in sheet.bracket.vials] == pytest.approx([9.9] * 3)


def test_each_vial_holds_its_dose(sheet):
    for vial in sheet.bracket.vials:
        neat = vial.exact_g * sheet.bracket.dilution
        assert 1000.0 * neat / (neat + vial.base_g) == pytest.approx(vial.parts, rel=1e-6)
        assert vial.grams == pytest.approx(vial.exact_g, abs=0.005001)


def test_the_solvent_of_a_dilution_is_the_same_in_all_three():
    found = Workspace().weigh(MORELLO, WeighingRequest(bracket="beta-damascone"))
    totals = [vial.exact_g + vial.fill_g for vial in found.bracket.vials]
    assert found.bracket.solvent.name == "dipropylene glycol"
    assert totals == pytest.approx([totals[-1]] * 3, abs=0.01)
    made = [step for step in found.dilutions if step.content.name == "beta-damascone"]
    assert made[-1].dilution == found.bracket.dilution


def test_numbers_have_three_digits_and_stay_with_the_formula(sheet):
    numbers = [vial.number for vial in sheet.bracket.vials]
    assert all(100 <= number <= 999 for number in numbers)
    assert sorted(sheet.bracket.order) == sorted(numbers)
    assert sheet.bracket.order not in (tuple(numbers), tuple(numbers[::-1]))
    again = Workspace().weigh(ACCORD, WeighingRequest(batch_g=6.0, bracket="eugenol")).bracket
    assert [vial.number for vial in again.vials] == numbers
    other = Workspace().weigh({**ACCORD, "eugenol": 11}, WeighingRequest(bracket="eugenol")).bracket
    assert [vial.number for vial in other.vials] != numbers


def test_the_key_comes_last_and_numbers_are_not_beside_the_doses():
    lines = run("weigh", MORELLO, "--bracket", "eugenol").out.splitlines()
    place = next(i for i, line in enumerate(lines) if "the key" in line and line.startswith("-"))
    assert len(lines) == place + 4
    (order,) = (line for line in lines if line.startswith("Smell them in this order"))
    keys = [line.split()[0] for line in lines[place + 1 :]]
    assert all(key in order for key in keys)
    weighed = [line for line in lines[:place] if line.strip().startswith(("low:", "first try:", "high:"))]
    assert len(weighed) == 3
    assert not any(key in line for key in keys for line in weighed)


# the preferred one


def test_the_preferred_vial_becomes_the_dose(sheet):
    high = sheet.bracket.vials[-1]
    made = Workspace().preferred(ACCORD, WeighingRequest(bracket="eugenol"), high.number)
    assert neat_parts(made, "eugenol") == pytest.approx(high.parts)


def test_command_and_python_give_the_same_and_the_command_saves(tmp_path, monkeypatch):
    monkeypatch.setenv("RECOMMENDER_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    key = r.weigh(MORELLO, bracket="eugenol")["bracket"]["key"]
    low = next(number for number, dose in key.items() if dose == "low")
    words = ["weigh", MORELLO, "--bracket", "eugenol", "--preferred", low]
    shown = run(*words, "--format", "json").json
    assert shown == r.preferred(MORELLO, "eugenol", int(low)).to_dict()
    assert run(*words, "--save", "morello milder").err.endswith("morello milder@1 saved\n")
    saved = r.open(tmp_path / "notebook.sqlite").workspace.formula("morello milder")
    assert neat_parts(saved, "eugenol") == pytest.approx(7.0, rel=0.01)


def test_the_formula_that_is_printed_states_its_theme(tmp_path):
    path = tmp_path / "accord.csv"
    path.write_text("material,parts,theme\neugenol,10,clove\nlinalool,90,\n", encoding="utf-8")
    key = r.weigh(str(path), bracket="eugenol")["bracket"]["key"]
    words = ["weigh", str(path), "--bracket", "eugenol", "--preferred", next(iter(key)), "--format", "csv"]
    lines = run(*words).out.splitlines()
    assert lines[0].endswith(",theme")
    assert lines[1].endswith(",clove")


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["--bracket", "coumarin"], "it is not in morello"),
        (["--bracket", "eugenol", "--preferred", "1"], "it is one of"),
        (["--preferred", "418"], "--bracket"),
        (["--save", "x"], "--preferred"),
        (["--bracket", "eugenol", "--dosage", "15"], "leave --dosage out"),
        (["--bracket", "eugenl"], "eugenol"),
    ],
)
def test_what_cannot_be_done_is_one_line_with_a_way_out(words, line):
    done = run("weigh", MORELLO, *words)
    assert (done.status, done.out, done.err.count("\n")) == (2, "", 1)
    assert line in done.err


def test_a_solvent_or_the_only_material_is_no_line_to_bracket():
    with pytest.raises(BadValue, match="it is a solvent"):
        line_of("ethanol", eugenol=10.0, ethanol=90.0)
    with pytest.raises(BadValue, match="nothing else"):
        line_of("eugenol", eugenol=10.0)
