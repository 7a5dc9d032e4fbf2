"""What the chart library is given, and whether everyone can read it."""

import ast
import itertools
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from asking import drydown

pytest.importorskip("nicegui")

import recommender.web
from recommender.formulas import curves
from recommender.output.curves import curve_name, mark_text
from recommender.palette import shipped
from recommender.similarity import likeness_map
from recommender.web.pages import map_page
from recommender.web.widgets import chart

CSS = (Path(recommender.web.__file__).parent / "pages" / "style.css").read_text(encoding="utf-8")
DRAWING = curves.drawing(drydown("data/demo/morello.csv", shipped()))


def palette(selector):
    block = re.search(rf"^{re.escape(selector)} {{(.*?)^}}", CSS, re.DOTALL | re.MULTILINE)[1]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))


def luminance(colour):
    """Relative luminance as WCAG 2.2 defines it, from sRGB."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("selector", [":root", ".body--dark"])
def test_every_text_and_every_named_line_has_enough_contrast(selector):
    """WCAG 2.2, 1.4.3 (text, 4.5 to 1) and 1.4.11 (edges of fields, 3 to 1)."""
    # by the same definition black on white is 21, and #767676 on white 4.54
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)
    held = palette(selector)
    texts = ["ink", "quiet", "accent", "warn", *(f"line-{n}" for n in range(curves.MOST))]
    for text in texts:
        for ground in ("ground", "sheet", "wash"):
            assert contrast(held[text], held[ground]) >= (
                4.5 if ground != "wash" or text == "ink" else 3.0
            ), text
    assert contrast(held["on-accent"], held["accent"]) >= 4.5
    for ground in ("ground", "sheet"):
        assert contrast(held["edge"], held[ground]) >= 3.0


def seen_by(colour, kind):
    """Return a colour as protanopes and deuteranopes see it.

    Machado, Oliveira, Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, severity 1.0 (matrices from
    memory; applied to sRGB values, which is near enough to tell colours apart).
    """
    matrix = {
        "protan": ((0.152, 1.053, -0.205), (0.115, 0.786, 0.099), (-0.004, -0.048, 1.052)),
        "deutan": ((0.367, 0.861, -0.228), (0.280, 0.673, 0.047), (-0.012, 0.043, 0.969)),
    }[kind]
    channels = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return [sum(weight * c for weight, c in zip(row, channels, strict=True)) for row in matrix]


def test_lines_that_some_eyes_confuse_have_other_dashes():
    assert len({json.dumps(dash) for dash in chart.DASHES}) == curves.MOST
    held = palette(":root")
    for kind in ("protan", "deutan"):
        seen = [seen_by(held[f"line-{n}"], kind) for n in range(curves.MOST)]
        apart = [
            sum((a - b) ** 2 for a, b in zip(x, y, strict=True)) ** 0.5
            for i, x in enumerate(seen)
            for y in seen[:i]
        ]
        assert sorted(apart)[3] > 20, kind  # most pairs are told apart even without the dashes


def test_the_chart_holds_every_curve_its_name_its_band_and_the_gaps():
    told = chart.options(DRAWING)
    by_id = {s["id"]: s for s in told["series"]}
    assert {f"line {c.facets[0]}" for c in DRAWING.curves} <= set(by_id)
    assert {f"band {c.facets[0]} {end}" for c in DRAWING.curves if c.gone for end in ("low", "high")} <= set(
        by_id
    )
    assert {d["label"]["formatter"] for d in by_id["names"]["data"]} == {
        curve_name(c) for c in DRAWING.curves
    }
    marks = [m["label"]["formatter"] for m in by_id["marks"]["markLine"]["data"]]
    assert {mark_text(mark) for mark in DRAWING.marks} <= set(marks)
    assert any(mark.startswith("violet gone by ") for mark in marks)
    assert "clear" in marks
    json.dumps(told, allow_nan=False)


def test_names_at_the_right_do_not_touch():
    for name in ("morello", "green_fig", "bell_flower", "tide_pool"):
        drawing = curves.drawing(drydown(f"data/demo/{name}.csv", shipped()))
        placed = sorted(level for c, level in chart.spread(drawing, 100.0) if c.name_hours >= 168)
        assert all(b - a >= 0.99 * 100.0 * chart.NAME_GAP for a, b in itertools.pairwise(placed))


def test_the_clicked_facet_is_highlighted():
    told = chart.options(DRAWING, "violet")
    lines = {s["id"]: s for s in told["series"] if s["id"].startswith("line ")}
    assert lines["line violet"]["lineStyle"]["opacity"] == 1
    assert lines["line patchouli"]["lineStyle"]["opacity"] < 1


def test_a_smell_keeps_its_colour_when_the_formula_changes():
    mended = curves.drawing(drydown("data/demo/morello_mended.csv", shipped()))
    after = chart.steady(mended, DRAWING)
    places = [{f: c.place for c in drawing.curves for f in c.facets} for drawing in (DRAWING, after)]
    both = places[0].keys() & places[1].keys()
    alone = {c.facets for c in after.curves if len(c.facets) == 1}
    assert {f for f in both if (f,) in alone and places[0][f] != places[1][f]} <= {"cherry"}  # shared a line
    assert len({c.place for c in after.curves}) == len(after.curves)


def test_the_words_of_gaps_stand_in_rows_of_which_none_covers_another():
    many = replace(DRAWING, marks=tuple(curves.Mark(h, ("hay",), h) for h in (0.02, 0.04, 0.08, 168.0)))
    assert chart.mark_rows(many) == [0, 1, 2, 0]
    told = chart.options(many)
    marks = next(s for s in told["series"] if s["id"] == "marks")["markLine"]
    assert marks["label"]["rotate"] == 0
    assert [m["label"]["distance"] for m in marks["data"][:4]] == [25, 40, 55, 25]
    assert told["grid"]["top"] > chart.options(replace(many, marks=()))["grid"]["top"] + 40


def test_a_colour_follows_from_the_name_and_not_from_the_order():
    turned = replace(
        DRAWING, curves=tuple(replace(c, place=n) for n, c in enumerate(reversed(DRAWING.curves)))
    )
    one, other = ({c.facets: c.place for c in chart.steady(d, None).curves} for d in (DRAWING, turned))
    assert one == other
    assert len(set(one.values())) == len(one)


def test_the_map_draws_all_and_fills_what_is_looked_for():
    places = likeness_map.places(shipped().catalogue, shipped().space)
    told = map_page.options(places, [], {"coumarin"}, "coumarin", ["vanillin"])
    series = {s["id"]: s["data"] for s in told["series"] if "id" in s}
    dots = {dot["name"]: dot for dot in series["materials"] + series["rest"]}
    assert [dot["name"] for dot in series["materials"]] == ["coumarin"]  # drawn over the others
    assert len(dots) == len(places)
    assert dots["coumarin"]["label"]["show"]
    assert not dots["vanillin"]["label"]["show"]
    assert dots["coumarin"]["symbolSize"] > dots["vanillin"]["symbolSize"]
    (lines,) = [s for s in told["series"] if s["type"] == "lines"]
    assert len(lines["data"]) == 1


MARKUP = 'evil <img src=x onerror="window.ran = 1"> {b}'


def test_a_name_reaches_the_map_as_text_and_its_tooltip_is_built_without_markup():
    first, *rest = likeness_map.places(shipped().catalogue, shipped().space)
    evil = replace(first, material=replace(first.material, name=MARKUP))
    told = map_page.options([evil, *rest], [], {evil.material.slug}, "", [])
    (series,) = [s for s in told["series"] if s.get("id") == "materials"]
    (dot,) = [d for d in series["data"] if d["name"] == evil.material.slug]
    assert dot["lines"][0] == MARKUP
    assert not [text for text in dot["lines"][1:] if "<" in text]
    assert "formatter" not in dot["label"]  # braces in a text are read as a template
    for options in (told, chart.options(DRAWING)):
        script = options["tooltip"][":formatter"]
        assert "textContent" in script
        assert not re.search(r"<\w|innerHTML", script)


def test_one_piece_alone_puts_text_into_the_page():
    """`elements.words` escapes; no other view writes markup of its own, but for the frame around all."""
    folder = Path(recommender.web.__file__).parent
    for file in sorted(folder.rglob("*.py")):
        source = file.read_text(encoding="utf-8")
        assert "ui.html(" not in source or file.name == "elements.py", file
        if file.name != "frame.py":
            tree = ast.parse(source)
            held = [
                n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)
            ]
            assert [text for text in held if re.search(r"</?[a-z]|innerHTML", text)] == [], file
