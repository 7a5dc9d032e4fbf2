"""reformulate: a whole formula inside limits, label, price and shelf with the least change to its smell."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import Number, Whole, choice, command, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    category,
    complete_material,
    dosage,
    market,
    on,
    output_format,
    share,
    theme,
)
from recommender.errors import BadValue
from recommender.model import PRODUCTS


class PricePerGram(click.ParamType[float]):
    """A price of a gram; "30/kg" is that of a kilogram."""

    name = "price"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the price of a gram."""
        if isinstance(value, float | int):
            return float(value)
        number, _, unit = str(value).replace(" ", "").partition("/")
        try:
            price = float(number) / {"": 1.0, "g": 1.0, "kg": 1000.0}[unit.lower()]
        except (ValueError, KeyError):
            self.fail(f'"{value}": write a price such as 0.3, 0.3/g or 300/kg', param, ctx)
        if not price > 0:
            self.fail(f'"{value}": a price is above 0', param, ctx)
        return price


@command(
    epilog="Example: recommender reformulate data/demo/morello.csv --without benzaldehyde --dosage 5 "
    "--market eu"
)
@click.argument("formula", type=click.Path())
@dosage
@category
@market
@on
@option(
    "--without",
    metavar="MATERIAL",
    multiple=True,
    shell_complete=complete_material,
    help="A material that may not be put in; what a natural contains of it may.",
)
@option(
    "--max-price",
    type=PricePerGram(),
    metavar="PRICE",
    help="Price of the concentrate at most, by the prices of your shelf: 0.3 a gram, 300/kg.",
)
@option("--shelf", "only_shelf", is_flag=True, help="Only materials on your shelf.")
@option(
    "--no-label-allergens",
    is_flag=True,
    help="Each label allergen below the amount from which it is named.",
)
@option(
    "--product",
    type=choice(tuple(PRODUCTS)),
    help="Nothing that does poorly in bar soap, a candle, shampoo or washing powder.",
)
@option(
    "--keep",
    metavar="LINE",
    multiple=True,
    help="A line whose parts stay, by its material or its number.",
)
@option("--changes", type=Whole(1), metavar="N", help="So many changes at most; a swap is one.")
@theme
@share
@option("--top", type=Whole(1), default=3, show_default=True, help="Number of answers that differ.")
@option(
    "--seconds",
    type=Number(0, min_open=True),
    default=30.0,
    show_default=True,
    help="End the search after this time with what it has.",
)
@option("--out", metavar="FILE", help="Write the first answer, or --answer, as a formula file (CSV).")
@option(
    "--triangle",
    metavar="FILE",
    help="Write the sheet of a triangle test, before against after, as FILE.csv or FILE.txt.",
)
@option("--answer", type=Whole(1), default=1, show_default=True, help="Which answer --out writes.")
@option("--force", is_flag=True, help="Write over files that are there.")
@output_format
@sheet_option
def reformulate(
    formula: str, out: str | None, triangle: str | None, answer: int, force: bool, form: str, **given: Any
) -> int:
    """Bring FORMULA inside limits, label, price and shelf with the least change to its smell.

    Lines are lowered, swapped, added or taken out. What is preserved is the presence of all facets from a
    minute to three days, those of the theme twice. Within 2 % of the best, fewer changes come first.
    """
    from recommender.output import placing, reformulation, written
    from recommender.reformulation import ReformulationRequest
    from recommender.reformulation.triangle import triangle as triangle_of

    for file, kinds, field in ((out, (".csv",), "out"), (triangle, (".csv", ".txt"), "triangle")):
        if file:
            placing.check(file, kinds, field, force)
    here = workspace()
    found = here.reformulate(formula, ReformulationRequest(**given), progress=printing.stages())
    data = reformulation.data(found, here.palette.catalogue)
    rows = reformulation.rows(data)
    printing.show(form, data, rows, reformulation.CHANGE_COLUMNS, lambda: reformulation.lines(found))
    if form != "json":
        printing.notes(data["notes"])
    if not found.answers:
        return printing.nothing_found(reformulation.no_answer(found))
    if answer > len(found.answers):
        raise BadValue("answer", answer, f"there are {len(found.answers)}")
    chosen = found.answers[answer - 1]
    if out:
        written.formula(chosen.formula, out)
        printing.written("formula", out)
    if triangle:
        written.triangle(triangle_of(found.before, chosen.formula), triangle)
        printing.written("triangle test", triangle)
    return 0


COMMANDS = (reformulate,)
