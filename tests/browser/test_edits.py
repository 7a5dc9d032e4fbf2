"""What is typed, in a real Chromium: by two people at once, and while the program ends in mid-edit.

RECOMMENDER_EDITS=all plays 200 rounds of two tabs and ends the program 30 times, instead of a sample.
"""

import json
import os
import random
import sqlite3
from functools import partial

import pytest

from browser.conftest import Served, Tab, until, wait_for
from browser.test_story import cell, drawn
from recommender.notebook import drafts
from recommender.notebook.store import reading, writing

ALL = os.environ.get("RECOMMENDER_EDITS") == "all"
ROUNDS, ENDS = (200, 30) if ALL else (8, 2)
NAMES = ("linalool", "benzaldehyde", "coumarin", "eugenol")
LINES = [{"material": name, "parts": "10"} for name in NAMES]
WHEN = "2026-03-01T09:00:00.000000"


def put(notebook, name="posy", lines=LINES):
    with writing(notebook) as db:
        return drafts.create(db, name, lines, WHEN).id


def every_stored(notebook):
    """Return every amount that any step of any formula has, by material."""
    with sqlite3.connect(notebook) as db:
        steps = [json.loads(row[0]) for row in db.execute("SELECT lines FROM draft_steps")]
    return {(line["material"], line["parts"]) for lines in steps for line in lines}


def stored(notebook):
    with reading(notebook) as db:
        return {line["material"]: line["parts"] for line in drafts.find(db, "posy").lines}


def amount(notebook, material):
    return stored(notebook)[material]


def settled(page):
    page.wait_for_function("!document.querySelector('.cell.waiting')")


class Typist:
    """One who types amounts with a random rhythm; `full` is what was typed to the end: (material, parts)."""

    def __init__(self, page, chance):
        self.page, self.chance = page, chance
        self.full = set()

    def keys(self, material, digits):
        """Give the strokes of one amount, one after the other."""
        place = cell(self.page, f"parts of {material}")
        place.focus()
        self.page.keyboard.press("Control+a")
        for n, digit in enumerate(digits, 1):
            self.page.keyboard.press(digit)
            yield
            assert place.input_value() == digits[:n]  # nobody else wrote into it
        end = self.chance.choice(("Enter", "Tab", "Escape", "Enter"))
        if end != "Escape":
            self.full.add((material, digits))
        self.page.keyboard.press(end)
        yield

    def answer(self):
        """Take or stay, wherever that is asked."""
        while self.page.locator(".elsewhere").count():
            strip = self.page.locator(".elsewhere").first
            strip.get_by_role("button").nth(self.chance.randrange(2)).click()
            settled(self.page)


def test_two_who_type_at_once_store_nothing_that_nobody_typed(tabs, served):
    number = put(served.notebook)
    chance = random.Random(7)
    typists = []
    for _ in range(2):
        tab = tabs()
        tab.go(f"/formula/{number}")
        typists.append(Typist(tab.page, chance))
    asked = 0
    for turn in range(ROUNDS):
        material = NAMES[turn % len(NAMES)]
        digits = [str(chance.randrange(10, 10 ** chance.randrange(2, 5))) for _ in typists]
        open_ends = [typist.keys(material, text) for typist, text in zip(typists, digits, strict=True)]
        while open_ends:
            one = chance.choice(open_ends)
            if next(one, "end") == "end":
                open_ends.remove(one)
            typists[0].page.wait_for_timeout(chance.choice((0, 0, 5, 30, 90)))
        for typist in typists:
            settled(typist.page)
            asked += typist.page.locator(".elsewhere").count()
            typist.answer()
        typists[0].page.wait_for_timeout(80)
        full = {(name, "10") for name in NAMES} | typists[0].full | typists[1].full
        assert every_stored(served.notebook) <= full
        for typist in typists:
            typist.answer()
            place = cell(typist.page, f"parts of {material}")
            typist.page.keyboard.press("Escape")
            until(typist.page, place.input_value, stored(served.notebook)[material])
    assert asked or ROUNDS < 20


def test_a_value_from_elsewhere_is_asked_about_and_taken_or_not(tabs, served):
    number = put(served.notebook)
    one, other = tabs(), tabs()
    one.go(f"/formula/{number}")
    other.go(f"/formula/{number}")
    place = cell(one.page, "parts of linalool")
    place.focus()
    one.page.keyboard.press("Control+a")
    one.page.keyboard.type("12")
    cell(other.page, "parts of linalool").fill("121")
    cell(other.page, "parts of linalool").press("Enter")
    one.page.get_by_text("parts elsewhere: 121, here: 12").wait_for()
    one.page.keyboard.press("Enter")  # not before it is answered
    one.page.wait_for_timeout(300)
    assert stored(served.notebook)["linalool"] == "121"
    assert place.input_value() == "12"
    one.page.get_by_role("button", name="Stay with 12", exact=True).click()
    cell(other.page, "parts of linalool").wait_for()
    other.page.wait_for_function(
        "document.querySelector('.lines [aria-label=\"parts of linalool\"]').value === '12'"
    )
    assert stored(served.notebook)["linalool"] == "12"
    assert one.page.evaluate("document.activeElement.getAttribute('aria-label')") == "parts of linalool"


def shown_as_stored(page):
    """Return the amounts that the page shows without a mark that they are not stored."""
    return dict(
        page.evaluate(
            "[...document.querySelectorAll('.line .cell.parts.stored input')]"
            ".filter(x => x.value).map(x => [x.getAttribute('aria-label').slice(9), x.value])"
        )
    )


def test_the_program_ends_in_mid_edit_and_nothing_shown_as_stored_is_missing(chromium, tmp_path):
    notebook, chance = tmp_path / "notebook.sqlite", random.Random(11)
    put(notebook)
    served = Served(notebook)
    port = served.url.rpartition(":")[2]
    wait_for(served.address)
    tab = Tab(chromium, served)
    page, full, waited = tab.page, {(name, "10") for name in NAMES}, 0
    try:
        for _ in range(ENDS):
            page.goto(served.address)
            tab.go("/formula/1")
            page.wait_for_selector(".line")
            for _ in range(chance.randrange(1, 4)):
                name, digits = chance.choice(NAMES), str(chance.randrange(100, 1000))
                cell(page, f"parts of {name}").focus()
                page.keyboard.press("Control+a")
                page.keyboard.type(digits, delay=chance.choice((0, 10, 40)))
                page.keyboard.press("Enter")
                full.add((name, digits))
                page.wait_for_timeout(chance.choice((0, 0, 5, 20, 60)))
            served.process.kill()
            served.process.wait()
            page.wait_for_function("document.body.classList.contains('offline')")
            late, digits = chance.choice(NAMES), str(chance.randrange(1000, 2000))
            cell(page, f"parts of {late}").fill(digits)
            cell(page, f"parts of {late}").press("Enter")
            full.add((late, digits))
            page.get_by_text(f"parts of {late} {digits}").wait_for()  # not stored yet, and said
            shown, there = shown_as_stored(page), stored(notebook)
            assert shown.items() <= there.items()
            assert late not in shown
            waited += len(NAMES) - len(shown)
            assert every_stored(notebook) <= full
            page.goto("about:blank")
            served.end()
            served = Served(notebook, port)
            tab.served = served
            name, _, value = served.cookie.partition("=")
            tab.context.add_cookies([{"name": name, "value": value, "url": served.url}])
            wait_for(served.address)
            page.goto(served.address)
            tab.go("/formula/1")
            page.wait_for_function("document.querySelectorAll('.cell.parts.stored input').length > 4")
            settled(page)
            until(page, partial(amount, notebook, late), digits)  # what waited, as soon as it can be
            assert every_stored(notebook) <= full
        assert waited >= ENDS
    finally:
        tab.context.close()
        served.end()


def test_half_typed_text_is_there_after_a_reload_and_not_in_the_notebook(tab, served):
    number = put(served.notebook)
    page = tab.page
    tab.go(f"/formula/{number}")
    cell(page, "parts of linalool").fill("55")
    drawn(page)
    page.reload()
    drawn(page)
    assert cell(page, "parts of linalool").input_value() == "55"
    assert stored(served.notebook)["linalool"] == "10"
    cell(page, "parts of linalool").press("Escape")
    assert cell(page, "parts of linalool").input_value() == "10"


@pytest.mark.parametrize("path", ["/nonsuch", "/formula/a/c", "/formula/99"])
def test_what_is_not_there_leads_back(tab, served, path):
    put(served.notebook, "a/b")
    response = tab.page.goto(served.url + path)
    assert response.status in (200, 404)
    tab.wrong.clear()  # the browser names a missing page
    tab.page.get_by_role("link", name="a/b", exact=True).click()
    tab.page.wait_for_url("**/formula/1")
    assert tab.page.get_by_role("textbox", name="name of the formula").input_value() == "a/b"
