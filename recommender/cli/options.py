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
from recommender.evidence.markets import ANY, AUTHORITIES, MARKETS
from recommender.model import PRODUCTS, STRIP, SURFACE_NAMES

if TYPE_CHECKING:
    from recommender.model import Reading
    from recommender.palette import Palette

Command = TypeVar("Command", bound=Callable[..., Any])


class Quantity(click.ParamType[float]):
    """A quantity parsed by a function of `recommender.units`."""

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
"""The hour at which a strip was smelled: 0 or fresh, 30min, 8h, 3d; a bare number is hours."""
MASS = Quantity("mass", units.mass_of)
"""A mass: 10g, 250mg, 1.5kg; a bare number is grams."""
PERCENT = Quantity("percent", units.percent_of)
"""A share in per cent: 15, 15%, 0,5 %."""


def complete_material(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete names of materials, including the person's own."""
    from recommender.evidence.catalogue import load

    start = incomplete.casefold()
    try:
        known = workspace(ctx).palette.catalogue.materials
    except BadNotebook:  # a completion cannot report an error
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
    """Add the option for the format of a listing."""
    return _format(command, "table", "json", "csv")


def card_format(command: Command) -> Command:
    """Add the option for the format of a single item."""
    return _format(command, "table", "json")


def market(command: Command) -> Command:
    """Add the choice of market."""
    named = ", ".join(f"{authority.formal} ({name})" for name, authority in AUTHORITIES.items())
    return option(
        "--market",
        type=click.Choice(tuple(MARKETS)),
        default=ANY,
        show_default=True,
        help=f"Whose rules decide: {named}, or any of them.",
    )(command)


def on(command: Command) -> Command:
    """Add the day on which the product is placed on the market."""
    from datetime import date

    return option(
        "--on",
        metavar="DATE",
        default=lambda: date.today().isoformat(),
        show_default="today",
        help="The day on which the product is placed on the market, such as 2027-02-01.",
    )(command)


def dosage(command: Command) -> Command:
    """Add the dosage of the concentrate in the finished product."""
    return option(
        "--dosage",
        "dosage_percent",
        type=PERCENT,
        help="Share of the concentrate in the finished product, in %; limits then bound the dose.",
    )(command)


def share(command: Command) -> Command:
    """Add the share of the formula in a concentrate."""
    return option(
        "--share",
        "share_percent",
        type=PERCENT,
        metavar="PERCENT",
        help="Share of the formula in a concentrate, to which usual levels scale; limits count --dosage as "
        "if it were all of it.  [default: all of it]",
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
    """Return a decorator that adds the last digit of the balance, also under other names."""
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
    """Add the option to draw a picture."""
    return option("--picture", metavar="FILE", help="Draw a picture into FILE.svg, .png or .pdf.")(command)


def surface(command: Command) -> Command:
    """Add the surface on which a formula dries."""
    return option(
        "--surface",
        type=click.Choice(SURFACE_NAMES),
        default=STRIP,
        show_default=True,
        help="What the formula dries on.",
    )(command)


def theme(command: Command) -> Command:
    """Add what a formula is about."""
    return words(
        "--theme",
        shell_complete=complete_facet,
        help="What the formula is about, in words.  [default: its own theme, else what its lines lead with]",
    )(command)


def within(explained: str) -> Callable[[Command], Command]:
    """Return a decorator that adds the formula in which a material is used."""
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
            words("--avoid", help="Leave out materials that clearly smell of this."),
            option("--shelf", "only_shelf", is_flag=True, help="Only materials on your shelf."),
            option(
                "--max-price",
                type=click.FloatRange(0, min_open=True),
                metavar="PRICE",
                help="Only materials on your shelf with a price, up to this much per gram neat.",
            ),
            option(
                "--product",
                type=click.Choice(tuple(PRODUCTS)),
                help="Leave out what does poorly in bar soap, a candle, shampoo or washing powder (without "
                "bleach): --product candle.",
            ),
            option(
                "--colourless",
                is_flag=True,
                help="Leave out what is coloured, yellows or browns, and what colours with what is there.",
            ),
            option("--available", is_flag=True, help="Leave out what is hardly to be had."),
            market,
            on,
            option(
                "--no-label-allergens",
                is_flag=True,
                help="Leave out label allergens, and materials that contain them.",
            ),
            dosage,
            option(
                "--category",
                metavar="NUMBER",
                help="Category of the industry Standards: 4 fine fragrance, 5A body lotion, 9 soap ...  "
                "[default: that of --product, else 4]",
            ),
            share,
        )
    ):
        command = each(command)
    return command


def suggesting(command: Command) -> Command:
    """Add the options of all suggesting commands."""
    for each in reversed(
        (
            option(
                "--top", type=click.IntRange(1), default=10, show_default=True, help="Number of suggestions."
            ),
            offering,
            option(
                "--why-not",
                metavar="MATERIAL",
                multiple=True,
                shell_complete=complete_material,
                help="Explain why this material is not in the list.",
            ),
            option("--explain", is_flag=True, help="Show each reason with figures, basis and source."),
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
    help='How the strip smelled at an hour: --at 8h "almond gone, hay too strong".',
)
DILUTION = option(
    "--dilution",
    "dilution_percent",
    default="",
    metavar="PERCENT",
    help="Dilution in per cent.  [default: neat]",
)
ROOM = option("--room", "room_c", type=click.FloatRange(-10, 50), metavar="C", help="Room temperature in C.")
DAY = option("--day", default="", metavar="DATE", help="The day, such as 2024-03-01.  [default: today]")


AT_HOUR = option("--hour", "hours", type=HOUR, help="When it was smelled.  [default: as before]")
REMOVE = option("--remove", is_flag=True, help="Take the reading out; it can be brought back.")


def wants_removal(text: str | None, remove: bool) -> bool:
    """Return whether a reading is to be taken out; raises `BadValue` unless one of both is given."""
    if remove == (text is not None):
        raise BadValue("reading", text or "", "give what was smelled, or {remove}, one of the two")
    return remove


def reading_line(found: "Reading") -> str:
    """Return one reading with its hour: 8 h, almond trace."""
    from recommender.notebook.readings import written
    from recommender.output.trials import at

    return f"{at(found.hours)}, {written(found)}"


def readings_at(smelled: tuple[tuple[float, str], ...], palette: "Palette") -> "tuple[Reading, ...]":
    """Return the readings of a strip from the values of --at."""
    from recommender.notebook.readings import readings_of

    return tuple(one for hours, text in smelled for one in readings_of(text, hours, palette.smell))
