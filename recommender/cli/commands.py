"""Commands, groups and options.

Errors of a command name its own options and arguments; a listing is a group that lists by default; an option
that is given twice adds up or is refused.
"""

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import partial
from typing import Any

import click
from click.core import ParameterSource

from recommender.errors import BadValue

LONGEST_SENTENCE = 200
"""No first sentence of a help is longer."""


class Pasted(click.Command):
    """A command whose example stands in its help as it is typed: on one line, whatever the width.

    Where commands are listed its first sentence is whole.
    """

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the example without a line break."""
        if self.epilog:
            formatter.write_paragraph()
            formatter.write(f"  {self.epilog}\n")

    def get_short_help_str(self, limit: int = 45) -> str:
        """Return the first sentence of the help, whole: in a list of commands it goes on in a second line."""
        return super().get_short_help_str(max(limit, LONGEST_SENTENCE))


class Command(Pasted):
    """A command whose errors name options as typed: --until for the field `until_hours`."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Return what is left of the words; raises `UsageError` where a word has no place."""
        given = list(args)
        ctx.allow_extra_args = True  # so that the error is worded here
        try:
            left = super().parse_args(ctx, args)
        except click.BadOptionUsage as error:
            raise click.UsageError(values_missing(self, error), ctx) from None
        if left and not ctx.resilient_parsing:
            raise click.UsageError(one_too_many(given, left, ctx.command_path), ctx)
        return left

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


def one_too_many(given: Sequence[str], left: Sequence[str], command: str) -> str:
    """Return the error text for words that have no place: a name or an amount with blanks needs quotes.

    >>> print(one_too_many(["lavender", "oil"], ["oil"], "recommender extend"))
    "oil" is one word too many. If it belongs to "lavender", write "lavender oil" in quotes
    """
    words = " ".join(left)
    place = next((n for n in range(len(given)) if list(given[n : n + len(left)]) == list(left)), 0)
    before = given[place - 1] if place else "-"
    if before.startswith("-"):
        return f'"{words}" has no place here. `{command} --help` shows the usage'
    many, belong = ("is one word", "it belongs") if len(left) == 1 else ("are words", "they belong")
    return f'"{words}" {many} too many. If {belong} to "{before}", write "{before} {words}" in quotes'


def values_missing(command: click.Command, error: click.BadOptionUsage) -> str:
    """Return the error text for an option without its value, or without all of its values."""
    param = next((p for p in command.params if error.option_name in (*p.opts, *p.secondary_opts)), None)
    if not isinstance(param, click.Option) or not param.metavar:
        return error.format_message()
    return f"{error.option_name} needs {param.metavar}" + (f": {param.help}" if param.help else "")


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
        listed: dict[str, click.Command] = {
            name: Pasted(name, help=text) for name, text in self.summaries.items()
        }
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


class Whole(click.IntRange):
    """A whole number within bounds."""

    name = "number"


class Number(click.FloatRange):
    """A number within bounds."""

    name = "number"


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
