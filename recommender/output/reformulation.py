"""A reformulation as data, rows and lines: what changes, why, what it costs in smell, what clashes."""

from collections.abc import Mapping
from typing import Any

from recommender.evidence.catalogue import Catalogue
from recommender.formulas import formula as formulas
from recommender.model import guessed_right
from recommender.output import product, wording
from recommender.output.wording import sixth
from recommender.reformulation.answer import (
    ADDED,
    LOWERED,
    SWAPPED,
    TAKEN_OUT,
    Clash,
    FacetShift,
    FormulaChange,
    ReformulatedFormula,
    Reformulation,
)
from recommender.reformulation.rules import (
    BANNED,
    CHANGES,
    KEEP,
    LABEL,
    LIMIT,
    PRICE,
    PRODUCT,
    SHELF,
    WITHOUT,
)
from recommender.reformulation.triangle import TriangleTest
from recommender.regulation import PHOTOTOXIC
from recommender.units import duration

CHANGE_COLUMNS = (
    "answer",
    "kind",
    "line",
    "from",
    "to",
    "cas_to",
    "parts_before",
    "parts_after",
    "costs",
    "why",
)
TRIANGLE_COLUMNS = ("hours", "first", "second", "third", "odd_one", "remarks")


def data(found: Reformulation, catalogue: Catalogue) -> dict[str, Any]:
    """Return a reformulation as plain data; the first answer stands on top, all stand in `answers`."""
    answers = [_answer(number, one, catalogue) for number, one in enumerate(found.answers, 1)]
    first: dict[str, Any] = answers[0] if answers else {}
    course = found.course
    return {
        "query": _query(found),
        "causes": [
            {
                "kind": cause.kind,
                "name": cause.name or None,
                "text": cause.text,
                "before": sixth(cause.before),
                "bound": sixth(cause.bound),
            }
            for cause in found.causes
        ],
        "changes": first.get("changes", []),
        "formula": first.get("formula", []),
        "preserved": first.get("preserved"),
        "obvious": sixth(found.obvious),
        "course": None
        if course is None
        else {
            "hours": [wording.tidy(hour) for hour in course.hours.tolist()],
            "before": {facet: _curve(values) for facet, values in course.before.items()},
            "after": {facet: _curve(values) for facet, values in course.after.items()},
        },
        "check": first.get("check"),
        "answers": answers,
        "clashes": [
            {"kind": one.kind, "name": one.name or None, "asked": sixth(one.asked), "least": sixth(one.least)}
            | {"text": clash_text(one)}
            for one in found.clashes
        ],
        "finished": found.finished,
        "notes": notes(found),
    }


def _query(found: Reformulation) -> dict[str, Any]:
    request = found.request
    return {
        "verb": "reformulate",
        "formula": found.before.name,
        "theme": list(found.theme),
        "dosage": request.dosage_percent,
        "category": request.category.upper(),
        "market": request.market,
        "on": request.on or None,
        "without": _texts(request.without),
        "keep": _texts(request.keep),
        "max_price": request.max_price,
        "shelf": request.only_shelf,
        "no_label_allergens": request.no_label_allergens,
        "product": request.product,
        "changes": request.changes,
        "share": request.share_percent,
        "top": request.top,
    }


def _texts(words: Any) -> list[str]:
    return [words] if isinstance(words, str) else list(words or ())


def _curve(values: Any) -> list[float]:
    return [float(f"{value:.6g}") for value in values.tolist()]


def _answer(number: int, found: ReformulatedFormula, catalogue: Catalogue) -> dict[str, Any]:
    return {
        "rank": number,
        "preserved": sixth(found.preserved),
        "number_of_changes": found.number_of_changes,
        "changes": [_change(change) for change in found.changes],
        "formula": formulas.rows(found.formula),
        "lost": [_shift(one) for one in found.lost],
        "gained": [_shift(one) for one in found.gained],
        "check": None if found.report is None else product.data(found.report, catalogue),
        "price": sixth(found.price),
    }


def _change(change: FormulaChange) -> dict[str, Any]:
    return {
        "kind": change.kind,
        "line": change.line.name if change.line else None,
        "from": change.line.name if change.line else None,
        "cas_from": (change.line.cas or None) if change.line else None,
        "to": change.to.name if change.to else None,
        "cas_to": (change.to.cas or None) if change.to else None,
        "parts_before": sixth(change.parts_before),
        "parts_after": sixth(change.parts_after),
        "costs": sixth(change.costs),
        "makes_good": list(change.makes_good),
        "brings": list(change.brings),
        "usual": None if change.usual is None else {"low": change.usual[0], "high": change.usual[1]},
        "why": why(change),
    }


def _shift(found: FacetShift) -> dict[str, Any]:
    return {"facet": found.facet, "before": sixth(found.before), "after": sixth(found.after)}


def rows(found: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return every change of every answer of `data` as a row."""
    return [{"answer": one["rank"], **change} for one in found["answers"] for change in one["changes"]]


def notes(found: Reformulation) -> list[str]:
    """Return what a person should know beside the answers."""
    lines = list(found.notes)
    if not found.finished:
        lines.append("The search was ended before all was tried; given more time it may find better.")
    if found.answers and not found.unchanged:
        lines.append("Amounts of what comes in are a first try: weigh it beside the formula as it was.")
    return [*lines, *([wording.SIGNS_OFF] if found.answers else [])]


def why(change: FormulaChange) -> str:
    """Return the reason for a change, in a sentence."""
    causes = "; ".join(cause.text for cause in change.causes)
    good = f"makes good {wording.join(change.makes_good)}" if change.makes_good else ""
    brings = f"brings along {wording.join(change.brings)}" if change.brings else ""
    if not causes and not good:
        good = "balances what else has changed"
    return "; ".join(part for part in (causes, good, brings) if part)


def change_text(change: FormulaChange) -> str:
    """Return what to change, in one line."""
    before, after = wording.parts_of(change.parts_before), wording.parts_of(change.parts_after)
    if change.kind == ADDED:
        return f"add {after} {_name(change.to)}"
    if change.kind == TAKEN_OUT:
        return f"take out {before} {_name(change.line)}"
    if change.kind == SWAPPED:
        return f"swap {before} {_name(change.line)} for {after} {_name(change.to)}"
    verb = "lower" if change.kind == LOWERED else "raise"
    return f"{verb} {_name(change.line)} from {before} to {after}"


def _name(material: Any) -> str:
    return material.name if material else ""


def lines(found: Reformulation) -> list[str]:
    """Return a reformulation as lines of text."""
    name = found.before.name
    if found.unchanged:
        return [f"{name}: nothing is in the way; it stays as it is."]
    if not found.answers:
        return _clash_lines(found)
    text = [f"{name}, in the way: {'; '.join(cause.text for cause in found.causes)}."]
    if found.theme:
        text.append(f"theme: {', '.join(found.theme)}")
    if found.obvious is not None:
        text.append(f"only cut or taken out, it would preserve {100 * found.obvious:.0f} %")
    for number, one in enumerate(found.answers, 1):
        text += ["", *_answer_lines(number, one)]
    return text


def _answer_lines(number: int, found: ReformulatedFormula) -> list[str]:
    count = found.number_of_changes
    head = f"{number}. preserves {100 * found.preserved:.0f} % of the smell over three days, "
    head += f"{count} change{'s' if count != 1 else ''}"
    if found.report is not None:
        head += f"; check: {found.report.decision}"
    if found.price is not None:
        head += f"; {found.price:.3g} a gram"
    text = [head]
    for change in found.changes:
        costs = (
            f"costs {100 * change.costs:.0f} %" if change.costs >= 0 else f"wins {-100 * change.costs:.0f} %"
        )
        text += [f"   {change_text(change)} ({costs})", f"      {why(change)}"]
    for word, moved in (("less", found.lost), ("more", found.gained)):
        if moved:
            named = ", ".join(f"{s.facet} {100 * s.before:.0f} to {100 * s.after:.0f}" for s in moved)
            text.append(f"   {word}: {named} (presence, 0-100)")
    return text


WORDS = {
    LIMIT: "the limit on {name}",
    LABEL: "{name} off the label",
    PRICE: "the price",
    BANNED: "the prohibition of {name}",
    WITHOUT: "without {name}",
    SHELF: "{name}, which is not on the shelf",
    PRODUCT: "{name}, which does poorly in the product",
    KEEP: "{name}, which is to stay",
    CHANGES: "the number of changes",
}


def clash_text(found: Clash) -> str:
    """Return one of the constraints that clash, and the least relaxation of it that would do."""
    what = WORDS[found.kind].format(name=found.name)
    if found.least is None:
        return f"{what}: relaxing it alone does not do"
    least, asked = f"{found.least:.3g}", f"{found.asked:.3g}"
    if found.name == PHOTOTOXIC:
        return f"{what}: {least} times what they may be would do"
    if found.kind in (LIMIT, LABEL):
        return f"{what}: {least} % of the product in place of {asked} % would do"
    if found.kind == PRICE:
        return f"{what}: {least} a gram in place of {asked} would do"
    if found.kind == CHANGES:
        return f"{what}: {least} in place of {asked} would do"
    if found.kind == KEEP:
        return f"{what}: {least} parts in place of {asked} would do"
    return f"{what}: {least} parts of it would do"


NOT_IN_TIME = "no answer was found in the time; nothing shows that there is none."


def no_answer(found: Reformulation) -> str:
    """Return what it means that there is no answer."""
    return "not all of this can be kept at once; see which clash." if found.clashes else NOT_IN_TIME


def _clash_lines(found: Reformulation) -> list[str]:
    name = found.before.name
    if not found.clashes:
        return [f"{name}: {NOT_IN_TIME}"]
    text = [f"{name}: these cannot all be kept; relaxing any one of them as little as this would do:"]
    return [*text, *(f"  {clash_text(one)}" for one in found.clashes)]


def _hour(hours: float) -> str:
    return f"{hours:g} h" if hours >= 1.0 else duration(hours)


def triangle_rows(test: TriangleTest) -> list[dict[str, Any]]:
    """Return the sheet of a triangle test, with a blank for the odd one and for remarks."""
    return [
        {"hours": _hour(one.hours), "first": one.strips[0], "second": one.strips[1]}
        | {"third": one.strips[2], "odd_one": "", "remarks": ""}
        for one in test.visits
    ]


def triangle_lines(test: TriangleTest) -> list[str]:
    """Return the sheet of a triangle test as text, the key at its end."""
    text = [
        f"Triangle test: {test.name}, before against after",
        "Three strips at each hour, dipped at once; two are the same. Which is the odd one, and how?",
        "",
        f"{'hour':>8}   strips, smelled in this order      odd one   remarks",
    ]
    for one in test.visits:
        strips = "   ".join(str(number) for number in one.strips)
        text.append(f"{_hour(one.hours):>8}   {strips:<32}   _______   ____________________")
    right, count = test.by_chance, len(test.visits)
    chance = f"{100 * guessed_right(right, count):.2g} of 100 tests"
    text += ["", f"{right} of {count} right: guessing gives that in {chance}.", ""]
    text += [f"key, to be folded back: {key_of(test)}"]
    return text


def key_of(test: TriangleTest) -> str:
    """Return which strips are which."""
    before, after = (", ".join(str(n) for n in test.numbers(which)) for which in ("before", "after"))
    return f"before {before}; after {after}"
