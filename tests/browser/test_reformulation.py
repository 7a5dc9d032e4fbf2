"""A whole formula brought inside limits, in a real Chromium: by mouse, by keyboard, and for other senses."""

import csv
import io

import pytest

from browser.conftest import until
from browser.test_edits import put
from browser.test_rows import focused, tab_to, wait_focused
from browser.test_story import button, drawn, names
from recommender.workspace import Workspace

POSY = [
    {"material": "linalool", "parts": "90"},
    {"material": "benzaldehyde", "parts": "10"},
    {"material": "methyl dihydrojasmonate", "parts": "200"},
]
WHOLE = [(line["material"], line["parts"]) for line in POSY]
MATERIAL, LINE = "a material that may not be put in", "a line that stays as it is"


def section(page):
    return page.locator("#reformulate")


def versions(served):
    return [one.title for one in Workspace(served.notebook).formulas.versions("posy")]


def test_out_of_bounds_is_mended_compared_taken_and_tested(tab, served):
    page = tab.page
    tab.go(f"/formula/{put(served.notebook, lines=POSY)}")
    drawn(page)
    page.get_by_role("textbox", name="dosage in per cent").fill("15")
    page.locator(".product .headline.serious").wait_for()
    button(page, "What brings it inside the limits?").click()
    section(page).get_by_text("In the finished product: 15 % in category 4").wait_for()
    page.wait_for_function("document.activeElement.id === 'reformulate-head'")
    assert focused(page) is None
    field = page.get_by_role("textbox", name=MATERIAL)
    field.fill("sqwibble")
    field.press("Enter")
    section(page).get_by_text('No material is called "sqwibble"').wait_for()
    field.fill("100-52-7")
    field.press("Enter")
    section(page).get_by_role("button", name=f"{MATERIAL}: take benzaldehyde off the list").wait_for()
    page.get_by_label(LINE, exact=True).select_option(label="linalool")
    button(page, "Find the least change").click()
    section(page).get_by_text("answers that differ").wait_for()
    first = section(page).locator(".answer").first
    first.get_by_text("% of the smell preserved: ").wait_for()
    assert first.locator(".reformulated li").count() >= 1
    first.get_by_text("In the finished product: ").wait_for()
    lanes = section(page).locator(".lane", has=page.get_by_text("answer 1"))
    lanes.first.wait_for()
    button(page, "Lanes before and after answer 2").click()
    section(page).locator(".lane", has=page.get_by_text("answer 2")).first.wait_for()

    with page.expect_download() as paper:
        button(page, "Triangle sheet of answer 1 to print (PDF)").click()
    assert paper.value.path().read_bytes().startswith(b"%PDF")
    with page.expect_download() as file:
        button(page, "Answer 1 as CSV").click()
    rows = list(csv.DictReader(io.StringIO(file.value.path().read_text(encoding="utf-8-sig"))))
    assert "benzaldehyde" not in [row["material"] for row in rows]

    button(page, "Take answer 1 as the next version").click()
    page.get_by_text("posy@2 is saved and stands here; as it was it is posy@1.").wait_for()
    taken = [name for name, _ in names(served, "posy")]
    assert sorted(taken) == sorted(row["material"] for row in rows)
    assert taken[0::2] == ["linalool", "methyl dihydrojasmonate"]  # it stands where benzaldehyde stood
    assert versions(served) == ["posy@1", "posy@2"]
    section(page).get_by_text("Worked out before the last change").wait_for()
    page.locator(".message").get_by_role("button", name="Undo").click()
    until(page, lambda: names(served, "posy"), WHOLE)
    section(page).get_by_text("Worked out before the last change").wait_for(state="hidden")


def test_what_clashes_is_relaxed_and_a_search_is_stopped(tab, served):
    page = tab.page
    tab.go(f"/formula/{put(served.notebook, lines=POSY)}")
    drawn(page)
    button(page, "Reformulate").click()
    field = page.get_by_role("textbox", name=MATERIAL)
    field.fill("linalool")
    field.press("Enter")
    page.get_by_label(LINE, exact=True).select_option(label="linalool")
    button(page, "Find the least change").click()
    section(page).get_by_text("Not all of this can be kept at once.").wait_for()
    page.get_by_role("button", name="Relax it and ask again: linalool, which is to stay").click()
    section(page).get_by_text("answers that differ").wait_for()
    assert section(page).locator(".names li").count() == 1

    tab.go()
    button(page, "Open…").click()
    button(page, "Open the example morello").click()
    drawn(page)
    button(page, "Reformulate").click()
    field.fill("benzaldehyde")
    field.press("Enter")
    button(page, "Find the least change").click()
    section(page).get_by_text("%", exact=False).first.wait_for()
    section(page).get_by_role("button", name="Stop").click()
    section(page).get_by_text("The search was ended before all was tried").wait_for()


def test_by_the_keyboard_alone(tab, served):
    page = tab.page
    tab.go(f"/formula/{put(served.notebook, lines=POSY)}")
    drawn(page)
    tab_to(page, "Reformulate")
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.id === 'reformulate-head'")
    tab_to(page, MATERIAL)
    page.keyboard.type("benzaldehyde")
    page.keyboard.press("Enter")
    section(page).get_by_role("button", name=f"{MATERIAL}: take benzaldehyde off the list").wait_for()
    wait_focused(page, MATERIAL)
    page.wait_for_function("document.activeElement.value === ''")
    page.keyboard.press("Enter")  # nothing more to add: it is asked
    page.wait_for_function("document.activeElement.textContent.endsWith('answers that differ')")
    tab_to(page, "Take answer 1 as the next version")
    page.keyboard.press("Enter")
    page.get_by_text("posy@2 is saved and stands here").wait_for()
    page.wait_for_function("document.activeElement.textContent === 'Undo'")
    page.keyboard.press("Enter")
    until(page, lambda: names(served, "posy"), WHOLE)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1360, 390])
def test_nothing_serious_for_those_who_see_or_move_otherwise(tabs, served, scheme, width):
    from axe_playwright_python.sync_playwright import Axe

    tab = tabs(viewport={"width": width, "height": 860}, color_scheme=scheme)
    page, axe, found = tab.page, Axe(), []

    def look(where):
        page.wait_for_timeout(250)
        for hit in axe.run(page).response["violations"]:
            if hit["impact"] in ("serious", "critical"):
                found.append((where, hit["id"], [node["html"][:160] for node in hit["nodes"][:3]]))
        if page.evaluate("document.documentElement.scrollWidth > innerWidth + 1"):
            found.append((where, "wider than the screen"))

    tab.go(f"/formula/{put(served.notebook, lines=POSY)}")
    drawn(page)
    button(page, "Reformulate").click()
    field = page.get_by_role("textbox", name=MATERIAL)
    for name in ("sqwibble", "linalool"):
        field.fill(name)
        field.press("Enter")
    section(page).locator(".names li").wait_for()
    page.get_by_label(LINE, exact=True).select_option(label="linalool")
    look("question")
    button(page, "Find the least change").click()
    section(page).locator(".clashes li").first.wait_for()
    look("clashes")
    page.get_by_role("button", name="Relax it and ask again: linalool, which is to stay").click()
    section(page).locator(".beside-lanes .lane").first.wait_for()
    section(page).locator(".answer").first.hover()
    look("answers")
    button(page, "Take answer 1 as the next version").click()
    section(page).get_by_text("Worked out before the last change").wait_for()
    look("older answers")
    assert found == []
