"""One suggestion as a short answer: what it does at which dose, a slider for the dose, and why."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from urllib.parse import quote

from recommender.model import Dose, Findings, Suggestion
from recommender.output import amount_sentences, sentences
from recommender.output import text as tables
from recommender.output.wording import parts, parts_of
from recommender.web.widgets import elements

STEPS = 48
"""Places of the slider between the ends of the usual range."""
WIDEST = 100.0
"""A range without a low end begins at its high end divided by this."""


@dataclass(frozen=True, slots=True)
class DoseRange:
    """The doses of a slider [parts per thousand]: even steps of a factor from `low` to `high`."""

    low: float
    high: float

    @classmethod
    def of(cls, found: Suggestion) -> "DoseRange | None":
        """Return the usual range, widened to the dose that is proposed; None where no dose is."""
        dose = found.dose
        if dose is None or dose.first_try <= 0:
            return None
        low, high = dose.usual or (dose.low, dose.high)
        low, high = min(low or high / WIDEST, dose.first_try), max(high, dose.first_try)
        return cls(low, high) if 0 < low < high else None

    def at(self, step: int) -> float:
        """Return the dose at a place of the slider, from 0 to `STEPS`.

        >>> [DoseRange(0.1, 10.0).at(step) for step in (0, 24, 48)]
        [0.1, 1.0, 10.0]
        """
        share = min(max(step, 0), STEPS) / STEPS
        return float(f"{self.low * (self.high / self.low) ** share:.3g}")

    def step_of(self, parts: float) -> int:
        """Return the place of the slider next to a dose.

        >>> DoseRange(0.1, 10.0).step_of(1.0)
        24
        """
        return round(STEPS * math.log(parts / self.low) / math.log(self.high / self.low))


def dose_words(dose: Dose, usual: bool = True) -> str:
    """Return a dose as parts of the formula, how it is weighed, and the usual range.

    >>> dose_words(Dose(10.0, 5.0, 20.0, dilution_percent=10.0, usual=(1.0, 20.0)))
    '10 parts neat of 1000, weighed as 100 of a 10 % dilution, usual 1 to 20'
    """
    amount, weighed = f"{parts(dose.first_try)} of 1000", ""
    if dose.dilution_percent:
        amount = f"{parts(dose.first_try)} neat of 1000"
        weighed = amount_sentences.weighed(dose.first_try, dose.dilution_percent)
    return ", ".join(filter(None, (amount, weighed, _usual(dose) if usual else "")))


def range_words(doses: DoseRange, dose: Dose) -> tuple[str, str, str]:
    """Return the two ends of a slider, and between them what they are: the usual range or a wider one.

    >>> range_words(DoseRange(1.0, 20.0), Dose(10.0, 5.0, 20.0, usual=(1.0, 20.0)))
    ('1', 'usual', '20')
    """
    low, high = parts_of(doses.low), parts_of(doses.high)
    return low, "usual" if (doses.low, doses.high) == dose.usual else _usual(dose), high


def _usual(dose: Dose) -> str:
    return f"usual {parts_of(dose.usual[0])} to {parts_of(dose.usual[1])}" if dose.usual else ""


@dataclass(frozen=True, slots=True)
class AnswerActs:
    """What the page does with an answer: put it into the formula, or draw it behind the present lanes."""

    take: Callable[[Suggestion], object]
    preview: Callable[["Answer | None"], object]


class Answer:
    """One suggestion in the list; pointing at it or focusing in it draws its lanes behind the present ones.

    `found` is the suggestion at the dose of the slider.
    """

    def __init__(
        self, rank: int, found: Suggestion, findings: Findings, sources: Mapping[str, str], acts: AnswerActs
    ) -> None:
        self.found, self.findings, self.acts = found, findings, acts
        self.name = sentences.name_of(found)
        self.range = DoseRange.of(found)
        texts = tables.texts_of(found, findings)
        with elements.tag("li", "answer") as self.element:
            with elements.tag("div", "answer-head"):
                elements.words(f"{rank}. {self.name}", "card-name", "h4")
                self.button = elements.button(
                    "Take", lambda: acts.take(self.found), "main small", label=self._label()
                )
            if texts["stay"]:
                elements.words(f"by itself {texts['stay']}", "stay")
            if found.dose is not None:
                self.dose = elements.words(dose_words(found.dose, usual=self.range is None), "dose")
                if self.range is not None:
                    self._slider(self.range)
                    with elements.tag("div", "dose-ends", aria_hidden="true"):
                        for end in range_words(self.range, found.dose):
                            elements.words(end, name="span")
            after = texts["effect"].partition("; with ")[2]
            self.then = elements.words("", "then")
            elements.say(self.then, f"with {after}" if after else "")
            elements.words(f"brings {texts['brings']}", "brings")
            if found.law is not None:
                elements.words(f"in the product: {found.law.status}; {found.law.decision}", "brings")
            if texts["availability"]:
                elements.words(f"{texts['availability'][0].upper()}{texts['availability'][1:]}.", "caution")
            for caution in found.cautions:
                elements.words(f"Caution: {caution}", "caution")
            with elements.tag("details", "reasons"):
                elements.words("Why, with figures", name="summary")
                elements.words(texts["why"], "why")
                with elements.tag("dl", "facts"):
                    _fact("dose", " ".join(filter(None, (texts["dose"], texts["dosed"]))))
                    _fact("strips", texts["check"])
                    _effect(texts["effect"])
                    _fact("strength", ", ".join(filter(None, (texts["strength"], texts["doubt"]))))
                    _fact("bottle", texts["bottles"])
                _reasons(found, findings, sources)
                for material in [m for m, _ in found.members] or [found.material]:
                    more = elements.link(
                        f"All on {material.name}", f"/material/{quote(material.slug)}", "more"
                    )
                    more.props["aria-label"] = f"{material.name}: card of all that is known"
        for event in ("mouseenter", "focusin"):
            self.element.on(event, lambda _: acts.preview(self), args=[])
        for event in ("mouseleave", "focusout"):
            self.element.on(event, lambda _: acts.preview(None), args=[])

    @property
    def wanted(self) -> tuple[str, ...]:
        """The smells of the question, or of a stand-in those on which its effect is worked out."""
        facets: list[str] = self.findings.query["facets"]  # type: ignore[assignment]
        return tuple(facets or (self.found.effect or {"after": {}})["after"])

    def says(self, ends: Mapping[str, str]) -> None:
        """Show what the wanted smells do at the dose of the slider, from their ends in words."""
        shown = [f"{facet} {ends[facet]}" for facet in self.wanted if facet in ends]
        if shown:
            elements.say(self.then, f"with it {'; '.join(shown[:2])}")

    def _label(self) -> str:
        swap = self.findings.query["verb"] == "replace"
        return f"Take {self.name} " + (
            f"in place of {sentences.asked_of(self.found, self.findings.asked)}"
            if swap
            else "into the formula"
        )

    def _slider(self, doses: DoseRange) -> None:
        assert self.found.dose is not None
        slider = elements.tag("input", "dose-slider", type="range", min="0", max=str(STEPS), step="1")
        slider.props["value"] = str(doses.step_of(self.found.dose.first_try))
        slider.props["aria-label"] = f"dose of {self.name}"
        slider.props["aria-valuetext"] = dose_words(self.found.dose)

        def moved(step: str) -> None:
            assert self.found.dose is not None
            dose = replace(self.found.dose, first_try=doses.at(int(step)))
            self.found = replace(self.found, dose=dose)
            slider.props["value"], slider.props["aria-valuetext"] = step, dose_words(dose)
            elements.say(self.dose, dose_words(dose, usual=False))
            self.acts.preview(self)

        slider.on(
            "input",
            lambda event: moved(str(event.args)),
            throttle=0.05,
            js_handler="(e) => emit(e.target.value)",
        )


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
