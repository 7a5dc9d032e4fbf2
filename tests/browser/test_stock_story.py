"""From the finished product to the balance and the shelf, in a real Chromium, by mouse and by keyboard."""

import re

from axe_playwright_python.sync_playwright import Axe

from browser.conftest import until
from browser.test_story import button, drawn, names
from recommender.notebook import shelf, shelf_changes
from recommender.notebook.store import reading
from recommender.workspace import Workspace

SHEET = (
    b"label;material;cas;dilution;amount;price per kg;opened\n"
    b"vanillin stuff;vanillin;;10 %;12 g;80;2024-03-01\n"
    b"vanillin;;91-64-5;;5;20;\n"
    b"mystery green;;;;7;;\n"
    b"linalool;;;;much;30;2024-01-01\n"
)


def stock(served):
    with reading(served.notebook) as db:
        return {} if db is None else {bottle.label: bottle.amount_g for bottle in shelf.bottles(db)}


def check(page):
    found = Axe().run(page).response["violations"]
    assert [one["id"] for one in found if one["impact"] in ("serious", "critical")] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_weighed_leaves_the_bottles_and_one_click_brings_it_back(tab, served):
    here = Workspace(served.notebook)
    here.shelf.add("benzaldehyde", "benzaldehyde", amount_g=18)
    here.shelf.add("last year's", "benzaldehyde", amount_g=6, opened="2025-01-01")
    here.shelf.add("patchouli oil", "patchouli oil", amount_g=0.1)
    before, page = stock(served), tab.page
    tab.go()
    button(page, "Open the example morello").click()
    drawn(page)
    page.get_by_role("textbox", name="dosage in per cent").fill("15")
    page.locator(".product .headline").get_by_text(re.compile(r"^Look up: benzaldehyde: above")).wait_for()
    page.locator(".product summary", has_text="More").click()
    content = page.get_by_role("textbox", name="content of naturals by certificate")
    content.fill("patchouli oil")
    page.keyboard.press("Tab")
    page.locator(".product .wrong").get_by_text(re.compile("write a natural, a colon")).wait_for()
    assert content.get_attribute("aria-invalid") == "true"
    content.fill("patchouli oil: beta-caryophyllene 2")
    page.keyboard.press("Tab")
    page.locator(".product .headline").get_by_text(re.compile(r"^Look up")).wait_for()

    button(page, "Weigh").click()
    page.locator(".weighing").get_by_text("morello: 10.00 g", exact=False).first.wait_for()
    with page.expect_download() as paper:
        button(page, "Labels to print (PDF)").click()
    assert paper.value.path().read_bytes().startswith(b"%PDF")
    button(page, "I have weighed it…").click()
    bottle = page.get_by_label("bottle for benzaldehyde", exact=True)
    assert bottle.locator("option:checked").inner_text().startswith("last year's")
    assert page.get_by_text(re.compile(r"^0 g: .* less in it than was weighed$")).is_visible()
    bottle.select_option(label="benzaldehyde, neat, 18 g")
    page.get_by_text("17.76 g").wait_for()
    check(page)
    assert stock(served) == before
    button(page, "Take it out of 2 bottles").click()
    page.get_by_text("10 g of morello weighed: taken out of 2 bottles.").wait_for()
    assert stock(served) == before | {"benzaldehyde": 17.76, "patchouli oil": 0}
    page.reload()
    page.locator("summary", has_text="Weighed before: 1").click()
    page.get_by_role("button", name=re.compile("^Put back what was weighed")).click()
    until(page, lambda: stock(served) == before)


def test_three_blind_vials_and_the_dose_that_was_best(tab, served):
    page = tab.page
    tab.go()
    button(page, "Open the example morello").click()
    number = drawn(page)
    button(page, "Weigh").click()
    page.locator("#weigh summary", has_text="More").click()
    line = page.get_by_role("textbox", name=re.compile("^line of the formula of which three"))
    line.fill("cardamom")
    page.keyboard.press("Tab")
    page.locator("#weigh .wrong").get_by_text(re.compile("not in morello|No material")).wait_for()
    line.fill("eugenol")
    page.keyboard.press("Tab")
    page.get_by_text("Smell them in this order", exact=False).wait_for()
    assert not page.get_by_text(" is high", exact=False).is_visible()  # the key is folded away
    page.locator("summary", has_text="The key").click()
    key = page.locator("#weigh details li").all_inner_texts()
    high = next(text.split()[0] for text in key if text.endswith("is high"))
    before = dict(names(served, "morello"))["eugenol"]
    page.get_by_label("number of the vial that was best").select_option(high)
    button(page, "Put its dose into the formula").click()
    page.get_by_text(f"eugenol has the dose of vial {high} now (high).", exact=False).wait_for()
    drawn(page, number)
    assert float(dict(names(served, "morello"))["eugenol"]) > 1.5 * float(before)


def test_a_sheet_is_seen_mended_asked_about_and_only_then_stored(tab, served):
    page = tab.page
    tab.go("/shelf")
    file = {"name": "mine.csv", "mimeType": "text/csv", "buffer": SHEET}
    page.locator("input[type=file]").set_input_files(file)
    page.get_by_role("heading", name="Read from mine.csv: nothing is stored yet").wait_for()
    assert stock(served) == {}
    button(page, "Cancel").click()
    page.get_by_text("Nothing of the spreadsheet was stored.").wait_for()
    page.locator("input[type=file]").set_input_files(file)
    amount = page.get_by_role("textbox", name="amount in line 5")
    amount.wait_for()
    check(page)
    page.locator(".mend .wrong").get_by_text('"much" is not a number').wait_for()
    amount.fill("30 g")
    page.keyboard.press("Tab")
    page.get_by_text("Read: linalool, linalool.").wait_for()
    page.get_by_text("Is it vanillin or coumarin?", exact=False).wait_for()
    button(page, "vanillin is coumarin").click()
    page.get_by_text("Line 3, “vanillin” is coumarin.").wait_for()
    unknown = page.get_by_role("textbox", name="what mystery green is")
    unknown.fill("cis-3-hexenol")
    page.keyboard.press("Tab")
    page.get_by_text("4 of 4 rows are read.").wait_for()
    assert stock(served) == {}
    button(page, "Put 4 bottles on the shelf").click()
    page.get_by_text("4 bottles from mine.csv: 4 new.").wait_for()
    assert stock(served) == {"linalool": 30, "mystery green": 7, "vanillin": 5, "vanillin stuff": 12}
    with reading(served.notebook) as db:
        materials = {bottle.label: bottle.material for bottle in shelf.bottles(db)}
    assert (materials["vanillin"], materials["mystery green"]) == ("coumarin", "cis-3-hexenol")
    page.locator(".message").get_by_role("button", name="Undo").click()
    page.get_by_text("Undone: imported: mine.csv, 4 bottles.").wait_for()
    assert stock(served) == {}
    page.locator("summary", has_text="Removed: 1").click()
    page.get_by_role("button", name="Bring back: imported: mine.csv, 4 bottles").click()
    until(page, lambda: len(stock(served)) == 4)


def test_a_bottle_is_found_and_changed_by_the_keyboard_alone(tab, served):
    here = Workspace(served.notebook)
    here.shelf.add("my clove", "eugenol", amount_g=40)
    here.shelf.add("violet stuff", "alpha-ionone", amount_g=1, lot="A7")
    page = tab.page
    tab.go("/shelf")
    labels = page.locator(".bottle-table tbody th")
    labels.first.wait_for()
    assert labels.all_inner_texts() == ["violet stuff", "my clove"]  # what runs low first
    page.get_by_role("textbox", name=re.compile("^find a bottle")).focus()
    page.keyboard.type("97-53-0")
    page.get_by_text("1 of 2 bottles").wait_for()
    assert page.locator(".bottle-table tbody th:visible").all_inner_texts() == ["my clove"]
    page.get_by_role("button", name="Change my clove").focus()
    page.keyboard.press("Enter")
    amount = page.get_by_role("textbox", name="grams left of my clove")
    amount.wait_for()
    page.wait_for_function("document.activeElement.getAttribute('aria-label') === 'grams left of my clove'")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("much")
    page.keyboard.press("Enter")
    page.locator(".editing .wrong").get_by_text(re.compile("Grams left cannot be")).wait_for()
    assert stock(served)["my clove"] == 40
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("12,5")
    check(page)
    here.shelf.edit(1, lot="B2")  # by another tab, meanwhile
    page.keyboard.press("Enter")
    page.get_by_text("my clove was changed elsewhere meanwhile", exact=False).wait_for()
    assert amount.input_value() == "12,5"
    page.keyboard.press("Enter")
    page.get_by_text("My clove is changed: grams left 12.5.").wait_for()
    assert stock(served)["my clove"] == 12.5
    page.wait_for_function("document.activeElement.textContent === 'Undo'")
    page.keyboard.press("Enter")
    until(page, lambda: stock(served)["my clove"] == 40)
    with reading(served.notebook) as db:
        assert shelf.bottles(db)[0].lot == "B2"
        assert [one.kind for one in shelf_changes.changes(db)] == ["changed"]
