"""Every verb and option of the command line: where it is on the page, or why it is not (`page_verbs.csv`).

A row with the verb `*` holds for every verb that has the option.
"""

import csv
from collections import Counter
from pathlib import Path

import click
import pytest

from recommender.cli import cli

TABLE = Path(__file__).with_name("page_verbs.csv")
with TABLE.open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
AT = {(row["verb"], row["option"]): row for row in ROWS}


def commands(command, path=()):
    """Yield every command that does something, with its words."""
    if not isinstance(command, click.Group):
        yield " ".join(path), command
        return
    context = click.Context(command)
    for name in command.list_commands(context):
        yield from commands(command.get_command(context, name), (*path, name))


def options():
    """Return every option and argument as verb and name: --longest or ARGUMENT; a verb alone is one too."""
    found = []
    for verb, command in commands(cli):
        names = [
            max(one.opts, key=len) if isinstance(one, click.Option) else str(one.name).upper()
            for one in command.params
        ]
        own = [name for name in names if ("*", name) not in AT]
        found += [(verb, name) for name in own] or [(verb, "")]
    return found


def test_every_option_of_every_verb_is_in_the_table():
    missing = [f"{verb} {option}" for verb, option in options() if (verb, option) not in AT]
    assert missing == []


def test_the_table_names_nothing_that_is_not_there():
    known = set(options())
    every = {name for one in cli.params for name in one.opts}
    every |= {name for _, command in commands(cli) for one in command.params for name in one.opts}
    wrong = [key for key in AT if key not in known and not (key[0] == "*" and key[1] in every)]
    assert wrong == []
    assert [key for key, count in Counter((r["verb"], r["option"]) for r in ROWS).items() if count > 1] == []


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['verb']} {row['option']}".strip())
def test_a_row_says_where_it_is_or_why_it_is_not(row):
    assert bool(row["view"] and row["where"]) != bool(row["why_not"])


def test_the_views_of_the_table_are_on_the_page():
    pytest.importorskip("nicegui")
    from recommender.web.pages import addresses

    source = Path(addresses.__file__).read_text(encoding="utf-8")
    views = {row["view"].partition("{")[0] for row in ROWS if row["view"]}
    assert [view for view in sorted(views) if f'"{view}' not in source] == []
