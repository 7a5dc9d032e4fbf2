"""How commands, groups and options are declared.

A command words errors with its own options and arguments, a listing is a group that lists, and an option that
is given twice adds up or is refused.
"""

import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import click
from click.core import ParameterSource

from recommender.errors import BadValue


class Command(click.Command):
    """A command in whose errors a field is called as it is written: `until_hours` is --until."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; raises `BadValue` in the words of the command line."""
        try:
            return super().invoke(ctx)
        except BadValue as error:
            raise error.named(written_names(self)) from None


def written_names(command: click.Command) -> dict[str, str]:
    """Return how each option and argument of a command is written, by the field that it fills."""
    return {str(param.name): _written(param) for param in command.params if param.name}


def _written(param: click.Parameter) -> str:
    """Return --until for an option, MATERIAL for an argument."""
    if isinstance(param, click.Option):
        return param.opts[0]
    return re.sub(r"\[@.*|[\[\]]", "", param.metavar or str(param.name).upper())


class Group(click.Group):
    """A group of such commands."""

    command_class = Command


Group.group_class = Group


class Listing(Group):
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


def command(**given: Any) -> Callable[[Callable[..., Any]], Command]:
    """Declare a command as `click.command` does."""
    return click.command(cls=Command, **given)


def group(**given: Any) -> Callable[[Callable[..., Any]], Group]:
    """Declare a group as `click.group` does."""
    return click.group(cls=Group, **given)


class Option(click.Option):
    """An option of one value; a second one is refused, so that nothing is lost in silence.

    A flag may be repeated, and what takes several values (`multiple`) gets them all.
    """

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Let the parser collect all values, where it would take the last."""
        if self._is_single:
            parser.add_option(obj=self, opts=self.opts, dest=self.name, action="append", nargs=self.nargs)
        else:
            super().add_to_parser(parser, ctx)

    def consume_value(self, ctx: click.Context, opts: Mapping[str, Any]) -> tuple[Any, ParameterSource]:
        """Return the one value; raises `UsageError` where there are several."""
        value, source = super().consume_value(ctx, opts)
        if not self._is_single or source is not ParameterSource.COMMANDLINE:
            return value, source
        if len(value) > 1 and not ctx.resilient_parsing:
            raise click.UsageError(given_twice(self.opts[0], value), ctx)
        return value[-1], source

    @property
    def _is_single(self) -> bool:
        return not (self.multiple or self.is_flag or self.count)


def given_twice(name: str, values: Any) -> str:
    """Return what is wrong where an option of one value has several."""
    return f"{name} is given more than once ({', '.join(map(str, values))}); give one of them"


option = partial(click.option, cls=Option)
"""Declares an option as `click.option` does; every command's options are declared with it."""
words = partial(option, multiple=True, metavar="WORDS")
"""Declares an option whose phrases add up."""


def joined(separator: str, empty: str | None = "") -> Callable[..., str | None]:
    """Return a callback that joins the values of an option with `multiple`; `empty` where there is none."""

    def join(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> str | None:
        return separator.join(values) if values else empty

    return join


own_words = partial(option, multiple=True, callback=joined("; "))
"""Declares an option for a person's own words, which add up too."""
