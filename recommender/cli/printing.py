"""Printing: results on stdout in the chosen format, then notes on stderr."""

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from recommender.evidence.catalogue import Catalogue
    from recommender.model import Findings


def note(line: str) -> None:
    """Print a note on stderr, after flushing stdout."""
    sys.stdout.flush()
    click.echo(f"note: {line}", err=True)


def way_back(number: int | None) -> None:
    """Print the command that brings back what was just removed."""
    if number is not None:
        note(f"`recommender notebook bring-back {number}` brings it back.")


def notes(lines: Iterable[str]) -> None:
    """Print notes, without repetitions."""
    for line in dict.fromkeys(lines):
        note(line)


def nothing_found(why: str) -> int:
    """Print why there is no answer; return the exit status 1."""
    sys.stdout.flush()
    click.echo(f"recommender: {why}", err=True)
    return 1


def show(
    form: str,
    data: Any,
    rows: Sequence[Mapping[str, Any]],
    columns: Sequence[str],
    table: Callable[[], object],
) -> None:
    """Print `data` as JSON or `rows` with `columns` as CSV, or call `table` to print text."""
    from recommender.output import formats

    if form == "json":
        click.echo(formats.as_json(data))
    elif form == "csv":
        click.echo(formats.as_csv(rows, columns))
    else:
        table()


def table(rows: Sequence[Mapping[str, Any]], heads: Mapping[str, str], wide: Sequence[str] = ()) -> None:
    """Print a table; `heads` maps columns to headings, `wide` names those that may wrap."""
    from recommender.output import text

    text.rows(rows, heads, wide=wide)


def lines(found: Iterable[str]) -> None:
    """Print lines."""
    click.echo("\n".join(found))


def listed(
    rows: Sequence[Mapping[str, Any]],
    form: str,
    columns: Sequence[str],
    heads: Mapping[str, str],
    empty: str,
    wide: Sequence[str] = (),
) -> int:
    """Print rows and return the exit status; without rows it is 1, and `empty` is printed on stderr.

    `columns` are those of CSV, `heads` and `wide` as in `table`.
    """
    show(form, rows, rows, columns, lambda: table(rows, heads, wide) if rows else None)
    return 0 if rows else nothing_found(empty)


def suggestions(findings: "Findings", catalogue: "Catalogue", form: str, explain: bool) -> int:
    """Print suggestions with their notes; return the exit status."""
    from recommender.output import formats, text, wording
    from recommender.output import suggestions as output

    data = output.as_dict(findings)
    rows = [formats.flat(row) for row in data["suggestions"]]
    found = bool(findings.suggestions or findings.lower)
    show(
        form,
        data,
        rows,
        formats.FLAT_COLUMNS,
        lambda: text.suggestions(findings, explain, catalogue.sources) if found else None,
    )
    if form != "json":
        notes((*findings.notes, *([wording.SIGNS_OFF] if found else [])))
    return (
        0
        if found
        else nothing_found("nothing found; see the notes, or try a broader facet or fewer filters.")
    )
