import shutil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.errors import BadTable, StaleTable, UnknownMaterial, WrongCas
from recommender.evidence.catalogue import (
    COLUMNS,
    EVIDENCE,
    TABLES,
    cas_check_digit,
    load,
    looks_like_cas,
    plain,
)
from recommender.evidence.sheets import read, read_sheet
from recommender.evidence.tables import Folders


@pytest.mark.parametrize(
    "text",
    [
        "benzaldehyde",
        "Benzaldehyde",
        "  BENZALDEHYDE ",
        "benzenecarbaldehyde",
        "artificial bitter almond oil",
        "100-52-7",  # CAS Common Chemistry
        "100\u201352\u20137",
    ],
)
def test_a_material_is_found_by_name_synonym_or_cas(shipped, text):
    assert shipped.find(text).slug == "benzaldehyde"


@pytest.mark.parametrize("text", ["ethyl-vanillin", "ethyl vanillin", "Ethyl  Vanillin", "ethyl_vanillin"])
def test_a_slug_is_a_name_too(shipped, text):
    assert shipped.find(text).slug == "ethyl-vanillin"


def test_any_cas_number_finds_its_material(shipped):
    for material in shipped.materials:
        for cas in material.cas_all:
            assert cas in shipped.find(cas).cas_all


@pytest.mark.parametrize("cas", ["80-56-8", "7785-70-8", "7785-26-4"])  # CAS Common Chemistry
def test_racemate_and_both_enantiomers_are_one_bottle(shipped, cas):
    assert shipped.find(cas).slug == "alpha-pinene"


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("α-isomethylionone", "alpha-isomethylionone"),
        ("β-ionone", "beta-ionone"),
        ("γ-decalactone", "gamma-decalactone"),
        ("Δ-decalactone", "delta-decalactone"),
    ],
)
def test_greek_letters_are_read(shipped, text, slug):
    assert shipped.find(text).slug == slug


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("beta ionone", "beta-ionone"),
        ("betaionone", "beta-ionone"),
        ("Beta  Ionone", "beta-ionone"),
        ("β ionone", "beta-ionone"),
        ("cis 3 hexenol", "cis-3-hexenol"),
        ("cis-3 hexenol", "cis-3-hexenol"),
        ("ethylvanillin", "ethyl-vanillin"),
        ("2,3,5 trimethyl pyrazine", "2-3-5-trimethylpyrazine"),
    ],
)
def test_spaces_and_hyphens_do_not_matter(shipped, text, slug):
    assert shipped.find(text).slug == slug


@pytest.mark.parametrize(
    ("plant", "slug"),
    [
        ("vetiver", "vetiver-oil"),
        ("Patchouli", "patchouli-oil"),
        ("clove bud", "clove-bud-oil"),
        ("oakmoss", "oakmoss-absolute"),
        ("tuberose", "tuberose-absolute"),
        ("benzoin", "benzoin-resinoid"),
        ("rose", "rose-oil"),  # an oil and an absolute are held: the oil is the commoner
        ("lavender", "lavender-oil"),
    ],
)
def test_a_plant_alone_is_the_oil_absolute_or_resinoid_that_is_sold_of_it(shipped, plant, slug):
    assert shipped.find(plant).slug == slug


@pytest.mark.parametrize("text", ["oil", "absolute", "()", "-", "- -"])
def test_what_names_no_plant_finds_no_natural(shipped, text):
    with pytest.raises(UnknownMaterial):
        shipped.find(text)


def test_an_exact_name_comes_before_one_without_its_spaces(material, catalogue_of):
    catalogue = catalogue_of([material("rose-oxide"), material("roseoxide")])
    assert [catalogue.find(text).slug for text in ("rose oxide", "roseoxide")] == ["rose-oxide", "roseoxide"]
    assert catalogue.find("rose-ox ide").slug == "rose-oxide"


def test_a_plus_sign_that_tells_two_apart_is_kept(material, catalogue_of):
    catalogue = catalogue_of([material("menthol"), material("(+)-menthol")])
    assert [catalogue.find(text).slug for text in ("menthol", "(+) menthol")] == ["menthol", "(+)-menthol"]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("(-)-linalool", "(-)-linalool"),
        ("(-) linalool", "(-)-linalool"),
        ("(-)-alpha-terpineol", "(-)-alpha-terpineol"),
        ("(-) alpha terpineol", "(-)-alpha-terpineol"),
    ],
)
def test_a_mirror_image_is_not_taken_for_the_plain_material(shipped, text, name):
    assert shipped.find(text).name == name


@pytest.mark.parametrize("text", ["100528", "7439976", "10052"])
def test_digits_that_are_no_cas_number_of_ours_are_no_name(shipped, text):
    with pytest.raises(UnknownMaterial):
        shipped.find(text)


def test_every_name_and_slug_finds_its_own_material(shipped):
    assert [m.slug for m in shipped.materials if shipped.find(m.name) is not m] == []
    assert [m.slug for m in shipped.materials if shipped.find(m.slug) is not m] == []
    assert all(shipped.by_slug(m.slug) is m for m in shipped.materials)


@pytest.mark.parametrize(
    ("text", "near"),
    [("vanilin", "vanillin"), ("benzaldehide", "benzaldehyde"), ("coumarim", "coumarin")],
)
def test_a_near_miss_names_the_nearest_first(shipped, text, near):
    with pytest.raises(UnknownMaterial) as caught:
        shipped.find(text)
    assert caught.value.near[0] == near
    assert len(caught.value.near) <= 3


@pytest.mark.parametrize("text", ["", "   ", "qqqqzzzz", "%", "'; --"])
def test_what_is_like_nothing_has_no_near_names(shipped, text):
    with pytest.raises(UnknownMaterial) as caught:
        shipped.find(text)
    assert caught.value.near == ()


def test_a_wrong_check_digit_is_told_with_the_right_one(shipped):
    with pytest.raises(WrongCas) as caught:
        shipped.find("100-52-8")
    assert (caught.value.cas, caught.value.expected) == ("100-52-8", 7)


def test_a_right_cas_number_that_is_not_held_is_an_unknown_material(shipped):
    with pytest.raises(UnknownMaterial):
        shipped.find("7439-97-6")  # mercury, CAS Common Chemistry


@pytest.mark.parametrize(
    ("cas", "digit"),
    [
        ("58-08-2", 2),  # caffeine, CAS Registry documentation's own example
        ("7732-18-5", 5),  # water, CAS Common Chemistry
        ("121-33-5", 5),  # vanillin, CAS Common Chemistry
        ("8000-28-0", 0),  # lavender oil, CAS Common Chemistry
    ],
)
def test_the_check_digit_of_published_numbers(cas, digit):
    assert cas_check_digit(cas) == digit


@given(st.integers(10, 9_999_999), st.integers(0, 99), st.integers(1, 9))
@settings(deadline=None, max_examples=50)
def test_any_other_last_digit_is_wrong(first, second, shift):
    stem = f"{first}-{second:02}-"
    right = cas_check_digit(stem + "0")
    assert cas_check_digit(f"{stem}{(right + shift) % 10}") == right
    assert looks_like_cas(f"{stem}{right}")


@pytest.mark.parametrize("text", ["100-52", "100527", "1-52-7", "100-5-7", "100-52-77", "x100-52-7", ""])
def test_what_has_not_the_shape_of_a_cas_number(text):
    assert not looks_like_cas(text)


@given(st.text(st.characters(exclude_characters="_"), max_size=20))
@settings(deadline=None, max_examples=50)
def test_a_plain_name_stays_as_it_is(text):
    assert plain(plain(text)) == plain(text)


def test_every_material_has_the_facets_and_sources_it_names(shipped):
    facets = {facet.name for facet in shipped.facets}
    assert {label.facet for m in shipped.materials for label in m.labels} <= facets
    assert set(shipped.label_vectors) == facets
    named = {figure.source for m in shipped.materials for held in m.figures.values() for figure in held}
    assert {limit.source for limit in shipped.limits} <= set(shipped.sources) | {""}
    assert named - {""} <= set(shipped.sources)


def test_figures_that_are_held_lie_within_their_band(shipped):
    for material in shipped.materials:
        if stay := material.lasting:
            assert 0 < stay.low <= stay.hours <= stay.high, material.slug
        assert material.strength is None or 0 <= material.strength <= 100, material.slug


@pytest.fixture
def folders(tmp_path):
    """A copy of the computed tables and of the evidence."""
    shutil.copytree(TABLES, tmp_path / "tables")
    shutil.copytree(EVIDENCE, tmp_path / "data")
    return Folders(tmp_path / "tables", tmp_path / "data")


def read_all(folders):
    found = load(folders.computed, folders.edited)
    assert found.registers.annexes
    assert found.registers.standards
    return found


def _file(folders, table):
    return folders.computed / "manifest.csv" if table == "manifest" else folders.path(table)


def lines(path):
    return path.read_text(encoding="utf-8").splitlines(keepends=True)


def test_a_copy_of_the_tables_reads_like_the_tables(folders, shipped):
    assert read_all(folders).materials == shipped.materials


@pytest.mark.parametrize("table", [*COLUMNS, "manifest"])
def test_an_empty_table_is_named_with_a_way_out(folders, table):
    _file(folders, table).write_bytes(b"")
    with pytest.raises(BadTable, match="empty") as caught:
        read_all(folders)
    assert f"{table}.csv" in caught.value.file
    assert caught.value.remedy


@pytest.mark.parametrize("table", [*COLUMNS, "manifest"])
def test_a_missing_table_is_named_with_a_way_out(folders, table):
    _file(folders, table).unlink()
    with pytest.raises(BadTable, match="missing") as caught:
        read_all(folders)
    assert f"{table}.csv" in caught.value.file
    assert caught.value.remedy


def test_a_table_cut_short_is_named_with_its_line_and_a_way_out(folders):
    path = folders.path("labels")
    path.write_text("".join(lines(path)[:100])[:-5], encoding="utf-8")
    with pytest.raises(BadTable, match="cut short") as caught:
        read_all(folders)
    assert ("labels.csv" in caught.value.file, caught.value.line) == (True, 100)
    assert caught.value.remedy


def test_a_table_cut_short_after_a_line_is_stale(folders):
    path = folders.path("labels")
    path.write_text("".join(lines(path)[:100]), encoding="utf-8")
    with pytest.raises(StaleTable, match=r"labels\.csv"):
        read_all(folders)


def test_a_half_written_row_is_named_with_its_line_and_a_way_out(folders):
    path = folders.path("stays")
    rows = lines(path)
    rows[41] = "benzaldehyde,0.5\n"
    path.write_text("".join(rows), encoding="utf-8")
    with pytest.raises(BadTable, match="cells where the header has") as caught:
        read_all(folders)
    assert ("stays.csv" in caught.value.file, caught.value.line) == (True, 42)
    assert caught.value.remedy


def test_a_quotation_that_never_ends_is_named_with_a_way_out(folders):
    path = folders.path("sources")
    path.write_text("".join(lines(path)) + 'new,"A. Author\n', encoding="utf-8")
    with pytest.raises(BadTable, match="not a table") as caught:
        read_all(folders)
    assert "sources.csv" in caught.value.file
    assert caught.value.line
    assert caught.value.remedy


def test_a_table_that_is_not_utf_8_is_named_with_a_way_out(folders):
    path = folders.path("names")
    path.write_bytes(path.read_bytes() + b"benzaldehyde,ald\xe9hyde,trivial\n")
    with pytest.raises(BadTable, match="UTF-8") as caught:
        read_all(folders)
    assert "names.csv" in caught.value.file
    assert caught.value.remedy


def test_an_edited_table_is_stale_and_says_how_to_rebuild(folders):
    path = folders.path("parameters")
    path.write_text("".join(lines(path)).replace("1.5", "1.6"), encoding="utf-8")
    with pytest.raises(StaleTable, match=r"parameters.csv.*edited without a rebuild.*build_tables"):
        read_all(folders)


@pytest.mark.parametrize("table", ["labels", "strength", "relations"])
def test_edited_evidence_makes_the_tables_stale(folders, table):
    path = folders.edited / f"{table}.csv"
    path.write_text("".join(lines(path)[:-1]), encoding="utf-8")
    with pytest.raises(StaleTable, match=rf"data/{table}.*build_tables"):
        read_all(folders)


def test_no_table_stands_twice():
    computed = {path.read_bytes() for path in TABLES.glob("*.csv")}
    assert [path.name for path in EVIDENCE.glob("*.csv") if path.read_bytes() in computed] == []


def test_a_manifest_without_its_columns_is_named_with_a_way_out(folders):
    _file(folders, "manifest").write_text("file,digest\n", encoding="utf-8")
    with pytest.raises(BadTable, match=r"manifest.csv.*folder") as caught:
        read_all(folders)
    assert caught.value.line == 1
    assert caught.value.remedy


def test_only_real_line_ends_part_the_lines_of_a_table(tmp_path):
    # a spreadsheet may leave a line separator, a form feed or a next-line sign within a cell
    path = tmp_path / "table.csv"
    for sign in ("\u2028", "\u2029", "\x0b", "\x0c", "\x1c", "\x85"):
        path.write_text(f"material,parts\nro{sign}se,3\nmusk,4\n", encoding="utf-8")
        for found in (read(path, ["material", "parts"]), read_sheet(path, ["material", "parts"])):
            assert [(row.line, row["material"], row["parts"]) for row in found] == [
                (2, f"ro{sign}se", "3"),
                (3, "musk", "4"),
            ]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_line_ends_of_every_system_part_lines(tmp_path, end):
    path = tmp_path / "table.csv"
    path.write_bytes(end.join(["material,parts", "rose,3", "musk,4", ""]).encode())
    assert [row["material"] for row in read_sheet(path, ["material", "parts"])] == ["rose", "musk"]


def test_line_ends_of_another_system_do_not_make_a_table_stale(folders, shipped):
    for path in (*folders.computed.glob("*.csv"), *folders.edited.glob("*.csv")):
        path.write_bytes(path.read_bytes().replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"))
    assert read_all(folders).materials == shipped.materials
