"""The page of trials: a strip is dipped, read, corrected, taken back, and leads to the next version."""

from browser.test_story import button
from recommender.workspace import Workspace


def test_a_trial_from_the_dip_to_the_next_version(tab, served):
    Workspace(served.notebook).formulas.save("data/demo/morello.csv")
    page = tab.page
    tab.go("/trials")
    button(page, "A strip is dipped now").click()
    page.get_by_text("Trial 1 was dipped just now. Next: smell it 60 min after dipping").wait_for()
    page.get_by_label("it smells").fill("cherry strong")
    button(page, "Save this reading").click()
    page.get_by_label("reading: cherry at fresh").wait_for()
    page.get_by_label("after", exact=True).fill("8 hours")
    page.get_by_label("it smells").fill("cherry gone, bitter almond gone")
    button(page, "Save this reading").click()
    page.get_by_label("reading: cherry at 8 h").wait_for()
    page.get_by_text("Next: smell it 24 h after dipping").wait_for()

    read = page.get_by_label("reading: bitter almond at 8 h")
    read.fill("bitter almond nonsense")
    read.press("Tab")
    page.get_by_text("Stored is still: bitter almond gone").wait_for()
    assert read.input_value() == "bitter almond nonsense"
    read.fill("bitter almond trace")
    read.press("Tab")
    page.get_by_text("The reading is changed from 8 h, bitter almond gone").wait_for()
    button(page, "Take out: cherry at fresh").click()
    page.get_by_role("button", name="Undo").click()
    page.get_by_label("reading: cherry at fresh").wait_for()

    button(page, "What do the readings ask for?").click()
    button(page, "Save it as the next version").click(timeout=60_000)
    page.get_by_text("morello@2 is saved.").wait_for()
    with page.expect_download() as file:
        button(page, "Reminders for a calendar").click()
    assert file.value.suggested_filename == "morello-1.ics"
    records = Workspace(served.notebook).trials.records("morello@1")
    assert [one.rating for one in records[0].readings] == ["strong", "gone", "trace"]


def test_strips_of_single_materials_from_the_page(tab, served):
    page = tab.page
    tab.go("/strips")
    page.get_by_label("material", exact=True).fill("linalool")
    page.get_by_label("after", exact=True).fill("1 h")
    page.get_by_label("it was", exact=True).fill("clear")
    page.get_by_label("day", exact=True).fill("2026-03-01")
    button(page, "Save this strip").click()
    more = page.get_by_label("another reading of linalool")
    more.fill("8 h gone")
    more.press("Tab")
    wrong = page.get_by_label("reading of linalool: 8 h gone", exact=True)
    wrong.wait_for()
    wrong.fill("9 h nonsense")
    wrong.press("Tab")
    page.get_by_text("Stored is still: 8 h gone.").wait_for()
    wrong.fill("9 h gone")
    wrong.press("Tab")
    page.get_by_text("The reading of linalool is changed from 8 h gone").wait_for()
    button(page, "Fit to my strips").click()
    button(page, "Use this fit").click(timeout=60_000)
    page.get_by_text("Every drydown uses the fit to your strips from now on.").wait_for()
    button(page, "Back to the figures of the table").click()
    page.get_by_text("Every drydown uses the figures of the table again").wait_for()
    button(page, "Take out: linalool, 9 h gone").click()
    page.get_by_text("A reading of linalool is taken out.").wait_for()
    (strip,) = Workspace(served.notebook).own_strips.records()
    assert (strip.day, [one.rating for one in strip.readings]) == ("2026-03-01", ["clear"])


def test_a_trial_of_another_day_with_its_batch_room_and_verdict(tab, served):
    here = Workspace(served.notebook)
    here.formulas.save("data/demo/morello.csv")
    page = tab.page
    tab.go("/trials")
    page.locator("summary", has_text="More: verdict, day, batch, room").click()
    page.get_by_label("after", exact=True).fill("8 h")
    page.get_by_label("it smells").fill("cherry gone")
    for name, value in (("verdict", "thin"), ("day", "1 March"), ("batch", "10 g"), ("room, °C", "22")):
        page.get_by_label(name, exact=True).fill(value)
    button(page, "Save this reading").click()
    page.locator(".more .wrong").get_by_text("write it as 2024-03-01").wait_for()
    assert here.trials.records("morello@1") == []
    page.get_by_label("day", exact=True).fill("2026-03-01")
    button(page, "Save this reading").click()
    page.get_by_label("reading: cherry at 8 h").wait_for()
    (record,) = here.trials.records("morello@1")
    assert (record.day, record.batch_g, record.room_c, record.verdict) == ("2026-03-01", 10.0, 22.0, "thin")
    page.get_by_label("trial", exact=True).select_option(str(record.number))
    page.get_by_label("batch", exact=True).wait_for(state="hidden")
    page.get_by_label("verdict", exact=True).fill("better with more violet")
    button(page, "Save this reading").click()
    page.get_by_text("better with more violet").wait_for()
    (record,) = here.trials.records("morello@1")
    assert (record.verdict, len(record.readings)) == ("better with more violet", 1)
