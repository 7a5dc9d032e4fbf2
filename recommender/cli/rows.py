"""The rows of a listing, in the format that is asked for."""

from collections.abc import Mapping, Sequence
from typing import Any

import click


def listed(
    rows: Sequence[Mapping[str, Any]],
    form: str,
    columns: Sequence[str],
    heads: Mapping[str, str],
    empty: str,
    wide: Sequence[str] = (),
) -> int:
    """Print rows and return the exit status: 1 where there is none, which is told on stderr.

    `columns` are those of CSV, `heads` those of the table with their headings, `wide` those that may wrap.
    """
    from recommender.present import exports, tables

    if form == "json":
        click.echo(exports.as_json(rows))
    elif form == "csv":
        click.echo(exports.as_csv(rows, columns))
    elif rows:
        tables.rows(rows, heads, wide=wide)
    if not rows:
        click.echo(f"recommender: {empty}", err=True)
        return 1
    return 0
