"""pair: what goes well with a material or an accord."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import command, words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    complete_facet,
    complete_subject,
    suggesting,
    surface,
    theme,
)


@command(epilog='Example: recommender pair "lavender oil" --facet hay')
@click.argument("material", metavar="MATERIAL_OR_FORMULA", shell_complete=complete_subject)
@words("--facet", shell_complete=complete_facet, help="Only companions that show this, in words.")
@surface
@theme
@suggesting
@sheet_option
def pair(material: str, form: str, explain: bool, **given: Any) -> int:
    """Find what goes well with a material or an accord.

    Companions from classic pairs of the trade, each with a dose to try and two strips to hold together; never
    what smells the same (see replace).

    For washing powder: recommender pair "lavender oil" --product wash --available
    """
    from recommender.suggest import Request

    here = workspace()
    with printing.working("simulating candidates"):
        findings = here.pair(material, Request(**given))
    return printing.suggestions(findings, here.palette.catalogue, form, explain)


COMMANDS = (pair,)
