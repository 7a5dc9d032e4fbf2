"""Options that several commands share, and their types."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.shell_completion import CompletionItem

from recommender import units
from recommender.cli.commands import Number, choice, option, words
from recommender.cli.notebook_option import workspace
from recommender.cli.printing import COLUMNS
from recommender.errors import BadNotebook, BadValue
from recommender.evidence.markets import ANY, AUTHORITIES, MARKETS
from recommender.model import PRODUCTS, STRIP, SURFACE_NAMES

if TYPE_CHECKING:
    from recommender.evidence.catalogue import Catalogue
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


class Kind(click.Choice[str]):
    """A kind of material; a mixture is stored as a base, the trade's word, which stays readable."""

    MIXTURE, STORED = "mixture", "base"

    def __init__(self) -> None:
        super().__init__(("molecule", "natural", self.MIXTURE), case_sensitive=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the kind as it is stored."""
        if str(value).strip().casefold() == self.STORED:
            return self.STORED
        found = super().convert(value, param, ctx)
        return self.STORED if found == self.MIXTURE else found


class Top(click.ParamType[int]):
    """How many suggestions: a number, or all."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number; all is as many as there are materials."""
        text = str(value).strip().casefold()
        if text == "all":
            return len(workspace(ctx).palette.catalogue.materials)
        if not text.isdecimal() or int(text) < 1:
            self.fail(f'"{value}": a number from 1, or all', param, ctx)
        return int(text)


IN_TABLE, IN_DATA = 5, 10
"""Suggestions that are shown by default in a table, and in JSON and CSV."""


def _top(ctx: click.Context, param: click.Parameter, value: int | None) -> int:
    """Return how many suggestions are asked for, by default fewer in a table."""
    if value is not None:
        return value
    return IN_TABLE if ctx.params.get("form") == "table" else IN_DATA


KIND = Kind()
DURATION = Quantity("duration", partial(units.hours_of, above_zero=True))
"""A time on a strip: 30min, 8h, 3d; a bare number is hours."""
HOUR = Quantity("hour", units.hours_of)
"""The hour at which a strip was smelled: 0 or fresh, 30min, 8h, 3d; a bare number is hours."""
MASS = Quantity("mass", units.mass_of)
"""A mass: 10g, 250mg, 1.5kg; a bare number is grams."""
PERCENT = Quantity("percent", units.percent_of)
"""A share in per cent: 15, 15%, 0,5 %."""


def _known(ctx: click.Context) -> "Catalogue":
    """Return the catalogue under the notebook, the shipped one where that cannot be opened."""
    from recommender.evidence.catalogue import load

    try:
        return workspace(ctx).palette.catalogue
    except BadNotebook:  # a completion cannot report an error
        return load()


def complete_material(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete names of materials, including the person's own."""
    start = incomplete.casefold()
    known = _known(ctx).materials
    return [CompletionItem(m.name, help=m.cas) for m in known if m.name.casefold().startswith(start)]


def complete_facet(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the last smell of a phrase: names of facets, and words for several of them."""
    from recommender.evidence.catalogue import load

    head, comma, last = incomplete.rpartition(",")
    before = f"{head}{comma} " if comma else ""
    start = last.lstrip().casefold()
    catalogue = load()
    words = {u.word: ", ".join(u.members) for u in catalogue.umbrellas}
    words |= {f.name: f.meaning for f in catalogue.facets}
    return [CompletionItem(before + w, help=words[w]) for w in sorted(words) if w.startswith(start)]


def complete_formula(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete saved formulas, files of formulas, and folders."""
    return [*complete_saved(ctx, param, incomplete), *_files(incomplete)]


def complete_subject(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete what is a material or a formula."""
    return [*complete_formula(ctx, param, incomplete), *complete_material(ctx, param, incomplete)]


def complete_saved(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete names of saved formulas, with their versions after an @."""
    try:
        versions = workspace(ctx).formulas.versions(None)
    except BadNotebook:
        return []
    texts = [one.title if "@" in incomplete else one.name for one in versions]
    start = incomplete.casefold()
    return [CompletionItem(text) for text in dict.fromkeys(texts) if text.casefold().startswith(start)]


def complete_bottle(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the numbers of bottles, each with its label."""
    try:
        bottles = workspace(ctx).shelf.stock().bottles
    except BadNotebook:
        return []
    numbers = sorted((bottle.number, bottle.label) for bottle in bottles)
    return [CompletionItem(str(n), help=label) for n, label in numbers if str(n).startswith(incomplete)]


def complete_label(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the labels of bottles, those without a material first."""
    try:
        bottles = workspace(ctx).shelf.stock().bottles
    except BadNotebook:
        return []
    labels = dict.fromkeys(b.label for b in sorted(bottles, key=lambda b: bool(b.material)))
    return [CompletionItem(one) for one in labels if one.casefold().startswith(incomplete.casefold())]


def _files(incomplete: str) -> list[CompletionItem]:
    """Return the sheets and folders that begin so, else the shipped examples."""
    from pathlib import Path

    from recommender.evidence import demo
    from recommender.evidence.workbooks import SUFFIXES

    head, slash, last = incomplete.rpartition("/")
    found: dict[str, str] = {}
    try:
        for path in sorted(Path(head + slash or ".").expanduser().iterdir()):
            if path.name.startswith(".") and not last.startswith("."):
                continue
            if path.is_dir():
                found[f"{head}{slash}{path.name}/"] = "folder"
            elif path.name.lower().endswith(SUFFIXES):
                found[f"{head}{slash}{path.name}"] = "file"
    except OSError:
        pass
    shipped = {f"{demo.FOLDER}/{name}": "example" for name in demo.names()}
    every = found if incomplete == "" else shipped | found
    return [CompletionItem(text, help=what) for text, what in every.items() if text.startswith(incomplete)]


def output_format(command: Command) -> Command:
    """Add the format of the output, and the columns of a listing."""
    command = option(  # read before the others: how many rows are shown depends on it
        "--format",
        "form",
        type=choice(("table", "json", "csv")),
        default="table",
        show_default=True,
        is_eager=True,
        help="Output format.",
    )(command)
    return columns(command)


def _store_columns(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
    ctx.meta[COLUMNS] = value


def columns(command: Command) -> Command:
    """Add the columns of a listing."""
    return option(
        "--columns",
        metavar="NAMES",
        expose_value=False,
        callback=_store_columns,
        help="The columns of a table or of CSV, such as name,cas; any that JSON has.",
    )(command)


def market(command: Command) -> Command:
    """Add the choice of market."""
    named = ", ".join(f"{authority.formal} ({name})" for name, authority in AUTHORITIES.items())
    return option(
        "--market",
        setting="market",
        type=choice(tuple(MARKETS)),
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
        setting="dosage",
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
        setting="category",
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
        setting="balance",
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
        type=choice(SURFACE_NAMES),
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
    return option("--in", "within", metavar="FORMULA", shell_complete=complete_formula, help=explained)


def offering(command: Command) -> Command:
    """Add the candidate filters; the names are fields of `Request`."""
    for each in reversed(
        (
            option(
                "--kind",
                type=KIND,
                help="Only materials of this kind; mixture: those that you added as such yourself.",
            ),
            words("--avoid", help="Leave out materials that clearly smell of this."),
            option("--shelf", "only_shelf", is_flag=True, help="Only materials on your shelf."),
            option(
                "--max-price",
                type=Number(0, min_open=True),
                metavar="PRICE",
                help="Only materials on your shelf with a price, up to this much per gram neat.",
            ),
            option(
                "--product",
                type=choice(tuple(PRODUCTS)),
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
                setting="category",
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
                "--top",
                type=Top(),
                callback=_top,
                metavar="NUMBER",
                help=f"Number of suggestions, or all.  [default: {IN_TABLE} in a table, {IN_DATA} else]",
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
ROOM = option("--room", "room_c", type=Number(-10, 50), metavar="C", help="Room temperature in C.")
DAY = option("--day", default="", metavar="DATE", help="The day, such as 2024-03-01.  [default: today]")


def readings_at(smelled: tuple[tuple[float, str], ...], palette: "Palette") -> "tuple[Reading, ...]":
    """Return the readings of a strip from the values of --at."""
    from recommender.notebook.readings import readings_of

    return tuple(one for hours, text in smelled for one in readings_of(text, hours, palette.smell))
