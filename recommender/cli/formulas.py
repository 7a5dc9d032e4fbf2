"""formulas: named formulas with their versions."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import printing
from recommender.cli.commands import group, option, own_words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    complete_formula,
    complete_saved,
    output_format,
    theme,
)
from recommender.errors import BadValue

if TYPE_CHECKING:
    from recommender.notebook.formulas import SavedVersion

COLUMNS = ("name", "version", "saved", "note")


@group(epilog="Example: recommender formulas list")
def formulas() -> None:
    """Save formulas by name, with all their versions.

    Wherever a command takes FORMULA, the name of a saved formula works too: NAME for its latest version, or
    NAME@2.
    """


@formulas.command(epilog="Example: recommender formulas save demo/morello.csv")
@click.argument("formula", metavar="FILE_OR_NAME", shell_complete=complete_formula)
@option("--as", "name", metavar="NAME", help="Name to save it under.  [default: that of the file]")
@own_words("--note", help="What is new in this version.")
@theme
@output_format
@sheet_option
def save(formula: str, name: str | None, note: str, theme: tuple[str, ...], form: str) -> int:
    """Save a formula file (or an older version) as the next version of its name, with its theme."""
    here = workspace()
    found = here.drydown(formula, theme=theme)
    saved = here.formulas.save(found.formula, name or "", note)
    rows = [_row(one) | {"new": one.new} for one in saved]
    lines = [
        f"{one.title} saved" if one.new else f"{one.title} is identical; nothing new to save" for one in saved
    ]
    data = {"saved": rows, "notes": list(found.notes)}
    printing.show(form, data, rows, (*COLUMNS, "new"), lambda: lines)
    if form != "json":
        printing.notes(found.notes)
    return 0


def _row(saved: "SavedVersion") -> dict[str, Any]:
    return {
        "name": saved.name,
        "version": saved.number,
        "saved": f"{saved.when.replace('T', ' ')} UTC",
        "note": saved.note or None,
    }


@formulas.command("list", epilog="Example: recommender formulas list --format csv")
@click.argument("name", required=False, shell_complete=complete_saved)
@output_format
def list_(name: str | None, form: str) -> int:
    """List the saved formulas, or all versions of NAME."""
    rows = [_row(one) for one in workspace().formulas.versions(name)]
    heads = {"name": "name", "version": "version", "saved": "saved", "note": "note"}
    empty = "no formula is saved yet; see `recommender formulas save --help`."
    return printing.listed(rows, form, COLUMNS, heads, empty, ("note",))


@formulas.command(epilog="Example: recommender formulas show morello@1")
@click.argument("name", metavar="NAME[@VERSION]", shell_complete=complete_formula)
@output_format
def show(name: str, form: str) -> int:
    """Show a saved formula line by line: the latest version, or the one named."""
    from recommender.formulas import formula as sheets
    from recommender.output.formulas import LINE_HEADS, line_data

    saved, formula = workspace().formulas.open(name)
    rows: list[dict[str, Any]] = [dict(row) for row in sheets.rows(formula)]
    for row, line in zip(rows, formula.lines, strict=True):
        row["material"] = line.content.name
    data = _row(saved) | {"theme": list(formula.theme), "lines": [line_data(row) for row in rows]}

    def for_a_reader() -> list[str]:
        return [
            f"{saved.title}, saved {saved.when.replace('T', ' ')} UTC{_dash(saved.note)}",
            *([f"Theme: {', '.join(formula.theme)}"] if formula.theme else []),
            "",
            *printing.table_of(
                [row | {"parts": _short(row["parts"])} for row in rows],
                LINE_HEADS,
                ("material", "note"),
                ("parts", "dilution_percent"),
                "parts",
            ),
        ]

    printing.show(form, data, rows, sheets.columns(formula), for_a_reader)
    return 0


def _short(parts: str) -> str:
    """Return parts with the digits that a reader wants; those that are stored are in the file.

    >>> _short("0.9797979798"), _short("1250.25"), _short("20")
    ('0.9798', '1250.25', '20')
    """
    value = float(parts)
    return f"{value:.4g}" if 1e-3 <= value < 1000 else parts


def _dash(note: str) -> str:
    return f": {note}" if note else ""


@formulas.command(epilog="Example: recommender formulas export morello@1 morello_1.csv")
@click.argument("name", metavar="NAME[@VERSION]", shell_complete=complete_formula)
@click.argument("file", type=click.Path())
@option("--force", is_flag=True, help="Overwrite existing files.")
def export(name: str, file: str, force: bool) -> int:
    """Export a saved formula to a CSV FILE, and its accords to files in the same folder."""
    from pathlib import Path

    from recommender.formulas import formula as sheets
    from recommender.output import formats

    if Path(file).suffix.lower() != ".csv":
        raise BadValue("FILE", file, "its name ends in .csv")
    saved, formula = workspace().formulas.open(name)
    places = {Path(file): formula}
    for inner in sheets.accords(formula):
        beside = Path(file).with_name(f"{inner.name}.csv")
        if places.setdefault(beside, inner) != inner:
            raise BadValue("FILE", file, f"two accords in it are called {inner.name}; export them one by one")
    if not force and (there := [str(path) for path in places if path.exists()]):
        raise BadValue("FILE", there[0], "it exists already; name another, or use {force}")
    for path, content in places.items():
        try:
            path.write_text(
                formats.as_csv(sheets.rows(content), sheets.columns(content)) + "\n",
                encoding="utf-8",
                newline="",
            )
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise BadValue("FILE", str(path), f"it cannot be written: {why}") from None
    click.echo(f"{saved.title} written to {', '.join(str(path) for path in places)}")
    return 0


@formulas.command(epilog="Example: recommender formulas diff morello demo/morello_mended.csv")
@click.argument("one", metavar="NAME[@VERSION]", shell_complete=complete_formula)
@click.argument("other", metavar="[NAME[@VERSION]]", required=False, shell_complete=complete_formula)
@output_format
@sheet_option
def diff(one: str, other: str | None, form: str) -> int:
    """Show the changes between two versions, in parts per thousand and in facets over time.

    With one NAME its last two versions are compared, with NAME@VERSION that one and the one before it.
    """
    from recommender.output import formulas as courses
    from recommender.output import revisions

    before, after, found = workspace().diff(one, other)
    rows, notes = revisions.moved_rows(found), (*before.notes, *after.notes)

    def for_a_reader() -> list[str]:
        moved = printing.table_of(rows, revisions.MOVED_HEADS, ("name",), ("before", "after")) if rows else []
        return [*moved, revisions.room_line(found), "", *courses.side_lines(found.side)]

    printing.show(form, revisions.diff_data(found, notes), rows, revisions.DIFF_COLUMNS, for_a_reader)
    if form != "json":
        printing.notes(notes)
    return 0


COMMANDS = (formulas,)
