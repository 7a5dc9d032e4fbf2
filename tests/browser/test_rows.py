"""The lines of a formula in a real Chromium: by keyboard alone, by dragging, pasted, and for other senses."""

from browser.conftest import until
from browser.test_edits import put, settled, stored
from browser.test_story import button, cell, drawn, names

SPICE = [
    {"material": "linalool", "parts": "60"},
    {"material": "eugenol", "parts": "20"},
    {"material": "coumarin", "parts": "20"},
]


PASTE = """text => {
  const clipboardData = new DataTransfer();
  clipboardData.setData('text/plain', text);
  const event = new ClipboardEvent('paste', {clipboardData, bubbles: true, cancelable: true});
  document.activeElement.dispatchEvent(event);
}"""


def press(page, *keys):
    for key in keys:
        page.keyboard.press(key)


def focused(page):
    return page.evaluate("document.activeElement.getAttribute('aria-label')")


def wait_focused(page, label):
    page.wait_for_function("x => document.activeElement.getAttribute('aria-label') === x", arg=label)


def wait_order(page, *materials):
    """Wait until the page shows lines in this order, after the first blank one."""
    page.wait_for_function(
        "x => [...document.querySelectorAll('.cell.material input')].map(y => y.value).join() === x",
        arg=",".join(["", *materials, ""]),
    )


def wait_names(page, served, wanted, formula="posy"):
    until(page, lambda: names(served, formula), wanted)


def tab_to(page, name, most=80):
    for _ in range(most):
        if name in (focused(page), page.evaluate("document.activeElement.textContent.trim()")):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not lead to {name}")


def test_a_formula_by_the_keyboard_alone(tab, served):
    page = tab.page
    tab.go()
    tab_to(page, "New, empty")
    press(page, "Enter")
    page.wait_for_url("**/formula/1")
    page.wait_for_function("window.socket && window.socket.connected && document.querySelector('.line')")
    tab_to(page, "Leave new line out for now")  # the first line is there and blank
    press(page, "Shift+Tab", "Shift+Tab", "Shift+Tab")
    for material, parts in (("linalool", "60"), ("eugenol", "20"), ("coumarin", "20")):
        cell(page, "material: new line").last.focus()
        page.keyboard.type(material)
        press(page, "Enter")
        page.keyboard.type(parts)
        press(page, "Enter")
        wait_focused(page, "material: new line")
    settled(page)
    wanted = [("", ""), ("linalool", "60"), ("eugenol", "20"), ("coumarin", "20")]
    wait_names(page, served, wanted, "untitled")
    drawn(page)

    press(page, "Shift+Enter", "ArrowDown", "Shift+Enter")  # up; arrows are those of the list of names
    wait_focused(page, "material: eugenol")
    press(page, "Alt+ArrowDown")
    wait_names(page, served, [wanted[0], wanted[1], wanted[3], wanted[2]], "untitled")
    wait_order(page, "linalool", "coumarin", "eugenol")
    wait_focused(page, "material: eugenol")  # where the cursor was
    press(page, "Control+z")
    wait_order(page, "linalool", "eugenol", "coumarin")
    press(page, "Control+Shift+z")
    wait_order(page, "linalool", "coumarin", "eugenol")
    press(page, "Control+z")
    wait_names(page, served, wanted, "untitled")

    wait_order(page, "linalool", "eugenol", "coumarin")
    wait_focused(page, "material: eugenol")
    press(page, "Tab", "Tab")
    wait_focused(page, "amount of eugenol")
    press(page, "ArrowRight", "Shift+ArrowRight")
    wait_names(page, served, [*wanted[:2], ("eugenol", "22.4"), wanted[3]], "untitled")
    wait_focused(page, "amount of eugenol")
    press(page, "Control+z")
    wait_names(page, served, wanted, "untitled")
    page.wait_for_function("document.querySelector('[aria-label=\"parts of eugenol\"]').value === '20'")

    press(page, "Control+Space", "Shift+Tab", "ArrowDown", "Control+Space")
    page.get_by_text("2 chosen").wait_for()
    tab_to(page, "name of the accord")
    page.keyboard.type("spice jar")
    press(page, "Enter")
    grouped = [*wanted[:2], ("spice jar", "40")]
    wait_names(page, served, grouped, "untitled")
    page.wait_for_function("document.activeElement.textContent === 'Undo'")
    assert page.evaluate("document.activeElement !== document.body")
    cell(page, "parts of spice jar").focus()
    press(page, "Control+Enter")
    tab_to(page, "Dissolve the accord")
    press(page, "Enter")
    wait_names(page, served, wanted, "untitled")
    wait_order(page, "linalool", "eugenol", "coumarin")  # the page has drawn it too
    page.wait_for_timeout(700)  # what offers Undo takes the cursor first
    cell(page, "parts of linalool").focus()
    wait_focused(page, "parts of linalool")
    press(page, "Control+Delete")
    wait_names(page, served, [wanted[0], *wanted[2:]], "untitled")
    page.wait_for_function("document.activeElement.textContent === 'Undo'")
    press(page, "Enter")
    wait_names(page, served, wanted, "untitled")
    page.locator("body").press("?")
    page.get_by_role("dialog", name="Short cuts").wait_for()
    press(page, "Escape")
    assert tab.wrong == []


def test_an_amount_is_dragged_and_a_line_is_moved_by_its_number(tab, served):
    page = tab.page
    tab.go(f"/formula/{put(served.notebook, lines=SPICE)}")
    number = drawn(page)
    handle = page.get_by_role("slider", name="amount of eugenol").bounding_box()
    x, y = handle["x"] + handle["width"] / 2, handle["y"] + handle["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 45, y, steps=3)
    page.mouse.move(x + 90, y, steps=3)
    assert cell(page, "parts of eugenol").input_value() == "40"
    drawn(page, number)  # while it is dragged
    assert stored(served.notebook)["eugenol"] == "20"
    page.mouse.up()
    wait_names(page, served, [("linalool", "60"), ("eugenol", "40"), ("coumarin", "20")])
    grip = page.get_by_role("button", name="Line 3, coumarin: choose").bounding_box()
    first = page.locator(".line").first.bounding_box()
    page.mouse.move(grip["x"] + 10, grip["y"] + 10)
    page.mouse.down()
    page.mouse.move(grip["x"] + 12, first["y"] + 30, steps=4)
    page.mouse.move(grip["x"] + 12, first["y"] + 3, steps=4)
    page.mouse.up()
    wait_names(page, served, [("coumarin", "20"), ("linalool", "60"), ("eugenol", "40")])


def test_lines_are_left_out_scaled_and_pasted_and_all_of_it_is_undone(tab, served):
    page = tab.page
    tab.go(f"/formula/{put(served.notebook, lines=SPICE)}")
    drawn(page)
    whole = [(line["material"], line["parts"]) for line in SPICE]
    button(page, "Leave eugenol out for now").click()
    page.get_by_text("2 lines, 80 parts").wait_for()
    assert names(served, "posy") == whole  # left out, not gone
    button(page, "Scale to 1000 parts").click()
    wait_names(page, served, [("linalool", "750"), ("eugenol", "20"), ("coumarin", "250")])
    cell(page, "material: linalool").focus()
    page.evaluate(PASTE, "vanillin\t5\nbenzaldehyde\t2,5\n")
    page.get_by_text("2 lines pasted.").wait_for()
    assert [name for name, _ in names(served, "posy")][1:3] == ["vanillin", "benzaldehyde"]
    for _ in range(3):
        page.locator("body").press("Control+z")
        page.wait_for_timeout(300)
    wait_names(page, served, whole)
    page.get_by_text("3 lines, 100 parts").wait_for()


def test_what_stands_for_a_line_or_takes_it_out_is_in_its_row_where_there_is_room(tab, served):
    page = tab.page
    tab.go(f"/formula/{put(served.notebook, lines=SPICE)}")
    drawn(page)
    for width in (1280, 1360, 1440, 1920, 390):
        page.set_viewport_size({"width": width, "height": 860})
        signs = page.locator(".line .sign.wide:visible")
        until(page, signs.count, 0 if width == 390 else 2 * len(SPICE))
        heights = page.evaluate("[...document.querySelectorAll('.one-line')].map(row => row.offsetHeight)")
        assert max(heights) <= 32, width
        names = page.evaluate(
            "[...document.querySelectorAll('.one-line .cell.material')].map(cell => cell.clientWidth)"
        )
        assert min(names) >= 120, width
    page.set_viewport_size({"width": 1280, "height": 860})
    button(page, "What can stand for eugenol?").click()
    page.locator(".answer").first.wait_for(timeout=60_000)
    button(page, "Take eugenol out").click()
    wait_names(page, served, [("linalool", "60"), ("coumarin", "20")])


def test_nothing_serious_in_any_state_of_the_rows(tabs, served):
    from axe_playwright_python.sync_playwright import Axe

    lines = [*SPICE, {"material": "vanilin", "parts": "x", "out": ""}, {"material": "spice", "parts": "2"}]
    number = put(served.notebook, lines=[*lines, {"material": "linalool", "parts": "1", "out": "out"}])
    put(served.notebook, "spice", SPICE)
    for scheme, width in (("light", 1360), ("dark", 390)):
        tab = tabs(viewport={"width": width, "height": 860}, color_scheme=scheme)
        page = tab.page
        tab.go(f"/formula/{number}")
        drawn(page)
        for name in ("Details of spice", "Details of eugenol", "Line 2, eugenol: choose"):
            button(page, name).click()
        button(page, "Lock the amount").last.click()
        cell(page, "parts of coumarin").focus()
        press(page, "Control+a", "7")
        other = tabs()
        other.go(f"/formula/{number}")
        value = {"light": "8", "dark": "9"}[scheme]
        cell(other.page, "parts of coumarin").fill(value)
        cell(other.page, "parts of coumarin").press("Enter")
        page.get_by_text(f"parts elsewhere: {value}").wait_for()
        found = {}
        for state in ("rows", "short cuts"):
            if state == "short cuts":
                button(page, "Short cuts (?)").click()
                page.get_by_role("dialog", name="Short cuts").wait_for()
            hits = Axe().run(page).response["violations"]
            found[state] = [
                (hit["id"], hit["nodes"][0]["html"][:200])
                for hit in hits
                if hit["impact"] in ("serious", "critical")
            ]
            assert not page.evaluate("document.documentElement.scrollWidth > innerWidth + 1")
        assert found == {"rows": [], "short cuts": []}
