"""Options that several commands share, and their types."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.shell_completion import CompletionItem

from recommender import units
from recommender.cli.commands import option, words
from recommender.cli.notebook_option import workspace
from recommender.errors import BadNotebook, BadValue
from recommender.evidence.markets import ANY, MARKETS

if TYPE_CHECKING:
    from recommender.model import Reading
    from recommender.palette import Palette

Command = TypeVar("Command", bound=Callable[..., Any])


class Quantity(click.ParamType[float]):
    """A quantity that a function of `recommender.units` reads."""

    def __init__(self, name: str, read: Callable[[str], float]) -> None:
        self.name, self._read = name, read

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return hours, grams or per cent."""
        if isinstance(value, float | int):
            return float(value)
        try:
            return self._read(str(value))
        except BadValue as error:
            self.fail(f'"{value}": {error.wanted}', param, ctx)


DURATION = Quantity("duration", partial(units.hours_of, above_zero=True))
"""A time on a strip: 30min, 8h, 3d; a bare number is hours."""
HOUR = Quantity("hour", units.hours_of)
"""When a strip was smelled: 0 or fresh, 30min, 8h, 3d; a bare number is hours."""
MASS = Quantity("mass", units.mass_of)
"""A mass: 10g, 250mg, 1.5kg; a bare number is grams."""
PERCENT = Quantity("percent", units.percent_of)
"""A share in per cent: 15, 15%, 0,5 %."""


def complete_material(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete names of materials, the person's own too."""
    from recommender.evidence.catalogue import load

    start = incomplete.casefold()
    try:
        known = workspace(ctx).palette.catalogue.materials
    except BadNotebook:  # a shell that completes has nowhere to report it
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
    """Add the output format of a command that lists."""
    return _format(command, "table", "json", "csv")


def card_format(command: Command) -> Command:
    """Add the output format of a command that shows one thing."""
    return _format(command, "table", "json")


def market(command: Command) -> Command:
    """Add the choice of market."""
    return option(
        "--market",
        type=click.Choice(tuple(MARKETS)),
        default=ANY,
        show_default=True,
        help="Whose prohibitions count: European law, the industry Standards, or any.",
    )(command)


def dosage(command: Command) -> Command:
    """Add the dosage of the concentrate in the finished product."""
    return option(
        "--dosage",
        "dosage_percent",
        type=PERCENT,
        help="Concentrate in the finished product, in %: limits bound the dose.",
    )(command)


def category(command: Command) -> Command:
    """Add the category of the finished product."""
    return option(
        "--category",
        metavar="NUMBER",
        default="4",
        show_default=True,
        help="Category of the industry Standards: 4 fine fragrance, 5A body lotion, 9 soap ...",
    )(command)


def resolution(*other_names: str) -> Callable[[Command], Command]:
    """Return what adds the last digit of the balance, under other names too."""
    return option(
        "--resolution",
        *other_names,
        "resolution_g",
        type=MASS,
        metavar="MASS",
        default="0.01g",
        show_default=True,
        help="Last digit of the balance.",
    )


def picture(command: Command) -> Command:
    """Add the option to draw."""
    return option("--picture", metavar="FILE", help="Draw it into FILE.svg, .png or .pdf.")(command)


def within(explained: str) -> Callable[[Command], Command]:
    """Return what adds the formula in which a material is looked at."""
    return option("--in", "within", metavar="FORMULA", help=explained)


def offering(command: Command) -> Command:
    """Add the candidate filters; the names are fields of `Request`."""
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
    """Add what all suggesting commands take."""
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


# of trials and of own strips

AT = option(
    "--at",
    "smelled",
    type=(HOUR, str),
    multiple=True,
    metavar="HOUR READINGS",
    help='How the strip smelled when: --at 8h "almond gone, hay too strong".',
)
ROOM = option("--room", "room_c", type=click.FloatRange(-10, 50), metavar="C", help="The room in C.")
DAY = option("--day", default="", metavar="DATE", help="Such as 2024-03-01.  [default: today]")


def readings_at(smelled: tuple[tuple[float, str], ...], palette: "Palette") -> "tuple[Reading, ...]":
    """Return the readings of a strip at some hours, as they are written on the command line."""
    from recommender.notebook.readings import readings_of

    return tuple(one for hours, text in smelled for one in readings_of(text, hours, palette.smell))
