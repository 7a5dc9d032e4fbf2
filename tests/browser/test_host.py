"""The served page from outside: a foreign name, a foreign page, and what a page loads."""

import re
import urllib.error
import urllib.request

import pytest

LOADED = re.compile(r"""(?:src|href)=["']([^"']+)["']|url\(["']?([^"')]+)|["'](/_nicegui[^"']+)["']""")
OUTSIDE = re.compile(r"""(?:@import\s+|url\(\s*|\bfrom\s*|\bimport\s*\(?\s*)["']?((?:https?:)?//[\w.-]+)""")
VIEWS = ("/", "/map", "/material/coumarin", "/trials", "/shelf")


def got(served, path, **headers):
    request = urllib.request.Request(served.url + path, headers={"Cookie": served.cookie} | headers)
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, answer.headers, answer.read().decode("utf-8", "replace")
    except urllib.error.HTTPError as error:
        return error.code, error.headers, error.read().decode()


@pytest.mark.parametrize("headers", [{"Host": "example.org"}, {"Origin": "https://example.org"}])
def test_a_request_under_a_foreign_name_is_refused(served, headers):
    for path in ("/", "/style.css", "/_nicegui_ws/socket.io/?EIO=4&transport=polling"):
        status, _, text = got(served, path, **headers)
        assert (status, "this machine alone" in text) == (400, True)


def test_the_printed_address_opens_the_page_and_its_token_is_not_left_in_it(chromium, served):
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    page.wait_for_url(served.url + "/")
    page.wait_for_function("window.socket && window.socket.connected")
    (cookie,) = context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")
    context.close()


def test_without_the_token_nobody_is_answered(served):
    for path in ("/", "/shelf", "/_nicegui_ws/socket.io/?EIO=4&transport=polling"):
        status, _, text = got(served, path, Cookie="")
        assert (status, "with its token" in text) == (403, True)


def test_without_the_token_a_person_sees_what_to_do(chromium, served):
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    assert page.goto(served.url + "/map").status == 403
    page.get_by_role("heading", name="This is not the address that was printed").wait_for()
    assert "the program printed when it was started" in page.inner_text("p")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    context.close()


def test_a_page_whose_program_has_ended_says_what_waits_and_what_is_locked(chromium, served):
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    page.wait_for_function("window.socket && window.socket.connected")
    assert not page.locator("#popup").is_visible()
    served.end()
    page.locator("#popup").get_by_text("What you type in the lines of a formula waits there").wait_for()
    page.locator("#popup").get_by_text("open the address that it prints").wait_for()
    context.close()


def test_it_listens_on_this_machine_alone(served):
    port = int(served.url.rsplit(":", 1)[1])
    with open("/proc/net/tcp", encoding="ascii") as table:
        rows = [line.split() for line in table.readlines()[1:]]
    held = {row[1] for row in rows if row[3] == "0A" and int(row[1].split(":")[1], 16) == port}
    assert held == {f"0100007F:{port:04X}"}  # 127.0.0.1, listening


@pytest.mark.parametrize("path", VIEWS)
def test_no_page_and_nothing_that_it_loads_names_an_outside_host_to_load_from(served, path):
    status, headers, text = got(served, path)
    assert status == 200
    assert "default-src 'self'" in headers["content-security-policy"]
    places = LOADED.findall(text)
    named = {next(filter(None, found)) for found in places}
    outside = {place for place in named if re.match(r"(?:https?:)?//", place)}
    assert outside == set()
    for place in sorted(named):
        if place.startswith("/") and not place.startswith("/material") and re.search(r"\.(css|js)\b", place):
            status, _, asset = got(served, place)
            assert status == 200, place
            loads = OUTSIDE.findall(asset)
            assert [load for load in loads if "www.w3.org" not in load] == [], place
