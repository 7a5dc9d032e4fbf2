"""Changes from one version to the next, what to smell then, and two versions beside each other."""

from collections.abc import Mapping, Sequence
from typing import Any

from recommender.chemistry.odour_strength import CLEAR, said
from recommender.formulas.comparison import VersionDiff
from recommender.model import Formula
from recommender.output import formulas, wording
from recommender.output.sentences import name_of
from recommender.output.trials import at
from recommender.suggest.revise import Change
from recommender.suggest.smelling_plan import StripVisit

CUTS = {1 / 2: "a half", 1 / 3: "a third"}


def change_text(change: Change) -> str:
    """Return what to change, in one line."""
    names = [f"{m.name} {wording.parts_of(old)} to {wording.parts_of(new)}" for m, old, new in change.moves]
    added = [f"{wording.parts_of(new)} {m.name}" for m, _, new in change.moves]
    told = change.reason.figures
    match change.kind:
        case "cut":
            return f"cut to {CUTS[told['factor']]}: {wording.join(names)}"  # type: ignore[index]
        case "raise":
            return f"double: {wording.join(names)}"
        case "leave out":
            return f"leave out: {wording.join(m.name for m, *_ in change.moves)}"
    return f"add {wording.join(added)}" + (", a relay" if change.kind == "relay" else "")


def reason_text(change: Change) -> str:
    """Return why, in a sentence or two."""
    told: Mapping[str, Any] = change.reason.figures
    facet = told["facet"] or "the whole"
    match change.kind:
        case "cut":
            hours = wording.join(at(hour) for hour in told["hours"])
            down = f"{told['before']:.0f} to {told['after']:.0f} of 100 at {at(told['hours'][0])}"
            less = "; your nose finds more of it than the tables do" if told["before"] < CLEAR else ""
            return f"{facet} was too strong at {hours}; it comes from here. Predicted: {down}{less}."
        case "leave out":
            covers = told["covered_by"]
            rest = (
                f"; {wording.join(covers)} {'tells' if len(covers) == 1 else 'tell'} it too" if covers else ""
            )
            return f"Nobody would miss it: most, {facet} in the {told['phase']}{rest}."
    alive = f"clear at {at(told['alive'])}" if told["alive"] is not None else "never clear"
    lost = f"{facet} was {alive} and {_died(told['said'])} at {at(told['hours'])}"
    if change.kind == "raise":
        return (
            f"{lost}, though {told['predicted']:.0f} of 100 was predicted: your nose decides. Smell it again."
        )
    by = f"; {told['by']} carried it" if told["by"] else ""
    brings = wording.facets(change.suggestion.brings) if change.suggestion else ""
    return (
        f"{lost}{by}. Predicted with this: {said(told['after'])}, {told['after']:.0f} of 100 at "
        f"{at(told['hours'])}; wanted to {at(told['until_hours'])}."
        + (f" Brings along: {brings}." if brings else "")
    )


def _died(word: str) -> str:
    return "gone" if word == "gone" else "only a trace"


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
        "said": look.said,
        "why": look.why,
    }


def look_lines(looks: Sequence[StripVisit]) -> list[str]:
    """Return the plan of one strip, hour by hour."""
    lines = ["One strip of it, smelled at:"]
    last = None
    for look in looks:
        hour = at(look.hours) if look.hours != last else ""
        lines.append(f"  {hour:>9}  {look.facet or 'the whole'}: {look.why} (expected: {look.said})")
        last = look.hours
    return lines


def formula_lines(formula: Formula) -> list[str]:
    """Return a formula in parts, line by line."""
    lines = []
    for line in formula.lines:
        percent = f" at {100 * line.dilution:g} %" if line.dilution < 1.0 else ""
        lines.append(f"  {wording.parts_of(line.parts):>8}  {line.content.name}{percent}")
    return lines


MOVED_HEADS = {"name": "material", "before": "before", "after": "after", "change": "parts of 1000"}
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


def diff_data(diff: VersionDiff) -> dict[str, Any]:
    """Return two versions in parts and in facets over time."""
    return {"moved": moved_rows(diff), "room": wording.tidy(diff.room), **formulas.side_data(diff.side)}
