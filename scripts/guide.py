#!/usr/bin/env python3
"""Write the guide from questions and their real answers: `scripts/guide.py`; `--check` compares only."""

import contextlib
import io
import os
import shlex
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

import recommender
from recommender.cli import cli
from recommender.errors import RecommenderError

FILE = Path(recommender.__file__).with_name("guide.md")
COLUMNS = 90
"""Characters of a line of an answer."""
HEAD = """# Ten questions and their answers

Each question below was put to the program as it stands here, and each answer is what it printed. The
formulas are those of an invented studio. They come with the program and are found as `demo/...` from any
folder; `recommender demo FOLDER` writes copies to change. Written by `scripts/guide.py`; do not edit it by
hand.
"""


@dataclass(frozen=True)
class Question:
    """A question at the bench, how it is put, and how to read the answer."""

    title: str
    about: str
    command: str


QUESTIONS = (
    Question(
        "What keeps a smell alive?",
        "Bitter almond is gone from a strip within the hour. Each answer has a score, the position and "
        "hours of the material, the reason, what it shares, what it brings along, and how strong it is. "
        "Notes (on stderr) tell how words were understood.",
        "recommender extend benzaldehyde --facet almond --until 24h --top 2",
    ),
    Question(
        "Which materials smell of this, from top to base?",
        "Labels are 3 (leading), 2 (clear) and 1 (a trace); hours are those of 20 mg neat on a strip. "
        "`--columns` chooses columns, `--format csv` or `json` is for a spreadsheet or a script.",
        'recommender materials "roasted almond" --columns name,position,lasting_hours,labels',
    ),
    Question(
        "When does each facet of my formula fade?",
        "A formula is a sheet with the columns `material` and `parts`. Bars are the strength at some "
        "hours; a *gap* is a smell of the theme, or one that a line leads with, that fades while the "
        "rest still smells.",
        "recommender drydown demo/morello.csv",
    ),
    Question(
        "What keeps the fading smell alive in my formula, and how much of it do I try?",
        "Candidates are simulated in the formula. `--relay` looks for two together, one for the heart, "
        "one for the base. The first dose is the one to weigh first; *usual* is what such a material is "
        "used at.",
        "recommender extend demo/morello.csv --relay --top 1",
    ),
    Question(
        "A material is no longer allowed: what can replace it?",
        "In the formula each stand-in is dosed by strength. `--because law` ranks those without "
        "drawbacks of their own first; `--blend 2` looks for two materials that replace one.",
        'recommender replace 80-54-6 --in demo/bell_flower.csv --facet "lily of the valley" --top 2',
    ),
    Question(
        "The same idea, but toward something else?",
        "Words for smells are read as phrases: *less*, *without*, *not* refuse what follows.",
        'recommender vary vanillin --toward "chocolate, less sweet" --top 2',
    ),
    Question(
        "Which lines of my formula are not needed?",
        "Each material is left out in turn. What carries the theme is never called redundant.",
        "recommender trim demo/tide_pool.csv",
    ),
    Question(
        "How much of each for a first trial?",
        "The balance says how strong each is to smell; the amounts follow from odour strength and stay "
        "within usual use.",
        'recommender dose benzaldehyde coumarin vanillin --balance "almond 2, vanilla 1"',
    ),
    Question(
        "What do I weigh?",
        "Lines that are too small for the balance are weighed as dilutions, and their solvent is "
        "subtracted. `--out sheet.pdf` writes a sheet to print.",
        "recommender weigh demo/tide_pool.csv --batch 20g --resolution 0.001g",
    ),
    Question(
        "May it be sold, and what has to stand on the label?",
        "The first line is what follows: stop, look up, or nothing found. Nothing here says that a "
        "product may be sold; a qualified person signs off.",
        "recommender check demo/morello.csv --dosage 5 --market eu --on 2026-06-01",
    ),
)
PYTHON = """
## From Python

An answer in Python reads in one line, iterates over its rows, and is a table for pandas; in a notebook it
shows itself as one.
"""
LINES = """import recommender as r
answer = r.extend("benzaldehyde", facet="almond", top=3)
answer
answer[0]["name"], answer[0]["lasting_hours"]
table = answer.to_frame()
print(table[["rank", "name", "score", "lasting_hours"]].to_string(index=False))
table.attrs["units"]["lasting_hours"]
r.drydown("demo/morello.csv")
[(gap["facet"], gap["hours"]) for gap in r.drydown("demo/morello.csv")["gaps"]][:2]
r.material("coumarin")
"""


@contextlib.contextmanager
def nobodys_bench() -> Iterator[None]:
    """Answer as for somebody with neither notebook nor settings, on a screen of `COLUMNS`."""
    with tempfile.TemporaryDirectory() as folder:
        own = {
            "RECOMMENDER_NOTEBOOK": f"{folder}/notebook.sqlite",
            "RECOMMENDER_CONFIG": f"{folder}/config.toml",
            "COLUMNS": str(COLUMNS),
        }
        before, here = {name: os.environ.get(name) for name in own}, os.getcwd()
        os.environ.update(own)
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(here)
            for name, value in before.items():
                os.environ.pop(name, None)
                if value is not None:
                    os.environ[name] = value


def answer(command: str) -> str:
    """Return what a command prints: the answer, then its notes."""
    done = CliRunner().invoke(cli, shlex.split(command)[1:], standalone_mode=False)
    if done.exception is not None:
        raise RuntimeError(f"{command}: {done.exception}") from (
            done.exception if isinstance(done.exception, RecommenderError) else None
        )
    return f"{done.stdout.rstrip()}\n\n{done.stderr.rstrip()}".strip()


def session(lines: str) -> str:
    """Return lines of Python as typed, each with what it shows."""
    out, names = [], {}
    for line in lines.splitlines():
        shown = io.StringIO()
        with contextlib.redirect_stdout(shown):
            exec(compile(line, "guide", "single"), names)
        out += [f">>> {line}", *filter(None, [shown.getvalue().rstrip()])]
    return "\n".join(out)


def text() -> str:
    """Return the whole guide."""
    with nobodys_bench():
        parts = [HEAD]
        for number, one in enumerate(QUESTIONS, 1):
            block = f"```\n$ {one.command}\n{answer(one.command)}\n```"
            parts.append(f"## {number}. {one.title}\n\n{one.about}\n\n{block}\n")
        parts += [PYTHON.strip() + "\n", f"```\n{session(LINES)}\n```\n"]
    return "\n".join(parts)


def main() -> int:
    """Write the guide, or compare it with the one that is there."""
    found = text()
    if "--check" in sys.argv:
        return int(found != FILE.read_text(encoding="utf-8"))
    FILE.write_text(found, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
