"""Map, cards, materials and notebook in a real Chromium: by mouse, by keyboard, on a phone."""

import re

import pytest

from browser.conftest import until
from recommender.notebook import drafts
from recommender.notebook.store import reading, writing

POSY = [{"material": "linalool", "parts": "90"}, {"material": "vanillin", "parts": "10"}]
VIEWS = (
    *("/map?at=coumarin", "/map?smell=rose", "/material/coumarin", "/materials?smell=rose"),
    *("/beside?m=coumarin&m=vanillin", "/own-materials", "/nose", "/limits?of=coumarin", "/notebook"),
    *("/removed", "/formulas", "/first"),
)


def button(page, name):
    return page.get_by_role("button", name=name, exact=True)


def lines(served, formula):
    with reading(served.notebook) as db:
        return [(line["material"], line["parts"]) for line in drafts.find(db, formula).lines]


def posy(served):
    with writing(served.notebook) as db:
        drafts.create(db, "posy", POSY, "2026-03-01T09:00:00.000000")


def seen(page):
    """Return which part of the map is seen, in per cent of its width."""
    return page.evaluate(
        "() => { const zoom = getElement(+document.querySelector('.map-chart .nicegui-echart').id.slice(1))"
        ".chart.getOption().dataZoom[0]; return [zoom.start, zoom.end]; }"
    )


def width(page):
    start, end = seen(page)
    return end - start


def test_the_map_zooms_by_wheel_keys_and_buttons_and_its_names_lie_apart(tab, served):
    posy(served)
    page = tab.page
    tab.go("/map")
    page.locator(
        ".map-chart svg text", has_text=re.compile("^linalool$")
    ).wait_for()  # what is in the formula is named
    start, end = seen(page)
    assert (round(start), round(end)) == (0, 100)
    box = page.locator(".map-chart").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.wheel(0, -300)
    until(page, lambda: width(page) < 99)
    button(page, "Whole map").click()
    until(page, lambda: width(page) > 99)
    page.locator(".map-chart").focus()
    for key in ("+", "+", "ArrowRight"):
        page.keyboard.press(key)
    until(page, lambda: abs(width(page) - 36) <= 1 and seen(page)[0] > 32)
    names = page.evaluate("""() => [...document.querySelectorAll('.map-chart svg text')]
      .map(text => text.getBoundingClientRect()).filter(box => box.x > 0 && box.width > 0)
      .map(box => [box.left, box.top, box.right, box.bottom])""")
    assert len(names) > 10
    covered = [
        (a, b)
        for n, a in enumerate(names)
        for b in names[:n]
        if min(a[2], b[2]) - max(a[0], b[0]) > 3 and min(a[3], b[3]) - max(a[1], b[1]) > 5
    ]
    assert covered == []


def test_from_the_map_into_the_formula_on_a_phone_by_the_keyboard(tabs, served):
    posy(served)
    tab = tabs(viewport={"width": 390, "height": 844})
    page = tab.page
    tab.go("/map?at=coumarin")
    page.get_by_role("textbox", name="parts of coumarin to add").focus()
    page.keyboard.type("4")
    page.keyboard.press("Enter")
    page.get_by_text("coumarin is in posy.").wait_for()
    assert ("coumarin", "4") in lines(served, "posy")
    undo = button(page, "Undo: coumarin in posy")
    undo.focus()
    page.keyboard.press("Enter")
    page.get_by_text("coumarin is out of posy again.").wait_for()
    assert ("coumarin", "4") not in lines(served, "posy")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")


def test_a_card_is_asked_for_a_blend_which_goes_into_a_formula(tab, served):
    posy(served)
    page = tab.page
    tab.go("/material/coumarin")
    button(page, "Stand in for it").click()
    page.get_by_label("by how many").select_option("2")
    button(page, "Ask").click()
    first = page.locator(".found").first
    first.wait_for(timeout=90_000)
    name = first.locator("h4").inner_text()
    assert " + " in name
    first.locator("summary", has_text="to a formula").click()
    first.get_by_role("textbox").fill("10")
    first.get_by_role("button", name="Add ").click()
    first.get_by_text("in posy.").wait_for()
    added = lines(served, "posy")[2:]
    assert len(added) == 2
    assert sum(float(parts) for _, parts in added) == pytest.approx(10.0, abs=0.01)
    page.get_by_text("How it dries").click()
    page.locator(".drying svg text", has_text="time on a strip").wait_for()
    page.get_by_label("surface", exact=True).select_option("skin")
    button(page, "Draw").click()
    page.locator(".drying svg text", has_text="time on skin").wait_for()


def test_a_notebook_is_saved_and_put_back_with_the_present_one_aside(tab, served, tmp_path):
    posy(served)
    page = tab.page
    tab.go("/notebook")
    for name, ending in (("Save a copy", "sqlite"), ("Save as tables (ZIP)", "zip")):
        with page.expect_download() as given:
            button(page, name).click()
        given.value.save_as(tmp_path / f"mine.{ending}")
    tab.go("/formulas")
    button(page, "Remove posy from the page").click()
    page.get_by_text("posy is off the page").wait_for()
    for name, ending in (("Put a copy back…", "sqlite"), ("Read tables back…", "zip")):
        tab.go("/notebook")
        with page.expect_file_chooser() as chooser:
            button(page, name).click()
        chooser.value.set_files(tmp_path / f"mine.{ending}")
        page.wait_for_function("document.activeElement.textContent === 'Replace it'")
        page.keyboard.press("Enter")
        page.get_by_text("What was here is in notebook.before-").wait_for()
        assert lines(served, "posy") == [("linalool", "90"), ("vanillin", "10")]
        button(page, "Undo").click()
        page.get_by_text("The notebook is as it was before.").wait_for()
        with reading(served.notebook) as db:
            assert drafts.find(db, "posy") is None


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1360, 390])
def test_nothing_serious_in_any_view_for_those_who_see_or_move_otherwise(tabs, served, scheme, width):
    from axe_playwright_python.sync_playwright import Axe

    posy(served)
    tab = tabs(viewport={"width": width, "height": 860}, color_scheme=scheme)
    page, axe, found = tab.page, Axe(), []
    for path in VIEWS:
        tab.go(path)
        page.wait_for_timeout(300)
        for details in page.locator("summary").all():
            if details.is_visible():
                details.click()
        page.wait_for_timeout(300)
        for hit in axe.run(page).response["violations"]:
            if hit["impact"] in ("serious", "critical"):
                found.append((path, hit["id"], [node["html"][:160] for node in hit["nodes"][:3]]))
        if page.evaluate("document.documentElement.scrollWidth > innerWidth + 1"):
            found.append((path, "wider than the screen"))
    assert found == []
