#!/usr/bin/env python3
"""Write the JSON schemas of all answers from real ones: `scripts/schemas.py`; `--check` compares only.

A key that every answer here has is required. What an answer may have besides is left open, so that a later
version may add keys.
"""

import json
import os
import shutil
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from recommender.cli import cli
from recommender.formulas.formula import demo_files
from recommender.output.schemas import FILE

MAPS = frozenset(
    (
        *("facets", "ends", "terms", "percent", "percent_by_category", "sources", "figures", "key", "before"),
        *("after", "columns"),
    )
)
"""Keys whose objects are tables from a name to a value, where they are objects."""
NESTED = ("facets",)
"""Of these the keys whose values may be such tables again: a facet, then a formula."""
SURE = frozenset(("rank", "name", "score", "text", "status", "decision", "query", "facet", "verb", "setting"))
"""Keys that are never null where they have a value here; any other may be unknown."""
PREPARED = (
    ["shelf", "import", "demo/shelf.xlsx"],
    ["shelf", "add", "dark violet", "--material", "alpha-ionone", "--dilution", "10", "--price", "2"],
    ["shelf", "remove", "1"],
    ["formulas", "save", "demo/morello.csv"],
    ["trials", "import", "demo/readings.csv"],
    ["calibrate", "import", "demo/strips.csv"],
    ["nose", "add", "alpha-ionone", "--smells", "raspberry 3, hay 2", "--not", "violet"],
    ["materials", "add", "rose lactone X", "--smells", "rose 3, honey 1"],
    ["limits", "import", "demo/own_limits.csv"],
    ["archive", "import", "@formulas", "--store", "@house"],
)
"""What is stored before the questions are asked; what begins with @ is a folder made for them."""
HOUSE = ["--store", "@house"]
FOLDERS = "RECOMMENDER_SCHEMA_FOLDERS"
MORELLO, BELL = "demo/morello.csv", "demo/bell_flower.csv"
QUESTIONS: Mapping[str, Sequence[Sequence[str]]] = {
    "extend": (
        ["benzaldehyde", "--facet", "almond"],
        ["mystery"],
        [MORELLO, "--dosage", "15"],
        [MORELLO, "--relay"],
        ["alpha-ionone", "--shelf"],
    ),
    "replace": (
        ["hydroxycitronellal", "--facet", "lily of the valley"],
        ["80-54-6", "--in", BELL, "--dosage", "5"],
        ["coumarin", "--in", "demo/green_fig.csv"],
        ["clove bud oil", "--blend", "2"],
        ["alpha-ionone", "--shelf"],
    ),
    "vary": (["vanillin", "--toward", "chocolate"], [MORELLO, "--toward", "smoke"]),
    "pair": (["lavender oil"], [MORELLO]),
    "drydown": ([MORELLO], [BELL, "--surface", "skin", "--dosage", "15"]),
    "trim": ([MORELLO], ["demo/tide_pool.csv"]),
    "strips": (["coumarin", "vanillin", "benzaldehyde"],),
    "dose": (["benzaldehyde", "coumarin"], ["80-54-6", "vanillin", "--dosage", "10"]),
    "compare": ([MORELLO, "demo/morello_mended.csv"],),
    "check": (
        [MORELLO, "--dosage", "15"],
        [BELL, "--dosage", "15", "--market", "eu"],
        ["demo/tide_pool.csv", "--dosage", "1"],
    ),
    "weigh": ([MORELLO], [MORELLO, "--dosage", "15", "--finished", "50g"], [MORELLO, "--bracket", "eugenol"]),
    "reformulate": ([MORELLO, "--dosage", "15", "--without", "benzaldehyde"],),
    "materials": ([], ["bitter almond"]),
    "material": (["coumarin"], ["lavender oil"], ["alpha-ionone"], ["rose lactone X"], ["80-54-6"]),
    "facets": ([], ["nut"]),
    "similarities": ([],),
    "limits": ([], ["coumarin"], ["--stale"]),
    "limits import": (["demo/own_limits.csv", "--dry-run"],),
    "limits tables": ([],),
    "shelf list": ([],),
    "shelf import": (["demo/shelf.xlsx", "--dry-run"],),
    "shelf cost": ([MORELLO],),
    "shelf changes": ([],),
    "nose list": ([],),
    "formulas save": ([MORELLO],),
    "formulas list": ([],),
    "formulas show": (["morello"],),
    "formulas diff": (["morello", "demo/morello_mended.csv"],),
    "trials list": ([],),
    "trials show": (["1"],),
    "trials next": (["morello"], ["morello", "--accept", "all"]),
    "calibrate list": ([],),
    "calibrate fit": (["--dry-run"],),
    "calibrate show": ([],),
    "notebook removed": ([],),
    "archive import": (["@formulas", *HOUSE], ["@broken", "--store", "@other"]),
    "archive affected": (["coumarin", *HOUSE], ["linalool", *HOUSE]),
    "archive check": ([*HOUSE, "--dosage", "15", "--market", "eu"], [*HOUSE, "--dosage", "2"]),
    "archive search": ([*HOUSE, "--gives", "hay"], [*HOUSE, "--like", MORELLO]),
    "archive mend": ([*HOUSE, "--ban", "coumarin"], [*HOUSE, "--without", "linalool"]),
    "config": ([],),
    "demo": ([],),
}
"""The questions of each command whose answers its schema describes."""


def asked(command: str, arguments: Sequence[str]) -> Any:
    """Return the answer of a command, None where there is none."""
    words = with_folders([*command.split(), *arguments])
    done = CliRunner().invoke(cli, [*words, "--format", "json"], standalone_mode=False)
    return json.loads(done.stdout) if done.stdout else None


def prepare(folder: Path) -> None:
    """Use a notebook in a folder, with something of each kind in it, and no settings of a person."""
    os.environ["RECOMMENDER_NOTEBOOK"] = str(folder / "notebook.sqlite")
    os.environ["RECOMMENDER_CONFIG"] = str(folder / "config.toml")
    os.environ[FOLDERS] = str(folder)
    for name in ("formulas", "broken"):
        (folder / name).mkdir()
        for path in demo_files():
            shutil.copy(path, folder / name)
    (folder / "broken" / "odd.csv").write_text("material,parts\nxyzzyol,1\n", encoding="utf-8")
    for words in PREPARED:
        CliRunner().invoke(cli, with_folders(words), standalone_mode=False)


def with_folders(words: Sequence[str]) -> list[str]:
    """Return words with the path of each folder that begins with @."""
    return [str(Path(os.environ[FOLDERS]) / word[1:]) if word.startswith("@") else word for word in words]


def schema_of(value: Any, name: str = "") -> dict[str, Any]:
    """Return the schema of one value, called `name` where it stands."""
    match value:
        case None:
            return {"type": ["null"]}
        case bool():
            return {"type": ["boolean"]}
        case int() | float():
            return {"type": ["number"]}
        case str():
            return {"type": ["string"]}
        case list():
            return {"type": ["array"], "items": merged([schema_of(item, name) for item in value])}
    if name == "figures" and "vapour_pressure" not in value:
        return {"type": ["object"]}  # of a reason: each kind has its own
    if name in MAPS:
        inner = merged([schema_of(item, name if name in NESTED else "") for item in value.values()])
        return {"type": ["object"], "additionalProperties": inner}
    found = {key: schema_of(item, key) for key, item in value.items()}
    return {"type": ["object"], "properties": found, "required": sorted(found)}


def merged(schemas: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the schema of whatever fits one of several."""
    out: dict[str, Any] = {}
    known = [schema for schema in schemas if schema]
    if not known:
        return out
    out["type"] = sorted({kind for schema in known for kind in schema["type"]})
    for part in ("items", "additionalProperties"):
        if any(part in schema for schema in known):
            out[part] = merged([schema[part] for schema in known if part in schema])
    objects = [schema for schema in known if "properties" in schema]
    if objects:
        keys = dict.fromkeys(key for schema in objects for key in schema["properties"])
        out["properties"] = {
            key: merged([s["properties"][key] for s in objects if key in s["properties"]]) for key in keys
        }
        out["required"] = sorted(set.intersection(*(set(schema["required"]) for schema in objects)))
    return out


def plain(schema: Mapping[str, Any], name: str = "") -> dict[str, Any]:
    """Return a schema with one kind as a text; what has a `name` may be null where it is not `SURE`.

    What was null in every answer may be anything.
    """
    out = dict(schema)
    kinds = out.pop("type", ["null"])
    if kinds != ["null"]:
        if name and name not in SURE and not {"array", "boolean", "null"} & set(kinds):
            kinds = [*kinds, "null"]
        out = {"type": kinds[0] if len(kinds) == 1 else kinds, **out}
    for part in ("items", "additionalProperties"):
        if part in out:
            out[part] = plain(out[part])
    if "properties" in out:
        out["properties"] = {key: plain(value, key) for key, value in out["properties"].items()}
    return out


def schemas() -> dict[str, Any]:
    """Return the schema of each command."""
    found = {}
    for command, questions in QUESTIONS.items():
        answers = [asked(command, arguments) for arguments in questions]
        found[command] = merged([schema_of(answer) for answer in answers if answer is not None])
        print(command, file=sys.stderr)
    return found


def main() -> int:
    """Write the schemas, or compare them with those that are there."""
    with tempfile.TemporaryDirectory() as folder:
        prepare(Path(folder))
        found = schemas()
    lines = ",\n".join(f"{json.dumps(name)}: {json.dumps(plain(found[name]))}" for name in found)
    text = f"{{\n{lines}\n}}\n"
    if "--check" in sys.argv:
        return int(text != FILE.read_text(encoding="utf-8"))
    FILE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
