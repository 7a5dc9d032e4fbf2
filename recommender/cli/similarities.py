"""similarities: the likeness of all pairs of materials."""

import click

from recommender.cli import printing
from recommender.cli.commands import command
from recommender.cli.notebook_option import workspace
from recommender.cli.options import output_format

COLUMNS = ("cas_a", "cas_b", "similarity")


@command(epilog="Example: recommender similarities --format csv > likeness.csv")
@output_format
def similarities(form: str) -> int:
    """List how alike all pairs of materials smell.

    Only materials with a CAS number, from 0 (unlike) to 1 (alike).
    """
    found = workspace().similarities()
    if form == "csv" and not printing.meta(
        printing.COLUMNS
    ):  # line by line: there are many, and a reader may stop early
        click.echo(",".join(COLUMNS))
        for one, others in found:
            if others:
                printing.lines(f"{one.cas},{other.cas},{likeness:.5f}" for other, likeness in others)
        return 0
    rows = [
        {"cas_a": one.cas, "cas_b": other.cas, "similarity": round(likeness, 5)}
        for one, others in found
        for other, likeness in others
    ]
    printing.show(form, rows, rows, COLUMNS, lambda: printing.table_of(rows, {key: key for key in COLUMNS}))
    return 0


COMMANDS = (similarities,)
