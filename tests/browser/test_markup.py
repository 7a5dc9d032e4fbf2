"""Names that hold markup, in a real Chromium: they are read, never run."""

import os
import re
import subprocess
import sys
from contextlib import suppress

from browser.test_story import drawn
from recommender.notebook import drafts, shelf
from recommender.notebook.drafts import Cells
from recommender.notebook.store import writing

EVIL = "evil <img src=x onerror=window.ran=1> {b}"
"""Where this is read as HTML the picture is missed, and the script of that case runs."""
LINE: Cells = {"material": EVIL, "parts": "5", "note": EVIL}


def ask(served, *words):
    """Run a command on the notebook of the server."""
    code = "from recommender.cli import main; main()"
    kept = os.environ | {"RECOMMENDER_NOTEBOOK": str(served.notebook)}
    subprocess.run([sys.executable, "-c", code, *words], env=kept, check=True, capture_output=True)


def nothing_ran(tab, where):
    tab.page.wait_for_timeout(200)
    assert tab.page.evaluate("window.ran === undefined"), where
    assert tab.page.locator("img[src=x]").count() == 0, where
    assert tab.wrong == [], where


def test_a_name_with_markup_is_text_in_the_tooltip_of_the_map(tab, served):
    ask(served, "materials", "add", EVIL, "--smells", "caraway 3", "--pressure", "3", "--molar-mass", "150")
    ask(served, "shelf", "add", EVIL)
    page = tab.page
    tab.go("/map")
    page.get_by_text("on my shelf only").click()  # its name alone is written beside its dot
    page.get_by_text("1 material", exact=True).wait_for()
    name = page.locator(".map-chart svg text", has_text="{b}")  # whole, once it is asked for
    name.wait_for()
    box = name.bounding_box()
    tip = page.locator(".map-chart .tip").first
    for left in range(6, 16, 2):  # the dot lies to the left of its name
        page.mouse.move(box["x"] - left, box["y"] + box["height"] / 2)
        with suppress(Exception):
            tip.wait_for(timeout=1500)
            break
    nothing_ran(tab, "map")
    assert tip.text_content() == EVIL
    assert name.text_content() == EVIL  # not read as a template of the chart library either


def test_the_tooltip_of_the_drydown_says_the_hour_and_each_smell(tab):
    page = tab.page
    tab.go()
    page.get_by_role("button", name="Open the example morello", exact=True).click()
    drawn(page)
    page.get_by_role("button", name="Curves", exact=True).click()
    page.wait_for_function("document.querySelector('.chart svg path')")
    box = page.locator(".chart").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 3, box["y"] + box["height"] / 2)
    page.locator(".chart .tip").nth(1).wait_for()
    head, *rows = page.locator(".chart .tip").all_inner_texts()
    assert re.fullmatch(r"[\d.]+ (min|h|days)", head)
    assert rows
    assert all(re.fullmatch(r"[\w ,-]+\n+\d+", row) for row in rows)


def test_names_labels_and_notes_with_markup_are_text_in_every_view(tab, served):
    ask(served, "materials", "add", EVIL, "--smells", "caraway 3", "--pressure", "3", "--molar-mass", "150")
    ask(served, "nose", "add", EVIL, "--smells", "caraway 3", "--note", EVIL)
    ask(served, "shelf", "add", EVIL, "--lot", EVIL, "--note", EVIL)
    with writing(served.notebook) as db:
        drafts.create(db, EVIL, [LINE, {"material": "linalool", "parts": "3"}], "2026-03-01T09:00:00.000000")
        slug = next(bottle.material for bottle in shelf.bottles(db))
    page = tab.page
    tab.go()
    assert page.get_by_role("textbox", name="name of the formula").input_value() == EVIL
    assert page.title().startswith(EVIL)
    drawn(page)
    page.get_by_role("textbox", name="dosage in per cent").fill("15")
    page.get_by_role("button", name="Weigh", exact=True).click()
    page.locator(".weighing table").wait_for()
    page.get_by_role("button", name="Save a version").click()
    page.locator(".message").wait_for()
    nothing_ran(tab, "formula")
    page.get_by_role("textbox", name="name of the formula").fill("posy <img src=x onerror=window.ran=1>")
    page.get_by_role("textbox", name="name of the formula").press("Tab")
    page.get_by_role("button", name="Save a version").click()
    page.get_by_text("Saved as posy").wait_for()
    tab.go("/trials")
    page.get_by_label("after", exact=True).fill("8 h")
    page.get_by_role("textbox", name="it smells").fill("whole clear (<img src=x onerror=window.ran=1>)")
    page.get_by_role("button", name="Save this reading").click()
    read = page.get_by_label("reading: whole at 8 h")
    read.wait_for()
    assert "<img" in read.input_value()
    nothing_ran(tab, "trials")
    for path in (
        "/shelf",
        f"/material/{slug}",
        f"/map?at={slug}",
        "/formula/%3Cimg%20src=x%20onerror=window.ran=1%3E",
    ):
        tab.go(path)
        page.get_by_text("<img").locator("visible=true").first.wait_for()
        nothing_ran(tab, path)
