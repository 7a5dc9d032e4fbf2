"""Findings as plain data, with the keys that other programs rely on."""

from collections.abc import Sequence
from typing import Any

from recommender.model import Bottle, Dose, Findings, Suggestion
from recommender.output import sentences
from recommender.output.amount_sentences import hides
from recommender.output.sentences import name_of, reason
from recommender.output.wording import SIGNS_OFF, tidy, tidy_figures
from recommender.reasons import Reason
from recommender.suggest import confidence


def as_dict(findings: Findings) -> dict[str, Any]:
    """Return findings as plain data with the keys of the published contract."""
    answer: dict[str, Any] = {
        "query": tidy_figures(findings.query),
        "suggestions": [_row(n, one, findings.asked) for n, one in enumerate(findings.suggestions, 1)],
        "notes": [*findings.notes, *foot(findings)],
    }
    if findings.itself:
        answer["itself"] = _reasons(findings.itself, findings.asked, findings.asked)
    if findings.query["verb"] == "extend":
        answer["lower"] = _lower(findings)
    return answer


def foot(findings: Findings) -> list[str]:
    """Return what stands below suggestions: which cannot be told apart, and who decides on a use."""
    tied = sentences.tied(confidence.groups(findings.suggestions))
    return [*([tied] if tied else []), *([SIGNS_OFF] if findings.suggestions or findings.lower else [])]


def _row(rank: int, found: Suggestion, asked: str) -> dict[str, Any]:
    """Return one suggestion; `asked` is what was asked about, by name."""
    asked = sentences.asked_of(found, asked)
    material, stay = found.material, found.lasting
    row = {
        "rank": rank,
        "name": name_of(found),
        "cas": None if found.members else material.cas or None,
        "cas_all": [] if found.members else list(material.cas_all),
        "facet": found.facet,
        "score": round(found.score, 4),
        "terms": {name: round(value, 4) for name, value in found.terms.items()},
        "lasting": None if stay is None else tidy_figures(stay.figures),
        "strength": None if found.strength is None else tidy(found.strength),
        "dose": _dose(found.dose),
        "brings": [{"facet": label.facet, "strength": label.strength} for label in found.brings],
        "effect": None if found.effect is None else tidy_figures(found.effect),
        "reasons": _reasons(found.reasons, asked, material.name),
        "cautions": list(found.cautions),
        "confidence": None
        if found.confidence is None
        else {
            "tied_with": list(found.confidence.tied_with),
            "first_in": round(found.confidence.first_in, 3),
        },
        "availability": found.availability or None,
        "law": None if found.law is None else {"status": found.law.status, "decision": found.law.decision},
    }
    line = {} if found.instead_of is None else {"instead_of": found.instead_of.name}
    return row | line | _members(found) | _bottles(found)


def _reasons(found: Sequence[Reason], asked: str, offered: str) -> list[dict[str, Any]]:
    return [
        {
            "kind": r.kind,
            "text": reason(r, asked, offered),
            "figures": tidy_figures(r.figures),
            "basis": r.basis or None,
            "source": r.source or None,
        }
        for r in found
    ]


def _lower(findings: Findings) -> list[dict[str, Any]] | None:
    """Return what a formula may have less of, None where no formula was asked about."""
    if findings.lower is None:
        return None
    return [
        {
            "name": line.material.name,
            "cas": line.material.cas or None,
            "parts_before": tidy(line.parts_before),
            "parts_after": tidy(line.parts_after),
            "facet": line.reason.facet,
            "effect": {"before": tidy(line.reason.before), "after": tidy(line.reason.after)},
            "reason": hides(line.reason),
            "figures": tidy_figures(line.reason.figures),
            "basis": line.reason.basis,
            "usual": usual(line.usual),
            "below_usual": line.below_usual,
        }
        for line in findings.lower
    ]


def _members(found: Suggestion) -> dict[str, Any]:
    if not found.members:
        return {}
    return {
        "members": [
            {"name": material.name, "cas": material.cas or None, "share": round(share, 4)} | own
            for (material, share), own in zip(found.members, _member_doses(found), strict=True)
        ]
    }


def _member_doses(found: Suggestion) -> list[dict[str, Any]]:
    """Return the dose of each member where there is one, else nothing."""
    doses = found.dose.members if found.dose else ()
    return [{"dose": _dose(dose)} for dose in doses] or [{} for _ in found.members]


def _bottles(found: Suggestion) -> dict[str, Any]:
    if not found.bottles:
        return {}
    return {
        "bottles": [
            {
                "label": bottle.label,
                "dilution": bottle.dilution_percent,
                "solvent": bottle.solvent or None,
                "amount_g": bottle.amount_g,
                "price_per_g": bottle.price_per_g,
                "price_per_g_neat": _tidied(bottle.neat_price_per_g),
                "cost_per_kg": _tidied(found.cost_per_kg(bottle)),
                "parts": _as_weighed(found, bottle),
            }
            for bottle in found.bottles
        ]
    }


def _as_weighed(found: Suggestion, bottle: Bottle) -> dict[str, float] | None:
    """Return the dose in parts per thousand of what is in the bottle, and the solvent in the first try."""
    weighed = found.weighed(bottle)
    if weighed is None:
        return None
    return {
        **_ladder(weighed),
        "solvent": tidy(weighed.first_try * (1.0 - bottle.dilution_percent / 100.0)),
    }


def _tidied(value: float | None) -> float | None:
    return None if value is None else tidy(value)


def _dose(found: Dose | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        **_ladder(found),
        "unit": "parts per thousand",
        "of_query": None if found.of_query is None else tidy(found.of_query),
        "dilution": found.dilution_percent,
        "usual": usual(found.usual),
    }


def _ladder(found: Dose) -> dict[str, float]:
    return {"first_try": tidy(found.first_try), "low": tidy(found.low), "high": tidy(found.high)}


def usual(ends: tuple[float, float] | None) -> dict[str, float] | None:
    """Return a usual range as plain data, None where none is on record."""
    return None if ends is None else {"low": tidy(ends[0]), "high": tidy(ends[1])}
