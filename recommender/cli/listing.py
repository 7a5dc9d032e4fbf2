"""A command that lists, with commands below it."""

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
