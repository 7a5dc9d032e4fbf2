"""Sentences on amounts: the dose to try, its bottles, what it does in a formula, which line to lower."""

from collections.abc import Mapping
from typing import Any

from recommender.model import Bottle, LoweredLine, Suggestion
from recommender.output.sentences import reason
from recommender.output.wording import join, parts, parts_of
from recommender.reasons import BeyondUsualUse, MaskedFacet, ReplacementDose
from recommender.units import duration

SHARES_LEFT = {1 / 2: "a half", 1 / 3: "a third"}
"""How much of a line is left, in words."""


def dose(found: Suggestion) -> str:
    """Return what to try first, blank where no dose is proposed."""
    if found.dose is None:
        return ""
    proposed = found.dose
    diluted = proposed.dilution_percent
    weigh = f", {weighed(proposed.first_try, diluted)}" if diluted else ""
    first = f"try {parts(proposed.first_try)}{' neat' if diluted else ''} per thousand first"
    against = f"; {_as_many(proposed.of_query)} it replaces" if proposed.of_query else ""
    low, high = parts_of(proposed.low), parts_of(proposed.high)
    usual = f"; {usual_parts(proposed.usual)}" if proposed.usual and not proposed.members else ""
    return f"{first} (range {low} to {high}{weigh}{usual}){against}"


def weighed(parts_neat: float, dilution_percent: float) -> str:
    """Return how much of a dilution is so many parts neat.

    >>> weighed(10.0, 10.0)
    'weighed as 100 of a 10 % dilution'
    """
    amount = parts_of(100.0 * parts_neat / dilution_percent)
    return f"weighed as {amount} of a {dilution_percent:g} % dilution"


def _as_many(times: float) -> str:
    return "as much as" if 0.95 <= times <= 1.05 else f"{times:.2g} times the amount"


def dose_remarks(found: Suggestion, asked: str) -> list[str]:
    """Return what to know of the dose: what would need more than is usual, how a stand-in is dosed."""
    kinds = BeyondUsualUse | ReplacementDose
    return [reason(r, asked, found.material.name) for r in found.reasons if isinstance(r, kinds)]


def short_remarks(found: Suggestion, asked: str) -> list[str]:
    """Return the remarks on a dose as parts of one line below it."""
    out = []
    for r in found.reasons:
        if isinstance(r, BeyondUsualUse):
            out.append(
                f"most of its effect needs about {parts(r.parts)}, {r.times:.2g} times the usual high end"
                + (f" of {r.material}" if found.members else "")
            )
        elif isinstance(r, ReplacementDose):
            out.append(reason(r, asked, found.material.name))
    return out


def usual_parts(usual: tuple[float, float]) -> str:
    """Return a usual range in parts per thousand: usual 2-40."""
    return f"usual {parts_of(usual[0])}-{parts_of(usual[1])}"


def beside(found: Suggestion, asked: str) -> str:
    """Return how much of a companion to try beside a single material, blank where that is not known."""
    if found.dose is None or not found.dose.of_query:
        return ""
    ratio, weigh = found.dose.of_query, found.dose.dilution_percent
    diluted = f", {weighed(ratio, weigh)}" if weigh else ""
    return f"try {parts(ratio)}{' neat' if weigh else ''} to one part of {asked}{diluted}"


def effect(found: Suggestion, *, compared: bool = True) -> str:
    """Return what it does to the formula: bitter almond clear until 48 min, then 12 h (5.3 to 26 h).

    `compared` says whether the ends without it are repeated, because they are not shown elsewhere.
    """
    if found.effect is None:
        return ""
    figures: Mapping[str, Mapping[str, Any]] = found.effect
    before, after = figures["before"], figures["after"]
    if "theme_kept" in after:
        return (
            f"{join(after['facets'])} present {100 * before['presence']:.0f} % without, "
            f"{100 * after['presence']:.0f} % with "
            f"{_at(found)}; {100 * after['theme_kept']:.0f} % of the rest preserved"
        )
    swapped = found.dose is not None and found.dose.of_query is not None
    old, new = ("as it is", " instead") if swapped else ("without", "")
    if not compared:
        named = list(after)[:2]
        ends = [f"{f'{facet} ' if len(named) > 1 else ''}{_ends(after[facet], last=True)}" for facet in named]
        return f"with {_at(found)}{new}: {'; '.join(ends)}"
    ends = [
        f"{facet} {old}: {_ends(before[facet])}; with {_at(found)}{new}: {_ends(after[facet], band=True)}"
        for facet in list(after)[:2]
    ]
    return "; ".join(ends)


def bottles(found: Suggestion) -> str:
    """Return which bottles of the shelf it is taken from, and how much of a dilution is its dose."""
    lines = []
    for bottle in found.bottles:
        at = "neat" if bottle.dilution_percent == 100 else _diluted(bottle)
        left = "" if bottle.amount_g is None else f", {bottle.amount_g:.3g} g left"
        price, cost = bottle.neat_price_per_g, found.cost_per_kg(bottle)
        words = "" if price is None else f", {price:.3g} per gram neat"
        if cost is not None and not found.members:
            words += f", {cost:.3g} per kilogram of the accord at the first try"
        lines.append(f"{bottle.label} {at}{left}{words}{_from(found, bottle)}")
    return f"on your shelf: {'; '.join(lines)}" if lines else ""


def lowering(found: LoweredLine) -> str:
    """Return which line to lower or take out, and what that does."""
    name, before = found.material.name, parts_of(found.parts_before)
    if not found.reason.factor:
        return f"take out {name}, {parts(found.parts_before)}: {hides(found.reason)}"
    left = SHARES_LEFT[found.reason.factor]
    below = ""
    if found.usual and found.below_usual:
        below = f"; that is below usual use ({usual_parts(found.usual)} parts per thousand)"
    return f"{name} {before} to {parts(found.parts_after)}, {left}: {hides(found.reason)}{below}"


def hides(found: MaskedFacet) -> str:
    """Return how far a loud material hides a facet, before and after it is lowered."""
    when = f"from {duration(found.from_hours)} to {duration(found.until_hours)}"
    less = "with less" if found.factor else "without it"
    return (
        f"it hides {found.facet}, present {100 * found.before:.0f} % beside it {when}, "
        f"{100 * found.after:.0f} % {less}; {100 * found.change:.0f} % of the rest changes"
    )


def _diluted(bottle: Bottle) -> str:
    """Return the dilution of a bottle: at 10 % in dipropylene glycol."""
    solvent = f" in {bottle.solvent.replace('-', ' ')}" if bottle.solvent else ""
    return f"at {bottle.dilution_percent:g} %{solvent}"


def _from(found: Suggestion, bottle: Bottle) -> str:
    """Return the dose as parts of a dilution with the solvent that it brings, blank for a neat bottle."""
    if bottle.dilution_percent == 100:
        return ""
    weighed = found.weighed(bottle)
    if weighed is None:
        return f", {parts(100.0 / bottle.dilution_percent)} of it for one of the neat"
    first_try, low, high = (parts_of(x) for x in (weighed.first_try, weighed.low, weighed.high))
    solvent = parts_of(weighed.first_try * (1.0 - bottle.dilution_percent / 100.0))
    return f", {first_try} parts of it first (range {low} to {high}), {solvent} of them solvent"


def _at(found: Suggestion) -> str:
    return parts(found.dose.first_try) if found.dose else "it"


def _ends(found: Mapping[str, Any], band: bool = False, last: bool = False) -> str:
    """Return both ends in words, with the `band` of each, or of the `last` alone."""
    lines = []
    for level, words in (("clear", "clear until"), ("just_there", "gone by")):
        if (end := found[level]) is not None:
            width = (
                f" ({duration(end['low'])} to {duration(end['high'])})"
                if band or (last and level == "just_there")
                else ""
            )
            lines.append(f"{words} {duration(end['hours'])}{width}")
    return ", ".join(lines) or "never clear"


def before_line(formula: str, before: Mapping[str, Any]) -> str:
    """Return how long the wanted facets last in a formula as it is."""
    facets = [f"{facet} is {_ends(ends, band=True)}" for facet, ends in list(before.items())[:3]]
    return f"In {formula} {join(facets)}."
