"""The JSON schemas of the answers, one for each command; `scripts/schemas.py` writes them."""

import json
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).with_name("schemas.json")
DIALECT = "https://json-schema.org/draft/2020-12/schema"


@cache
def _all() -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = json.loads(FILE.read_text(encoding="utf-8"))
    return found


def names() -> list[str]:
    """Return the commands whose answers have a schema."""
    return sorted(_all())


def schema(name: str) -> dict[str, Any]:
    """Return the schema of the answer of a command, as JSON Schema 2020-12."""
    return {"$schema": DIALECT, "title": f"recommender {name} --format json", **_all()[name]}
