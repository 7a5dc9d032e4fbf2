"""Sentences on what a suggestion does to the finished product: the label, the limits."""

import math
from collections.abc import Mapping
from typing import Any

from recommender.evidence.markets import AUTHORITIES
from recommender.output.wording import join

MOST_NAMES = 5
"""Names of the label that a line shows."""


def label(names: Mapping[str, float], material: str) -> str:
    """Return which names come onto the label, with their share where a natural brings them along."""
    shown = sorted(names.items(), key=lambda pair: -pair[1])
    told = [name if share > 99.9 else f"{name} (up to {share:.2g} %)" for name, share in shown[:MOST_NAMES]]
    more = [f"{len(shown) - MOST_NAMES} more"] if len(shown) > MOST_NAMES else []
    come = "comes" if len(shown) == 1 else "come"
    return f"Onto the label {come} {join(told + more)}, with {material}."


def limit(figures: Mapping[str, Any]) -> str:
    """Return what a limit leaves: which ratio is raised, and the most that is left at a dosage."""
    lead = "Limit" if figures["verified"] else "Unverified limit"
    by = AUTHORITIES[figures["market"]].words
    what = figures["substance"] + (f" in {figures['through']}" if figures["through"] else "")
    held = f"{lead} on {what}, {figures['limit_percent']:g} % in category {figures['category']} ({by})"
    if figures["dosage"] is None:
        return f"{held}; say --dosage to bound the dose."
    most = figures["most_parts"]
    left = (
        f"at most {math.floor(1000 * float(f'{most:.6g}')) / 1000:.4g} parts per thousand"
        if most < 1000
        else "no dose reaches it"
    )
    raised = ""
    if figures["after"] is not None:
        before, after = (100 * figures[key] for key in ("before", "after"))
        raised = f"; a first try takes it from {before:.2g} to {after:.2g} % of the limit"
    return f"{held}: {left} at {figures['dosage']:g} %{raised}."
