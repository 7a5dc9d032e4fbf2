"""vary: the same idea, moved in another direction."""

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


@command(epilog="Example: recommender vary vanillin --toward chocolate")
@click.argument("material", metavar="MATERIAL_OR_FORMULA", shell_complete=complete_subject)
@words("--toward", required=True, shell_complete=complete_facet, help="The direction, in words.")
@surface
@theme
@suggesting
@sheet_option
def vary(material: str, form: str, explain: bool, **given: Any) -> int:
    """Move a material or formula in another direction.

    Find materials that move it toward another nut, chocolate, pear or smoke.

    For shampoo: recommender vary "hexyl acetate" --toward apple --product shampoo
    """
    from recommender.suggest import Request

    here = workspace()
    with printing.working("simulating candidates") as progress:
        findings = here.vary(material, Request(**given), progress=progress)
    return printing.suggestions(findings, here.palette.catalogue, form, explain)


COMMANDS = (vary,)
