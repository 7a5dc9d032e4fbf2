"""facets: the words for smells."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import workspace
from recommender.cli.options import complete_facet, output_format

COLUMNS = ("facet", "family", "meaning", "synonyms", "materials")


@command(epilog="Example: recommender facets nut")
@click.argument("words", required=False, shell_complete=complete_facet)
@output_format
def facets(words: str | None, form: str) -> int:
    """List the facets, or those that WORDS stand for.

    Each with the number of materials that show it.
    """
    found, notes = workspace().facets(words)
    rows = [
        {
            "facet": facet.name,
            "family": facet.family,
            "meaning": facet.meaning,
            "synonyms": list(facet.synonyms),
            "materials": materials,
        }
        for facet, materials in found
    ]
    heads = {key: key for key in COLUMNS}
    printing.show(form, rows, rows, COLUMNS, lambda: printing.table_of(rows, heads, ("meaning", "synonyms")))
    printing.notes(notes)
    return 0


COMMANDS = (facets,)
