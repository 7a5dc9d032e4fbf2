"""A person's own strips and what was fitted to them, as data, rows and lines."""

from collections.abc import Mapping
from typing import Any

from recommender import units
from recommender.calibration import Fit
from recommender.evaporation import DEFAULT_CONDITIONS
from recommender.model import OwnStrip, Reading
from recommender.notebook.readings import by_hour, written
from recommender.output import wording
from recommender.output.trials import at
from recommender.palette import Palette

FIGURES = {
    "film_m": ("still air over the strip", 1e3, "mm"),
    "nose_l_per_s": ("air drawn by the nose", 1e3, "mL/s"),
    "paper_share": ("held back by the paper", 1e2, "% of the dip"),
}
"""Name, factor and unit in which each figure is shown."""
LEVELS = {"clear": "clear", "just_there": "there"}
STRIP_COLUMNS = ("number", "material", "cas", "day", "dilution_percent", "solvent", "room_c", "readings")
STRIP_HEADS = {
    "number": "no.", "material": "material", "day": "day", "dilution_percent": "%", "room_c": "C",
    "readings": "readings",
}  # fmt: skip
ENDED_COLUMNS = (
    "number", "material", "level", "after_hours", "before_hours", "read_hours", "table_hours", "own_hours",
    "others_hours",
)  # fmt: skip


def _told(one: Reading) -> str:
    """Return when, and how strong: 8 h clear."""
    return f"{at(one.hours)} {written(one).removeprefix('whole ')}"


def strip_row(strip: OwnStrip) -> dict[str, Any]:
    """Return one strip."""
    told = [_told(one) for one in by_hour(strip.readings)]
    return {
        "number": strip.number,
        "material": strip.material.name,
        "cas": strip.material.cas or None,
        "day": strip.day or None,
        "dilution_percent": round(100 * strip.dilution, 9),
        "solvent": strip.solvent or None,
        "room_c": strip.room_c,
        "readings": told,
    }


def ended_rows(fit: Fit) -> list[dict[str, Any]]:
    """Return when each strip ended: as read, by the table, as fitted."""
    return [
        {
            "number": end.strip.number,
            "material": end.strip.material.name,
            "level": end.level,
            "after_hours": wording.tidy(end.after),
            "before_hours": wording.tidy(end.before),
            "read_hours": wording.tidy(end.read),
            "table_hours": wording.tidy(end.table),
            "own_hours": wording.tidy(end.own),
            "others_hours": wording.tidy(end.alone),
        }
        for end in fit.ended
    ]


def fit_data(fit: Fit) -> dict[str, Any]:
    """Return what was fitted as plain data."""
    return {
        "figures": [
            {
                "name": known.name,
                **{key: wording.tidy(getattr(known, key)) for key in ("value", "low", "high", "table")},
                "fitted": known.fitted,
                "remark": known.remark or None,
            }
            for known in fit.known
        ],
        "room_c": fit.conditions.temperature_c,
        "ends": ended_rows(fit),
        "outliers": [
            {
                "number": one.strip.number,
                "material": one.strip.material.name,
                "reading": _told(one.reading),
                "table": wording.tidy(one.table),
                "own": wording.tidy(one.own),
            }
            for one in fit.compared
            if one.outlier
        ],
        "apart": {key: wording.tidy(value) for key, value in fit.apart.items()},
    }


def fit_lines(fit: Fit) -> list[str]:
    """Return what was fitted in words."""
    lines = [f"Your strips, in a room of {fit.conditions.temperature_c:.3g} C:"]
    for known in fit.known:
        name, factor, unit = FIGURES[known.name]
        value, low, high, table = (
            wording.parts_of(factor * x) for x in (known.value, known.low, known.high, known.table)
        )
        if known.fitted:
            lines.append(f"  {name}: {value} {unit} ({low} to {high}; the table has {table})")
        else:
            lines.append(f"  {name}: as in the table, {table} {unit}; {known.remark}")
    lines.append("")
    for end in fit.ended:
        read, table, own = (units.duration(x) for x in (end.read, end.table, end.own))
        lines.append(
            f"  {end.strip.material.name}: your strip says {LEVELS[end.level]} until {read}, "
            f"the table predicted {table}; fitted {own}"
        )
    for one in fit.compared:
        if one.outlier:
            lines.append(
                f"  does not fit: {one.strip.material.name} (strip {one.strip.number}) "
                f"{_told(one.reading)}; fitted {one.own:.0f} of 100, by the table {one.table:.0f}"
            )
    if fit.apart:
        table, own, others = (f"{fit.apart[key]:.2g}" for key in ("table", "own", "alone"))
        lines += [
            "",
            f"Hours read and predicted lie apart by a factor of {table} with the table, {own} with yours "
            f"({others} for materials without a strip of their own).",
        ]
    return lines


Kept = tuple[str, Mapping[str, float], Mapping[str, Mapping[str, float | None]]]


def used_data(held: Kept | None, palette: Palette) -> dict[str, Any]:
    """Return what is used now: when it was fitted (None for the table), the figures, the materials."""
    now = palette.conditions
    catalogue = palette.catalogue
    return {
        "fitted": f"{held[0].replace('T', ' ')} UTC" if held else None,
        "figures": [
            {
                "name": name,
                "value": wording.tidy(getattr(now, name)),
                "table": wording.tidy(getattr(DEFAULT_CONDITIONS, name)),
            }
            for name in FIGURES
        ],
        "room_c": now.temperature_c,
        "materials": [
            {
                "name": catalogue.materials[catalogue.index[slug]].name,
                "faster": wording.tidy(own.faster),
                "stronger": wording.tidy(own.stronger),
                "hours": None if own.hours is None else wording.tidy(own.hours),
                "table_hours": None if own.table_hours is None else wording.tidy(own.table_hours),
            }
            for slug, own in now.own.items()
            if slug in catalogue.index
        ],
    }


def used_lines(data: Mapping[str, Any]) -> list[str]:
    """Return what is used now in words."""
    if data["fitted"] is None:
        return ["The figures of the table are used; see `recommender calibrate add --help`."]
    lines = [f"Fitted to your strips on {data['fitted']}, for a room of {data['room_c']:.3g} C:"]
    for figure in data["figures"]:
        name, factor, unit = FIGURES[figure["name"]]
        lines.append(
            f"  {name}: {wording.parts_of(factor * figure['value'])} {unit} "
            f"(table {wording.parts_of(factor * figure['table'])})"
        )
    for one in data["materials"]:
        if one["hours"] is not None:
            read, table = units.duration(one["hours"]), units.duration(one["table_hours"])
            lines.append(f"  {one['name']}: your strip says clear until {read}, the table predicted {table}")
    return lines
