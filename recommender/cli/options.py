"""Options that several commands share, and their types."""

import re
from typing import Any

import click
from click.shell_completion import CompletionItem

from recommender.cli.quantities import Command, Percent
from recommender.cli.repeated import option, words
from recommender.regulation.markets import ANY, MARKETS


class Duration(click.ParamType[float]):
    """A time on a strip: 30min, 8h, 3d; a bare number is hours."""

    name = "duration"
    _UNITS = {"": 1.0, "min": 1 / 60, "m": 1 / 60, "h": 1.0, "d": 24.0, "w": 168.0}  # noqa: RUF012

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return hours."""
        if isinstance(value, float | int):
            return float(value)
        found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*([a-z]*)", str(value).strip().lower())
        if not found or found[2] not in self._UNITS:
            self.fail(f'"{value}" is not a time; write 30min, 8h or 3d', param, ctx)
        hours = float(found[1].replace(",", ".")) * self._UNITS[found[2]]
        if not 0 < hours <= 24 * 365 * 10:
            self.fail(f'"{value}" is not a time on a strip; write 30min, 8h or 3d', param, ctx)
        return hours


class Hours(click.ParamType[float]):
    """When a strip was smelled: 0 or fresh, 30min, 8h, 3d; a bare number is hours."""

    name = "hour"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return hours."""
        from recommender.errors import BadValue
        from recommender.notebook.readings import hours_of

        try:
            return float(value) if isinstance(value, float | int) else hours_of(str(value))
        except BadValue as error:
            self.fail(f'"{value}" is not an hour: {error.wanted}', param, ctx)


def complete_material(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete names of materials, the person's own too."""
    from recommender.cli.notebook_option import ground
    from recommender.errors import BadNotebook
    from recommender.evidence.catalogue import load

    start = incomplete.casefold()
    try:
        known = ground().catalogue.materials
    except BadNotebook:  # a shell that completes has nowhere to say so
        known = load().materials
    return [CompletionItem(m.name, help=m.cas) for m in known if m.name.casefold().startswith(start)]


def complete_facet(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete names of facets."""
    from recommender.evidence.catalogue import load

    start = incomplete.casefold()
    return [CompletionItem(f.name, help=f.meaning) for f in load().facets if f.name.startswith(start)]


def _format(command: Command, *forms: str) -> Command:
    choice = click.Choice(forms)
    return option(
        "--format", "form", type=choice, default=forms[0], show_default=True, help="Output format."
    )(command)


def output_format(command: Command) -> Command:
    """Give a listing command its output format."""
    return _format(command, "table", "json", "csv")


def card_format(command: Command) -> Command:
    """Give a command that tells of one thing its output format."""
    return _format(command, "table", "json")


def market(command: Command) -> Command:
    """Give a command the choice of market."""
    return option(
        "--market",
        type=click.Choice(tuple(MARKETS)),
        default=ANY,
        show_default=True,
        help="Whose prohibitions count: European law, the industry Standards, or any.",
    )(command)


def dosage(command: Command) -> Command:
    """Give a command the dosage of the concentrate in the finished product."""
    return option(
        "--dosage",
        "dosage_percent",
        type=Percent(),
        help="Concentrate in the finished product, in %: limits bound the dose.",
    )(command)


def category(command: Command) -> Command:
    """Give a command the category of the finished product."""
    return option(
        "--category",
        metavar="NUMBER",
        default="4",
        show_default=True,
        help="Category of the industry Standards: 4 fine fragrance, 5A body lotion, 9 soap ...",
    )(command)


def offering(command: Command) -> Command:
    """Give a command that offers materials what bounds the offer."""
    for each in reversed(
        (
            option(
                "--kind",
                type=click.Choice(["molecule", "natural", "base"]),
                help="Only materials of this kind.",
            ),
            words("--avoid", help="Leave out what clearly smells of this."),
            option("--shelf", "only_shelf", is_flag=True, help="Only what is on your shelf."),
            option(
                "--max-price",
                type=click.FloatRange(0, min_open=True),
                metavar="PRICE",
                help="Only what your shelf holds a price of, at most so much for a gram neat.",
            ),
            market,
            option(
                "--no-label-allergens",
                is_flag=True,
                help="Leave out what has to stand on the label, or brings along what has to.",
            ),
            dosage,
            category,
        )
    ):
        command = each(command)
    return command


def suggesting(command: Command) -> Command:
    """Give a suggesting command what all of them take."""
    for each in reversed(
        (
            option(
                "--top", type=click.IntRange(1), default=10, show_default=True, help="How many suggestions."
            ),
            offering,
            option(
                "--why-not",
                metavar="MATERIAL",
                multiple=True,
                shell_complete=complete_material,
                help="Say why it is not in the list.",
            ),
            option("--explain", is_flag=True, help="Unfold each reason with figures, basis and source."),
            output_format,
        )
    ):
        command = each(command)
    return command


def picture(command: Command) -> Command:
    """Give a command the option to draw."""
    return option("--picture", metavar="FILE", help="Draw it into FILE.svg, .png or .pdf.")(command)
