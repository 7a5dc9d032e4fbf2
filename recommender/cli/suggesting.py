"""extend, replace, vary: for a material, or for a formula."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli.ground import ground, the_shelf
from recommender.cli.options import Duration, complete_facet, complete_material, picture, suggesting
from recommender.cli.repeated import option, words

if TYPE_CHECKING:
    from recommender.bench import Bench
    from recommender.model import Findings
    from recommender.suggest import Wish


def _show(findings: "Findings", bench: "Bench", form: str, explain: bool) -> int:
    """Print in the wanted form, notes on stderr; returns the exit status."""
    from recommender.present import contract, exports, tables, words

    data = contract.as_dict(findings)
    if form == "json":
        click.echo(exports.as_json(data))
    elif form == "csv":
        click.echo(exports.as_csv([exports.flat(row) for row in data["suggestions"]], exports.FLAT_COLUMNS))
    elif findings.suggestions:
        tables.suggestions(findings, explain, bench.catalogue.sources)
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


def wish_of(given: dict[str, Any]) -> "Wish":
    """Return the wish, with the shelf where it is asked for."""
    from recommender.suggest import Wish

    asked = given["only_shelf"] or given["max_price"] is not None
    return Wish(**given, shelf=the_shelf() if asked else None)


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
    form: str, explain: bool, formula: str | None, relay: bool, picture: str | None, **wish: Any
) -> int:
    """Find what keeps a facet alive once its carrier is gone.

    For a formula (accord.csv) the dying facets are found, and each carrier is tried in it at the dose that
    suits it; with --relay two carriers hand over from heart to base.
    """
    from recommender import suggest
    from recommender.errors import BadValue
    from recommender.present import pictures

    bench = ground(wish["material"], formula)
    file = formula or (wish["material"] if bench.is_formula(wish["material"]) else None)
    if picture:
        if file is None:
            raise BadValue("--picture", "", "it needs a formula: a file, or --in FILE")
        pictures.check(picture)
    findings = suggest.extend(wish_of(wish), bench, formula=formula, relay=relay)
    status = _show(findings, bench, form, explain)
    if picture and file and findings.suggestions:
        pictures.before_and_after(file, findings, picture, bench)
        click.echo(f"picture: {picture}", err=True)
    return status


@click.command(epilog='Example: recommender replace hydroxycitronellal --facet "lily of the valley"')
@click.argument("material", shell_complete=complete_material)
@words("--facet", shell_complete=complete_facet, help="What it is needed for, in words.")
@option("--in", "formula", metavar="FORMULA", help="The formula file in which it has to be replaced.")
@option("--blend", type=click.IntRange(2, 3), help="Two or three materials that together stand for it.")
@suggesting
def replace(form: str, explain: bool, formula: str | None, blend: int | None, **wish: Any) -> int:
    """Find what can stand for MATERIAL.

    It may be out of stock, too dear or not allowed.
    """
    from recommender import suggest

    bench = ground(formula)
    found = suggest.replace(wish_of(wish), bench, formula=formula, blend=blend)
    return _show(found, bench, form, explain)


@click.command(epilog="Example: recommender vary vanillin --toward chocolate")
@click.argument("material", metavar="MATERIAL_OR_FORMULA", shell_complete=complete_material)
@words("--toward", required=True, shell_complete=complete_facet, help="Where to go, in words.")
@suggesting
def vary(form: str, explain: bool, **wish: Any) -> int:
    """Find what moves a material or formula elsewhere.

    Toward another nut, toward chocolate, pear, smoke.
    """
    from recommender import suggest

    bench = ground(wish["material"])
    return _show(suggest.vary(wish_of(wish), bench), bench, form, explain)


COMMANDS = (extend, replace, vary)
