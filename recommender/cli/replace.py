"""replace: substitutes for a material."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import Whole, choice, command, option, words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import complete_facet, complete_material, suggesting, surface, theme, within
from recommender.model import BECAUSE


@command(epilog='Example: recommender replace hydroxycitronellal --facet "lily of the valley"')
@click.argument("material", shell_complete=complete_material)
@words("--facet", shell_complete=complete_facet, help="The facet it is used for, in words.")
@within("The formula in which to replace it.")
@option("--blend", type=Whole(2, 3), help="Blends of two or three materials instead of one.")
@option(
    "--because",
    type=choice(BECAUSE),
    help="Why it is replaced, which decides the order: stock (easy to get, and alike), price (cheaper, by "
    "the prices of your shelf, else by price class), law (free of drawbacks), smell (the smell above all).",
)
@surface
@theme
@suggesting
@sheet_option
def replace(material: str, within: str | None, form: str, explain: bool, **given: Any) -> int:
    """Find substitutes for MATERIAL.

    For a material that is out of stock, too expensive or not allowed.

    For white soap: recommender replace vanillin --product soap --colourless
    """
    from recommender.suggest import Request

    here = workspace()
    with printing.working("looking for substitutes"):
        findings = here.replace(material, Request(**given), within=within)
    return printing.suggestions(findings, here.palette.catalogue, form, explain)


COMMANDS = (replace,)
