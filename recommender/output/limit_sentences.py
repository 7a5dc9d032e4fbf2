"""Sentences on the finished product: what a suggestion does to it, what changes, what of it is unknown."""

from collections.abc import Collection, Mapping

from recommender.evidence.markets import AUTHORITIES, market_of, names_of
from recommender.output.wording import join
from recommender.reasons import LimitContribution
from recommender.regulation import ANY, FINDINGS, LaterChange, Report

MOST_NAMES = 5
"""Names of the label that a line shows."""


def label(names: Mapping[str, float], material: str, in_addition: bool = False) -> str:
    """Return which names a material adds to the label, with their share in a natural."""
    shown = sorted(names.items(), key=lambda pair: -pair[1])
    named = [name if share > 99.9 else f"{name} (up to {share:.2g} %)" for name, share in shown[:MOST_NAMES]]
    more = [f"{len(shown) - MOST_NAMES} more"] if len(shown) > MOST_NAMES else []
    return (
        f"With {material}, the label has to name {'in addition ' if in_addition else ''}{join(named + more)}."
    )


def limit(found: LimitContribution) -> str:
    """Return what a limit leaves: which ratio is raised, and the most that is left at a dosage."""
    lead = "Limit" if found.verified else "Unverified limit"
    by = names_of(found.market)
    what = found.substance + (f" in {found.through}" if found.through else "")
    text = f"{lead} on {what}, {found.limit_percent:g} % in category {found.category} ({by})"
    if found.dosage is None or found.most_parts is None:
        return f"{text}; give --dosage to bound the dose."
    left = (
        f"at most {found.most_parts:.3g} parts per thousand"
        if found.most_parts < 1000
        else "no dose reaches it"
    )
    raised = ""
    if found.before is not None and found.after is not None:
        before, after = 100 * found.before, 100 * found.after
        raised = f"; a first try takes it from {before:.2g} to {after:.2g} % of the limit"
    return f"{text}: {left} at {found.dosage:g} %{raised}."


def percent_of(value: float) -> str:
    """Return a percentage with four significant digits and no exponent.

    >>> percent_of(0.0000975), percent_of(0.01125), percent_of(13.77)
    ('0.0000975', '0.01125', '13.77')
    """
    text = f"{value:.4g}"
    return f"{float(text):.10f}".rstrip("0").rstrip(".") if "e" in text else text


def later(change: LaterChange, category: str, market: str) -> str:
    """Return what an entry will say from a later day on, and whether the formula is above it already."""
    place = f", {change.limit.reference}" if change.limit.reference else ""
    lead = f"From {change.limit.applies_from}: {join(change.names)}"
    by = f"({names_of(change.limit.market, market)}{place})"
    if change.limit.kind == "prohibition":
        return f"{lead} prohibited {by}."
    if change.percent is None:
        return f"{lead} restricted, figure for category {category} to be looked up {by}."
    state = "already above" if change.above else "below it now"
    amount = f"{percent_of(change.counted)} % here, {state}"
    return f"{lead} at most {percent_of(change.percent)} % in category {category} {by}; {amount}."


def looked_up(market: str) -> str:
    """Return where the substances were looked for, and as of when."""
    known = (AUTHORITIES[name] for name in market_of(market).decides)
    return "; ".join(f"{one.lists} (as of {one.as_of})" for one in known)


def unknown(report: Report) -> list[str]:
    """Return what of naturals is unknown: amounts that nobody measured, shares that have no name."""
    found = []
    for decides, follows in ((True, "look them up"), (False, "these decide nothing here")):
        there = [u for u in report.unknown if u.decides is decides]
        if pairs := [f"{u.substance.name} in {u.natural} ({u.why})" for u in there]:
            found.append(
                f"Present in unknown amounts, so not in the sums: {join(pairs)}; {follows}. "
                "Ask for the certificate (--content)."
            )
    if report.unnamed:
        pairs = [f"{name} {share:.0f} %" for name, share in report.unnamed.items()]
        found.append(f"Share of unknown composition: {join(pairs)}. No limit can count what is in it.")
    return found


def remarks(report: Report) -> list[str]:
    """Return what changes later, and what of naturals is unknown."""
    changes = [later(change, report.category.name, report.market) for change in report.later]
    return [*changes, *unknown(report)]


def found_by_law(report: Report) -> list[dict[str, str]]:
    """Return what a person must look at in a product: name and status of each substance, the worst first."""
    return [
        {"name": row.substance.name, "status": row.status} for row in report.rows if row.status in FINDINGS
    ]


def decided(report: Report) -> str:
    """Return the decision on a finished product in a sentence, with the substances from which it follows."""
    on = f", on {report.on}" if report.on else ""
    market = "any market" if report.market == ANY else f"market {report.market}"
    lead = f"In the finished product (category {report.category.name}, {market}{on}): {report.decision}."
    listed = [f"{join(names)}: {status}" for status, names in by_status(report, FINDINGS).items()]
    return f"{lead} {'; '.join(listed)}." if listed else lead


def by_status(report: Report, statuses: Collection[str]) -> dict[str, list[str]]:
    """Return the names of the substances that have one of some statuses, by status, the worst first."""
    found: dict[str, list[str]] = {}
    for row in report.rows:
        if row.status in statuses:
            found.setdefault(row.status, []).append(row.substance.name)
    return found
