"""Results on a screen: rich tables on a terminal, plain text elsewhere."""

import sys
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from recommender import units
from recommender.model import Findings, Suggestion
from recommender.output import amount_sentences, sentences, wording
from recommender.output.formats import cell
from recommender.suggest import confidence

ROOMY = 110
"""Width of a terminal from which a listing shows all its columns."""
SPARE = ("cas", "kind", "synonyms", "family", "off", "product")
"""Columns left out on a narrow terminal; `--format csv` has them all."""


def on_terminal() -> bool:
    """Return whether stdout is a terminal."""
    return sys.stdout.isatty()


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


def remarks(findings: Findings) -> list[str]:
    """Return the lines on what was asked about, those that have something to say."""
    return [*filter(None, (theme_line(findings), asked_line(findings), sentences.itself(findings)))]


def tied_line(findings: Findings) -> str:
    """Return which ranks cannot be told apart, blank where all can: "1 to 3 cannot be told apart."."""
    return sentences.tied(confidence.groups(findings.suggestions))


def texts_of(found: Suggestion, findings: Findings) -> dict[str, str]:
    """Return the texts about a suggestion: lasting, shared facets, why, dose, effect and the rest."""
    asked = findings.asked
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


def suggestions(findings: Findings, explain: bool, sources: Mapping[str, str]) -> None:
    """Print suggestions: a table on a terminal, blocks of lines elsewhere."""
    if on_terminal():
        _rich_suggestions(findings)
    else:
        _plain_suggestions(findings)
    if findings.lower:
        sys.stdout.write("\n".join(_or_lower(findings)) + "\n")
    if explain:
        _explained(findings, sources)


def _or_lower(findings: Findings) -> list[str]:
    """Return the paragraph on what hides the wanted facets."""
    out = ["", "Or lower:"]
    for line in findings.lower or ():
        out += textwrap.wrap(
            amount_sentences.lowering(line), ROOMY, initial_indent="    - ", subsequent_indent="      "
        )
    return out


def _plain_suggestions(findings: Findings) -> None:
    out = [heading(findings), *remarks(findings), ""]
    for rank, found in enumerate(findings.suggestions, 1):
        texts = texts_of(found, findings)
        out.append(f"{rank:>2}. {sentences.name_of(found)}   {found.score:.2f}   {texts['stay']}")
        out.append(f"    {texts['why']}")
        out += [f"    {texts[key]}" for key in DOSE_LINES if texts[key]]
        if not found.members:
            out.append(f"    shares: {texts['shares']}")
        out.append(f"    brings along: {texts['brings']}")
        out.append(f"    {texts['strength']}" + (f"; {texts['doubt']}" if texts["doubt"] else ""))
        out += [f"    in the product: {line}" for line in sentences.in_product(found)]
        if texts["availability"]:
            out.append(f"    {texts['availability']}")
        out += [f"    caution: {caution}" for caution in found.cautions]
        out.append("")
    if tied := tied_line(findings):
        out.append(tied)
    sys.stdout.write("\n".join(out).rstrip() + "\n")


def _rich_suggestions(findings: Findings) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1), expand=True)
    widths = {"": None, "material": 4, "on a strip": 3, "shares / brings along": 5, "why": 7}
    for title, ratio in widths.items():
        table.add_column(title, overflow="fold", ratio=ratio, no_wrap=ratio is None)
    for rank, found in enumerate(findings.suggestions, 1):
        texts = texts_of(found, findings)
        smell = Text(texts["shares"])
        smell.append(f"\n+ {texts['brings']}", style="dim")
        why = Text(texts["why"])
        why.append(f"\n{texts['strength'][0].upper()}{texts['strength'][1:]}.", style="dim")
        if texts["doubt"]:
            why.append(f" ({texts['doubt']})", style="dim italic")
        for line in sentences.in_product(found):
            why.append(f"\nIn the product: {line}", style="cyan")
        if texts["availability"]:
            why.append(f"\n{texts['availability'][0].upper()}{texts['availability'][1:]}.", style="yellow")
        for caution in found.cautions:
            why.append(f"\nCaution: {caution}", style="yellow")
        for key in DOSE_LINES:
            if texts[key]:
                why.append(f"\n{texts[key]}")
        name = Text(sentences.name_of(found), style="bold")
        name.append(f"\n{found.score:.2f}", style="dim")
        table.add_row(str(rank), name, texts["stay"].replace(", ", "\n", 1), smell, why)
        table.add_section()
    console.print(heading(findings), style="bold")
    for line in remarks(findings):
        console.print(line, style="dim")
    console.print(table)
    if tied := tied_line(findings):
        console.print(tied, style="dim")


def _explained(findings: Findings, sources: Mapping[str, str]) -> None:
    asked, out, used = (
        findings.asked,
        ["Why, with figures", f"Likeness is based on {findings.query['likeness']}.", ""],
        set(),
    )
    for rank, found in enumerate(findings.suggestions, 1):
        terms = ", ".join(f"{name} {value:.2f}" for name, value in found.terms.items())
        out.append(f"{rank:>2}. {found.material.name}: {found.score:.3f} from {terms}")
        for r in found.reasons:
            origin = ", ".join(filter(None, [r.basis, r.source]))
            text = sentences.with_figures(r, asked, found.material.name)
            line = f"{text} [{origin}]" if origin else text
            out += textwrap.wrap(line, 110, initial_indent="    - ", subsequent_indent="      ")
            used.add(r.source)
    named = [f"  {key}: {sources[key]}" for key in sorted(used) if key in sources]
    out += ["", "Sources:", *named] if named else []
    sys.stdout.write("\n" + "\n".join(out) + "\n")


def _cell(value: object) -> str:
    return wording.shown(value) if isinstance(value, float) else str(cell(value))


def rows(
    found: Sequence[Mapping[str, Any]],
    columns: Mapping[str, str],
    wide: Sequence[str] = (),
    right: Sequence[str] = (),
) -> None:
    """Print rows; `columns` maps a key to its heading.

    `wide` names the columns that may wrap, `right` those that are right-aligned.
    """
    if on_terminal():
        from rich import box
        from rich.console import Console
        from rich.table import Table

        console = Console(highlight=False)
        visible = {key: title for key, title in columns.items() if console.width >= ROOMY or key not in SPARE}
        table = Table(box=box.SIMPLE_HEAD, padding=(0, 1))
        for key, title in visible.items():
            wraps = key in wide or key == "name"
            table.add_column(
                title,
                overflow="fold",
                no_wrap=not wraps,
                min_width=22 if wraps else None,
                justify="right" if key in right else "left",
            )
        for row in found:
            table.add_row(*(_cell(row.get(key)) for key in visible))
        console.print(table)
        return
    cells = [list(columns.values()), *([_cell(row.get(key)) for key in columns] for row in found)]
    widths = [max(len(line[i]) for line in cells) for i in range(len(columns))]
    lines = [
        "  ".join(
            text.rjust(width) if key in right else text.ljust(width)
            for key, text, width in zip(columns, line, widths, strict=True)
        ).rstrip()
        for line in cells
    ]
    sys.stdout.write("\n".join(lines) + "\n")
