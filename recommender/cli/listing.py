"""A command that lists, with commands below it."""

from collections.abc import Mapping, Sequence
from typing import Any

import click


class Listing(click.Group):
    """A group that lists, unless the first word is one of its commands."""

    @classmethod
    def of(cls, listing: click.Command) -> "Listing":
        """Return the group of a listing command, whose name, help and example it has."""
        group = cls(listing.name, help=listing.help, epilog=listing.epilog)
        group.add_command(listing, "list")
        return group

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the listing first where no command is named."""
        first = next((word for word in args if not word.startswith("-")), "")
        if first not in self.commands:
            args = ["list", *args]
        return super().parse_args(ctx, args)


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
    from recommender.output import formats, text

    if form == "json":
        click.echo(formats.as_json(rows))
    elif form == "csv":
        click.echo(formats.as_csv(rows, columns))
    elif rows:
        text.rows(rows, heads, wide=wide)
    if not rows:
        click.echo(f"recommender: {empty}", err=True)
        return 1
    return 0
