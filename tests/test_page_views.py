"""Every view in this process: what it shows, what it does, what it says when it cannot."""

import asyncio
import re
import sys
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import date
from html import escape

import pytest
from command_line import run

pytest.importorskip("nicegui")

from nicegui import ElementFilter, ui
from nicegui.element import Element
from nicegui.events import GenericEventArguments, handle_event
from nicegui.testing.user_simulation import user_simulation

from recommender.errors import BadTable, BadValue, ChangedMeanwhile
from recommender.model import Reading
from recommender.notebook import importers
from recommender.notebook.csv_folder import digest
from recommender.notebook.store import reading, writing
from recommender.reformulation.triangle import triangle
from recommender.regulation import ProductUse
from recommender.suggest.stock import MaterialCost
from recommender.web.pages import addresses
from recommender.web.pages.shelf_page import ShelfPage
from recommender.web.pages.strips_page import StripsPage
from recommender.web.pages.trials_page import TrialsPage
from recommender.web.server.csv_export import as_csv
from recommender.web.server.jobs import JobFailed
from recommender.web.server.line_edits import set_cell
from recommender.web.server.session import PageSession
from recommender.web.widgets.error_words import sentence
from recommender.web.widgets.formula_table import FormulaRows
from recommender.web.widgets.formula_view import formula_view, without_commands
from recommender.web.widgets.lanes import Lanes
from recommender.web.widgets.next_version_section import NextVersionSection
from recommender.web.widgets.product_section import usable
from recommender.web.widgets.weighing_section import cost_words, notes_of, sheet_of
from recommender.weighing import Shares

VIEWS = ("/", "/formula/posy", "/map", "/map?smell=almond", "/material/coumarin", "/trials", "/shelf",
         "/materials", "/beside", "/own-materials", "/nose", "/limits", "/notebook", "/removed",
         "/formulas")  # fmt: skip
POSY = [
    {"material": "linalool", "parts": "90"},
    {"material": "benzaldehyde", "parts": "10"},
    {"material": "methyl dihydrojasmonate", "parts": "200"},
]


@pytest.fixture
def session(tmp_path):
    return PageSession(tmp_path / "notebook.sqlite")


@asynccontextmanager
async def page(session, path):
    """Open a view as a person would.

    The simulation forgets the modules of the views, and the package, as it ends: a later import would give
    a second copy of each, and what a test replaces in one copy the other does not have.
    """
    imported = dict(sys.modules)
    try:
        async with user_simulation() as user:
            addresses.register(session)
            await user.open(path)
            yield user
    finally:
        sys.modules.update(imported)


def on(session, path):
    """Run a test that is given the user of an open view."""

    def run(test):
        async def whole():
            async with page(session, path) as user:
                await test(user)

        asyncio.run(whole())

    return run


def texts(user):
    with user:
        return [element.content for element in ElementFilter(kind=ui.html) if element.visible]


def field(user, label):
    with user:
        (found,) = [e for e in ElementFilter(kind=ui.input) if e.props.get("aria-label") == label]
    return found


def button(user, told):
    with user:
        held = [e for e in ElementFilter(kind=ui.html) if told in (e.content, e.props.get("aria-label"))]
    return next(e for e in held if e.props["tag"] == "button")


def press(user, told):
    element = button(user, told)
    for listener in list(element._event_listeners.values()):
        if listener.type == "click":
            with user:
                handle_event(
                    listener.handler, GenericEventArguments(sender=element, client=user.client, args={})
                )


def write(user, element, text):
    """Leave a field with another text in it."""
    for listener in list(element._event_listeners.values()):
        if listener.type == "change":
            with user:
                handle_event(
                    listener.handler, GenericEventArguments(sender=element, client=user.client, args=text)
                )


def rows(user):
    """Return the element of the lines, and what each shows, by its material."""
    with user:
        (found,) = ElementFilter(kind=FormulaRows)
    return found, {line["material"]: line for line in found.props["lines"]}


def row_act(user, kind, **args):
    """Do something in the lines, as the browser does."""
    element, _ = rows(user)
    (listener,) = (one for one in element._event_listeners.values() if one.type == "act")
    args = {"kind": kind, **args}
    with user:
        handle_event(listener.handler, GenericEventArguments(sender=element, client=user.client, args=args))


def write_cell(user, material, column, value, was=None, turn=1):
    """Finish a cell of a line with another value in it."""
    line = rows(user)[1][material]
    was = line[column] if was is None else was
    row_act(user, "write", turn=turn, id=line["id"], column=column, was=was, value=value)


async def until(found, seconds=20.0):
    """Wait until something is so."""
    for _ in range(int(seconds / 0.05)):
        if (value := found()) not in (None, False, [], ""):
            return value
        await asyncio.sleep(0.05)
    raise AssertionError("it did not come to that")


def test_a_page_without_formulas_says_what_to_do(session):
    with writing(session.path):
        pass

    @on(session, "/")
    async def _(user):
        told = texts(user)
        assert "Which smell of your formula dies when, and what keeps it alive?" in told
        assert "green fig" in told
        assert session.listed() == []


def test_a_view_that_was_open_leaves_one_copy_of_the_package(session):
    package = sys.modules["recommender"]
    on(session, "/notebook")(lambda user: asyncio.sleep(0))
    assert sys.modules["recommender"] is package
    assert package.web is sys.modules["recommender.web"]


def test_a_demo_is_laid_out_with_its_gaps(session):
    session.import_file(session.demo["green_fig"].name, session.demo["green_fig"].read_bytes())

    @on(session, "/")
    async def _(user):
        assert "galbanum oil" in rows(user)[1]
        await until(lambda: "bell pepper" in texts(user))
        assert any("came from 2-isobutyl-3-methoxypyrazine" in told for told in texts(user))
        assert "14 lines, 609 parts" in texts(user)


def test_a_changed_amount_goes_into_notebook_picture_and_shares(session):
    draft = session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        row_act(user, "preview", id="2", column="parts", value="110")
        assert rows(user)[1]["benzaldehyde"]["share"] == "275"  # of 1000
        assert rows(user)[1]["benzaldehyde"]["parts"] == session.get(draft.id).lines[1]["parts"] == "10"
        write_cell(user, "benzaldehyde", "parts", "110")
        assert session.get(draft.id).lines[1]["parts"] == "110"
        assert rows(user)[1]["benzaldehyde"]["share"] == "275"
        press(user, "Undo: benzaldehyde: parts 110")
        assert session.get(draft.id).lines[1]["parts"] == "10"
        assert rows(user)[1]["benzaldehyde"]["parts"] == "10"


def test_what_is_wrong_is_said_at_the_line_with_names_to_choose(session):
    session.create("posy", [*POSY, {"material": "vanilin", "parts": "3"}])

    @on(session, "/formula/posy")
    async def _(user):
        wrong = rows(user)[1]["vanilin"]["wrong"]
        assert wrong["text"] == 'No material is called "vanilin".'
        assert "vanillin" in wrong["near"]
        assert any("1 not in the picture until corrected" in told for told in texts(user))
        row_act(user, "near", id="4", column="material", was="vanilin", value="vanillin")
        assert rows(user)[1]["vanillin"]["wrong"] is None
        assert session.find("posy").lines[3]["material"] == "vanillin"


def test_a_gap_is_asked_about_a_carrier_is_tried_and_the_gap_moves(session):
    session.import_file(session.demo["bell_flower"].name, session.demo["bell_flower"].read_bytes())

    @on(session, "/formula/bell_flower")
    async def _(user):
        gap = await until(lambda: next((t for t in texts(user) if t == "rose"), None))
        press(user, gap)
        await until(lambda: any(t == "Take" for t in texts(user)))
        told = texts(user)
        assert "What keeps rose alive in bell_flower from 18 h to 27 h on a strip?" in told
        for word in ("dose", "before", "after", "strength"):
            assert word in told
        assert any(t.startswith("brings ") for t in told)
        assert "Why, with figures" in told
        assert any("cannot be told apart" in t for t in told)  # once above the answers
        assert not any("cannot be told apart from" in t for t in told)
        assert any(t.startswith("by itself ") for t in told)
        press(user, "Take")
        assert any(" is in the formula, " in t for t in texts(user))
        await until(lambda: any(t.startswith("Rose: now clear until") for t in texts(user)))
        assert len(session.find("bell_flower").lines) == 11
        assert any("ask again for new figures" in t for t in texts(user))


def test_a_gap_that_moves_is_worded_anew_at_its_place(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        def asking():
            with user:
                return {
                    e.content: e
                    for e in ElementFilter(kind=ui.html)
                    if str(e.props.get("aria-label")).startswith("What keeps ") and "gap-name" in e.classes
                }

        before = await until(lambda: asking() or None)
        labels = {facet: e.props["aria-label"] for facet, e in before.items()}
        write_cell(user, "benzaldehyde", "parts", "12")
        await until(lambda: [e.props["aria-label"] for e in asking().values()] != [*labels.values()])
        after = asking()
        assert list(after) == list(before)
        assert all(after[facet] is before[facet] for facet in before)
        for facet, element in after.items():
            words = element.props["aria-label"].removeprefix(f"What keeps {facet} alive? It is ")
            assert words.removesuffix(".") in texts(user)


def test_a_stand_in_takes_the_place_of_a_line(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        row_act(user, "replace", id="2")
        await until(lambda: any(t == "Take" for t in texts(user)))
        press(user, "Take")
        names = [line["material"] for line in session.find("posy").lines]
        assert "benzaldehyde" not in names
        assert len(names) == 3


def test_what_a_natural_brings_is_asked_about_and_taken_in_the_place_of_that_natural(session):
    amounts = {"linalool": "500", "tonka bean absolute": "100", "alpha-ionone": "400"}
    session.create("posy", [{"material": name, "parts": parts} for name, parts in amounts.items()])

    @on(session, "/formula/posy")
    async def _(user):
        press(user, "Stand in for a line")
        with user:
            field(user, "what naturals bring").value = "coumarin"
        press(user, "Ask")
        await until(lambda: any(t == "Take" for t in texts(user)))
        assert any("coumarin" in t and "tonka bean absolute" in t for t in texts(user))
        with user:
            takes = [e.props["aria-label"] for e in ElementFilter(kind=ui.html) if e.content == "Take"]
        assert takes
        assert all(one.endswith("in place of tonka bean absolute") for one in takes)
        press(user, "Take")
        found = {line["material"]: float(line["parts"]) for line in session.find("posy").lines}
        assert next(iter(found)) == "linalool"
        assert list(found)[-1] == "alpha-ionone"
        assert "coumarin" not in found
        assert found.get("tonka bean absolute", 0.0) < 60
        assert len(found.keys() - amounts.keys()) == 1


def test_filters_of_practice_count_and_their_drawbacks_are_shown(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        row_act(user, "replace", id="2")
        await until(lambda: any(t == "Take" for t in texts(user)))
        assert not any("not on record:" in t.lower() for t in texts(user))
        with user:
            (product,) = [e for e in ElementFilter(kind=ui.element) if e.props.get("aria-label") == "for"]
        write(user, product, "soap")
        press(user, "Ask")
        await until(lambda: any("in bar soap" in t for t in texts(user)), seconds=60.0)


def test_a_smell_that_was_asked_about_does_not_leak_into_another_question(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        with user:
            field(user, "smell").value = "bitter almond"
            field(user, "without").value = "hay"
        press(user, "Ask")
        await until(lambda: any(t.startswith("What keeps bitter almond") for t in texts(user)), seconds=60.0)
        row_act(user, "replace", id="1")
        assert field(user, "above all its").value == ""
        assert field(user, "without").value == ""
        await until(lambda: "What can replace linalool?" in texts(user), seconds=60.0)
        press(user, "Keep a smell alive")
        assert field(user, "smell").value == "bitter almond"
        assert field(user, "without").value == "hay"


def test_where_nothing_is_found_the_nearest_are_named_with_the_reason(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        with user:
            field(user, "smell").value = "bitter almond"
            field(user, "why not").value = "coumarin"
            (kind,) = [e for e in ElementFilter(kind=Element) if e.props.get("aria-label") == "kind"]
        for listener in list(kind._event_listeners.values()):
            with user:
                handle_event(
                    listener.handler, GenericEventArguments(sender=kind, client=user.client, args="base")
                )
        press(user, "Ask")
        reason = "coumarin is a molecule; you asked for a base."
        await until(lambda: reason in texts(user), seconds=60.0)
        with user:
            field(user, "why not").value = ""
        press(user, "Ask")
        await until(lambda: "Nearest, and why not" in texts(user) and reason not in texts(user), seconds=60.0)
        assert any(t.endswith("is a molecule; you asked for a base.") for t in texts(user))


def test_a_pinned_smell_has_a_lane_until_it_is_let_go(session):
    draft = session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        def lanes():
            with user:
                (found,) = [e for e in ElementFilter(kind=Lanes) if not e.props["plain"]]
            return {lane["facet"]: lane for lane in found.props["lanes"]}

        await until(lambda: lanes())
        assert "smoke" not in lanes()
        write(user, field(user, "a smell that is always drawn"), "smoke")
        await until(lambda: "smoke" in lanes())
        assert lanes()["smoke"]["pinned"]
        assert lanes()["smoke"]["ends"] == "not smelled"
        assert session.get(draft.id).fields["pinned"] == "smoke"
        write(user, field(user, "a smell that is always drawn"), "nonsuch")
        assert any(t.startswith("No facet is known by") or "nonsuch" in t for t in texts(user))


def test_a_move_away_from_a_smell_takes_the_place_of_its_carrier(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        press(user, "Move it elsewhere")
        with user:
            field(user, "toward").value = "less almond"
        press(user, "Ask")
        await until(lambda: any(t == "Take" for t in texts(user)), seconds=60.0)
        assert any(t.startswith('"less almond" is read as a refusal of bitter almond') for t in texts(user))
        press(user, "Take")
        names = [line["material"] for line in session.find("posy").lines]
        assert "benzaldehyde" not in names
        assert len(names) == 3


def test_a_companion_comes_with_its_pair_and_two_strips_and_goes_beside_the_lines(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        press(user, "Find companions")
        press(user, "Ask")
        await until(lambda: any(t == "Take" for t in texts(user)), seconds=60.0)
        shown = texts(user)
        assert "What goes well with posy?" in shown
        assert any(t.startswith("Classic beside ") for t in shown)
        assert any(t.startswith("Hold strips of posy ") for t in shown)
        press(user, "Take")
        assert len(session.find("posy").lines) == 4


def test_the_map_leaves_out_what_is_refused(session):
    @on(session, "/map?smell=not%20sweet,%20hay")
    async def _(user):
        counted = await until(lambda: next((t for t in texts(user) if t.endswith(" materials")), None))
        found = [m for m in session.workspace.palette.catalogue.materials if m.strength_of("hay") > 0]
        assert 0 < int(counted.split()[0]) < len(found)


def test_a_job_can_be_stopped_and_changes_nothing(session):
    draft = session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        press(user, "Ask")
        await until(lambda: any(t.startswith("trying materials") for t in texts(user)))
        press(user, "Stop")
        await until(lambda: "Stopped. The formula is as it was." in texts(user))
        assert session.get(draft.id).version == draft.version


def test_words_that_nobody_knows_are_answered_in_one_sentence(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        with user:
            field(user, "smell").value = "xyzzy"
        press(user, "Ask")
        await until(lambda: any('No facet is known by "xyzzy"' in t for t in texts(user)))


def test_lines_that_are_hardly_missed_are_marked(session):
    session.create("posy", [*POSY, {"material": "benzyl benzoate", "parts": "4"}])

    @on(session, "/formula/posy")
    async def _(user):
        spare = await until(lambda: next(filter(None, (row["spare"] for row in rows(user)[1].values())), ""))
        assert spare.startswith("hardly missed (most, ")


def test_the_theme_is_stored_with_the_formula_and_judged_by(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        await until(lambda: any(t.startswith("Theme: ") and "(inferred)" in t for t in texts(user)))
        typed = field(user, "theme: what the formula is about")
        write(user, typed, "bitter almond")
        await until(lambda: "Theme: bitter almond (stated)" in texts(user))
        write(user, typed, "almnd of nothing")
        await until(lambda: any("almnd" in t for t in texts(user)))

    assert session.find("posy").fields["theme"] == "almnd of nothing"


def test_the_theme_comes_with_a_file_and_a_version_and_goes_with_the_export(session):
    found = session.import_file("posy.csv", b"material,parts,theme\nlinalool,90,rose\ncoumarin,5,hay\n")
    assert found.fields["theme"] == "rose, hay"
    version = session.save_version(session.read(found).formula)
    again = session.open_version(version)
    assert session.read(again).formula.theme == ("rose", "hay")
    assert b'linalool,90,,,,"rose, hay"' in as_csv(again)


def test_limits_and_label_stand_below_the_formula(session):
    session.import_file(session.demo["bell_flower"].name, session.demo["bell_flower"].read_bytes())

    @on(session, "/formula/bell_flower")
    async def _(user):
        assert any(
            "prohibited" in t.lower() for t in await until(lambda: [t for t in texts(user) if "PROHIB" in t])
        )
        with user:
            field(user, "dosage in per cent").value = "15"
        await until(lambda: any(t.startswith("Stop: ") and "prohibited" in t for t in texts(user)))
        assert any(t.startswith("The label names ") and "Linalool" in t for t in texts(user))
        assert "Check the current Standards and your local law; a qualified person signs off." in texts(user)
        for word in ("safe", "compliant"):
            assert not any(re.search(rf"\b{word}\b", t) for t in texts(user))
        with user:
            field(user, "dosage in per cent").value = "much"
        await until(lambda: any(t.startswith("The dosage cannot be") for t in texts(user)))


def test_the_weighing_sheet(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        press(user, "Weigh")
        await until(lambda: "posy: 10.00 g, balance to 0.01 g" in texts(user))
        assert "6.67 g" in texts(user)
        with user:
            field(user, "batch, g").value = "30"
        await until(lambda: "posy: 30.00 g, balance to 0.01 g" in texts(user))
        with user:
            field(user, "batch, g").value = "a lot"
        await until(lambda: any(t.startswith('The batch cannot be "a lot"') for t in texts(user)))


def test_every_option_of_the_balance_is_asked_as_on_the_command_line(session):
    read = session.read(session.create("posy", [*POSY, {"material": "eugenol", "parts": "9"}]))
    fields = {"dosage": "20", "finished": "100 g", "within": "10", "carrier": "isopropyl myristate"}
    fields |= {"flat": "yes", "as-written": "yes", "digit": "0.001"}
    sheet = sheet_of(read, session.workspace, fields)
    assert (sheet.finished_g, sheet.carrier.slug, sheet.least_g) == (100.0, "isopropyl-myristate", 0.01)
    assert sheet.sections[-1].pours[0].line.content.slug == "linalool"
    assert sheet_of(read, session.workspace, {"finished-share": "2", "dosage": "20"}).shares == Shares(
        10, 20, 2
    )
    three = sheet_of(read, session.workspace, {"bracket": "eugenol", "dosage": "20"})
    assert three.bracket.material.slug == "eugenol"
    assert three.report is None


@pytest.mark.parametrize(
    ("fields", "place", "words"),
    [
        ({"finished": "100"}, "finished", "The finished product cannot be"),
        ({"within": "none"}, "within", "The share of a digit cannot be"),
        ({"carrier": "xyzzy"}, "carrier", "No material is called"),
        ({"carrier": "linalool"}, "carrier", "The solvent to top up with cannot be"),
        ({"bracket": "vanillin"}, "bracket", "The line of three vials cannot be"),
        ({"finished-share": "2"}, "finished-share", "The share of the finished product cannot be"),
        ({"batch": "heaps"}, "batch", "The batch cannot be"),
    ],
)
def test_what_is_wrong_at_the_balance_is_said_beside_its_field(session, fields, place, words):
    read = session.read(session.create("posy", POSY))
    problem = sheet_of(read, session.workspace, fields)
    assert (problem.field, problem[: len(words)]) == (place, words)


def test_certificates_count_and_what_is_wrong_with_them_is_said_beside(session):
    lines = [{"material": "lemon oil", "parts": "10"}, {"material": "ethanol", "parts": "90"}]
    read, palette = session.read(session.create("zest", lines)), session.workspace.palette

    def found(**fields):
        return formula_view(read, palette, {"dosage": "10", **fields}).product_summary

    amount = {row[0]: row[1] for row in found().all_rows}
    certified = {row[0]: row[1] for row in found(content="lemon oil: citral 5").all_rows}
    assert amount["citral"] != certified["citral"]
    before, after = (found(market="standards", shown=one).rows for one in ("", "lemon oil: furocoumarins"))
    assert any("furocoumarins" in row[3] for row in before)
    assert not any("furocoumarins" in row[3] for row in after)
    assert found(shown="lemon oil: furocoumarins; lemon oil: colour").field == "shown"
    wrong = found(content="lemon oil, citral")
    assert (wrong.field, wrong.startswith("The content by certificate cannot be")) == ("content", True)
    assert found(shown="xyzzy: peroxide value").field == "shown"


def test_the_decision_is_worded_as_on_the_command_line(session, tmp_path):
    draft = session.import_file(session.demo["morello"].name, session.demo["morello"].read_bytes())
    shown = formula_view(session.read(draft), session.workspace.palette, {"dosage": "15"}).product_summary
    said = run("check", "data/demo/morello.csv", "--dosage", "15").out
    first = " ".join(said.partition("\nmorello at")[0].split())
    assert shown.headline.lower() == first.lower()
    assert not any("--" in remark for remark in shown.remarks)


def test_the_weighing_sheet_names_what_is_prohibited_and_what_was_taken_for_granted(session):
    prohibited = session.import_file(
        session.demo["bell_flower"].name, session.demo["bell_flower"].read_bytes()
    )
    diluted = session.create("posy", [{"dilution_percent": "10", **line} for line in POSY])
    notes, others = (
        notes_of(sheet_of(session.read(draft), session.workspace, {})) for draft in (prohibited, diluted)
    )
    assert any(note.startswith("PROHIBITED") for note in notes)
    assert "Dilutions without a solvent are taken as in dipropylene glycol." in others
    assert not any(note.startswith("PROHIBITED") for note in others)


def test_the_page_takes_the_share_of_the_formula_in_a_concentrate(session):
    draft = session.import_file(session.demo["morello"].name, session.demo["morello"].read_bytes())
    read, palette = session.read(draft), session.workspace.palette

    def notes(share):
        fields = {"dosage": "15", "share": share, "weigh": "open"}
        found = formula_view(read, palette, fields)
        sheet, shown = found.sheet, found.drydown.notes
        return [*shown, *(sheet.notes if not isinstance(sheet, str) else [sheet])], found.product_summary

    assert sum(note.startswith("Above usual use") for note in notes("")[0]) == 2
    assert not any(note.startswith("Above usual use") for note in notes("20")[0])
    lines, product = notes("a lot")
    assert isinstance(product, str)
    assert product.startswith('The share cannot be "a lot"')
    assert product in lines
    undosed = formula_view(read, palette, {"share": "a lot"}).product_summary
    assert undosed == product  # what is wrong with the share is said without a dosage too


def test_what_is_wrong_with_the_share_leaves_the_dosage_and_the_other_way_round():
    today = date.today().isoformat()
    use, share = usable({"dosage": "15", "share": "a lot", "category": "9"})
    assert (use, share) == (ProductUse(15.0, "9", on=today), None)
    assert usable({"dosage": "a lot", "share": "20"}) == (ProductUse(on=today), 20.0)


def test_market_and_day_of_the_product_are_those_that_are_chosen_and_a_wrong_day_is_said(session):
    fields = {"dosage": "15", "market": "gb", "on": "2027-02-01"}
    assert usable(fields)[0] == ProductUse(15.0, market="gb", on="2027-02-01")
    lines = [{"material": "citral", "parts": "10"}, {"material": "ethanol", "parts": "90"}]
    read, palette = session.read(session.create("zest", lines)), session.workspace.palette
    later = formula_view(read, palette, fields | {"market": "eu", "on": "2026-12-31"}).product_summary
    assert any(remark.startswith("From 2027-01-01: citral") for remark in later.remarks)
    now = formula_view(read, palette, fields | {"market": "eu"}).product_summary
    assert now.headline.startswith("Stop: citral: above the limit held")
    assert now.remarks == ()
    begins = {
        "citral": "Stop: ",
        "allyl hexanoate": "Look up: ",
        "phenethyl alcohol": "Nothing found in this",
    }
    for name, text in begins.items():
        lines[0]["material"] = name
        one = session.read(session.create(f"zest of {name}", lines))
        shown = formula_view(one, palette, fields | {"market": "eu"}).product_summary
        assert shown.headline.startswith(text)
        assert shown.serious is (name != "phenethyl alcohol")
    wrong = formula_view(read, palette, fields | {"on": "soon"}).product_summary
    assert wrong.startswith('The day of sale cannot be "soon"')


def test_a_row_names_the_limit_that_gives_it_its_status(session):
    """Under any market the same figure is verified by one authority and from memory by another."""
    lines = [{"material": "beta-damascone", "parts": "1"}, {"material": "ethanol", "parts": "1999"}]
    read, palette = session.read(session.create("rose", lines)), session.workspace.palette
    found = formula_view(read, palette, {"dosage": "15", "market": "any"}).product_summary
    (row,) = found.rows
    assert row[3].startswith("below an unverified limit: ")
    assert row[3].endswith(", from memory")


def test_asking_without_a_choice_is_answered_where_what_fades_first_lasts_longer_than_a_day(session):
    lines = [{"material": "alpha-ionone", "parts": "60"}, {"material": "patchouli oil", "parts": "24"}]
    session.create("violet", lines)

    @on(session, "/formula/violet")
    async def _(user):
        press(user, "Ask")
        asked = await until(lambda: [t for t in texts(user) if t.startswith("What keeps ")])
        assert re.search(r"from [\d.]+ (h|days) to [\d.]+ (h|days) on a strip", asked[0])
        assert not any("already lasts" in t for t in texts(user))


def test_an_error_of_a_file_names_it_as_it_is_and_no_option():
    bottles = BadTable("mine.csv", "no column looks like the name of a bottle", remedy="Name it: --map x")
    assert sentence(bottles) == (
        'mine.csv: no column looks like the name of a bottle. Give one the header "label".'
    )
    assert sentence(BadTable("a.ods", "the file is empty", line=2)) == "a.ods, line 2: the file is empty."


def test_a_note_on_the_page_names_no_command():
    assert without_commands("PROHIBITED: x, by y. See `recommender material`.") == "PROHIBITED: x, by y."
    priceless = "No bottle on the shelf has a price, so that prices decide nothing; see `recommender shelf`."
    assert without_commands(priceless) == priceless.partition(";")[0] + "."
    unnamed = "From my shelf only: no bottle has a material yet; see `recommender shelf list`."
    assert without_commands(unnamed) == "From my shelf only: no bottle has a material yet."
    unsaved = "The formula: nothing is saved under it; `recommender formulas list` shows them."
    assert without_commands(unsaved) == "The formula: nothing is saved under it."


def test_an_accord_has_no_stand_in_and_the_page_says_what_to_do(session):
    session.create("inner", POSY)
    session.create("outer", [*POSY, {"material": "inner.csv", "parts": "10"}])

    @on(session, "/formula/outer")
    async def _(user):
        row_act(user, "replace", id=rows(user)[1]["inner.csv"]["id"])
        assert any(t.startswith("This line is an accord of its own: open it") for t in texts(user))


def test_two_tabs_do_not_overwrite_each_other(session):
    draft = session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        session.change(draft.id, set_cell("1", "parts", "90", "80"))  # the other tab
        assert rows(user)[1]["linalool"]["parts"] == "80"
        assert "Changed in another tab: linalool: parts 80." in texts(user)
        with pytest.raises(ChangedMeanwhile):  # and one that has not seen it yet
            session.change(draft.id, set_cell("1", "parts", "90", "70"))
        assert session.get(draft.id).lines[0]["parts"] == "80"


def test_a_change_by_another_program_is_not_overwritten(session):
    draft = session.create("posy", POSY)
    other = PageSession(session.path)

    @on(session, "/formula/posy")
    async def _(user):
        other.change(draft.id, set_cell("1", "parts", "90", "80"))
        write_cell(user, "linalool", "parts", "70")
        assert session.get(draft.id).lines[0]["parts"] == "80"
        assert any('It stands at "80" now' in t for t in texts(user))
        assert rows(user)[1]["linalool"]["parts"] == "80"
        assert rows(user)[0].props["answered"] == 1


def test_a_name_and_a_version(session):
    session.create("posy", POSY)

    @on(session, "/formula/posy")
    async def _(user):
        press(user, "Save a version")
        assert "Saved as posy@1." in texts(user)
        press(user, "Save a version")
        assert "posy@1 is the same already." in texts(user)
        with user:
            field(user, "name of the formula")  # the bar is there
            field(user, "what is new in this version").value = "more almond"
        row_act(
            user, "write", turn=1, id="1", column="parts", was=rows(user)[1]["linalool"]["parts"], value="7"
        )
        press(user, "Save a version")
        assert "Saved as posy@2." in texts(user)
        assert session.workspace.formulas.version("posy").note == "more almond"
        assert field(user, "what is new in this version").value == ""


def test_an_empty_sheet_says_what_to_do(session):
    session.create("new", [{}])

    @on(session, "/formula/new")
    async def _(user):
        assert any(t.startswith("Nothing to draw yet.") for t in texts(user))
        press(user, "Ask")
        assert any(t.startswith("Put at least one material") for t in texts(user))
        row_act(user, "write", turn=1, id="2", column="material", was="", value="linalool", fresh=True)
        assert [line["material"] for line in session.find("new").lines] == ["", "linalool"]


def test_the_map_is_filtered_and_leads_to_cards(session):
    @on(session, "/map?smell=tonka&position=base")
    async def _(user):
        assert "coumarin" in texts(user)
        assert "vanillin" not in texts(user)
        press(user, "coumarin")
        assert any(t.startswith("hay (leading)") for t in texts(user))


def test_a_card_takes_the_note_of_a_nose_and_gives_it_back(session):
    @on(session, "/material/alpha-ionone")
    async def _(user):
        with user:
            field(user, "it smells of").value = "raspberry 3, hay 2"
            field(user, "in your words").value = "like the jam of the neighbour"
        press(user, "Save this note")
        assert any(t.startswith("To your nose: raspberry (leading), hay (clear)") for t in texts(user))
        assert session.workspace.palette.catalogue.by_slug("alpha-ionone").labels[0].facet == "raspberry"
        press(user, "Remove it")
        assert session.workspace.palette.catalogue.by_slug("alpha-ionone").own is None
        press(user, "Save this note")
        assert any("give what it smells of to you" in t for t in texts(user))


def test_a_path_between_two_materials(session):
    @on(session, "/material/coumarin")
    async def _(user):
        from recommender.web.pages.material_page import path_words

        palette = session.workspace.palette
        told = path_words(palette.catalogue.find("coumarin"), "tonka bean absolute", palette)
        assert told.startswith("coumarin is found in tonka bean absolute")
        assert "Likeness of the whole smell: 0." in told
        assert (
            "no material is called"
            in path_words(palette.catalogue.find("coumarin"), "nonsuch", palette).lower()
        )


def test_trials_are_read_from_a_sheet_and_shown_before_they_are_stored(session):
    draft = session.create("posy", POSY)
    title = session.save_version(session.read(draft).formula, "first of all").title
    sheet = b"formula,day,hours,facet,strength\nposy,2026-01-02,1,almond,clear\n,2026-01-03,1,,strong\n"

    @on(session, f"/trials?of={title}")
    async def _(user):
        assert "What is new in it: first of all" in texts(user)
        with user:
            page = TrialsPage(session, title)
        with user:
            await page.sheets.uploaded("t.csv", sheet)
        assert "t.csv: 2 trials, not stored yet" in texts(user)
        assert session.workspace.trials.records(title) == []
        press(user, "Put them on record")
        await until(lambda: len(session.workspace.trials.records(title)) == 2)
        assert "2 trials are on record." in texts(user)
        with user:
            await page.sheets.uploaded("t.csv", b"formula,hours,strength\nnonsuch,1,clear\n")
        assert any("nonsuch" in text and "line 2" in text for text in texts(user))


def test_strips_are_read_from_a_sheet_and_shown_before_they_are_stored(session):
    @on(session, "/limits")
    async def _(user):
        with user:
            page = StripsPage(session)
        with user:
            await page.sheets.uploaded("s.csv", b"material,hours,strength\nlinalool,1,clear\n")
        assert "s.csv: 1 strips, not stored yet" in texts(user)
        assert session.workspace.own_strips.records() == []
        press(user, "Put them on record")
        (strip,) = session.workspace.own_strips.records()
        assert strip.material.name == "linalool"


def test_without_a_saved_version_the_formulas_are_named_that_can_be_saved(session):
    draft = session.create("posy", POSY)

    @on(session, "/trials")
    async def _(user):
        with user:
            (link,) = [e for e in ElementFilter(kind=ui.html) if e.content == "Open posy and save a version"]
        assert link.props["href"] == f"/formula/{draft.id}"


def test_the_filters_of_the_next_version_reach_the_request(session):
    draft = session.create("posy", POSY)
    session.save_version(session.read(draft).formula)

    @on(session, "/shelf")
    async def _(user):
        with user:
            asked = NextVersionSection(session, lambda _: None)
        asked.form.values.update(until_hours="3d", only_shelf=True, product="soap", max_price="0,5")
        request = asked.request()
        assert (request.until_hours, request.only_shelf) == (72.0, True)
        assert (request.product, request.max_price) == ("soap", 0.5)
        asked.form.values.update(until_hours="later")
        with pytest.raises(BadValue, match="until_hours"):
            asked.request()


def test_the_next_version_is_judged_by_the_theme_that_is_typed(session, monkeypatch):
    draft = session.create("posy", POSY)
    saved = session.save_version(session.read(draft).formula)
    session.workspace.trials.add(saved.title, {1.0: "almond gone"})
    jobs = []

    async def run(job, most_seconds=None):
        jobs.append(job)
        raise JobFailed("enough")

    monkeypatch.setattr(session.jobs, "run", run)

    @on(session, "/shelf")
    async def _(user):
        with user:
            asked = NextVersionSection(session, lambda _: None)
            asked.show(session.workspace.smelled(saved.title))
        for theme in ("", "hay, cherry", "sqwibble"):
            asked.form.values["theme"] = theme
            await asked._ask()
        assert [job.subject.theme for job in jobs] == [(), ("hay", "cherry")]
        assert any("sqwibble" in text for text in texts(user))


def test_a_batch_has_its_price_below_the_weighing_sheet(session):
    linalool, coumarin = (session.workspace.material(name) for name in ("linalool", "coumarin"))
    bottle = session.workspace.shelf.add("linalool", price_per_g="0.5", amount_g="1")
    rows = [MaterialCost(linalool, 4.0, bottle, 4.0, 2.0, 3.0), MaterialCost(coumarin, 1.0)]
    assert cost_words(rows) == (
        "This batch costs 2 from your bottles, 1 of 2 materials counted; in no bottle: coumarin; "
        "the bottle of linalool lacks 3 g."
    )
    assert cost_words(rows[1:]) == ""


def test_readings_stand_beside_the_prediction(session):
    draft = session.create("posy", POSY)
    session.save_version(session.read(draft).formula)

    def written():
        with session.workspace.reading():
            found = [one for record in session.workspace.trials.records("posy") for one in record.readings]
        return [(one.hours, one.facet) for one in found]

    @on(session, "/trials")
    async def _(user):
        await until(lambda: "it smells" in texts(user))
        with user:
            field(user, "after").value = "8h"
            field(user, "it smells").value = "bitter almond gone, whole clear (thin)"
        press(user, "Save this reading")
        await until(lambda: any(text.startswith("Trial 1, ") for text in texts(user)))
        assert sorted(written()) == [(8.0, ""), (8.0, "bitter almond")]
        assert field(user, "reading: whole at 8 h").value == "whole clear (thin)"
        with user:
            field(user, "it smells").value = "nonsense"
        press(user, "Save this reading")
        await until(lambda: any("write a smell and" in t for t in texts(user)))


def test_a_bottle_whose_label_and_number_disagree_is_asked_about_before_it_is_stored(session, tmp_path):
    file = tmp_path / "mine.csv"
    file.write_text("label,cas\nvanillin,91-64-5\n", encoding="utf-8")
    columns, rows = importers.read(file, session.workspace.palette.catalogue)

    @on(session, "/shelf")
    async def _(user):
        with user:
            ShelfPage(session).show_import("mine.csv", columns, rows)
        assert any("the label says vanillin, the CAS number 91-64-5 is that of" in t for t in texts(user))
        press(user, "vanillin is coumarin")
        assert "Line 2, “vanillin” is coumarin." in texts(user)
        assert session.workspace.shelf.stock().bottles == ()
        press(user, "Put 1 bottle on the shelf")
        assert "1 bottle from mine.csv: 1 new." in texts(user)

    assert [bottle.material for bottle in session.workspace.shelf.stock().bottles] == ["coumarin"]
    assert session.workspace.palette.catalogue.find("vanillin").slug == "vanillin"


def test_a_row_with_an_error_is_mended_in_place_and_put_with_the_others(session, tmp_path):
    file = tmp_path / "mine.csv"
    file.write_text("label,amount,opened\nlinalool,much,2024-01-01\ncoumarin,3,\n", encoding="utf-8")
    columns, rows = importers.read(file, session.workspace.palette.catalogue)

    @on(session, "/shelf")
    async def _(user):
        with user:
            ShelfPage(session).show_import("mine.csv", columns, rows)
        assert "1 of 2 rows are read and 1 left out until mended." in texts(user)
        assert '"much" is not a number.' in texts(user)
        write(user, field(user, "amount in line 2"), "2 g")
        assert '"much" is not a number.' not in texts(user)
        assert "Read: linalool, linalool." in texts(user)
        press(user, "Put 2 bottles on the shelf")

    found = {bottle.label: bottle.amount_g for bottle in session.workspace.shelf.stock().bottles}
    assert found == {"linalool": 2.0, "coumarin": 3.0}


def test_a_bottle_is_put_on_the_shelf_and_its_label_counts_in_formulas(session):
    @on(session, "/shelf")
    async def _(user):
        assert any(t.startswith("The shelf is empty.") for t in texts(user))
        with user:
            for label, value in {
                "name on the label": "violet stuff",
                "material (if the label is your own word)": "alpha-ionone",
                "dilution %": "10",
            }.items():
                field(user, label).value = value
        press(user, "Put it there")
        assert "Violet stuff is on the shelf." in texts(user)
        assert "10 %" in texts(user)
        assert session.workspace.palette.catalogue.find("violet stuff").slug == "alpha-ionone"
        with user:
            field(user, "name on the label").value = "what is this"
        press(user, "Put it there")
        assert any("no material is called" in t.lower() for t in texts(user))
        press(user, "Take violet stuff off the shelf")
        assert any(t.startswith("The shelf is empty.") for t in texts(user))
        assert any(t.startswith("Violet stuff is off the shelf") for t in texts(user))


def rows_of(session):
    with reading(session.path) as db:
        return digest(db)


def test_a_bottle_that_is_taken_off_comes_back_at_once_or_later(session):
    for percent in (10.0, 100.0, 1.0):
        cells = {
            "dilution_percent": percent,
            "solvent": "ethanol",
            "amount_g": 3.25,
            "price_per_g": 0.1,
            "opened": "2026-01-02",
            "lot": "L 7",
            "note": "from a friend",
        }
        session.workspace.shelf.add("violet stuff", "alpha-ionone", **cells)
    before = rows_of(session)

    @on(session, "/shelf")
    async def _(user):
        press(user, "Take violet stuff off the shelf")
        assert len(session.workspace.shelf.stock().bottles) == 2
        assert rows_of(session) != before
        press(user, "Undo")
        assert rows_of(session) == before
        assert "Undo" not in texts(user)
        press(user, "Take violet stuff off the shelf")

    @on(session, "/shelf")  # the page was closed in between
    async def _(user):
        assert len(session.workspace.shelf.stock().bottles) == 2
        press(user, "Bring back: violet stuff, 1 %, 3.25 g, lot L 7")
        assert rows_of(session) == before
        assert not any(t.startswith("Removed: ") for t in texts(user))


def test_a_bottle_that_another_tab_took_off_is_said_to_be_off(session):
    session.workspace.shelf.add("violet stuff", "alpha-ionone")

    @on(session, "/shelf")
    async def _(user):
        session.workspace.shelf.remove(1)
        press(user, "Take violet stuff off the shelf")
        assert any(t.startswith("Violet stuff is off the shelf") for t in texts(user))
        assert "Undo" not in texts(user)
        press(user, "Bring back: violet stuff")
        assert len(session.workspace.shelf.stock().bottles) == 1


def test_a_trial_that_is_taken_out_comes_back_with_its_readings(session):
    draft = session.create("posy", POSY)
    version = session.save_version(session.read(draft).formula)
    session.workspace.trials.add(
        version.title, [Reading(h, "clear", "rose", h / 2, f"at {h}") for h in (1.0, 8.0, 168.0)]
    )
    before = rows_of(session)

    @on(session, "/trials")
    async def _(user):
        await until(lambda: any(t == "Remove" for t in texts(user)))
        press(user, "Remove trial 1")
        await until(lambda: "Trial 1 is removed, with all its readings." in texts(user))
        assert session.workspace.trials.records(version.title) == []
        press(user, "Undo")
        await until(lambda: "Trial 1 is there again." in texts(user))
        assert rows_of(session) == before
        await until(lambda: any(t == "Remove" for t in texts(user)))
        press(user, "Remove trial 1")
        await until(lambda: session.workspace.trials.records(version.title) == [])

    @on(session, "/trials")
    async def _(user):
        held = await until(lambda: [t for t in texts(user) if t.startswith("posy@1, ")])
        assert "3 readings; removed 20" in held[0]
        press(user, "Bring back")
        await until(lambda: "Trial 1 is there again." in texts(user))
        assert rows_of(session) == before


def test_a_triangle_answer_is_typed_counted_removed_and_brought_back(session):
    draft = session.create("posy", POSY)
    session.save_version(session.read(draft).formula)
    formula = session.read(draft).formula
    more = replace(formula.lines[0], parts=2 * formula.lines[0].parts)
    session.save_version(replace(formula, lines=(more, *formula.lines[1:])))
    here = session.workspace
    test = triangle(*(here.formulas.open(name)[1] for name in ("posy@1", "posy@2")))

    @on(session, "/trials?of=posy@2")
    async def _(user):
        write(user, field(user, "smelled after"), "15 min")
        write(user, field(user, "the odd one"), "greener")
        press(user, "Save this answer")
        await until(lambda: any("write the number of the odd strip first" in t for t in texts(user)))
        assert here.trials.records() == []
        write(user, field(user, "the odd one"), f"{test.visits[0].odd} greener")
        write(user, field(user, "room of the test"), "21")
        press(user, "Save this answer")
        await until(
            lambda: any(t.startswith("Triangle test against posy@1: 1 of 1 right") for t in texts(user))
        )
        (record,) = here.trials.records("posy@2")
        assert (record.triangle.answers[0].words, record.room_c) == ("greener", 21.0)
        press(user, "Remove trial 1")
        await until(lambda: here.trials.records() == [])
        press(user, "Undo")
        await until(lambda: here.trials.records() == [record])


def test_a_note_that_is_taken_back_or_written_over_comes_back(session):
    session.workspace.nose.add("alpha-ionone", "raspberry 3", "violet", words="like jam")
    before = rows_of(session)

    @on(session, "/material/alpha-ionone")
    async def _(user):
        press(user, "Remove it")
        assert "Your note on alpha-ionone is removed; the table counts again." in texts(user)
        press(user, "Undo")
        assert rows_of(session) == before
        with user:
            field(user, "in your words").value = "like hay"
        press(user, "Save this note")
        assert "“like hay”" in texts(user)
        press(user, "Bring back: alpha-ionone, raspberry 3, no violet, like jam")
        assert "“like jam”" in texts(user)
        assert [one.rows["notes"][0]["words"] for one in session.workspace.removed.entries("note")] == [
            "like hay"
        ]


def test_a_line_that_is_taken_out_of_a_formula_comes_back(session):
    draft = session.create("posy", [{"note": "a note", "dilution_percent": "10", **line} for line in POSY])

    @on(session, "/formula/posy")
    async def _(user):
        row_act(user, "remove", ids=["2"])
        assert "benzaldehyde is out of the formula." in texts(user)
        assert len(session.get(draft.id).lines) == 2
        with user:
            (undo,) = [
                e for e in ElementFilter(kind=ui.html) if e.content == "Undo" and not e.props.get("title")
            ]
        assert undo.visible
        for listener in list(undo._event_listeners.values()):
            with user:
                handle_event(
                    listener.handler, GenericEventArguments(sender=undo, client=user.client, args={})
                )
        assert session.get(draft.id).lines == draft.lines
        assert "benzaldehyde is out of the formula." not in texts(user)


@pytest.mark.parametrize("path", VIEWS)
def test_every_word_on_a_page_stands_for_itself(session, path):
    evil = '<img src=x onerror="1">'
    draft = session.create("posy", [*POSY, {"material": evil, "parts": evil, "note": evil}])
    session.save_version(replace(session.read(draft).formula, name="posy <img src=x>"))
    session.workspace.shelf.add(evil, "coumarin", lot=evil, note=evil)
    session.workspace.nose.add("coumarin", words=evil)

    @on(session, path)
    async def _(user):
        with user:
            pieces = list(ElementFilter(kind=ui.html))
        assert [one.props["innerHTML"] for one in pieces] == [escape(one.content) for one in pieces]


@pytest.mark.parametrize("path", VIEWS)
def test_no_page_names_an_outside_host(session, path):
    session.create("posy", POSY)
    found = {}

    @on(session, path)
    async def _(user):
        answer = await user.http_client.get(path)
        assert answer.status_code == 200
        found["text"] = answer.text

    loaded = re.findall(r"""(?:src|href|url)\s*[=(:]\s*\\?["']?((?:https?:)?//[^"'\s)>]+)""", found["text"])
    assert [url for url in loaded if "www.w3.org" not in url] == []  # a name space is no place to load from


def test_what_is_not_there_says_so(session):
    @on(session, "/formula/nonsuch")
    async def _(user):
        assert "No formula called nonsuch is on the page" in texts(user)

    @on(session, "/material/nonsuch")
    async def _(user):
        assert "No material has this key" in texts(user)


def test_a_file_with_errors_is_laid_out_with_each_error_at_its_row(session):
    draft = session.import_file(
        "mine.csv", "material;parts\nlinalool;10,5\nnonsuch;3\nvanillin;-1\n".encode("utf-16")
    )
    read = session.read(draft)
    assert [read.problems[n].column for n in ("2", "3")] == ["material", "parts"]
    assert read.found["1"].parts == 10.5
