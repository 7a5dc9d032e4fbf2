"""dose: first amounts from odour strength."""

import click

from recommender.cli import printing
from recommender.cli.commands import command, joined, option, words
from recommender.cli.notebook_option import workspace
from recommender.cli.options import (
    MASS,
    category,
    complete_material,
    dosage,
    market,
    on,
    output_format,
    resolution,
    share,
)


@command(epilog='Example: recommender dose benzaldehyde coumarin vanillin --balance "almond 2, vanilla 1"')
@click.argument("material", nargs=-1, required=True, shell_complete=complete_material)
@words("--balance", callback=joined(", "), help='How strong each should smell: "almond 2, vanilla 1".')
@option(
    "--batch",
    "batch_g",
    type=MASS,
    metavar="MASS",
    default="10g",
    show_default=True,
    help="Size of the trial.",
)
@resolution()
@market
@on
@dosage
@category
@share
@output_format
def dose(
    material: tuple[str, ...],
    balance: str,
    batch_g: float,
    resolution_g: float,
    market: str,
    on: str,
    dosage_percent: float | None,
    category: str,
    share_percent: float | None,
    form: str,
) -> int:
    """Propose a first amount of each MATERIAL.

    Amounts follow from odour strength and the balance, and stay within usual use (--share). With --dosage no
    amount exceeds the limits on record, and a prohibited material gets none.
    """
    from recommender.formulas import comparison
    from recommender.output import formulas
    from recommender.regulation import ProductUse

    use = ProductUse(dosage_percent, category, market, on)
    found = workspace().dose(
        material,
        comparison.balance_of(balance),
        batch_g=batch_g,
        resolution_g=resolution_g,
        use=use,
        share_percent=share_percent,
    )
    notes = formulas.dose_notes(found)
    data = {"batch_g": batch_g, "rows": [formulas.first_row(first) for first in found], "notes": notes}
    flat = [formulas.first_flat(first) for first in found]
    shown = [formulas.first_words(first) for first in found]
    columns, heads = formulas.FIRST_COLUMNS, formulas.FIRST_HEADS
    printing.show(
        form,
        data,
        flat,
        columns,
        lambda: printing.table_of(shown, heads, ("weigh",), ("balance", "parts"), "parts"),
    )
    if form != "json":
        printing.notes(notes)
    return 0


COMMANDS = (dose,)
