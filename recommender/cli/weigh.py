"""weigh: from a formula to the balance."""

import sys
from typing import Any

import click

from recommender.cli.notebook_option import ground
from recommender.cli.options import complete_material, market, output_format
from recommender.cli.quantities import Mass, Percent, resolution
from recommender.cli.repeated import option


@click.command(
    epilog="Example: recommender weigh data/demo/morello.csv --batch 10g --resolution 0.001g --dosage 15"
)
@click.argument("formula", type=click.Path())
@option(
    "--batch", "batch_g", type=Mass(), metavar="MASS", help="How much of FORMULA to weigh.  [default: 10g]"
)
@option(
    "--finished",
    "finished_g",
    type=Mass(),
    metavar="MASS",
    help="How much finished product to make, instead of --batch; needs --dosage.",
)
@resolution("--balance")
@option(
    "--within",
    "within_percent",
    type=Percent(),
    metavar="PERCENT",
    default="5",
    show_default=True,
    help="Largest share of a line that one digit of the balance may be; smaller lines are diluted.",
)
@option(
    "--dosage",
    "dosage_percent",
    type=Percent(),
    metavar="PERCENT",
    help="The concentrate's share of the finished product.",
)
@option(
    "--share",
    "share_percent",
    type=Percent(),
    metavar="PERCENT",
    help="FORMULA's share of the concentrate.  [default: all of it]",
)
@option(
    "--finished-share",
    "finished_share_percent",
    type=Percent(),
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
def weigh(formula: str, out: str | None, force: bool, form: str, flat: bool, **wanted: Any) -> int:
    """Plan the weighing of FORMULA.

    Parts per thousand, grams, what to dilute first. Lines too small for the balance become dilutions (10
    %, 1 %, 0.1 % ...), whose solvent is taken off the formula's own where it has some. Any two of
    --share, --dosage and --finished-share give the third.
    """
    from recommender.output import formats, weighing, worksheet
    from recommender.weighing import WeighingRequest, of_file

    if out:
        worksheet.check(out, force)
    one_table = form == "csv" or (out or "").lower().endswith(".csv")
    palette = ground(formula)
    asked = WeighingRequest(formula, flat=flat or one_table, **wanted)
    sheet, notes = of_file(asked, palette.catalogue, palette.saved.get(formula))
    notes += weighing.notes(sheet)
    lost = worksheet.save(sheet, notes, out) if out else []
    if form == "json":
        click.echo(formats.as_json(weighing.data(sheet, notes)))
    elif form == "csv":
        click.echo(formats.as_csv(weighing.in_file(sheet, sheet.sections[-1]), weighing.FILE_COLUMNS))
    else:
        weighing.show(sheet)
    sys.stdout.flush()
    for note in (*(notes if form != "json" else ()), *lost):
        click.echo(f"note: {note}", err=True)
    if out:
        click.echo(f"sheet: {out}", err=True)
    return 0


COMMANDS = (weigh,)
