"""Commands, groups and options.

Errors of a command name its own options and arguments; a listing is a group that lists by default; an option
that is given twice adds up or is refused.
"""

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import partial
from typing import Any

import click
from click.core import ParameterSource

from recommender.errors import BadValue


class Pasted(click.Command):
    """A command whose example stands in its help as it is typed: on one line, whatever the width."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the example without a line break."""
        if self.epilog:
            formatter.write_paragraph()
            formatter.write(f"  {self.epilog}\n")


class Command(Pasted):
    """A command whose errors name options as typed: --until for the field `until_hours`."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options, and the commands beside a listing that stands for its group."""
        super().format_options(ctx, formatter)
        above = ctx.parent.command if ctx.parent else None
        if ctx.parent and isinstance(above, Listing) and above.listing is self:
            above.format_commands(ctx.parent, formatter)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a `BadValue` names the option or argument."""
        try:
            return super().invoke(ctx)
        except BadValue as error:
            raise error.named(written_names(self)) from None


def written_names(command: click.Command) -> dict[str, str]:
    """Return each option and argument of a command as typed, by the field that it fills."""
    return {str(param.name): _written(param) for param in command.params if param.name}


def _written(param: click.Parameter) -> str:
    """Return --until for an option, MATERIAL for an argument."""
    if isinstance(param, click.Option):
        return max(param.opts, key=len)
    return re.sub(r"\[@.*|[\[\]]|\.\.\.", "", param.metavar or str(param.name).upper())


class Group(Pasted, click.Group):
    """A group of commands of this class."""

    command_class = Command


Group.group_class = Group


class ImportedCommands(Mapping[str, click.Command]):
    """Commands by name, each imported when it is looked up."""

    def __init__(self, names: Collection[str], load: Callable[[str], click.Command]) -> None:
        self._names, self._load = names, load

    def __getitem__(self, name: str) -> click.Command:
        if name not in self._names:
            raise KeyError(name)
        return self._load(name)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


class ImportedGroup(Group):
    """A group whose commands are imported when they are called; its help needs no more than `summaries`.

    Parameters
    ----------
    summaries : Mapping of str to str
        The first sentence of the help of each command, by its name.
    load : callable
        Returns the command of a name.
    """

    def __init__(
        self, *, summaries: Mapping[str, str], load: Callable[[str], click.Command], **given: Any
    ) -> None:
        super().__init__(**given)
        self.summaries = summaries
        self.commands = ImportedCommands(summaries, load)  # type: ignore[assignment]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands, as a group of the same commands would."""
        listed = {name: click.Command(name, help=text) for name, text in self.summaries.items()}
        Group(commands=listed).format_commands(ctx, formatter)


class Listing(Group):
    """A group that runs its listing unless the first word is one of its commands."""

    listing: click.Command

    @classmethod
    def of(cls, listing: click.Command) -> "Listing":
        """Return a group with the name, help and example of a listing command."""
        group = cls(listing.name, help=listing.help, epilog=listing.epilog)
        group.add_command(listing, "list")
        group.listing = listing
        return group

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Insert the listing command if no command is named."""
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
    """An option with one value, which refuses a second one so that neither is silently lost.

    Flags may be repeated, and an option with `multiple` collects all its values. `setting` is what the
    option is called among the person's settings, which count where the option is not given.
    """

    def __init__(self, *given: Any, setting: str | None = None, **named: Any) -> None:
        super().__init__(*given, **named)
        self.setting = setting

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Have the parser collect all values instead of only the last."""
        if self._is_single:
            parser.add_option(obj=self, opts=self.opts, dest=self.name, action="append", nargs=self.nargs)
        else:
            super().add_to_parser(parser, ctx)

    def consume_value(self, ctx: click.Context, opts: Mapping[str, Any]) -> tuple[Any, ParameterSource]:
        """Return the value; raises `UsageError` if there are several."""
        value, source = super().consume_value(ctx, opts)
        if self.setting and source is ParameterSource.DEFAULT and not ctx.resilient_parsing:
            return _configured(self.setting, ctx, value, source)
        if not self._is_single or source is not ParameterSource.COMMANDLINE:
            return value, source
        if len(value) > 1 and not ctx.resilient_parsing:
            raise click.UsageError(given_twice(self.opts[0], value), ctx)
        return value[-1], source

    @property
    def _is_single(self) -> bool:
        return not (self.multiple or self.is_flag or self.count)


def _configured(
    setting: str, ctx: click.Context, value: Any, source: ParameterSource
) -> tuple[Any, ParameterSource]:
    """Return the value of a person's setting, else what was found without it."""
    from recommender.cli import settings

    found = ctx.meta.setdefault("recommender.settings", {})
    if "read" not in found:
        found["read"] = settings.read(settings.path())
    configured = found["read"].get(setting)
    return (value, source) if configured is None else (configured, ParameterSource.DEFAULT_MAP)


choice = partial(click.Choice, case_sensitive=False)
"""The type of an option with a few values, in any case of letters."""


def from_command_line(name: str) -> bool:
    """Return whether the option that fills a field was given in this call."""
    return click.get_current_context().get_parameter_source(name) is ParameterSource.COMMANDLINE


def given_twice(name: str, values: Any) -> str:
    """Return the error text for an option with one value that has several."""
    return f"{name} is given more than once ({', '.join(map(str, values))}); give one of them"


option = partial(click.option, cls=Option)
"""Declares an option as `click.option` does; used for the options of every command."""
words = partial(option, multiple=True, metavar="WORDS")
"""Declares an option whose phrases add up."""


def joined(separator: str, empty: str | None = "") -> Callable[..., str | None]:
    """Return a callback that joins the values of an option with `multiple`, or returns `empty`."""

    def join(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> str | None:
        return separator.join(values) if values else empty

    return join


own_words = partial(option, multiple=True, callback=joined("; "))
"""Declares an option for free text, whose values add up."""
