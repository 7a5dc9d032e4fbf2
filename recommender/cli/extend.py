"""extend: materials that keep a facet alive."""

from typing import Any

import click

from recommender.cli import printing
from recommender.cli.commands import choice, command, option, words
from recommender.cli.notebook_option import sheet_option, workspace
from recommender.cli.options import (
    DURATION,
    complete_facet,
    complete_subject,
    picture,
    suggesting,
    surface,
    theme,
    within,
)
from recommender.errors import BadValue


@command(epilog="Example: recommender extend benzaldehyde --facet almond --until 24h")
@click.argument("material", metavar="MATERIAL_OR_FORMULA", shell_complete=complete_subject)
@words("--facet", shell_complete=complete_facet, help="The facet to keep, in words.")
@option("--into", type=choice(["heart", "base"]), help="The phase in which it has to be present.")
@option("--until", "until_hours", type=DURATION, help="Until which hour, such as 8h or 3d.  [default: 24h]")
@within("The formula in which MATERIAL fades.")
@option("--relay", is_flag=True, help="A heart carrier and a base carrier together (in a formula).")
@surface
@theme
@picture
@suggesting
@sheet_option
def extend(
    material: str, within: str | None, picture: str | None, form: str, explain: bool, **given: Any
) -> int:
    """Find materials that keep a facet alive.

    In a formula (accord.csv) the facets that fade are found first, and each candidate is simulated in it at a
    suitable dose; with --relay two materials carry the facet, one in the heart and one in the base.

    For a candle: recommender extend limonene --facet orange --product candle
    """
    from recommender.model import Formula
    from recommender.suggest import Request

    here = workspace()
    inner = None if within is None else here.formula(within)
    asked = here.subject(material) if inner is None else here.material(material)
    formula = asked if isinstance(asked, Formula) else inner
    if picture:
        from recommender.output import charts

        if formula is None:
            raise BadValue("picture", "", "it needs a formula, as the first argument or with {within}")
        charts.check(picture)
    with printing.working("simulating candidates") as progress:
        findings = here.extend(asked, Request(**given), within=inner, progress=progress)
    status = printing.suggestions(findings, here.palette.catalogue, form, explain)
    if picture and formula is not None and findings.suggestions:
        from recommender.evaporation import Application
        from recommender.formulas.comparison import after_first_try

        before = here.drydown(formula, application=Application(given["surface"]), theme=given["theme"])
        after = after_first_try(before, findings.suggestions[0])
        charts.before_and_after(before, after, findings, picture)
        printing.written("picture", picture)
    return status


COMMANDS = (extend,)
