"""A form of the page: what is wrong stands beside its field, in the words of its label."""

import pytest

pytest.importorskip("nicegui")

from test_page_views import on, texts

from recommender import units
from recommender.errors import BadValue, UnknownFacet, UnknownMaterial
from recommender.web.server.session import PageSession
from recommender.web.widgets.typed_form import TypedForm


def wrong(form, name):
    line = form._wrong[name]
    return line.content if line.visible else ""


def test_an_error_stands_beside_the_field_that_has_it(tmp_path):
    @on(PageSession(tmp_path / "notebook.sqlite"), "/removed")
    async def _(user):
        with user:
            form = TypedForm(lambda: None)
            form.text("load_mg", "with", "much", numeric=True)
            form.text("smells", "it smells of", "rose 3, sqwibble 1")
            form.text("material", "material", "nonsuch")
            form.choice("kind", "kind", {"a": "a"}, "a")
            form.end()
        with pytest.raises(BadValue) as caught:
            form.number("load_mg")
        form.complain(caught.value)
        assert wrong(form, "load_mg") == 'With cannot be "much": it is a number, such as 0.5.'
        form.complain(UnknownFacet("sqwibble"))
        assert wrong(form, "smells").startswith("No facet is known by")
        assert wrong(form, "load_mg") == ""
        form.complain(UnknownMaterial("nonsuch"))
        assert wrong(form, "material").startswith("No material is called")
        form.complain(BadValue("elsewhere", "x", "it is another"))
        assert any(text.startswith("Elsewhere cannot be") for text in texts(user))
        form.fine()
        assert not any(text.startswith("Elsewhere cannot be") for text in texts(user))
        form.values["load_mg"] = "15 %"
        assert form.percent("load_mg") == 15.0
        form.values["load_mg"] = "3d"
        assert form.read("load_mg", units.hours_of) == 72.0
        form.values["load_mg"] = ""
        assert (form.number("load_mg"), form.percent("load_mg")) == (None, None)
