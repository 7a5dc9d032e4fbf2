"""Printing an answer: results on stdout in the wanted form, notes after them on stderr."""

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from recommender.evidence.catalogue import Catalogue
    from recommender.model import Findings


def note(line: str) -> None:
    """Print a note on stderr, after what was printed before."""
    sys.stdout.flush()
    click.echo(f"note: {line}", err=True)


def notes(lines: Iterable[str]) -> None:
    """Print notes, each once."""
    for line in dict.fromkeys(lines):
        note(line)


def nothing_found(why: str) -> int:
    """Print why there is no answer; returns the exit status of it."""
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
    """Print `data` as JSON, or `rows` with `columns` as CSV, or call `table`, which prints for a reader."""
    from recommender.output import formats

    if form == "json":
        click.echo(formats.as_json(data))
    elif form == "csv":
        click.echo(formats.as_csv(rows, columns))
    else:
        table()


def table(rows: Sequence[Mapping[str, Any]], heads: Mapping[str, str], wide: Sequence[str] = ()) -> None:
    """Print a table: `heads` are its columns with their headings, `wide` those that may wrap."""
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
    """Print rows and return the exit status: 1 where there is none, and `empty` on stderr.

    `columns` are those of CSV, `heads` and `wide` as in `table`.
    """
    show(form, rows, rows, columns, lambda: table(rows, heads, wide) if rows else None)
    return 0 if rows else nothing_found(empty)


def suggestions(findings: "Findings", catalogue: "Catalogue", form: str, explain: bool) -> int:
    """Print suggestions with their notes; returns the exit status."""
    from recommender.output import formats, text, wording
    from recommender.output import suggestions as output

    data = output.as_dict(findings)
    rows = [formats.flat(row) for row in data["suggestions"]]
    found = bool(findings.suggestions)
    show(
        form,
        data,
        rows,
        formats.FLAT_COLUMNS,
        lambda: text.suggestions(findings, explain, catalogue.sources) if found else None,
    )
    if form != "json":
        notes((*findings.notes, *([wording.SIGNS_OFF] if found else [])))
    return 0 if found else nothing_found("nothing found; try a wider facet or fewer filters.")
