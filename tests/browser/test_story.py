"""The story at the bench, in a real Chromium: from a gap to a mended formula on the balance."""

import csv
import io
import re

import pytest

from browser.conftest import steady
from recommender.notebook import drafts
from recommender.notebook.store import reading


def button(page, name, exact=True):
    return page.get_by_role("button", name=name, exact=exact)


def cell(page, name):
    """Return a cell of the lines by its name for a screen reader."""
    return page.locator(f'.lines [aria-label="{name}"]')


def drawn(page, after=-1):
    """Wait for a drawing newer than one; returns its number."""
    page.wait_for_function(
        "n => { const box = document.querySelector('[data-drawn]');"
        " return box && +box.dataset.drawn > n && box.querySelector('svg.lane-plot') }",
        arg=after,
    )
    return int(page.locator("[data-drawn]").get_attribute("data-drawn"))


def lane(page, facet):
    """Return the lane of a smell."""
    return page.locator(".middle .lane", has=page.get_by_role("button", name=f"Pin {facet}", exact=True))


def ends(page, facet):
    """Return the words at the end of a lane."""
    return lane(page, facet).locator(".lane-ends").inner_text()


def names(served, formula):
    with reading(served.notebook) as db:
        return [(line["material"], line["parts"]) for line in drafts.find(db, formula).lines]


def test_from_the_gap_to_the_balance(tab, served):
    page = tab.page
    tab.go()
    page.get_by_text("Which smell of your formula dies when").wait_for()
    button(page, "Open the example bell flower").click()
    page.wait_for_url("**/formula/1")
    number = drawn(page)
    assert ends(page, "rose") == "clear until 12 h, gone by 18 h"
    button(page, "Save a version").click()
    page.get_by_text("Saved as bell_flower@1.").wait_for()

    page.get_by_role("textbox", name="a smell that is always drawn").fill("honey")
    page.keyboard.press("Enter")
    lane(page, "honey").wait_for()  # whatever is louder
    number = drawn(page, number)

    page.locator(".gap").get_by_role("button", name=re.compile("^What keeps rose alive")).click()
    first = page.locator(".answer").first
    first.wait_for()
    carrier = first.locator(".card-name").inner_text().partition(". ")[2]
    assert "usual" in first.locator(".dose-ends").inner_text()
    first.locator("summary").click()
    for word in ("dose", "before", "after", "strength"):
        assert first.get_by_text(word, exact=True).count() == 1
    assert first.locator(".reasons li").count() >= 2
    assert first.get_by_text("weighted mean of").is_visible()

    first.get_by_role("slider").focus()
    page.wait_for_function("document.querySelector('.lane.asked .ghost-edge')")  # the lane as it would be
    lane(page, "rose").locator(".lane-ends").get_by_text(re.compile("^↑ with it clear until ")).wait_for()
    before = ends(page, "rose")
    assert lane(page, "rose").locator(".lane-ends").get_attribute("title").startswith("now clear until 12 h")
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(
        "was => { const now = document.querySelector('.lane.asked .lane-ends').textContent.trim();"
        " return now.startsWith('↑ with it') && now !== was }",
        arg=before,
    )
    promised = steady(page, lambda: ends(page, "rose")).removeprefix("↑ with it ")  # after the last step
    dose = first.locator(".dose").inner_text().split()[0]

    first.get_by_role("button", name="Take").click()
    page.get_by_text(f"Rose: now {promised}; before clear until 12 h, gone by 18 h.").wait_for()
    assert drawn(page, number) > number
    assert carrier in [name for name, _ in names(served, "bell_flower")]
    page.get_by_text(f"{carrier} is in the formula, {dose} parts of 1000.").wait_for()

    page.get_by_text("Compare two versions or trials").click()
    both = page.locator(".compared .lane", has=page.get_by_text("bell_flower@1"))
    both.first.wait_for()
    assert page.locator(".changes").get_by_text(carrier).count() == 1
    with page.expect_download() as blind:
        button(page, "Blind sheet to print (PDF)").click()
    assert blind.value.path().read_bytes().startswith(b"%PDF")

    button(page, "Weigh").click()
    sheet = page.locator(".weighing")
    sheet.get_by_text("bell_flower: 10.00 g").wait_for()
    assert sheet.locator("tbody tr", has=page.get_by_text(carrier, exact=True)).count() == 1
    with page.expect_download() as paper:
        button(page, "Sheet to print (PDF)").click()
    assert paper.value.path().read_bytes().startswith(b"%PDF")

    with page.expect_download() as file:
        button(page, "Export CSV").click()
    assert file.value.suggested_filename == "bell_flower.csv"
    rows = list(csv.DictReader(io.StringIO(file.value.path().read_text(encoding="utf-8-sig"))))
    assert carrier in [row["material"] for row in rows]
    assert len(rows) == 11


def test_a_changed_amount_redraws_and_a_reload_loses_nothing(tab, served):
    page = tab.page
    tab.go()
    button(page, "Open the example morello").click()
    number = drawn(page)
    before = page.locator(".middle .lane-list").inner_html()
    cell(page, "parts of benzaldehyde").fill("60")
    number = drawn(page, number)  # while it is typed
    page.wait_for_function(
        "old => document.querySelector('.middle .lane-list').innerHTML !== old", arg=before
    )
    assert ("benzaldehyde", "18") in names(served, "morello")
    cell(page, "parts of benzaldehyde").press("Enter")
    page.locator(".cell.waiting, .cell.typing").wait_for(state="detached")
    assert ("benzaldehyde", "60") in names(served, "morello")
    page.reload()
    drawn(page)
    assert cell(page, "parts of benzaldehyde").input_value() == "60"
    button(page, "Undo: benzaldehyde: parts 60").click()
    page.wait_for_function("document.querySelector('[aria-label=\"parts of benzaldehyde\"]').value === '18'")
    assert ("benzaldehyde", "18") in names(served, "morello")


def test_the_time_cursor_and_the_surface(tab, served):
    page = tab.page
    tab.go()
    button(page, "Open the example bell flower").click()
    number = drawn(page)
    cursor = page.locator(".middle").get_by_role("slider", name="hour of the time cursor")
    cursor.focus()
    page.keyboard.press("Home")
    assert cursor.get_attribute("aria-valuetext").startswith("at 1 min: lily of the valley")
    assert page.locator(".middle .lane-now").inner_text().startswith("At 1 min: lily of the valley")
    page.keyboard.press("End")
    late = page.locator(".middle .lane-now").inner_text()
    assert late.startswith("At 7 days: ")
    assert "rose" not in late.partition("From")[0]
    box = lane(page, "rose").locator("svg.lane-plot").bounding_box()
    page.mouse.move(box["x"] + 0.44 * box["width"], box["y"] + 9)
    assert page.locator(".middle .lane-now").inner_text() == late  # pointing alone changes nothing
    page.mouse.down()
    assert page.locator(".middle .lane-now").inner_text().startswith("At 1 h: ")
    page.mouse.up()
    button(page, "change the theme").click()
    theme = page.get_by_role("textbox", name="theme: what the formula is about")
    assert theme.evaluate("field => field === document.activeElement")
    assert theme.get_attribute("placeholder") == "lily of the valley, rose"
    page.get_by_role("combobox", name="surface on which it dries").select_option("on skin")
    drawn(page, number)
    page.wait_for_function("document.querySelector('.notes').textContent.includes('Skin at 30 C')")
    assert ends(page, "rose") != "clear until 12 h, gone by 18 h"


def test_by_the_keyboard_alone(tab, served):
    page = tab.page
    tab.go()
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "New, empty":
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/formula/1")
    page.wait_for_function("window.socket && window.socket.connected && document.querySelector('.line')")
    cell(page, "material: new line").last.focus()
    page.keyboard.type("benzaldehyde")
    page.keyboard.press("Enter")
    page.keyboard.type("5")
    for key in ("Tab", "Tab", "1", "0", "Tab"):  # over the handle to the dilution
        page.keyboard.press(key)
    drawn(page)
    cell(page, "parts of benzaldehyde").press("Control+Enter")
    page.wait_for_function("document.querySelector('.known').textContent.startsWith('top, 49 min')")
    page.wait_for_function("!document.querySelector('.cell.waiting')")
    with reading(served.notebook) as db:
        line = next(line for line in drafts.find(db, "untitled").lines if line["material"])
    assert (line["material"], line["parts"], line["dilution_percent"]) == ("benzaldehyde", "5", "10")
    cell(page, "parts of benzaldehyde").focus()
    page.keyboard.press("Enter")  # after the last line a new one
    page.wait_for_function("document.activeElement.getAttribute('aria-label') === 'material: new line'")
    outline = page.evaluate("getComputedStyle(document.activeElement).boxShadow")
    assert outline != "none"  # where the cursor is can be seen


def test_two_tabs_on_one_formula(tabs, served):
    one, other = tabs(), tabs()
    one.go()
    button(one.page, "Open the example morello").click()
    drawn(one.page)
    other.go("/formula/morello")
    drawn(other.page)
    cell(one.page, "parts of eugenol").fill("9")
    cell(one.page, "parts of eugenol").press("Enter")
    other.page.get_by_text("Changed in another tab: eugenol: parts 9.").wait_for()
    assert cell(other.page, "parts of eugenol").input_value() == "9"
    cell(other.page, "parts of benzyl acetate").fill("41")
    cell(other.page, "parts of benzyl acetate").press("Tab")
    one.page.get_by_text("Changed in another tab: benzyl acetate: parts 41.").wait_for()
    assert {("eugenol", "9"), ("benzyl acetate", "41")} <= set(names(served, "morello"))


def test_an_upload_shows_its_errors_at_the_row(tab, served, tmp_path):
    file = tmp_path / "mine.csv"
    file.write_text("material;parts\nlinalool;10,5\nvanilin;3\n", encoding="utf-8")
    page = tab.page
    tab.go()
    with page.expect_file_chooser() as chooser:
        button(page, "Upload files…").click()
    chooser.value.set_files(file)
    page.wait_for_url("**/formula/1")
    row = page.locator(".line").nth(1)
    row.get_by_text('No material is called "vanilin".').wait_for()
    row.get_by_role("button", name="vanillin", exact=True).click()
    page.get_by_text("2 lines, 13.5 parts").wait_for()

    bad = tmp_path / "bad.csv"
    bad.write_text("stuff,amount\nrose,3\n", encoding="utf-8")
    tab.go("/formula/nonsuch")
    with page.expect_file_chooser() as chooser:
        button(page, "Upload files…").click()
    chooser.value.set_files(bad)
    page.get_by_text(re.compile(r"bad\.csv.*material")).wait_for()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1360, 390])
def test_nothing_serious_for_those_who_see_or_move_otherwise(tabs, served, scheme, width):
    """The rules of WCAG 2.0 to 2.2, A and AA, and the checker's best practices: no serious finding."""
    from axe_playwright_python.sync_playwright import Axe

    tab = tabs(viewport={"width": width, "height": 860}, color_scheme=scheme)
    page, axe = tab.page, Axe()
    found = []

    def look(where):
        page.wait_for_timeout(250)
        for hit in axe.run(page).response["violations"]:
            if hit["impact"] in ("serious", "critical"):
                nodes = [
                    node["html"][:160] + " | " + node["failureSummary"][:200] for node in hit["nodes"][:3]
                ]
                found.append((where, hit["id"], nodes[:3]))
        if page.evaluate("document.documentElement.scrollWidth > innerWidth + 1"):
            found.append((where, "wider than the screen", []))

    tab.go()
    look("start")
    button(page, "Open the example bell flower").click()
    drawn(page)
    page.get_by_role("textbox", name="dosage in per cent").fill("15")
    page.locator(".product .headline.serious").wait_for()
    button(page, "Weigh").click()
    page.locator(".weighing table").wait_for()
    page.locator(".gap-name").first.click()
    page.locator(".answer").first.wait_for()
    page.locator(".answer .dose-slider").first.focus()
    page.wait_for_timeout(500)
    look("formula")
    page.locator(".answers summary").first.click()
    page.locator(".filters summary").click()
    look("reasons and filters")
    button(page, "Curves").click()
    page.wait_for_function("document.querySelector('.chart svg path')")
    look("curves")
    button(page, "Lanes").click()
    button(page, "Save a version").click()
    page.get_by_text("Saved as bell_flower@1.").wait_for()
    page.get_by_text("Compare two versions or trials").click()
    page.locator(".compared .lane").first.wait_for()
    look("compare")
    button(page, "Open…").click()
    page.get_by_role("dialog").wait_for()
    look("dialog")
    for path in ("/map?smell=rose", "/map?at=coumarin", "/material/coumarin", "/trials", "/shelf"):
        tab.go(path)
        look(path)
    assert found == []
