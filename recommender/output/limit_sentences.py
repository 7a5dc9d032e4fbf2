"""Sentences on what a suggestion does to the finished product: the label, the limits."""

from collections.abc import Mapping

from recommender.evidence.markets import AUTHORITIES
from recommender.output.wording import join
from recommender.reasons import LimitContribution

MOST_NAMES = 5
"""Names of the label that a line shows."""


def label(names: Mapping[str, float], material: str) -> str:
    """Return which names a material adds to the label, with their share in a natural."""
    shown = sorted(names.items(), key=lambda pair: -pair[1])
    named = [name if share > 99.9 else f"{name} (up to {share:.2g} %)" for name, share in shown[:MOST_NAMES]]
    more = [f"{len(shown) - MOST_NAMES} more"] if len(shown) > MOST_NAMES else []
    return f"With {material}, the label has to name {join(named + more)}."


def limit(found: LimitContribution) -> str:
    """Return what a limit leaves: which ratio is raised, and the most that is left at a dosage."""
    lead = "Limit" if found.verified else "Unverified limit"
    by = AUTHORITIES[found.market].words
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
