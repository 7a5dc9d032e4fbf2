"""The store of an archive: what comes back is what was stored, as one would read it from its sheet."""

import json

import numpy as np
import pytest

pytest.importorskip("pyarrow")
pytest.importorskip("distributed")

from recommender.archive import open_store
from recommender.archive.store import MANIFEST, Batch, stored
from recommender.errors import BadTable, BadValue
from recommender.evidence.catalogue import load
from recommender.formulas.formula import amounts
from recommender.model import Formula, Line

CATALOGUE = load()


def line(name, parts, dilution=1.0, solvent=None):
    content = name if isinstance(name, Formula) else CATALOGUE.find(name)
    return Line(content, parts, dilution, CATALOGUE.find(solvent) if solvent else None)


def hay():
    """Return a formula with a dilution, a natural, and a diluted accord that contains another."""
    petal = Formula("petal", (line("phenethyl alcohol", 3), line("geraniol", 1)))
    rose = Formula("rose", (line(petal, 60), line("linalool", 40)))
    lines = (
        line("coumarin", 100),
        line("benzaldehyde", 7, 0.1, "ethanol"),
        line("lavender oil", 33),
        line(rose, 60, 0.5, "dipropylene glycol"),
        line("linalool", 2.5),
    )
    return Formula("hay", lines, theme=("hay",))


def plain_formula():
    return Formula("plain", (line("coumarin", 1), line("vanillin", 3)))


@pytest.fixture
def store(tmp_path):
    found = open_store(tmp_path / "store", new=True)
    found.add(Batch.of([stored(hay(), "hay.csv", "a1"), stored(plain_formula(), "plain.csv", "b2")]))
    return found


def shares(formula):
    return {amount.material.slug: amount.mass_fraction for amount in amounts(formula)}


def test_a_stored_formula_has_the_amounts_of_its_sheet(store):
    first, second = open_store(store.path).read()
    assert shares(first.formula(CATALOGUE)) == pytest.approx(shares(hay()), rel=1e-12)
    assert list(shares(first.formula(CATALOGUE))) == list(shares(hay()))
    assert shares(second.formula(CATALOGUE)) == shares(plain_formula())
    assert (first.number, first.name, first.origin, first.theme) == (1, "hay", "hay.csv", ("hay",))


def test_the_lines_of_accords_name_the_accords_that_they_stand_in(store):
    first = next(store.read([1]))
    found = {line.material: line.accord for line in first.lines if line.accord}
    assert found == {
        "phenethyl-alcohol": "rose > petal",
        "geraniol": "rose > petal",
        "linalool": "rose",
        "dipropylene-glycol": "rose",
    }


def test_the_matrices_are_what_the_check_counts(store):
    from recommender.regulation import substances

    found = store.composition()
    for row, formula in enumerate((hay(), plain_formula())):
        put_in = found.materials[[row]].toarray()[0]
        names = {m.slug: value for m, value in zip(CATALOGUE.materials, put_in, strict=True) if value}
        assert names == pytest.approx(shares(formula), rel=1e-12)
        there = found.substances[[row]].toarray()[0]
        keys = {s.key: v for s, v in zip(found.opened.substances, there, strict=True) if v}
        present = substances(amounts(formula), CATALOGUE)
        assert keys == pytest.approx({s.key: s.fraction for s in present}, rel=1e-9)
    assert np.array_equal(found.numbers, [1, 2])


def test_formulas_are_taken_out_and_others_stay(store):
    store.add(Batch.of([stored(plain_formula(), "third.csv")]), remove=[1])
    again = open_store(store.path)
    assert [(one.number, one.origin) for one in again.read()] == [(2, "plain.csv"), (3, "third.csv")]
    assert again.numbers() == [2, 3]
    assert len(next(again.read([2])).lines) == 2


def test_a_part_that_the_manifest_does_not_name_does_not_count(store):
    before = open_store(store.path)
    (store.path / "formulas" / "part-000009.parquet").write_bytes(b"half")
    assert open_store(store.path).numbers() == before.numbers() == [1, 2]


def test_the_content_has_another_key_after_a_change_and_not_after_a_failure(store):
    before = store.content_key
    assert open_store(store.path).content_key == before
    store.add(Batch.of([], [{"file": "broken.csv", "line": 3, "reason": "no column"}]))
    assert store.content_key == before
    assert store.failures() == [{"file": "broken.csv", "line": 3, "reason": "no column"}]
    store.forget_failures(["other.csv"])
    assert len(store.failures()) == 1
    store.forget_failures(["broken.csv"])
    assert open_store(store.path).failures() == []
    assert len(store) == 2
    store.add(Batch.of([stored(plain_formula(), "other.csv")]))
    assert store.content_key != before


def test_two_imports_at_once_do_not_overwrite_each_other(store):
    other = open_store(store.path)
    other.add(Batch.of([stored(plain_formula(), "other.csv")]))
    with pytest.raises(BadTable, match="another import"):
        store.add(Batch.of([stored(plain_formula(), "mine.csv")]))
    assert open_store(store.path).numbers() == [1, 2, 3]


def test_what_is_no_archive_is_refused(tmp_path, store):
    with pytest.raises(BadValue, match="there is no archive here"):
        open_store(tmp_path / "nowhere")
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "a.txt").write_text("a", encoding="utf-8")
    with pytest.raises(BadValue, match="new or empty folder"):
        open_store(tmp_path / "letters", new=True)
    manifest = json.loads((store.path / MANIFEST).read_text(encoding="utf-8"))
    (store.path / MANIFEST).write_text(json.dumps(manifest | {"layout": 99}), encoding="utf-8")
    with pytest.raises(BadTable, match="its layout is 99"):
        open_store(store.path)
    (store.path / MANIFEST).write_text("{", encoding="utf-8")
    with pytest.raises(BadTable, match="cannot be read"):
        open_store(store.path)


def test_a_damaged_part_names_itself(store):
    part = store.path / "lines" / "part-000001.parquet"
    part.write_bytes(part.read_bytes()[:100])
    with pytest.raises(BadTable, match=r"part-000001\.parquet"):
        list(open_store(store.path).read())


def test_a_material_of_another_notebook_is_named(store):
    first = next(store.read())
    odd = first.lines[0]._replace(material="rose-lactone-x")
    from dataclasses import replace

    with pytest.raises(BadValue, match="rose-lactone-x"):
        replace(first, lines=(odd,)).formula(CATALOGUE)
