"""Results as JSON and CSV text."""

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from recommender.evidence.cells import harmless


def as_json(data: object) -> str:
    """Return indented JSON without escapes of letters and without NaN; a blank text is null."""
    return json.dumps(known(data), indent=2, ensure_ascii=False, allow_nan=False)


def known(data: Any) -> Any:
    """Return plain data with None in place of blank texts, which say that something is unknown.

    >>> known({"name": "coumarin", "note": "", "labels": ["hay"]})
    {'name': 'coumarin', 'note': None, 'labels': ['hay']}
    """
    if isinstance(data, Mapping):
        return {key: known(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [known(value) for value in data]
    return None if data == "" else data


def as_csv(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> str:
    """Return CSV with a header: lists separated by semicolons, unknown values blank, text never run.

    `sheets` reads back the same values; texts may contain line breaks.
    """
    return "\n".join(_line(cells) for cells in (columns, *(map(row.get, columns) for row in rows)))


def _line(values: Iterable[object]) -> str:
    text = io.StringIO()
    cells = list(map(written_cell, values))
    csv.writer(text, lineterminator="\r\n").writerow(cells)  # quotes both kinds of line break in a cell
    return text.getvalue().removesuffix("\r\n")


def written_cell(value: object) -> object:
    """Return a value as one cell of a file: a text that a spreadsheet would run is made harmless."""
    found = cell(value)
    return harmless(found) if isinstance(found, str) else found


def cell(value: object) -> object:
    """Return a value as one cell."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "; ".join(str(part) for part in value)
    return value


FLAT_COLUMNS = (
    "rank",
    "name",
    "cas",
    "cas_all",
    "facet",
    "score",
    "position",
    "lasting_hours",
    "lasting_low",
    "lasting_high",
    "strength",
    "brings",
    "dose_first_try",
    "dose_low",
    "dose_high",
    "dose_dilution",
    "dose_usual_low",
    "dose_usual_high",
    "members",
    "bottles",
    "effect",
    "why",
    "cautions",
)


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return one suggestion as a row with single values, each term in its own column."""
    stay, dose = row["lasting"] or {}, row["dose"] or {}
    return {
        **{key: row[key] for key in ("rank", "name", "cas", "cas_all", "facet", "score")},
        "position": stay.get("position"),
        "lasting_hours": stay.get("hours"),
        "lasting_low": stay.get("low"),
        "lasting_high": stay.get("high"),
        "strength": row["strength"],
        **{f"dose_{key}": dose.get(key) for key in ("first_try", "low", "high", "dilution")},
        **{f"dose_usual_{key}": (dose.get("usual") or {}).get(key) for key in ("low", "high")},
        "members": [f"{m['name']} {m['share']}" for m in row.get("members", [])],
        "bottles": [f"{b['label']} at {b['dilution']:g} %" for b in row.get("bottles", [])],
        "effect": json.dumps(row["effect"], ensure_ascii=False) if row["effect"] else None,
        "brings": [f"{b['facet']} {b['strength']}" for b in row["brings"]],
        "why": " ".join(r["text"] for r in row["reasons"]),
        "cautions": row["cautions"],
        **{f"term_{name}": value for name, value in row["terms"].items()},
    }
