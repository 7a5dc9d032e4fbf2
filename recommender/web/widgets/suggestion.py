"""One suggestion as a card: what it does, at which dose, what it brings along, and why."""

from collections.abc import Callable, Mapping
from urllib.parse import quote

from recommender.model import Findings, Suggestion
from recommender.output import sentences
from recommender.output import text as tables
from recommender.web.widgets import elements


def card(
    found: Suggestion,
    findings: Findings,
    sources: Mapping[str, str],
    take: Callable[[Suggestion], None],
) -> None:
    """Show a suggestion; `take` puts it into the formula."""
    texts, name = tables.texts_of(found, findings), sentences.name_of(found)
    with elements.tag("li", "card"):
        with elements.tag("div", "card-head"):
            elements.words(name, "card-name", "h4")
            elements.words(texts["stay"], "stay", "span")
        elements.words(texts["why"], "why")
        with elements.tag("dl", "facts"):
            _fact("dose", texts["dose"])
            _fact("strips", texts["check"])
            _effect(texts["effect"])
            _fact("brings along", texts["brings"])
            _fact("strength", ", ".join(filter(None, (texts["strength"], texts["doubt"]))))
            _fact("bottle", texts["bottles"])
            if found.law is not None:
                _fact("in the product", f"{found.law.status}; {found.law.decision}")
        if texts["availability"]:
            elements.words(f"{texts['availability'][0].upper()}{texts['availability'][1:]}.", "caution")
        for caution in found.cautions:
            elements.words(f"Caution: {caution}", "caution")
        with elements.tag("details", "reasons"):
            elements.words(f"Reasons, with figures; score {found.score:.2f}", name="summary")
            _reasons(found, findings, sources)
        with elements.tag("div", "card-acts"):
            swap = findings.query["verb"] == "replace"
            label = f"Try it: {name} " + (f"in place of {findings.asked}" if swap else "in the formula")
            elements.button("Try it", lambda: take(found), "main", label=label)
            for material in [m for m, _ in found.members] or [found.material]:
                more = elements.link(
                    "card" if not found.members else material.name,
                    f"/material/{quote(material.slug)}",
                    "more",
                )
                more.props["aria-label"] = f"{material.name}: card of all that is known"


def _fact(name: str, value: str) -> None:
    if value:
        elements.words(name, name="dt")
        elements.words(value, name="dd")


def _effect(value: str) -> None:
    """Show before and after one below the other; the sentence is that of the command line."""
    before, _, after = value.partition("; with ")
    _fact("before", before)
    _fact("after", f"with {after}" if after else "")


def _reasons(found: Suggestion, findings: Findings, sources: Mapping[str, str]) -> None:
    used: dict[str, str] = {}
    with elements.tag("ul"):
        for reason in found.reasons:
            with elements.tag("li"):
                elements.words(
                    sentences.with_figures(reason, findings.asked, found.material.name), name="span"
                )
                origin = ", ".join(filter(None, (reason.basis, reason.source)))
                if origin:
                    elements.words(origin, "origin", "span")
            if reason.source in sources:
                used[reason.source] = sources[reason.source]
    terms = ", ".join(f"{name} {value:.2f}" for name, value in found.terms.items())
    elements.words(f"Score {found.score:.3f}, a weighted mean of: {terms}.", "terms")
    for key, text in used.items():
        elements.words(f"{key}: {text}", "source")
