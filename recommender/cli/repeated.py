"""Options that are given more than once: words add up, of a single value there is only one."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

import click
from click.core import ParameterSource


class Option(click.Option):
    """An option of one value; a second one is refused, so that nothing is forgotten in silence.

    A flag may be repeated, and what takes several values (`multiple`) keeps them all.
    """

    def add_to_parser(self, parser: Any, ctx: click.Context) -> None:
        """Let the parser collect all values, where it would keep the last."""
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
