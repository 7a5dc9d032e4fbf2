"""A person's own strips and the fit to them as plain data, rows and lines."""

from collections.abc import Mapping
from typing import Any

from recommender import units
from recommender.calibration import Fit
from recommender.evaporation import DEFAULT_CONDITIONS
from recommender.model import OwnStrip, Reading
from recommender.notebook.readings import by_hour, written
from recommender.output import wording
from recommender.output.trials import at, reading_data
from recommender.palette import Palette

FIGURES = {
    "film_m": ("layer of still air over the strip", 1e3, "mm"),
    "nose_l_per_s": ("air drawn by the nose", 1e3, "mL/s"),
    "paper_share": ("retained by the paper", 1e2, "% of the dip"),
}
"""Name, factor and unit of each fitted figure when shown."""
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


def _reading(one: Reading) -> str:
    """Return a reading in words: 8 h clear."""
    return f"{at(one.hours)} {written(one).removeprefix('whole ')}"


def strip_row(strip: OwnStrip) -> dict[str, Any]:
    """Return one strip as a row."""
    return {
        "number": strip.number,
        "material": strip.material.name,
        "cas": strip.material.cas or None,
        "day": strip.day or None,
        "dilution_percent": round(100 * strip.dilution, 9),
        "solvent": strip.solvent or None,
        "room_c": strip.room_c,
        "readings": [_reading(one) for one in by_hour(strip.readings)],
    }


def strip_data(strip: OwnStrip) -> dict[str, Any]:
    """Return one strip with its readings."""
    return strip_row(strip) | {"readings": [reading_data(one) for one in by_hour(strip.readings)]}


def ended_rows(fit: Fit) -> list[dict[str, Any]]:
    """Return when each strip ended: as smelled, by the table and as fitted."""
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
    """Return the fit as plain data."""
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
                "reading": _reading(one.reading),
                "table": wording.tidy(one.table),
                "own": wording.tidy(one.own),
            }
            for one in fit.compared
            if one.outlier
        ],
        "apart": {key: wording.tidy(value) for key, value in fit.apart.items()},
    }


def fit_lines(fit: Fit) -> list[str]:
    """Return the fit in words."""
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
            f"  {end.strip.material.name}: {LEVELS[end.level]} until {read} on your strip; "
            f"the table predicted {table}, the fit {own}"
        )
    for one in fit.compared:
        if one.outlier:
            lines.append(
                f"  does not fit: {one.strip.material.name} (strip {one.strip.number}) "
                f"{_reading(one.reading)}; the fit predicts {one.own:.0f} of 100, the table {one.table:.0f}"
            )
    if fit.apart:
        table, own, others = (f"{fit.apart[key]:.2g}" for key in ("table", "own", "alone"))
        lines += [
            "",
            f"Smelled and predicted hours differ by a factor of {table} with the table, {own} with your fit "
            f"({others} for materials without a strip of their own).",
        ]
    return lines


StoredFit = tuple[str, Mapping[str, float], Mapping[str, Mapping[str, float | None]]]


def used_data(stored: StoredFit | None, palette: Palette) -> dict[str, Any]:
    """Return the figures in use and when they were fitted, None for those of the table."""
    now = palette.conditions
    catalogue = palette.catalogue
    return {
        "fitted": f"{stored[0].replace('T', ' ')} UTC" if stored else None,
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


USED_COLUMNS = ("name", "value", "table", "fitted")
"""Columns of the figures in use."""


def used_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return one row for each figure in use, and the hours of each material with a strip of its own."""
    rows = [{**figure, "fitted": data["fitted"]} for figure in data["figures"]]
    return rows + [
        {
            "name": f"hours of {one['name']}",
            "value": one["hours"],
            "table": one["table_hours"],
            "fitted": data["fitted"],
        }
        for one in data["materials"]
        if one["hours"] is not None
    ]


def used_lines(data: Mapping[str, Any]) -> list[str]:
    """Return the figures in use in words."""
    if data["fitted"] is None:
        return ["The figures of the table are in use; see `recommender calibrate add --help`."]
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
            lines.append(f"  {one['name']}: clear until {read} on your strip; the table predicted {table}")
    return lines
