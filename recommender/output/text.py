"""Results as lines of text, laid out for the width of the terminal."""

from collections.abc import Mapping, Sequence
from typing import Any

from recommender import units
from recommender.model import Findings, Suggestion
from recommender.output import amount_sentences, layout, sentences, wording
from recommender.output.formats import cell
from recommender.suggest import confidence


def heading(findings: Findings) -> str:
    """Return the question in one sentence."""
    query = findings.query
    name = str(query.get("formula") or findings.asked)
    wanted = wording.join(query["facets"])  # type: ignore[arg-type]
    match query["verb"]:
        case "extend":
            start, end = units.duration(query["from_hours"]), units.duration(query["until_hours"])  # type: ignore[arg-type]
            if "formula" in query:
                surface = wording.on(str(query["surface"]))
                return f"What keeps {wanted} alive in {name} from {start} to {end} on {surface}?"
            return f"What keeps {wanted} alive from {start} to {end} on a strip, once {name} has faded?"
        case "vary" if not wanted:
            return f"What smells like {name}, with less {wording.join(query['refused'])}?"  # type: ignore[arg-type]
        case "vary":
            return f"What moves {name} toward {wanted}?"
        case "pair":
            return f"What goes well with {name}{f' and smells of {wanted}' if wanted else ''}?"
    return f"What can replace {name}{f' for its {wanted}' if wanted else ''}?"


DOSE_LINES = ("dose", "dosed", "check", "bottles", "effect")
"""Texts of a suggestion about how much of it to take and what that does, in this order."""


def theme_line(findings: Findings) -> str:
    """Return what the formula is about, blank where the question is about a material."""
    theme = findings.query.get("theme")
    return wording.theme(theme) if isinstance(theme, Mapping) else ""


def asked_line(findings: Findings) -> str:
    """Return how long the material or the wanted facets last as they are."""
    stay, before = findings.query.get("lasting"), findings.query.get("before")
    if isinstance(before, Mapping) and before:
        return amount_sentences.before_line(str(findings.query["formula"]), before)
    if facets := findings.query.get("companion_facets"):
        return f"Smells that are often paired with it: {wording.join(facets)}."  # type: ignore[arg-type]
    if not isinstance(stay, Mapping):
        return ""
    hours, low, high = (units.duration(stay[key]) for key in ("hours", "low", "high"))
    return f"{findings.asked} itself: {stay['position']}, {hours} ({low} to {high}) neat on a strip."


def brought_line(findings: Findings) -> str:
    """Return through which naturals alone it comes, and how much each brings; blank where it is a line."""
    brought: Any = findings.query.get("brought_by")
    if not brought:
        return ""
    each = []
    for one in brought:
        low, high = (None if one[end] is None else f"{one[end]:.3g}" for end in ("low", "high"))
        band = f"at least {low} %" if high is None else f"{low} to {high} %"
        share = f", {100 * one['share']:.0f} % of it" if len(brought) > 1 else ""
        parts = wording.parts_of(one["parts"])
        each.append(
            f"{one['name']} ({parts} parts per thousand) {one['percent']:.3g} % of the concentrate "
            f"({band}){share}"
        )
    return f"{findings.asked} comes only through naturals: {'; '.join(each)}."


def remarks(findings: Findings) -> list[str]:
    """Return the lines on what was asked about, those that have something to say."""
    lines = (theme_line, brought_line, asked_line, sentences.itself)
    return [text for line in lines if (text := line(findings))]


def tied_line(findings: Findings) -> str:
    """Return which ranks cannot be told apart, blank where all can: "1 to 3 cannot be told apart."."""
    return sentences.tied(confidence.groups(findings.suggestions))


def texts_of(found: Suggestion, findings: Findings) -> dict[str, str]:
    """Return the texts about a suggestion: lasting, shared facets, why, dose, effect and the rest."""
    asked = sentences.asked_of(found, findings.asked)
    until: Any = findings.query.get("until_hours")
    wanted: Sequence[str] = findings.query["facets"]  # type: ignore[assignment]
    shared = sentences.shared_facets(found)
    near = sentences.near_facets(found)
    alone = findings.query["verb"] == "pair" and "formula" not in findings.query
    return {
        "stay": sentences.together_lasting(found) if found.members else wording.lasting(found.lasting),
        "shares": shared or (f"{near} (near)" if near else "nothing by name"),
        "brings": wording.facets(found.brings) or "nothing else",
        "strength": sentences.shares_of(found) if found.members else sentences.strength(found, asked),
        "why": sentences.sentence(found, asked, str(findings.query["verb"]), wanted, until),
        "doubt": sentences.doubt(found),
        "dose": amount_sentences.beside(found, asked) if alone else amount_sentences.dose(found),
        "dosed": " ".join(amount_sentences.dose_remarks(found, asked)),
        "check": sentences.strip_check(found),
        "effect": amount_sentences.effect(found),
        "bottles": amount_sentences.bottles(found),
        "availability": sentences.in_practice(found),
    }


def suggestions(findings: Findings, explain: bool, sources: Mapping[str, str]) -> list[str]:
    """Return suggestions as blocks of lines; general cautions and the figures where they are asked for."""
    out = [
        layout.strong(heading(findings)),
        *remarks(findings),
        "",
    ]
    for rank, found in enumerate(findings.suggestions, 1):
        texts = texts_of(found, findings)
        out.append(
            layout.strong(f"{rank:>2}. {sentences.name_of(found)}   {found.score:.2f}   {texts['stay']}")
        )
        out.append(f"    {texts['why']}")
        if findings.query.get("before"):
            texts["effect"] = amount_sentences.effect(found, compared=False)
        asked = sentences.asked_of(found, findings.asked)
        texts["dosed"] = "; ".join(amount_sentences.short_remarks(found, asked=asked))
        out += [f"    {texts[key]}" for key in DOSE_LINES if texts[key]]
        smells = [] if found.members else [f"shares: {texts['shares']}"]
        if found.brings or found.members:
            smells.append(f"brings along: {texts['brings']}")
        else:
            smells[0] += "; brings along: nothing else"
        out += [f"    {line}" for line in smells]
        out.append(f"    {texts['strength']}" + (f"; {texts['doubt']}" if texts["doubt"] else ""))
        out += [f"    in the product: {line}" for line in sentences.in_product(found)]
        if texts["availability"]:
            out.append(f"    {texts['availability']}")
        out += [f"    caution: {caution}" for caution in sentences.cautions(found, every=explain)]
        out.append("")
    if tied := tied_line(findings):
        out += [tied, ""]
    if findings.lower:
        out += _or_lower(findings)
    if explain:
        out += _explained(findings, sources)
    while out and not out[-1]:
        out.pop()
    return out


def _or_lower(findings: Findings) -> list[str]:
    """Return the paragraph on what hides the wanted facets."""
    found = [f"    - {amount_sentences.lowering(line)}" for line in findings.lower or ()]
    return ["Or lower:", *found, ""]


def _explained(findings: Findings, sources: Mapping[str, str]) -> list[str]:
    out = ["Why, with figures", f"Likeness is based on {findings.query['likeness']}.", ""]
    used = set()
    for rank, found in enumerate(findings.suggestions, 1):
        asked = sentences.asked_of(found, findings.asked)
        terms = ", ".join(f"{name} {value:.2f}" for name, value in found.terms.items())
        out.append(f"{rank:>2}. {found.material.name}: {found.score:.3f} from {terms}")
        for r in found.reasons:
            origin = ", ".join(filter(None, [r.basis, r.source]))
            text = sentences.with_figures(r, asked, found.material.name)
            out.append(f"    - {text} [{origin}]" if origin else f"    - {text}")
            used.add(r.source)
    named = [f"  {key}: {sources[key]}" for key in sorted(used) if key in sources]
    return [*out, *(["", "Sources:", *named] if named else [])]


def _cell(value: object) -> str:
    return wording.shown(value) if isinstance(value, float) else str(cell(value))


def rows(
    found: Sequence[Mapping[str, Any]],
    columns: Mapping[str, str],
    wide: Sequence[str] = (),
    right: Sequence[str] = (),
    amount: str | None = None,
) -> list[str]:
    """Return rows as lines; `columns` maps a key to its heading.

    `wide` names the columns that may wrap, `right` those that are right-aligned, `amount` the one that comes
    first where a table does not fit.
    """
    cells = [{key: _cell(row.get(key)) for key in columns} for row in found]
    return layout.named(cells, columns, wide, right, amount, layout.width())
