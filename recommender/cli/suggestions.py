"""extend, replace, vary: for a material, or for a formula."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli.notebook_option import ground, the_shelf
from recommender.cli.options import Duration, complete_facet, complete_material, picture, suggesting
from recommender.cli.repeated import option, words

if TYPE_CHECKING:
    from recommender.model import Findings
    from recommender.palette import Palette
    from recommender.suggest import Request


def _show(findings: "Findings", palette: "Palette", form: str, explain: bool) -> int:
    """Print in the wanted form, notes on stderr; returns the exit status."""
    from recommender.output import formats, suggestions, text
    from recommender.output import wording as words

    data = suggestions.as_dict(findings)
    if form == "json":
        click.echo(formats.as_json(data))
    elif form == "csv":
        click.echo(formats.as_csv([formats.flat(row) for row in data["suggestions"]], formats.FLAT_COLUMNS))
    elif findings.suggestions:
        text.suggestions(findings, explain, palette.catalogue.sources)
    sys.stdout.flush()
    if form != "json":
        for note in findings.notes:
            click.echo(f"note: {note}", err=True)
        if findings.suggestions:
            click.echo(f"note: {words.SIGNS_OFF}", err=True)
    if not findings.suggestions:
        click.echo("recommender: nothing found; try a wider facet or fewer filters.", err=True)
        return 1
    return 0


def request_of(given: dict[str, Any]) -> "Request":
    """Return the wish, with the shelf where it is asked for."""
    from recommender.suggest import Request

    asked = given["only_shelf"] or given["max_price"] is not None
    return Request(**given, shelf=the_shelf() if asked else None)


@click.command(epilog="Example: recommender extend benzaldehyde --facet almond --until 24h")
@click.argument("material", metavar="MATERIAL_OR_FORMULA", shell_complete=complete_material)
@words("--facet", shell_complete=complete_facet, help="What has to stay, in words.")
@option("--into", type=click.Choice(["heart", "base"]), help="Where it has to speak.")
@option("--until", "until_hours", type=Duration(), help="Until when, such as 8h or 3d.  [default: 24h]")
@option("--in", "formula", metavar="FORMULA", help="The formula file in which MATERIAL fades.")
@option("--relay", is_flag=True, help="A heart carrier and a base carrier together (for a formula).")
@picture
@suggesting
def extend(
    form: str, explain: bool, formula: str | None, relay: bool, picture: str | None, **request: Any
) -> int:
    """Find what keeps a facet alive once its carrier is gone.

    For a formula (accord.csv) the dying facets are found, and each carrier is tried in it at the dose that
    suits it; with --relay two carriers hand over from heart to base.
    """
    from recommender import suggest
    from recommender.errors import BadValue
    from recommender.output import charts

    palette = ground(request["material"], formula)
    file = formula or (request["material"] if palette.is_formula(request["material"]) else None)
    if picture:
        if file is None:
            raise BadValue("--picture", "", "it needs a formula: a file, or --in FILE")
        charts.check(picture)
    findings = suggest.extend(request_of(request), palette, formula=formula, relay=relay)
    status = _show(findings, palette, form, explain)
    if picture and file and findings.suggestions:
        charts.before_and_after(file, findings, picture, palette)
        click.echo(f"picture: {picture}", err=True)
    return status


@click.command(epilog='Example: recommender replace hydroxycitronellal --facet "lily of the valley"')
@click.argument("material", shell_complete=complete_material)
@words("--facet", shell_complete=complete_facet, help="What it is needed for, in words.")
@option("--in", "formula", metavar="FORMULA", help="The formula file in which it has to be replaced.")
@option("--blend", type=click.IntRange(2, 3), help="Two or three materials that together stand for it.")
@suggesting
def replace(form: str, explain: bool, formula: str | None, blend: int | None, **request: Any) -> int:
    """Find what can stand for MATERIAL.

    It may be out of stock, too dear or not allowed.
    """
    from recommender import suggest

    palette = ground(formula)
    found = suggest.replace(request_of(request), palette, formula=formula, blend=blend)
    return _show(found, palette, form, explain)


@click.command(epilog="Example: recommender vary vanillin --toward chocolate")
@click.argument("material", metavar="MATERIAL_OR_FORMULA", shell_complete=complete_material)
@words("--toward", required=True, shell_complete=complete_facet, help="Where to go, in words.")
@suggesting
def vary(form: str, explain: bool, **request: Any) -> int:
    """Find what moves a material or formula elsewhere.

    Toward another nut, toward chocolate, pear, smoke.
    """
    from recommender import suggest

    palette = ground(request["material"])
    return _show(suggest.vary(request_of(request), palette), palette, form, explain)


COMMANDS = (extend, replace, vary)
