import json
import re
from datetime import date

import pytest
from command_line import run
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender import regulation
from recommender.errors import BadValue, UnknownMaterial
from recommender.evidence.catalogue import load
from recommender.formulas.formula import amounts
from recommender.model import Amount, Category, Content, Formula, Limit, Line
from recommender.output import limits as limits_as_text
from recommender.output import product_page
from recommender.regulation import STATUSES, check

SHIPPED = load()
NAMES = (
    "coumarin",
    "tonka-bean-absolute",
    "bergamot-oil",
    "lemon-oil",
    "isoeugenol",
    "alpha-damascone",
    "rose-oil",
)
BOTTLES = [SHIPPED.by_slug(slug) for slug in NAMES]
PARTS = st.lists(st.floats(0.01, 1000), min_size=len(BOTTLES), max_size=len(BOTTLES))


def percents(lines, dosage=10.0):
    found = check(amounts(Formula("x", tuple(lines))), SHIPPED, dosage, "4")
    return {row.substance.key: row.percent for row in found.rows}


@settings(deadline=None, max_examples=30)
@given(PARTS, st.floats(0.1, 50))
def test_the_percentage_is_linear_in_the_dosage(parts, dosage):
    lines = [Line(m, p) for m, p in zip(BOTTLES, parts, strict=True)]
    one, two = percents(lines, dosage), percents(lines, 2 * dosage)
    assert one.keys() == two.keys()
    assert all(two[key] == pytest.approx(2 * one[key]) for key in one)


@settings(deadline=None, max_examples=30)
@given(PARTS, st.integers(0, len(BOTTLES) - 1), st.floats(0.05, 0.95))
def test_splitting_a_line_in_two_changes_nothing(parts, place, share):
    lines = [Line(m, p) for m, p in zip(BOTTLES, parts, strict=True)]
    whole = lines[place]
    split = [
        *lines[:place],
        Line(whole.content, whole.parts * share),
        Line(whole.content, whole.parts * (1 - share)),
        *lines[place + 1 :],
    ]
    assert percents(split) == pytest.approx(percents(lines))


@settings(deadline=None, max_examples=30)
@given(PARTS, st.floats(0.01, 100), st.sampled_from([1.0, 0.1]))
def test_an_accord_in_a_formula_is_the_same_as_its_lines_written_out(parts, factor, dilution):
    lines = [Line(m, p) for m, p in zip(BOTTLES, parts, strict=True)]
    inner, outer = lines[:4], lines[4:]
    total = sum(line.parts for line in inner)
    solvent = SHIPPED.by_slug("dipropylene-glycol")
    nested = [
        Line(Formula("inner", tuple(inner)), total * factor, dilution, solvent if dilution < 1 else None)
    ]
    written = [Line(x.content, x.parts * factor, dilution, solvent if dilution < 1 else None) for x in inner]
    assert percents([*outer, *nested]) == pytest.approx(percents([*outer, *written]))


@pytest.fixture
def toy(material, catalogue_of):
    """Return a catalogue with limits on one substance `s`, CAS 11-11-0; a filler does not count."""

    def world(*limits, **more):
        substance, other, filler = (
            material("s", cas="11-11-0"),
            material("t", cas="22-22-0"),
            material("filler", cas="33-33-0"),
        )
        rows = [
            Limit(
                x.pop("name", "s"), x.pop("cas", ("11-11-0",)), (), x.pop("kind", "restriction"),
                x.pop("market", "standards"), x.pop("basis", "published"), "", **x,
            )
            for x in (dict(limit) for limit in limits)
        ]  # fmt: skip
        found = catalogue_of([substance, other, filler, *more.get("others", ())], limits=rows)
        categories = tuple(Category(name, "perfume", "leave-on") for name in ("4", "5A"))
        return type(found)(**{**vars_of(found), "categories": categories})

    return world


def vars_of(catalogue):
    return {name: getattr(catalogue, name) for name in catalogue.__dataclass_fields__}


def reported(catalogue, share=0.1, dosage=10.0, market="any", **shares):
    all_shares = {"s": share, **shares}
    rest = 1.0 - sum(all_shares.values())
    present = [
        Amount(catalogue.by_slug(slug), x) for slug, x in {**all_shares, "filler": rest}.items() if x > 0
    ]
    return check(present, catalogue, dosage, "4", market)


def row_of(catalogue, *arguments, **more):
    return next(r for r in reported(catalogue, *arguments, **more).rows if r.substance.key == "s")


T = ("22-22-0",)
LOW, HIGH = {"percent": {"4": 0.5}}, {"percent": {"4": 2.0}}


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ([], "no entry found"),
        ([{}], "restricted, figure to be looked up"),
        ([{"percent": {"5A": 0.1}}], "restricted, figure to be looked up"),
        ([{"percent": {"5A": 0.1}, "unlimited": ("4",)}], "entry without a limit here"),
        ([{}, {"kind": "specification"}], "restricted, figure to be looked up"),
        ([{}, HIGH], "below the limit held"),
        ([HIGH], "below the limit held"),
        ([LOW], "above the limit held"),
        ([LOW | {"basis": "memory"}], "above an unverified limit"),
        ([HIGH | {"basis": "memory"}], "below an unverified limit"),
        ([LOW | {"basis": "memory"}, HIGH], "above an unverified limit"),
        ([LOW | {"basis": "memory"}, LOW | {"market": "eu"}], "above the limit held"),
        ([HIGH | {"basis": "memory"}, {"percent": {"4": 3.0}}], "below an unverified limit"),
        ([HIGH, {"kind": "prohibition"}], "prohibited"),
        ([{"kind": "prohibition", "basis": "memory"}], "prohibited"),
        ([{"kind": "specification"}], "condition to be shown"),
        ([HIGH | {"condition": "peroxide value below 10 mmol/L"}], "condition to be shown"),
        ([LOW | {"condition": "peroxide value below 10 mmol/L"}], "above the limit held"),
        ([HIGH | {"market": "eu"}, {}], "restricted, figure to be looked up"),
        ([HIGH | {"market": "eu"}, HIGH | {"basis": "memory"}], "below an unverified limit"),
        ([HIGH | {"superseded_by": "51 (2023-06)"}], "restricted, figure to be looked up"),
        ([LOW | {"superseded_by": "51 (2023-06)"}], "above an unverified limit"),
    ],
)
def test_the_words_for_one_percent_in_the_product(toy, limits, expected):
    found = row_of(toy(*limits))
    assert found.percent == pytest.approx(1.0)
    assert found.status == expected


def test_the_words_are_fixed_and_the_most_serious_comes_first():
    assert STATUSES == (
        "prohibited",
        "above the limit held",
        "above an unverified limit",
        "restricted, figure to be looked up",
        "condition to be shown",
        "not looked up",
        "below an unverified limit",
        "below the limit held",
        "entry without a limit here",
        "no entry found",
    )
    assert STATUSES[:7] == regulation.FINDINGS


def test_at_the_limit_is_not_above_it(toy):
    assert row_of(toy({"percent": {"4": 1.0}})).status == "below the limit held"


def test_the_lowest_limit_gives_ratio_and_highest_dosage(toy):
    found = row_of(toy(HIGH, LOW))
    assert [a.percent for a in found.applied] == [0.5, 2.0]
    assert (found.ratio, found.highest) == (pytest.approx(2.0), pytest.approx(5.0))


@pytest.mark.parametrize(
    ("market", "limits", "beside"),
    [
        ("any", [0.5, 2.0], []),
        ("eu", [0.5], [2.0]),
        ("gb", [], [2.0]),
        ("standards", [2.0], []),
    ],
)
def test_the_standards_decide_only_where_they_are_asked_for(toy, market, limits, beside):
    found = row_of(toy(HIGH, LOW | {"market": "eu"}), market=market)
    assert [a.percent for a in found.applied] == limits
    assert [a.percent for a in found.beside] == beside


def test_what_is_counted_together_is_added_up(toy):
    together = toy({"cas": ("11-11-0", "22-22-0"), "percent": {"4": 1.5}})
    rows = {r.substance.key: r for r in reported(together, 0.1, t=0.1).rows}
    assert rows["s"].status == rows["t"].status == "above the limit held"
    assert rows["s"].percent == pytest.approx(1.0)
    assert rows["s"].ratio == pytest.approx(2.0 / 1.5)
    beside = toy({"percent": {"4": 1.5}, "counted_with": ("22-22-0",)})
    rows = {r.substance.key: r for r in reported(beside, 0.1, t=0.1).rows}
    assert (rows["s"].status, rows["t"].status) == ("above the limit held", "no entry found")


def test_phototoxic_oils_add_their_fractions(toy):
    photo = {"sum_group": "phototoxic", "percent": {"4": 2.0}}
    catalogue = toy(photo, photo | {"cas": ("22-22-0",), "percent": {"4": 4.0}})
    # 1.2 / 2 + 2 / 4 = 1.1, each below its own limit; the rule of the sum is from memory
    found = reported(catalogue, 0.12, t=0.2)
    (whole,) = [r for r in found.rows if r.substance.key == regulation.PHOTOTOXIC]
    assert (whole.ratio, whole.status) == (pytest.approx(1.1), "above an unverified limit")
    assert found.set_by == regulation.PHOTOTOXIC
    assert found.highest == pytest.approx(10 / 1.1)
    assert {r.status for r in found.rows if r.substance.key in "st"} == {"below the limit held"}
    assert all(r.substance.key != regulation.PHOTOTOXIC for r in reported(catalogue, 0.12).rows)


def test_what_only_a_natural_brings_is_not_called_prohibited(toy, material):
    natural = material("oil", kind="natural", contents=(Content("s", 1.0, 10.0, "memory"),))
    catalogue = toy({"kind": "prohibition"}, others=(natural,))
    found = next(r for r in reported(catalogue, 0.0, oil=0.5).rows if r.substance.key == "s")
    assert (found.status, len(found.barred)) == ("restricted, figure to be looked up", 1)
    assert found.percent == pytest.approx(10 * 0.5 * 0.1)
    mixed = reported(catalogue, 0.1, oil=0.5)
    assert next(r for r in mixed.rows if r.substance.key == "s").status == "prohibited"
    assert (mixed.highest, mixed.set_by) == (0.0, "s")


PROHIBITED_BUT = {"kind": "prohibition", "market": "eu", "excepted": ("oil",)}


@pytest.mark.parametrize(
    ("share", "shares", "status"),
    [
        (0.0, {"oil": 0.5}, "entry without a limit here"),
        (0.1, {"oil": 0.5}, "prohibited"),
        (0.0, {"oil": 0.5, "balsam": 0.1}, "restricted, figure to be looked up"),
    ],
)
def test_a_prohibition_may_allow_what_a_natural_contains(toy, material, share, shares, status):
    # Annex II/358: furocoumarins, except the normal content of natural essences
    inside = (Content("s", 0.5, 1.0, "memory"),)
    naturals = tuple(material(name, kind="natural", contents=inside) for name in ("oil", "balsam"))
    assert row_of(toy(PROHIBITED_BUT, others=naturals), share, **shares).status == status


def test_an_unknown_share_that_a_prohibition_allows_decides_nothing(toy, material):
    natural = material("oil", kind="natural", contents=(Content("s", None, None, "memory"),))
    found = reported(toy(PROHIBITED_BUT, others=(natural,)), 0.0, oil=0.5)
    assert (found.unknown, found.decision) == ((), "nothing found in this market")


def test_lemon_oil_in_a_perfume_is_to_be_shown_and_then_done(shipped):
    present = [Amount(shipped.by_slug("lemon-oil"), 0.1), Amount(shipped.by_slug("ethanol"), 0.9)]
    assert check(present, shipped, 15.0, "4", "eu").decision == "look up"
    shown = {"lemon-oil": ("furocoumarins",)}
    assert check(present, shipped, 15.0, "4", "eu", shown=shown).decision == "nothing found in this market"


def test_an_unknown_share_is_reported_and_not_counted_as_zero(toy, material):
    natural = material("oil", kind="natural", contents=(Content("s", None, None, "memory"),))
    found = reported(toy(LOW, others=(natural,)), 0.0, oil=0.5)
    assert [(u.natural, u.substance.slug, u.why) for u in found.unknown] == [("oil", "s", "limited")]
    assert all(r.substance.key != "s" for r in found.rows)
    assert found.unnamed == {"oil": 100.0}


def test_a_least_share_is_marked_as_one(toy, material):
    natural = material("oil", kind="natural", contents=(Content("s", 2.0, None, "memory"),))
    found = next(
        r for r in reported(toy(LOW, others=(natural,)), 0.0, oil=0.5).rows if r.substance.key == "s"
    )
    assert found.substance.least
    assert found.percent == pytest.approx(10 * 0.5 * 0.02)


def test_oakmoss_and_treemoss_are_counted_together(shipped):
    # Standard Treemoss extracts, 51st Amendment
    moss = [Amount(shipped.by_slug(slug), 0.006) for slug in ("oakmoss-absolute", "treemoss-absolute")]
    rest = Amount(shipped.by_slug("diethyl-phthalate"), 0.988)
    rows = {r.substance.key: r for r in check([*moss, rest], shipped, 10.0, "4").rows}
    assert rows["treemoss-absolute"].status == "above the limit held"
    resins = {"treemoss-absolute": ("resin acids",)}  # else that certificate is what has to be shown
    alone = {r.substance.key: r for r in check([moss[1], rest], shipped, 10.0, "4", shown=resins).rows}
    assert alone["treemoss-absolute"].status == "below the limit held"


# certificates


def test_a_certificate_stands_before_the_tables(shipped):
    tonka = shipped.find("tonka bean absolute")
    (content,) = [c for c in tonka.contents if c.name == "coumarin"]
    given_ = regulation.certificates(["tonka absolute: coumarin 42,  dihydrocoumarin 0.5 %"], shipped)
    found = {s.key: s for s in regulation.substances([Amount(tonka, 1.0)], shipped, given_)}
    assert found["coumarin"].fraction == pytest.approx(0.42) != content.high
    assert found["dihydrocoumarin"].fraction == pytest.approx(0.005)
    assert found["coumarin"].bases == {"certificate"}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tonka absolute", "write a natural"),
        ("tonka absolute: coumarin", "write a natural"),
        ("tonka absolute: coumarin 101", "more than there is"),
        ("tonka absolute: coumarin 60, vanillin 60", "come to 120 %"),
        ("coumarin: vanillin 3", "is not a natural"),
    ],
)
def test_a_certificate_that_cannot_be_read_is_refused(shipped, text, expected):
    with pytest.raises(BadValue, match=expected):
        regulation.certificates([text], shipped)


def test_a_certificate_names_what_is_known(shipped):
    with pytest.raises(UnknownMaterial):
        regulation.certificates(["moon oil: coumarin 3"], shipped)


def test_a_certificate_for_what_is_not_in_the_formula_is_refused(shipped):
    given_ = regulation.certificates(["tonka absolute: coumarin 60"], shipped)
    with pytest.raises(BadValue, match="not in this formula"):
        regulation.substances([Amount(shipped.find("vanillin"), 1.0)], shipped, given_)


# the command

ACCORD = """material,parts,dilution_percent
isoeugenol,4,
bergamot oil,30,
lemon oil,60,
oakmoss absolute,3,10
ethanol,900,
"""


@pytest.fixture
def accord(tmp_path):
    path = tmp_path / "accord.csv"
    path.write_text(ACCORD)
    return str(path)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["--dosage", "0"], "above 0"),
        (["--dosage", "150"], "at most 100"),
        (["--dosage", "-3"], "per cent"),
        (["--dosage", "abc"], "not a share in per cent"),
        (["--dosage", "nan"], "per cent"),
        (["--dosage", "15", "--category", "5"], "5A"),
        (["--dosage", "15", "--category", "13"], "12; 4 is fine fragrance"),
        (["--dosage", "15", "--market", "moon"], "standards"),
        (["--dosage", "15", "--content", "x"], "write a natural"),
        ([], "--dosage"),
    ],
)
def test_wrong_use_is_one_line_with_a_way_out(accord, arguments, expected):
    done = run("check", accord, *arguments)
    assert (done.status, done.out) == (2, "")
    assert expected in done.err
    assert done.err.count("\n") == 1


def test_nothing_but_solvents_is_refused(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text("material,parts\nethanol,10\n")
    done = run("check", str(path), "--dosage", "15")
    assert (done.status, "nothing but solvents" in done.err) == (2, True)


def test_a_dosage_may_be_written_as_people_write_it(accord):
    found = [
        run("check", accord, "--dosage", text, "--format", "json").json["rows"] for text in ("12.5", "12,5 %")
    ]
    assert found[0] == found[1]


@pytest.mark.parametrize("category", ["5a", "5A"])
def test_a_category_is_read_in_either_case(accord, category):
    assert (
        run("check", accord, "--dosage", "1", "--category", category, "--format", "json").json["category"]
        == "5A"
    )


def test_the_page_fits_a_narrow_terminal_and_ends_with_who_signs(accord):
    done = run("check", accord, "--dosage", "15")
    assert max(len(line) for line in done.out.splitlines()) <= 80
    assert done.out.endswith(
        "Check the current Standards and your local law; a qualified person signs off.\n"
    )
    assert done.status == 1
    places = [done.out.find(f"\n{status.upper()}") for status in STATUSES]
    found = [place for place in places if place > 0]
    assert found == sorted(found)
    assert len(found) > 3
    assert re.search(r"The entries used are from \d{4} to \d{4}", done.out)


def test_the_page_says_how_old_its_newest_figure_is(shipped):
    rest = Amount(shipped.find("ethanol"), 0.9)
    found = check([Amount(shipped.find("isoeugenol"), 0.1), rest], shipped, 10.0, "4")
    newest = max(limit.date for limit in found.entries)
    page = "\n".join(product_page.lines(found, "x", date(int(newest[:4]) + 3, 1, 1)))
    assert "3 years old" in page


def test_every_row_of_the_contract(accord):
    data = run("check", accord, "--dosage", "15", "--format", "json").json
    assert {"rows", "labels", "highest_dosage", "set_by"} <= data.keys()
    for row in data["rows"]:
        assert {"name", "cas", "percent_in_product", "status", "limits"} <= row.keys()
        assert row["status"] in STATUSES
        assert all({"percent", "basis", "source"} <= limit.keys() for limit in row["limits"])
    names = [row["name"] for row in data["rows"]]
    assert len(names) == len(set(names))
    keys = {limit["source"] for row in data["rows"] for limit in row["limits"] if limit["source"]}
    assert keys <= data["sources"].keys()


def test_the_csv_has_the_same_rows(accord):
    rows = run("check", accord, "--dosage", "15", "--format", "csv").out.splitlines()
    data = run("check", accord, "--dosage", "15", "--format", "json").json
    assert len(rows) == len(data["rows"]) + 1


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("vanillin,10", 0),
        ("cinnamyl alcohol,10", 0),
        ("coumarin,10", 1),
        ("isoeugenol,10", 1),
        ("6-methylcoumarin,10", 1),
        ("anisyl alcohol,10", 1),  # a Standard without a figure here
        ("allyl hexanoate,10", 1),  # a purity rule
    ],
)
def test_the_exit_status_tells_whether_there_are_findings(tmp_path, text, status):
    path = tmp_path / "a.csv"
    path.write_text(f"material,parts\n{text}\ndiethyl phthalate,990\n")
    assert run("check", str(path), "--dosage", "10").status == status


def test_python_gives_the_same_as_json(accord):
    import recommender

    shown = run("check", accord, "--dosage", "15", "--format", "json").json
    assert json.loads(json.dumps(recommender.check(accord, 15).to_dict())) == shown


@pytest.mark.parametrize(
    ("value", "text"), [(0.0000975, "0.0000975"), (100.0, "100"), (1e-9, "0.000000001"), (13.7712, "13.77")]
)
def test_small_percentages_have_no_exponent(value, text):
    assert product_page.percent_in_product(value) == text


# limits


def test_stale_limits_say_why_they_are_to_be_looked_up():
    rows = run("limits", "--stale", "--format", "json").json["rows"]
    assert len(rows) > 50
    assert all(row["look_up"] for row in rows)
    by_name = {(row["name"], row["market"]): row["look_up"] for row in rows}
    assert "from memory" in by_name["coumarin", "standards"]
    assert by_name["anisyl alcohol", "standards"][0] == "no figure"
    assert ("isoeugenol", "eu") not in by_name


def test_an_entry_for_the_label_alone_has_no_figure_to_look_up():
    rows = run("limits", "citral", "--format", "json").json["rows"]
    (before,) = [x for x in rows if x["market"] == "eu" and x["applies_until"]]
    assert (before["percent"], before["look_up"]) == (None, [])


def test_the_most_pressing_of_what_is_to_be_looked_up_comes_first_and_conditions_last():
    first = [row["look_up"][0] for row in run("limits", "--stale", "--format", "json").json["rows"]]
    places = [regulation.urgency([reason]) for reason in first]
    assert places == sorted(places)
    assert (first[0], first[-1]) == ("no figure", "condition to be shown")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("rose oxide", "no entry found for rose oxide or for what it contains; looked for in Annexes"),
        ("vanillin", "no limit found for vanillin, which the label has to name; looked for in Annexes"),
    ],
)
def test_a_material_without_a_limit_says_where_it_was_looked_for(name, words):
    done = run("limits", name)
    assert (done.status, words in done.err) == (1, True)
    assert "as of 2026-08-28" in done.err


def test_an_own_material_without_a_number_was_not_looked_up(material, catalogue_of):
    catalogue = catalogue_of([material("plum base", cas="", kind="base")])
    said = limits_as_text.nothing(catalogue, catalogue.materials[0], stale=False)
    assert said.startswith("plum base was not looked up: it has no CAS number.")


def test_limits_of_a_natural_are_those_of_what_it_brings():
    done = run("limits", "clove bud oil")
    assert done.status == 0
    assert "eugenol: restriction by the Standards" in done.out
    assert "label allergen: Eugenia Caryophyllus Oil" in done.out


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ([LOW, {"kind": "prohibition"}], "STOP: s: prohibited."),
        ([LOW, {"kind": "prohibition", "cas": T}], "STOP: t: prohibited; s: above the limit held."),
        ([LOW, {"cas": T}], "STOP: s: above the limit held."),
        ([{}], "LOOK UP: s: restricted, figure to be looked up."),
    ],
)
def test_the_first_line_names_what_the_decision_follows_from(toy, limits, words):
    found = reported(toy(*limits), 0.1, t=0.1)
    assert product_page.lines(found, "accord", date(2026, 1, 1))[0] == words


def test_the_first_line_names_what_is_there_in_an_unknown_amount(toy, material):
    natural = material("oil", kind="natural", contents=(Content("s", None, None, "memory"),))
    found = reported(toy(LOW, others=(natural,)), 0.0, oil=0.5)
    first = product_page.lines(found, "accord", date(2026, 1, 1))[0]
    assert first == "LOOK UP: s in oil: present in an unknown amount."


def test_an_entry_for_other_products_does_not_promise_a_figure(toy):
    found = reported(toy({"percent": {"5A": 0.1}}), 0.1)
    text = " ".join(product_page.lines(found, "accord", date(2026, 1, 1)))
    assert "it has a figure for category 5A only; look up whether it allows any in" in " ".join(text.split())
    assert "look up the figure" not in text


def test_a_label_allergen_without_a_limit_is_shown():
    done = run("limits", "vanillin")
    assert "label allergen: Vanillin" in done.out
    assert "no limit found for vanillin, which the label has to name" in done.err


def test_no_limit_on_record_says_that_no_entry_was_found():
    done = run("limits", "ethylene brassylate")
    assert (done.status, done.out) == (1, "")
    assert "no entry found for ethylene brassylate or for what it contains" in done.err


@pytest.mark.parametrize("form", ["table", "json", "csv"])
def test_all_limits_in_each_format(form):
    done = run("limits", "--format", form)
    assert done.status == 0
    assert "methyl eugenol" in done.out
