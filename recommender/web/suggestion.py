"""One suggestion as a card: what it does, at which dose, what it brings along, and why."""

from collections.abc import Callable, Mapping
from urllib.parse import quote

from recommender.model import Findings, Suggestion
from recommender.output import sentences
from recommender.output import text as tables
from recommender.web import parts


def card(
    found: Suggestion,
    findings: Findings,
    sources: Mapping[str, str],
    take: Callable[[Suggestion], None],
) -> None:
    """Show a suggestion; `take` puts it into the formula."""
    texts, name = tables.parts_of(found, findings), sentences.name_of(found)
    with parts.tag("li", "card"):
        with parts.tag("div", "card-head"):
            parts.words(name, "card-name", "h4")
            parts.words(texts["stay"], "stay", "span")
        parts.words(texts["why"], "why")
        with parts.tag("dl", "facts"):
            _fact("dose", texts["dose"])
            _effect(texts["effect"])
            _fact("brings along", texts["brings"])
            _fact("strength", ", ".join(filter(None, (texts["strength"], texts["doubt"]))))
            _fact("bottle", texts["bottles"])
        for caution in found.cautions:
            parts.words(f"Caution: {caution}", "mind")
        with parts.tag("details", "reasons"):
            parts.words(f"Reasons, with figures; score {found.score:.2f}", name="summary")
            _reasons(found, findings, sources)
        with parts.tag("div", "card-acts"):
            swap = findings.query["verb"] == "replace"
            label = f"Try it: {name} " + (f"in place of {findings.asked}" if swap else "in the formula")
            parts.button("Try it", lambda: take(found), "main", label=label)
            for material in [m for m, _ in found.members] or [found.material]:
                more = parts.link("card" if not found.members else material.name,
                                  f"/material/{quote(material.slug)}", "more")  # fmt: skip
                more.props["aria-label"] = f"{material.name}: card of all that is known"


def _fact(name: str, value: str) -> None:
    if value:
        parts.words(name, name="dt")
        parts.words(value, name="dd")


def _effect(value: str) -> None:
    """Show before and after one below the other; the sentence is that of the command line."""
    before, _, after = value.partition("; with ")
    _fact("before", before)
    _fact("after", f"with {after}" if after else "")


def _reasons(found: Suggestion, findings: Findings, sources: Mapping[str, str]) -> None:
    used: dict[str, str] = {}
    with parts.tag("ul"):
        for reason in found.reasons:
            with parts.tag("li"):
                parts.words(sentences.with_figures(reason, findings.asked, found.material.name), name="span")
                origin = ", ".join(filter(None, (reason.basis, reason.source)))
                if origin:
                    parts.words(origin, "origin", "span")
            if reason.source in sources:
                used[reason.source] = sources[reason.source]
    terms = ", ".join(f"{name} {value:.2f}" for name, value in found.terms.items())
    parts.words(f"Score {found.score:.3f}, a weighted mean of: {terms}.", "terms")
    for key, text in used.items():
        parts.words(f"{key}: {text}", "source")
