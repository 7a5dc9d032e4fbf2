"""Changes from one version to the next, what to smell then, and two versions beside each other."""

from collections.abc import Sequence
from typing import Any

from recommender.chemistry.odour_strength import CLEAR, rating_of
from recommender.formulas.comparison import VersionDiff
from recommender.model import Formula
from recommender.output import formulas, wording
from recommender.output.amount_sentences import SHARES_LEFT, hides
from recommender.output.sentences import name_of
from recommender.output.trials import at
from recommender.reasons import (
    ChangeReason,
    FadedFacet,
    MaskedFacet,
    RedundantMaterial,
    RestoredFacet,
    TooStrongFacet,
)
from recommender.suggest.revise import Change
from recommender.suggest.smelling_plan import StripVisit


def change_text(change: Change) -> str:
    """Return what to change, in one line."""
    names = [f"{m.name} {wording.parts_of(old)} to {wording.parts_of(new)}" for m, old, new in change.moves]
    added = [f"{wording.parts_of(new)} {m.name}" for m, _, new in change.moves]
    match change.reason:
        case TooStrongFacet(factor=factor):
            return f"cut to {SHARES_LEFT[factor]}: {wording.join(names)}"
        case MaskedFacet(factor=factor) if factor:
            return f"lower to {SHARES_LEFT[factor]}: {wording.join(names)}"
        case RedundantMaterial() | MaskedFacet():
            return f"leave out: {wording.join(m.name for m, *_ in change.moves)}"
        case RestoredFacet():
            return f"add {wording.join(added)}" + (", a relay" if change.kind == "relay" else "")
        case FadedFacet():
            return f"double: {wording.join(names)}"


def reason_text(change: Change) -> str:
    """Return why, in a sentence or two."""
    match change.reason:
        case TooStrongFacet(hours=hours, before=before, after=after) as cut:
            when = wording.join(at(hour) for hour in hours)
            down = f"{before:.0f} to {after:.0f} of 100 at {at(hours[0])}"
            less = "; your nose finds more of it than the tables do" if before < CLEAR else ""
            return f"{_facet(cut)} was too strong at {when}; it comes from here. Predicted: {down}{less}."
        case MaskedFacet() as masked:
            text = hides(masked)
            return f"{text[0].upper()}{text[1:]}."
        case RedundantMaterial(phase=phase, covered_by=covers) as spare:
            rest = (
                f"; {wording.join(covers)} {'shows' if len(covers) == 1 else 'show'} it too" if covers else ""
            )
            return f"It would hardly be missed; the largest loss is {_facet(spare)} in the {phase}{rest}."
        case RestoredFacet(hours=hour, after=after) as restored:
            by = f"; {restored.by} carried it" if restored.by else ""
            brings = wording.facets(change.suggestion.brings) if change.suggestion else ""
            return (
                f"{_faded(restored)}{by}. Predicted with this: {rating_of(after)}, {after:.0f} of 100 at "
                f"{at(hour)}; wanted until {at(restored.until_hours)}."
                + (f" Brings along: {brings}." if brings else "")
            )
        case FadedFacet(predicted=predicted) as faded:
            return (
                f"{_faded(faded)}, though {predicted:.0f} of 100 was predicted: "
                "your nose decides. Smell it again."
            )


def _facet(reason: ChangeReason) -> str:
    return reason.facet or "the whole"


def _faded(reason: FadedFacet) -> str:
    alive = "never clear" if reason.alive is None else f"clear at {at(reason.alive)}"
    gone = "gone" if reason.rating == "gone" else "only a trace"
    return f"{_facet(reason)} was {alive} and {gone} at {at(reason.hours)}"


def change_data(number: int, change: Change) -> dict[str, Any]:
    """Return one change with its number, by which it is accepted."""
    found = change.suggestion
    return {
        "number": number,
        "kind": change.kind,
        "name": name_of(found) if found else wording.join(m.name for m, *_ in change.moves),
        "moves": [
            {"name": m.name, "cas": m.cas or None, "before": wording.tidy(old), "after": wording.tidy(new)}
            for m, old, new in change.moves
        ],
        "text": change_text(change),
        "reason": reason_text(change),
        "figures": wording.tidy_figures(change.reason.figures),
        "basis": change.reason.basis,
        "cautions": list(found.cautions) if found else [],
    }


CHANGE_COLUMNS = ("number", "kind", "name", "text", "reason", "cautions")


def change_lines(changes: Sequence[Change]) -> list[str]:
    """Return changes with their reasons, each under its number."""
    lines = []
    for number, change in enumerate(changes, 1):
        lines += [f"{number:>2}. {change_text(change)}", f"    {reason_text(change)}"]
        lines += [
            f"    caution: {text}" for text in (change.suggestion.cautions if change.suggestion else ())
        ]
    return lines


def look_data(look: StripVisit) -> dict[str, Any]:
    """Return one visit to the strip."""
    return {
        "hours": wording.tidy(look.hours),
        "facet": look.facet or None,
        "expected": wording.tidy(look.expected),
        "said": look.rating,
        "why": look.why,
    }


def look_lines(looks: Sequence[StripVisit]) -> list[str]:
    """Return the plan of one strip, hour by hour."""
    lines = ["One strip of it, smelled at:"]
    last = None
    for look in looks:
        hour = at(look.hours) if look.hours != last else ""
        lines.append(f"  {hour:>9}  {look.facet or 'the whole'}: {look.why} (expected: {look.rating})")
        last = look.hours
    return lines


def formula_lines(formula: Formula) -> list[str]:
    """Return a formula in parts, line by line."""
    lines = []
    for line in formula.lines:
        percent = f" at {100 * line.dilution:g} %" if line.dilution < 1.0 else ""
        lines.append(f"  {wording.parts_of(line.parts):>8}  {line.content.name}{percent}")
    return lines


MOVED_HEADS = {"name": "material", "before": "before", "after": "after", "change": "neat parts of 1000"}
DIFF_COLUMNS = ("name", "cas", "before", "after", "change")


def moved_rows(diff: VersionDiff) -> list[dict[str, Any]]:
    """Return what was moved between two versions, in neat parts per thousand."""
    return [
        {
            "name": row.material.name,
            "cas": row.material.cas or None,
            "before": None if row.before is None else wording.tidy(row.before),
            "after": None if row.after is None else wording.tidy(row.after),
            "change": _moved(row.before, row.after),
        }
        for row in diff.moved
    ]


def _moved(before: float | None, after: float | None) -> str:
    if before is None:
        return "new"
    if after is None:
        return "left out"
    return f"times {after / before:.2g}"


def room_line(diff: VersionDiff) -> str:
    """Return what became of everything else."""
    if abs(diff.room - 1.0) < 0.0005:
        return "everything else is the same" if diff.moved else "the parts are the same"
    return f"everything else times {diff.room:.3g}, to make room"


def diff_data(diff: VersionDiff, notes: Sequence[str] = ()) -> dict[str, Any]:
    """Return two versions in parts and in facets over time."""
    return {
        "moved": moved_rows(diff),
        "room": wording.tidy(diff.room),
        **formulas.side_data(diff.side, notes=notes),
    }
