"""Uses every command that writes into a notebook, and the page, in turn, and prints what is saved.

Run as a program: python tests/every_writer.py NOTEBOOK FOLDER. For each name on its input it forks a process
(to load everything once) that prints its number, then each label that was reported as saved, until it is
killed; after that it prints "ended". `stored` gives the labels that a notebook has.
"""

import contextlib
import io
import itertools
import json
import os
import sqlite3
import sys
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from recommender.web.server.session import PageSession

FORMULA = "material,parts\nlinalool,3\ncoumarin,{number}\n"
PAGE = ("page",)
"""What is done on the page instead of a command."""
LIMITS = "name,cas,cat_4\ncoumarin,91-64-5,0.{number}\n"


def commands(label: str, number: int, folder: Path) -> Iterator[tuple[str, ...]]:
    """Yield the words of each command that stores something under this label, with its files in place."""
    files = {
        "formula": (folder / f"{label}.csv", FORMULA.format(number=number + 1)),
        "bottles": (folder / "bottles.csv", f"label,material\n{label} imported,coumarin\n"),
        "limits": (folder / f"{label} limits.csv", LIMITS.format(number=number + 1)),
        "strips": (folder / "strips.csv", f"material,hours,strength,words\ncoumarin,8,clear,{label} strip\n"),
        "trials": (folder / "trials.csv", f"formula,hours,strength,verdict\nbase,8,clear,{label} table\n"),
    }
    for path, text in files.values():
        path.write_text(text, encoding="utf-8")
    place = {name: str(path) for name, (path, _) in files.items()}
    yield "shelf", "add", f"{label} bottle", "--material", "coumarin"
    yield "shelf", "import", place["bottles"]
    yield "shelf", "resolve", f"{label} word", "coumarin"
    yield "materials", "add", f"{label} own", "--smells", "rose 3", "--pressure", "1", "--molar-mass", "150"
    yield "nose", "add", "linalool", "--smells", "rose 3", "--note", f"{label} nose"
    yield "limits", "import", place["limits"]
    yield "formulas", "save", place["formula"]
    yield "trials", "add", "base", "--at", "8h", "rose clear", "--verdict", f"{label} trial"
    yield "trials", "import", place["trials"]
    day = (date(1990, 1, 1) + timedelta(days=number)).isoformat()
    yield "calibrate", "add", "coumarin", "--at", "8h", f"clear ({label} read)", "--day", day
    yield "calibrate", "import", place["strips"]


def labels_of(words: tuple[str, ...], label: str) -> str:
    """Return the label under which a command stores."""
    ends = {"shelf add": " bottle", "shelf import": " imported", "shelf resolve": " word"}
    ends |= {
        "materials add": " own",
        "nose add": " nose",
        "limits import": " limits.csv",
        "formulas save": "",
    }
    ends |= {"trials add": " trial", "trials import": " table"}
    ends |= {"calibrate add": " read", "calibrate import": " strip"}
    return label + ends[" ".join(words[:2])]


def main() -> None:
    """Fork a writer for each name on the input."""
    import recommender.cli
    from recommender.palette import shipped
    from recommender.web.server.session import PageSession

    shipped()
    for name in sys.stdin:
        session = PageSession(Path(sys.argv[1]))
        child = os.fork()
        if child == 0:
            print(os.getpid(), flush=True)  # noqa: T201
            try:
                write(session, recommender.cli.main, name.strip(), Path(sys.argv[2]))
            finally:
                os._exit(1)
        os.waitpid(child, 0)
        print("ended", flush=True)  # noqa: T201


def write(session: "PageSession", command: Callable[[], object], name: str, folder: Path) -> None:
    """Write until the process is ended."""
    from recommender.web.server import line_edits

    start = int(name.rpartition(" ")[2])  # each process begins with another command: few live long
    for number in itertools.count():
        label = f"{name} {number}"
        steps = [*commands(label, number, folder), PAGE]
        for words in (*steps[start % len(steps) :], *steps[: start % len(steps)]):
            if words is PAGE:
                draft = session.create(label, [{}])
                edit = line_edits.set_cell(draft.lines[0]["id"], "note", "", f"{label} cell")
                session.change(draft.id, edit)
                print(f"{label} cell", flush=True)  # noqa: T201
                continue
            sys.argv = ["recommender", words[0], f"--notebook={session.path}", *words[1:]]
            said = io.StringIO()
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                try:
                    command()
                except SystemExit as end:
                    status = end.code
            if status != 0:
                print(f"failed: {words}: {said.getvalue()}", flush=True)  # noqa: T201
                return
            print(labels_of(words, label), flush=True)  # noqa: T201


_QUERIES = (
    "SELECT label FROM bottles",
    "SELECT label FROM labels",
    "SELECT name FROM materials WHERE slug IN (SELECT material FROM material_labels)",
    "SELECT words FROM notes WHERE material IN (SELECT material FROM note_labels)",
    "SELECT file FROM limit_tables WHERE id IN (SELECT limit_table FROM limit_percents)",
    "SELECT name FROM formulas f WHERE 2 = (SELECT count(*) FROM formula_versions v"
    " JOIN formula_lines l ON l.version = v.id WHERE v.formula = f.id)",
    "SELECT verdict FROM trials WHERE id IN (SELECT trial FROM trial_readings)",
    "SELECT words FROM strip_readings",
)


def stored(path: Path) -> set[str]:
    """Return the labels that stand whole in a notebook, those that were replaced or stepped over too."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        found = {row[0] for query in _QUERIES for row in db.execute(query)}
        for (content,) in db.execute("SELECT content FROM removed WHERE kind = 'note'"):
            found |= {row["words"] for row in json.loads(content)["notes"]}
        for (lines,) in db.execute("SELECT lines FROM draft_steps"):
            found |= {line["note"] for line in json.loads(lines)}
        return found


if __name__ == "__main__":
    main()
