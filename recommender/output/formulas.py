"""Drydowns, strips, first amounts and comparisons as plain data, rows and lines of text."""

from collections.abc import Mapping, Sequence
from typing import Any

from recommender import units
from recommender.chemistry.odour_strength import JUST_THERE
from recommender.evaporation.course import HOURS
from recommender.evaporation.surfaces import CM2
from recommender.formulas import curves
from recommender.formulas.comparison import Comparison, FirstAmount, StripComparison, out_of_thousand
from recommender.formulas.drydown import FormulaDrydown, MissedFacet, end_figures
from recommender.formulas.redundancy import HARDLY_SMELLED, Contribution
from recommender.formulas.theme import LoudFacet, Theme
from recommender.model import STRIP
from recommender.output import layout, wording
from recommender.output.suggestions import usual

DRYDOWN_COLUMNS = ("facet", "clear_hours", "clear_low", "clear_high", "just_there_hours", "just_there_low",
                   "just_there_high", "gap_hours", "carried_by")  # fmt: skip
BAR_HOURS = (1 / 60, 0.25, 1.0, 3.0, 8.0, 24.0, 72.0, 168.0)
BARS = " ▁▂▃▄▅▆▇█"
LOUDEST = 45.0
"""Intensity of a full bar."""
MOST_LINES = 16


def drydown(table: FormulaDrydown) -> dict[str, Any]:
    """Return hours, facets that are ever perceptible, ends, theme, gaps and what sticks out as plain data."""
    course = table.course
    ends = table.ends
    blind, lost = table.missed
    shown = curves.perceptible(table)
    columns = {facet: course.film.facets.index(facet) for facet in shown}
    return {
        "hours": [wording.tidy(hour) for hour in HOURS.tolist()],
        "facets": {f: [float(f"{v:.6g}") for v in course.facets[:, columns[f]].tolist()] for f in shown},
        "ends": {facet: wording.tidy_figures(end_figures(ends[facet])) for facet in shown},
        "theme": table.theme.figures,
        "gaps": [
            {
                "facet": gap.facet,
                "hours": wording.tidy(gap.hours),
                "carried_by": list(gap.carried_by),
                "of_theme": gap.of_theme,
            }
            for gap in table.gaps
        ],
        "sticks_out": [
            {
                "facet": one.facet,
                "name": one.material.name,
                "hours_from": wording.tidy(one.hours_from),
                "hours_to": wording.tidy(one.hours_to),
                "strength": wording.tidy(one.strength),
            }
            for one in table.sticks_out
        ],
        "notes": [*table.notes, *table.carrier_notes, *_missed_lines(blind, lost), times(table)],
    } | (
        {
            "missed": [
                {
                    "facet": one.facet,
                    "others_hours": wording.tidy(one.others_hours),
                    "own_hours": None if one.own_hours is None else wording.tidy(one.own_hours),
                }
                for one in lost
            ]
        }
        if blind
        else {}
    )


def _missed_lines(blind: list[str], lost: list[MissedFacet]) -> list[str]:
    """Return a note on the facets that a person with specific anosmias misses in the formula."""
    if not blind:
        return []
    facets = [
        f"{one.facet} (others until {units.duration(one.others_hours)}, "
        f"you {f'until {units.duration(one.own_hours)}' if one.own_hours is not None else 'never'})"
        for one in lost[:6]
    ]
    names = wording.join(blind)
    what = f"you miss {wording.join(facets)}" if facets else "other materials cover what you miss"
    return [f"You cannot smell {names}; the figures are for a person who can: {what}."]


def drydown_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return one row per facet."""
    gaps = {gap["facet"]: gap for gap in data["gaps"]}
    rows = []
    for facet, ends in data["ends"].items():
        row: dict[str, Any] = {"facet": facet}
        for level in ("clear", "just_there"):
            for key in ("hours", "low", "high"):
                row[f"{level}_{key}"] = ends[level][key] if ends[level] else None
        if facet in gaps:
            row |= {"gap_hours": gaps[facet]["hours"], "carried_by": gaps[facet]["carried_by"]}
        rows.append(row)
    return rows


def course_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return one row per facet with its ends and its strength, 0-100, at every hour of the course."""
    hours = [f"strength_{hour:g}h" for hour in data["hours"]]
    return [row | dict(zip(hours, data["facets"][row["facet"]], strict=True)) for row in drydown_rows(data)]


def drydown_lines(table: FormulaDrydown, data: Mapping[str, Any]) -> list[str]:
    """Return the course as bars with the ends of each facet, then the gaps in sentences."""
    facets = list(data["facets"])[:MOST_LINES]
    lines = [
        f"{table.formula.name} on {wording.on(table.surface)}: "
        f"strength at each hour (full bar: {LOUDEST:.0f} or more)",
        wording.theme(data["theme"]),
        "",
    ]
    lines += _bars(table, data, facets, [units.duration(hour) for hour in BAR_HOURS])
    rest = len(data["facets"]) - len(facets)
    if rest > 0:
        lines.append(f"and {rest} fainter facets (--format json)")
    lines.append("")
    if not data["gaps"]:
        lines.append("Nothing of the theme, or that a line leads with, fades within a week.")
    for gap in data["gaps"][:8]:
        carried = wording.join(gap["carried_by"][:3])
        lines.append(
            f"gap: {gap['facet']} fades out by {units.duration(gap['hours'])}; it came from {carried}."
        )
    if (more := len(data["gaps"]) - 8) > 0:
        lines.append(f"and {more} smaller gap{'s' if more > 1 else ''} (--format json)")
    lines += [sticks_out(one) for one in table.sticks_out]
    return [*lines, times(table)]


def times(table: FormulaDrydown) -> str:
    """Return how accurate the times of a drydown are."""
    within = f"Times are accurate to a factor of {table.times_within:.2g} either way at best"
    return f"{within}{_asked_by(table)}."


def _bars(
    table: FormulaDrydown, data: Mapping[str, Any], facets: Sequence[str], heads: Sequence[str]
) -> list[str]:
    """Return a line for each facet: its strength at some hours, as bars alone where figures do not fit."""
    width = max([len(f) for f in facets] + [8])
    room = layout.width()
    figures = room is None or room >= width + 2 + 8 * len(heads) + 2 + 14 + 12
    lines = [" " * width + "  " + " ".join(f"{head:>7}" for head in heads) + "   clear until    gone by"]
    if not figures:
        lines = [
            f"Bars: {wording.join(heads)}.",
            "",
            f"{'':<{width}}  {'':<{len(heads)}}  clear until   gone by",
        ]
    for facet in facets:
        values = curves.intensities_at(table, facet, BAR_HOURS)
        ends = data["ends"][facet]
        clear, gone = until(ends["clear"]), until(ends["just_there"], "never there")
        if figures:
            cells = " ".join(f"{_bar(v)} {v:>4.0f}".rjust(7) for v in values)
            lines.append(f"{facet:<{width}}  {cells}   {clear:<14} {gone}")
        else:
            lines.append(f"{facet:<{width}}  {''.join(map(_bar, values))}  {clear:<13} {gone}")
    return lines


def sticks_out(one: LoudFacet) -> str:
    """Return what is louder than the theme in one sentence."""
    hours = f"from {units.duration(one.hours_from)} to {units.duration(one.hours_to)}"
    return f"sticks out: {one.facet} from {one.material.name} is louder than the theme {hours}."


def _asked_by(table: FormulaDrydown) -> str:
    """Return how the figures of another surface are asked for, where they are those of the usual strip."""
    conditions = table.conditions
    if conditions.surface != STRIP or conditions.dosage_percent is not None:
        return ""
    return f", for {conditions.load_mg:.3g} mg on {conditions.area_m2 / CM2:.3g} cm2; for skin see --surface"


def _bar(value: float) -> str:
    step = round(min(value, LOUDEST) / LOUDEST * (len(BARS) - 1))
    return BARS[max(step, 1) if value >= JUST_THERE else 0]


def until(end: Mapping[str, float] | None, never: str = "never clear") -> str:
    """Return an end in words: 3.6 h, over a year, or the words for none."""
    if not end:
        return never
    if end["hours"] >= 24 * 364:
        return "over a year"
    return units.duration(end["hours"])


LINE_HEADS = {
    "material": "material",
    "parts": "parts",
    "dilution_percent": "%",
    "solvent": "in",
    "note": "note",
}
"""Heads of the lines of a formula."""
SPARE_COLUMNS = ("name", "cas", "parts", "redundant", "facet", "phase", "missed", "covered_by", "does",
                 "share_of_theme", "share_of_whole")  # fmt: skip
TRIM_NOTES = ("Each material was left out on its own: remove one, then run trim again before the next.",)
SPARE_HEADS = {"name": "material", "parts": "parts of 1000", "does": "does", "verdict": "without it"}


def spare_row(spare: Contribution) -> dict[str, Any]:
    """Return the effect of leaving one material out."""
    return {
        "name": spare.material.name,
        "cas": spare.material.cas or None,
        "parts": wording.tidy(spare.parts),
        "redundant": spare.redundant,
        "facet": spare.facet,
        "phase": spare.phase,
        "missed": wording.tidy(spare.missed),
        "covered_by": list(spare.covered_by),
        "does": does(spare),
        "share_of_theme": wording.tidy(spare.share_of_theme),
        "share_of_whole": wording.tidy(spare.share_of_whole),
    }


def does(spare: Contribution) -> str:
    """Return what a material does in a formula, in a few words: carries lavender."""
    return spare.role if spare.role == HARDLY_SMELLED else f"{spare.role} {spare.does_facet}"


def spare_words(spare: Contribution) -> dict[str, Any]:
    """Return the row of a material with a verdict in words."""
    facet, phase = spare.facet, spare.phase
    give = "gives" if len(spare.covered_by) == 1 else "give"
    covers = f"; {wording.join(spare.covered_by)} also {give} it" if spare.covered_by else ""
    if spare.redundant:
        verdict = f"hardly missed: smell with and without it (largest loss: {facet} in the {phase}{covers})"
    elif spare.little_missed:
        verdict = f"slightly less {facet} in the {phase}{covers}"
    else:
        verdict = f"{facet} would be missed in the {phase}{covers}"
    return spare_row(spare) | {"verdict": verdict}


STRIP_COLUMNS = ("name", "cas", "alone", "beside", "likeness", "nearest", "own_facets", "verdict")
STRIP_HEADS = {
    "name": "material", "alone": "alone", "beside": "with the others", "likeness": "likeness",
    "own_facets": "unique to it", "verdict": "verdict",
}  # fmt: skip


def strip_row(strip: StripComparison) -> dict[str, Any]:
    """Return the row of one strip, compared with the others."""
    return {
        "name": strip.material.name,
        "cas": strip.material.cas or None,
        "alone": None if strip.alone is None else wording.tidy(strip.alone),
        "beside": None if strip.beside is None else wording.tidy(strip.beside),
        "likeness": round(strip.likeness, 2),
        "nearest": strip.nearest,
        "own_facets": list(strip.own_facets),
        "verdict": strip.verdict,
    }


FIRST_COLUMNS = (
    *("name", "cas", "balance", "parts", "dilution_percent", "grams", "weigh", "held_back"),
    *("usual_low", "usual_high"),
)
FIRST_HEADS = {
    "name": "material",
    "balance": "balance",
    "parts": "parts of 1000",
    "used": "usual",
    "weigh": "weigh",
}
DOSE_NOTES = (
    "Amounts put each material as many times above its threshold as the balance asks: a first trial, "
    "not a finished formula.",
    "Check the current Standards and your local law before anything is used on skin; "
    "a qualified person signs off.",
)


def dose_notes(amounts: Sequence[FirstAmount]) -> list[str]:
    """Return what a reader should know of first amounts."""
    total = out_of_thousand(amounts)
    if total is None:
        return list(DOSE_NOTES)
    bounded = (
        f"They add up to {wording.parts_of(total)} parts of a thousand: more would be above usual use of a "
        "concentrate, or above a limit. The rest is solvent or other materials. Give the share of the trial "
        "in a concentrate where it is less than the whole."
    )
    return [DOSE_NOTES[0], bounded, *DOSE_NOTES[1:]]


def first_row(first: FirstAmount) -> dict[str, Any]:
    """Return the row of one first amount."""
    grams = first.grams
    weigh = "strength unknown"
    if grams is not None:
        at = f" of a {first.dilution_percent:g} % dilution" if first.dilution_percent else " neat"
        weigh = f"{grams:.3g} g{at}"
    if first.held_back:
        weigh = f"{weigh}, {first.held_back}" if grams is not None else first.held_back
    return {
        "name": first.material.name,
        "cas": first.material.cas or None,
        "balance": first.balance,
        "parts": None if first.parts is None else wording.tidy(first.parts),
        "dilution_percent": first.dilution_percent,
        "grams": None if grams is None else wording.tidy(grams),
        "weigh": weigh,
        "held_back": first.held_back or None,
        "usual": usual(first.usual),
    }


def first_words(first: FirstAmount) -> dict[str, Any]:
    """Return the row of one first amount with its usual range in words."""
    ends = first.usual
    used = f"{wording.parts_of(ends[0])}-{wording.parts_of(ends[1])}" if ends else "unknown"
    return first_row(first) | {"used": used}


def first_flat(first: FirstAmount) -> dict[str, Any]:
    """Return the row of one first amount with single values."""
    row = first_row(first)
    ends = row.pop("usual") or {}
    return row | {f"usual_{end}": ends.get(end) for end in ("low", "high")}


SIDE_COLUMNS = ("facet", "formula", "hours", "intensity")


def trim_data(table: FormulaDrydown, contributions: Sequence[Contribution]) -> dict[str, Any]:
    """Return what each material of a formula does as plain data."""
    return {
        "formula": table.formula.name,
        "theme": table.theme.figures,
        "rows": [spare_row(one) for one in contributions],
        "notes": [*table.notes, *TRIM_NOTES],
    }


def side_data(side: Comparison, themes: Sequence[Theme] = (), notes: Sequence[str] = ()) -> dict[str, Any]:
    """Return two formulas hour by hour as plain data, with the theme of each if given."""
    return {
        "formulas": list(side.names),
        **({"themes": [theme.figures for theme in themes]} if themes else {}),
        "hours": [wording.tidy(h) for h in side.hours],
        "likeness": [round(v, 3) for v in side.likeness],
        "facets": {
            facet: {
                name: [wording.tidy(v) for v in line] for name, line in zip(side.names, lines, strict=True)
            }
            for facet, lines in side.facets.items()
        },
        "notes": list(dict.fromkeys(notes)),
    }


def line_data(row: Mapping[str, str]) -> dict[str, Any]:
    """Return one line of a formula's file with numbers as numbers, and None where it is blank.

    >>> line_data({"material": "coumarin", "parts": "18", "dilution_percent": ""})
    {'material': 'coumarin', 'parts': 18.0, 'dilution_percent': None}
    """
    numbers = ("parts", "dilution_percent")
    return {key: (float(text) if key in numbers else text) if text else None for key, text in row.items()}


def side_rows(side: Comparison) -> list[dict[str, Any]]:
    """Return one row per facet, formula and hour."""
    return [
        {"facet": facet, "formula": name, "hours": wording.tidy(hour), "intensity": wording.tidy(value)}
        for facet, lines in side.facets.items()
        for name, line in zip(side.names, lines, strict=True)
        for hour, value in zip(side.hours, line, strict=True)
    ]


def side_lines(side: Comparison, most: int = 12, themes: Sequence[Theme] = ()) -> list[str]:
    """Return the theme of each, if given, and the facets that differ most as pairs of bars."""
    facets = list(side.facets)[:most]
    lines = [f"{side.names[0]} against {side.names[1]}, on strips (a full bar is {LOUDEST:.0f} or more)"]
    lines += [
        f"{name}: {wording.theme(theme.figures)}" for name, theme in zip(side.names, themes, strict=False)
    ]
    lines += ["", *_side_bars(side, facets)]
    if len(side.facets) > most:
        lines.append(f"and {len(side.facets) - most} more facets that differ less (--format json)")
    return lines


def _side_bars(side: Comparison, facets: Sequence[str]) -> list[str]:
    """Return a pair of lines for each facet, as bars alone where figures do not fit."""
    heads = [units.duration(h) for h in side.hours]
    width = max([len(f) for f in facets] + [10])
    names = max(len(name) for name in side.names)
    room = layout.width()
    if room is None or room >= width + names + 3 + 9 * len(heads):
        cell, lines = 8, [" " * (width + names + 4) + " ".join(f"{head:>8}" for head in heads)]
    else:
        cell, lines = 1, [f"Bars: {wording.join(heads)}.", ""]
    for facet in facets:
        for place, (name, values) in enumerate(zip(side.names, side.facets[facet], strict=True)):
            cells = (
                " ".join(f"{_bar(v)} {v:>4.0f}".rjust(cell) for v in values)
                if cell > 1
                else "".join(map(_bar, values))
            )
            lines.append(f"{facet if place == 0 else '':<{width}}  {name:<{names}}  {cells}".rstrip())
    if cell > 1:
        alike = " ".join(f"{v:>8.2f}" for v in side.likeness)
        return [*lines, "", f"{'alike':<{width}}  {'':<{names}}  {alike}"]
    alike = wording.join(f"{v:.2f} at {head}" for v, head in zip(side.likeness, heads, strict=True))
    return [*lines, "", f"alike: {alike}"]
