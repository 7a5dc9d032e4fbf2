"""weigh: from a formula to the balance."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import command, option
from recommender.cli.notebook_option import workspace
from recommender.cli.options import MASS, PERCENT, complete_material, market, output_format, resolution


@command(
    epilog="Example: recommender weigh data/demo/morello.csv --batch 10g --resolution 0.001g --dosage 15"
)
@click.argument("formula", type=click.Path())
@option("--batch", "batch_g", type=MASS, metavar="MASS", help="How much of FORMULA to weigh.  [default: 10g]")
@option(
    "--finished",
    "finished_g",
    type=MASS,
    metavar="MASS",
    help="How much finished product to make, instead of --batch; needs --dosage.",
)
@resolution("--balance")
@option(
    "--within",
    "within_percent",
    type=PERCENT,
    metavar="PERCENT",
    default="5",
    show_default=True,
    help="Largest share of a line that one digit of the balance may be; smaller lines are diluted.",
)
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    metavar="PERCENT",
    help="The concentrate's share of the finished product.",
)
@option(
    "--share",
    "share_percent",
    type=PERCENT,
    metavar="PERCENT",
    help="FORMULA's share of the concentrate.  [default: all of it]",
)
@option(
    "--finished-share",
    "finished_share_percent",
    type=PERCENT,
    metavar="PERCENT",
    help="FORMULA's share of the finished product, instead of --share.",
)
@option(
    "--carrier",
    metavar="SOLVENT",
    default="ethanol",
    show_default=True,
    shell_complete=complete_material,
    help="What the finished product is topped up with.",
)
@option("--flat", is_flag=True, help="Open accords inside: all in one vessel.")
@option("--as-written", is_flag=True, help="Keep the order of the file, not the order of weighing.")
@option("--out", metavar="FILE", help="Write a sheet: FILE.pdf to print, FILE.xlsx or FILE.csv.")
@option("--force", is_flag=True, help="Write over a sheet that is there.")
@market
@output_format
def weigh(formula: str, out: str | None, force: bool, form: str, flat: bool, **given: Any) -> int:
    """Plan the weighing of FORMULA.

    Parts per thousand, grams, what to dilute first. Lines too small for the balance become dilutions (10
    %, 1 %, 0.1 % ...), whose solvent is taken off the formula's own where it has some. Any two of
    --share, --dosage and --finished-share give the third.
    """
    from recommender.output import weighing, worksheet
    from recommender.weighing import WeighingRequest

    if out:
        worksheet.check(out, force)
    one_table = form == "csv" or (out or "").lower().endswith(".csv")
    sheet = workspace().weigh(formula, WeighingRequest(flat=flat or one_table, **given))
    notes = [*sheet.notes, *weighing.notes(sheet)]
    left_out = worksheet.save(sheet, notes, out) if out else []
    printing.show(
        form,
        weighing.data(sheet, notes),
        weighing.in_file(sheet, sheet.sections[-1]),
        weighing.FILE_COLUMNS,
        lambda: weighing.show(sheet),
    )
    printing.notes((*(notes if form != "json" else ()), *left_out))
    if out:
        click.echo(f"sheet: {out}", err=True)
    return 0


COMMANDS = (weigh,)
