"""What is taken away on the page, in a real Chromium: one click takes it back, today or after a reload."""

import re

from browser.conftest import until
from browser.test_story import button, cell, drawn, names
from recommender.model import Bottle, Reading, TrialRecord
from recommender.notebook import drafts, formulas, removed, shelf, trials
from recommender.notebook.csv_folder import digest
from recommender.notebook.store import reading, writing

WEEK = (0.25, 1.0, 3.0, 8.0, 24.0, 72.0, 168.0)


def rows(served):
    with reading(served.notebook) as db:
        return digest(db)


def focused(page):
    page.wait_for_function("document.activeElement.textContent === 'Undo'")


def test_bottles_are_taken_off_by_one_click_and_brought_back_by_one(tab, served):
    with writing(served.notebook) as db:
        for number in range(40):
            bottle = Bottle(
                f"bottle {number:02}", "coumarin", 10.0, "ethanol", 2.5, 0.3, "2026-01-02", "L", "mine"
            )
            shelf.add(db, bottle)
    before, page = rows(served), tab.page
    tab.go("/shelf")
    button(page, "Take bottle 33 off the shelf").click()
    focused(page)
    assert page.get_by_text("Bottle 33 is off the shelf").is_visible()
    page.mouse.wheel(0, 3000)
    undo = page.locator(".message").get_by_role("button", name="Undo")
    page.wait_for_timeout(3000)  # it does not go by itself
    box = undo.bounding_box()
    assert 0 <= box["y"] <= 900  # in sight wherever the page is scrolled to
    page.keyboard.press("Enter")
    page.get_by_role("rowheader", name="bottle 33").wait_for()
    assert rows(served) == before
    undo.wait_for(state="hidden")

    button(page, "Take bottle 00 off the shelf").click()
    focused(page)
    button(page, "Take bottle 01 off the shelf").click()
    page.get_by_text("Bottle 01 is off the shelf").wait_for()
    page.reload()
    page.locator("summary", has_text="Removed: 2").click()
    for label in ("bottle 00", "bottle 01"):
        if not page.get_by_role("button", name=f"Bring back: {label}").is_visible():
            page.locator("summary", has_text="Removed: 1").click()
        page.get_by_role("button", name=f"Bring back: {label}").click()
        page.get_by_role("rowheader", name=label).wait_for()
    assert rows(served) == before


def test_a_week_of_readings_is_taken_out_by_one_click_and_brought_back_by_one(tab, served):
    page = tab.page
    tab.go()
    button(page, "Open the example morello").click()
    drawn(page)
    button(page, "Save a version").click()
    page.get_by_text("Saved as morello@1.").wait_for()
    with writing(served.notebook) as db:
        saved = formulas.find(db, "morello")
        said = [Reading(h, "clear", f, 20.0, "dusty") for h in WEEK for f in ("violet", "")]
        trials.add(
            db, saved.version, TrialRecord("morello", 1, "2026-03-01", 10.0, 21.0, "flat", tuple(said))
        )
    before = rows(served)
    tab.go("/trials")
    button(page, "Remove trial 1").click()
    focused(page)
    assert rows(served) != before
    button(page, "Undo").click()
    until(page, lambda: rows(served), before)  # the list may not have been drawn anew since the removal
    button(page, "Remove trial 1").wait_for()
    button(page, "Remove trial 1").click()
    focused(page)
    tab.go("/trials")
    page.locator("summary", has_text="Removed: 1").click()
    page.get_by_role("button", name="Bring back: morello@1, 2026-03-01, 14 readings").click()
    button(page, "Remove trial 1").wait_for()
    assert rows(served) == before


def test_a_note_and_a_line_are_brought_back(tab, served):
    page = tab.page
    tab.go("/material/alpha-ionone")
    page.get_by_role("textbox", name="it smells of").fill("raspberry 3, hay 2")
    page.get_by_role("textbox", name="in your words").fill("like jam")
    button(page, "Save this note").click()
    button(page, "Remove it").wait_for()
    before = rows(served)
    button(page, "Remove it").click()
    focused(page)
    button(page, "Undo").click()
    until(page, lambda: rows(served), before)
    page.get_by_text("Your note on alpha-ionone counts again.").wait_for()

    tab.go("/")
    button(page, "Open the example morello").click()
    number = drawn(page)
    whole = names(served, "morello")
    cell(page, "parts of eugenol").press("Control+Delete")
    focused(page)
    page.get_by_text("eugenol is out of the formula.").wait_for()
    assert len(names(served, "morello")) == len(whole) - 1
    page.locator(".message").get_by_role("button", name="Undo").click()
    drawn(page, number)
    cell(page, "parts of eugenol").wait_for()
    assert names(served, "morello") == whole
    cell(page, "parts of eugenol").press("Control+Delete")
    focused(page)
    page.reload()
    button(page, "Undo: took out eugenol").click()
    cell(page, "parts of eugenol").wait_for()
    assert names(served, "morello") == whole
    with reading(served.notebook) as db:
        assert removed.listed(db) == []
        assert drafts.names(db) == ["morello"]


def test_what_hides_a_smell_is_lowered_by_one_click_and_brought_back_by_one(tab, served):
    page = tab.page
    tab.go()
    button(page, "Open the example bell flower").click()
    number = drawn(page)
    whole = names(served, "bell_flower")
    page.get_by_role("textbox", name="smell", exact=True).fill("rose")
    button(page, "Ask").click()
    page.get_by_text("Or lower what hides it", exact=True).wait_for()
    page.locator("ul.lower").get_by_role("button").first.click()
    page.get_by_text(re.compile("is lowered\\.")).wait_for()
    drawn(page, number)
    pairs = zip(whole, names(served, "bell_flower"), strict=True)
    ((before, after),) = [pair for pair in pairs if pair[0] != pair[1]]
    assert before[0] == after[0]
    assert float(after[1]) < float(before[1])
    page.locator(".message").get_by_role("button", name="Undo").click()
    until(page, lambda: names(served, "bell_flower"), whole)
