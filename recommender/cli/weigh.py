"""weigh: from a formula to the balance."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import Whole, command, from_command_line, option
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    MASS,
    PERCENT,
    category,
    complete_formula,
    complete_material,
    market,
    on,
    output_format,
    resolution,
)
from recommender.errors import BadValue


@command(epilog="Example: recommender weigh demo/morello.csv --batch 10g --resolution 0.001g --dosage 15")
@click.argument("formula", shell_complete=complete_formula)
@option("--batch", "batch_g", type=MASS, metavar="MASS", help="Amount of FORMULA to weigh.  [default: 10g]")
@option(
    "--finished",
    "finished_g",
    type=MASS,
    metavar="MASS",
    help="Amount of finished product to make, instead of --batch; needs --dosage.",
)
@resolution("--balance")
@option(
    "--within",
    "within_percent",
    type=PERCENT,
    metavar="PERCENT",
    default="5",
    show_default=True,
    help="Largest acceptable share of one balance digit in a line; smaller lines are weighed as dilutions.",
)
@option(
    "--dosage",
    "dosage_percent",
    type=PERCENT,
    setting="dosage",
    metavar="PERCENT",
    help="Share of the concentrate in the finished product.",
)
@option(
    "--share",
    "share_percent",
    type=PERCENT,
    metavar="PERCENT",
    help="Share of FORMULA in the concentrate.  [default: all of it]",
)
@option(
    "--finished-share",
    "finished_share_percent",
    type=PERCENT,
    metavar="PERCENT",
    help="Share of FORMULA in the finished product, instead of --share.",
)
@option(
    "--carrier",
    metavar="SOLVENT",
    default="ethanol",
    show_default=True,
    shell_complete=complete_material,
    help="Solvent to top up the finished product with.",
)
@option("--flat", is_flag=True, help="Weigh the materials of inner accords into one vessel.")
@option("--as-written", is_flag=True, help="Keep the order of the file instead of the order of weighing.")
@option(
    "--bracket",
    default="",
    metavar="LINE",
    shell_complete=complete_material,
    help="Three vials that differ in the dose of LINE alone, from one base, under blind numbers.",
)
@option(
    "--preferred",
    type=int,
    metavar="NUMBER",
    help="Print FORMULA with the dose of the vial of --bracket that was preferred.",
)
@option(
    "--save", metavar="NAME", default="", help="Save what --preferred prints as the next version of NAME."
)
@option("--out", metavar="FILE", help="Write a sheet: FILE.pdf to print, FILE.xlsx or FILE.csv.")
@option("--labels", metavar="FILE", help="Write labels for the vessels to FILE.pdf.")
@option("--lot", default="", help="Lot number on the labels.")
@option(
    "--weighed",
    is_flag=True,
    help="It has been weighed: take the amounts out of the bottles on the shelf.",
)
@option(
    "--from-bottle",
    "from_bottles",
    type=Whole(1),
    multiple=True,
    metavar="NUMBER",
    help="With --weighed: the bottle to take from, where several have one material.",
)
@option("--force", is_flag=True, help="Overwrite an existing sheet.")
@market
@category
@on
@output_format
@sheet_option
def weigh(
    formula: str,
    out: str | None,
    force: bool,
    form: str,
    flat: bool,
    preferred: int | None,
    save: str,
    labels: str | None,
    lot: str,
    weighed: bool,
    from_bottles: tuple[int, ...],
    **given: Any,
) -> int:
    """Plan the weighing of FORMULA.

    Parts per thousand, grams, and dilutions to make first. A line too small for the balance is weighed as a
    dilution (10 %, 1 %, 0.1 % ...); its solvent is subtracted from the formula's own if there is enough. Any
    two of --share, --dosage and --finished-share give the third; with a dosage a note says what the limits on
    record decide.
    """
    shares = (given["share_percent"], given["finished_share_percent"])
    if None not in shares and not from_command_line("dosage_percent"):
        given["dosage_percent"] = None  # it follows from the two shares
    if preferred is not None:
        return _with_preferred(formula, preferred, save, form, given)
    if save:
        raise BadValue("save", save, "it saves what {preferred} prints")
    from datetime import date

    from recommender.output import weighing, worksheet
    from recommender.weighing import WeighingRequest

    if from_bottles and not weighed:
        raise BadValue("from_bottles", from_bottles[0], "it needs {weighed}")
    for field, file in (("out", out), ("labels", labels)):
        if file:
            worksheet.check(file, force, field)
    one_table = form == "csv" or (out or "").lower().endswith(".csv")
    here = workspace()
    sheet = here.weigh(formula, WeighingRequest(flat=flat or one_table, **given))
    notes = [*sheet.notes, *weighing.notes(sheet)]
    if sheet.bracket is not None and (one_table or out):
        notes += filter(None, weighing.bracket_lines(sheet, sheet.bracket))
    left_out = worksheet.save(sheet, notes, out) if out else []
    if labels:
        vessels = weighing.vessels(sheet, here.formulas.same_version(sheet.formula), date.today(), lot)
        left_out += worksheet.save_labels(vessels, labels)
    data = weighing.data(sheet, notes)
    taken: list[str] = []
    if weighed:
        finished = given["finished_g"] is not None
        change, rows = here.shelf.weighed(sheet, from_bottles, top_up=finished)
        data |= {"weighed": weighing.weighed_data(change, rows)}
        taken = [*weighing.weighed_lines(change, rows), *weighing.way_back(change)]
    printing.show(
        form,
        data,
        weighing.in_file(sheet, sheet.sections[-1]),
        weighing.FILE_COLUMNS,
        lambda: weighing.sheet_lines(sheet),
    )
    printing.notes((*(notes if form != "json" else ()), *left_out))
    if form != "json":
        printing.notes(taken)
    for what, file in (("sheet", out), ("labels", labels)):
        if file:
            printing.written(what, file)
    return 0


def _with_preferred(formula: str, number: int, save: str, form: str, given: dict[str, Any]) -> int:
    """Print a formula with the dose that was preferred, and save it under a name where one is given."""
    from recommender.formulas import formula as sheets
    from recommender.output import weighing
    from recommender.output.formulas import LINE_HEADS
    from recommender.weighing import WeighingRequest

    here = workspace()
    found = here.preferred(formula, WeighingRequest(**given), number)
    rows = sheets.rows(found)
    saved = None
    if save:
        note = f"{given['bracket']}: vial {number} preferred"
        saved = here.formulas.save(found, save, note)[-1]
    data = weighing.preferred_data(found, rows, saved.title if saved else None)
    printing.show(
        form,
        data,
        rows,
        sheets.columns(found),
        lambda: printing.table_of(
            rows, LINE_HEADS, ("material", "note"), ("parts", "dilution_percent"), "parts"
        ),
    )
    if form != "json":
        printing.notes([*found.notes, *([f"{saved.title} saved"] if saved else [])])
    return 0


COMMANDS = (weigh,)
