from dataclasses import replace

import numpy as np
import pytest
from asking import drydown

from recommender.errors import BadValue
from recommender.formulas.drydown import FormulaDrydown, LeadingEnd, end_figures, leading_end
from recommender.model import Formula, Lasting, Line


@pytest.fixture(scope="module")
def table(palette):
    zest, ember = (palette.catalogue.by_slug(slug) for slug in ("zest", "ember"))
    return FormulaDrydown(Formula("accord", (Line(zest, 60.0), Line(ember, 140.0))), palette)


def test_a_table_is_read_from_a_file_with_its_notes(tmp_path, palette):
    (tmp_path / "accord.csv").write_text("material,parts\nzest,60\nember,140\nzest,1\n")
    found = drydown(tmp_path / "accord.csv", palette)
    assert (found.formula.name, found.slugs()) == ("accord", {"zest", "ember"})
    assert len(found.notes) == 1


def test_the_share_of_a_material_is_that_on_the_strip(table, palette):
    assert table.share_of(palette.catalogue.by_slug("zest")) == pytest.approx(0.3)
    with pytest.raises(BadValue, match="twin is not in this formula"):
        table.share_of(palette.catalogue.by_slug("twin"))


def test_an_addition_has_its_share_of_the_finished_accord(table, palette):
    twin, pod = palette.catalogue.by_slug("twin"), palette.catalogue.by_slug("vanilla-pod")
    found = table.plus([(twin, 0.1), (pod, 0.05)])
    assert found.share_of(twin) == pytest.approx(0.1)
    assert found.share_of(pod) == pytest.approx(0.05)
    assert found.share_of(palette.catalogue.by_slug("zest")) == pytest.approx(0.3 * 0.85)


def test_without_a_material_the_rest_fills_the_strip(table, palette):
    zest, ember = palette.catalogue.by_slug("zest"), palette.catalogue.by_slug("ember")
    assert table.minus(zest).share_of(ember) == pytest.approx(1.0)


def test_the_smell_is_a_unit_vector_between_those_of_the_materials(table, palette):
    assert np.linalg.norm(table.smell) == pytest.approx(1.0)
    assert table.smell @ palette.space.vectors[palette.catalogue.index["ember"]] > 0.3


def test_the_dying_facet_is_found(table):
    assert [(gap.facet, gap.carried_by) for gap in table.gaps] == [("lemon", ("zest",))]
    assert table.ends["lemon"]["clear"].hours < table.ends["smoke"]["clear"].hours


def test_ends_as_figures_are_none_where_there_are_none(table):
    assert end_figures(None) == {"clear": None, "just_there": None}
    figures = end_figures(table.ends["lemon"])
    assert set(figures["clear"]) == {"hours", "low", "high"}
    assert figures["clear"]["low"] < figures["clear"]["hours"] < figures["clear"]["high"]


def test_the_leading_end_of_a_natural_is_given_where_the_whole_lasts_three_times_as_long(palette):
    oil = palette.catalogue.by_slug("lemon-oil")
    alone = FormulaDrydown(Formula("oil", (Line(oil, 1.0),)), palette).ends["lemon"]["just_there"].hours
    whole = [replace(oil, lasting=Lasting(times * alone, 0.1, 99.0, "top", "memory")) for times in (2.9, 3.1)]
    assert [leading_end(one, palette) for one in whole] == [None, LeadingEnd("lemon", alone)]
    assert leading_end(replace(whole[1], kind="molecule"), palette) is None
    assert leading_end(replace(oil, lasting=None), palette) is None


def test_a_material_that_comes_only_through_a_natural_is_named_with_it():
    from recommender.formulas import formula as formulas
    from recommender.palette import shipped

    shelf = shipped()
    accord = formulas.of_pairs("hay", [("tonka bean absolute", 20), ("vanillin", 180)], shelf.catalogue)
    table = FormulaDrydown(accord, shelf)
    natural = shelf.catalogue.find("tonka bean absolute")
    content = next(c for c in natural.contents if c.name == "coumarin")
    with pytest.raises(BadValue) as caught:
        table.share_of(shelf.catalogue.find("coumarin"))
    parts = f"tonka bean absolute ({100.0 * content.middle_percent / 100.0:.2g} parts per thousand)"
    assert f"coumarin comes only through {parts}; ask to replace tonka bean absolute in it" in str(
        caught.value
    )
