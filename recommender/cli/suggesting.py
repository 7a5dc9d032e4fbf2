"""extend, replace, vary."""

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from recommender.cli.options import Duration, complete_facet, complete_material, suggesting

if TYPE_CHECKING:
    from recommender.model import Findings
    from recommender.suggest import Wish


def _answer(verb: "Callable[[Wish], Findings]", wish: "Wish", form: str, explain: bool) -> int:
    """Ask, print in the wanted form, notes on stderr; returns the exit status."""
    from recommender.present import exports, tables, words
    from recommender.suggest import shipped

    findings = verb(wish)
    data = words.as_dict(findings)
    if form == "json":
        click.echo(exports.as_json(data))
    elif form == "csv":
        click.echo(exports.as_csv([exports.flat(row) for row in data["suggestions"]], exports.FLAT_COLUMNS))
    elif findings.suggestions:
        tables.suggestions(findings, explain, shipped().catalogue.sources)
    sys.stdout.flush()
    if form != "json":
        for note in findings.notes:
            click.echo(f"note: {note}", err=True)
    if not findings.suggestions:
        click.echo("recommender: nothing found; try a wider facet or fewer filters.", err=True)
        return 1
    return 0


@click.command(epilog="Example: recommender extend benzaldehyde --facet almond --until 24h")
@click.argument("material", shell_complete=complete_material)
@click.option("--facet", metavar="WORDS", shell_complete=complete_facet, help="What has to stay, in words.")
@click.option("--into", type=click.Choice(["heart", "base"]), help="Where it has to speak.")
@click.option("--until", "until_hours", type=Duration(), help="Until when, such as 8h or 3d.  [default: 24h]")
@suggesting
def extend(form: str, explain: bool, **wish: Any) -> int:
    """Find what keeps a facet of MATERIAL alive when MATERIAL itself has gone."""
    from recommender import suggest

    return _answer(suggest.extend, suggest.Wish(**wish), form, explain)


@click.command(epilog='Example: recommender replace hydroxycitronellal --facet "lily of the valley"')
@click.argument("material", shell_complete=complete_material)
@click.option(
    "--facet", metavar="WORDS", shell_complete=complete_facet, help="What it is needed for, in words."
)
@suggesting
def replace(form: str, explain: bool, **wish: Any) -> int:
    """Find what can stand for MATERIAL when it is out of stock, too dear or not allowed."""
    from recommender import suggest

    return _answer(suggest.replace, suggest.Wish(**wish), form, explain)


@click.command(epilog="Example: recommender vary vanillin --toward chocolate")
@click.argument("material", shell_complete=complete_material)
@click.option(
    "--toward", metavar="WORDS", required=True, shell_complete=complete_facet, help="Where to go, in words."
)
@suggesting
def vary(form: str, explain: bool, **wish: Any) -> int:
    """Find what moves MATERIAL toward another smell."""
    from recommender import suggest

    return _answer(suggest.vary, suggest.Wish(**wish), form, explain)


COMMANDS = (extend, replace, vary)
