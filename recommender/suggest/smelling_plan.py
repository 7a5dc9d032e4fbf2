"""What to smell at which hour on one strip of the next version."""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.chemistry import odour_strength
from recommender.formulas.drydown import FormulaDrydown
from recommender.model import Reading
from recommender.reasons import FadedFacet, MaskedFacet, RedundantMaterial, RelayReason, TooStrongFacet
from recommender.suggest.revise import Change
from recommender.suggest.trial_findings import level

LEAST_APART = 1.2
"""Hours closer together than this ratio are one visit to the strip."""
PHASE_HOURS = {"top": 0.25, "heart": 3.0, "base": 24.0}
"""Hour at which a phase is smelled for a material that was left out."""


@dataclass(frozen=True, slots=True)
class StripVisit:
    """One visit to the strip: the hour, the facet (blank: the whole smell), what is expected, and why."""

    hours: float
    facet: str
    expected: float
    why: str

    @property
    def rating(self) -> str:
        """The expected strength in a word."""
        return odour_strength.rating_of(self.expected)


def plan(after: FormulaDrydown, changes: Sequence[Change], readings: Sequence[Reading]) -> list[StripVisit]:
    """Return the hours at which a strip of the next version has to be smelled, and for what.

    Every change is looked for at the hour for which it was made, a carrier also at the end of its time, and
    the whole smell when it is fresh.
    """
    wanted: dict[tuple[float, str], str] = {(0.0, ""): "does it still start as it should?"}
    for change in changes:
        match change.reason:
            case TooStrongFacet(facet=facet, hours=hours):
                wanted |= {(hour, facet): "is it still too strong?" for hour in hours}
            case RedundantMaterial(facet=facet, phase=phase):
                wanted.setdefault((PHASE_HOURS[phase], facet), f"is {change.moves[0][0].name} missed?")
            case MaskedFacet(facet=facet, from_hours=hour, until_hours=until, material=name):
                for name_of_it in facet.split(", "):
                    wanted.setdefault((hour, name_of_it), f"is it clearer with less {name}?")
            case FadedFacet(facet=facet, hours=hour, until_hours=until):
                names = " and ".join(m.name for m, *_ in change.moves)
                wanted[hour, facet] = f"does it last with {names}?"
                wanted.setdefault((until, facet), "is it there to the end?")
                if handover := _handover(change):
                    wanted.setdefault((handover, facet), f"does {change.moves[-1][0].name} take over here?")
    for one in readings:
        if one.rating in ("clear", "strong"):
            wanted.setdefault((one.hours, one.facet), "is it as before?")
    looks = [StripVisit(hour, facet, level(after, facet, hour), why) for (hour, facet), why in wanted.items()]
    return _visits(sorted(looks, key=lambda look: (look.hours, look.facet)))


def _handover(change: Change) -> float | None:
    reasons = change.suggestion.reasons if change.suggestion else ()
    return next((reason.handover_hours for reason in reasons if isinstance(reason, RelayReason)), None)


def _visits(looks: list[StripVisit]) -> list[StripVisit]:
    """Return the visits with hours that are close together merged."""
    found: list[StripVisit] = []
    for look in looks:
        near = found and found[-1].hours > 0 and look.hours / found[-1].hours < LEAST_APART
        hour = found[-1].hours if near else look.hours
        if not any(one.hours == hour and one.facet == look.facet for one in found):
            found.append(StripVisit(hour, look.facet, look.expected, look.why))
    return found
